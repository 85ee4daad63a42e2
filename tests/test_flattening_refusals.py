"""Every message of the flattener, reached by a panel that earns it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.surfaces import arm_like, frustum, grid_panel
from unroll.errors import NotConverged, UnrollError
from unroll.flat.flattening import _check_finished, _task, flatten, flatten_free, flatten_steps
from unroll.flat.rims import rim_of
from unroll.flat.task import State
from unroll.maths.energies import EvenEnergy
from unroll.maths.mesh_checks import check_disk, overlap_area
from unroll.nouns import Flattening, Mesh, Panel, PanelSide

SQUARE = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])
TETRAHEDRON = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])


def tube(around: int) -> tuple[np.ndarray, np.ndarray]:
    angle = 2 * np.pi * np.arange(around) / around
    ring = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    low, up = np.arange(around), np.roll(np.arange(around), -1)
    faces = np.concatenate([np.stack([low, up, low + around], 1),
                            np.stack([up, up + around, low + around], 1)])  # fmt: skip
    return np.concatenate([ring, ring + [0, 0, 1]]), faces


def pinched() -> tuple[np.ndarray, np.ndarray]:
    """Two triangles that touch at one vertex only."""
    points = np.concatenate([SQUARE, [[2.0, 2, 0]]])
    return points, np.array([[0, 1, 2], [2, 4, 3]])


BAD = {
    "is not a number": (SQUARE * [1, np.nan, 1], [[0, 1, 2], [0, 2, 3]]),
    "vertex 0 has a position that is not a number": (SQUARE + np.inf, [[0, 1, 2], [0, 2, 3]]),
    "the mesh has no faces": (SQUARE, np.zeros((0, 3), dtype=int)),
    "a face names vertex 4; expected 0 to 3": (SQUARE, [[0, 1, 2], [0, 2, 4]]),
    "a face names vertex -1": (SQUARE, [[0, 1, 2], [0, 2, -1]]),
    r"face 1 has no area \(1 such": (SQUARE, [[0, 1, 2], [0, 2, 2]]),
    "more than two faces meet at edge 0-1": (
        TETRAHEDRON[[0, 1, 2, 3, 3]] + np.array([[0, 0, 0]] * 4 + [[0, 0, -2]]),
        [[0, 1, 2], [1, 0, 3], [0, 1, 4]],
    ),
    "two faces run along edge 2-0 the same way": (SQUARE, [[0, 1, 2], [3, 2, 0]]),
    "vertex 4 belongs to no face": (np.concatenate([SQUARE, [[9.0, 9, 9]]]),
                                    [[0, 1, 2], [0, 2, 3]]),
    "the surface is in 2 parts": pinched(),
    "the surface is closed": (TETRAHEDRON, [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]),
    "not a disk .Euler characteristic 0; expected 1": tube(6),
}  # fmt: skip


@pytest.mark.parametrize("message", BAD)
def test_a_mesh_that_is_no_disk_is_refused_with_its_fault(message: str) -> None:
    points, faces = BAD[message]
    with pytest.raises(UnrollError, match=message):
        check_disk(np.asarray(points, dtype=float), np.asarray(faces, dtype=np.int64), "outer")


def test_a_handle_and_a_hole_are_told_from_a_disk_even_when_they_touch_at_a_point() -> None:
    """Two fans at one inner vertex, joined across edges elsewhere: Euler characteristic 0."""
    panel = grid_panel(frustum(), 6, 6)
    faces = panel.mesh.faces.copy()
    inner = np.setdiff1d(np.arange(49), rim_of(panel).loop)
    faces[faces == inner[-1]] = inner[0]
    kept, own = np.unique(faces, return_inverse=True)
    with pytest.raises(UnrollError, match="not a disk"):
        check_disk(panel.mesh.vertices[kept], own.reshape(-1, 3), "outer")


@pytest.fixture()
def panel() -> Panel:
    return grid_panel(arm_like(), 12, 8)


def test_a_closed_panel_is_refused_before_any_work(panel: Panel) -> None:
    mesh = Mesh(panel.mesh.vertices, np.concatenate([panel.mesh.faces, panel.mesh.faces[:1]]))
    with pytest.raises(UnrollError, match="outer: "):
        flatten(replace(panel, mesh=mesh))


def test_an_unknown_energy_is_refused(panel: Panel) -> None:
    with pytest.raises(UnrollError, match='energy is "knit"; expected even or woven'):
        flatten(panel, energy="knit")  # type: ignore[arg-type]


@pytest.mark.parametrize("where", [{"held": ["hem"]}, {"lengths": {"hem": 200.0}}])
def test_a_seam_that_is_not_there_is_refused(panel: Panel, where: dict) -> None:
    with pytest.raises(UnrollError, match='no seam "hem"; it has back seam, cap seam, front seam'):
        flatten(panel, **where)


@pytest.mark.parametrize("length", [0.0, -3.0, np.nan, np.inf])
def test_a_length_that_is_none_is_refused(panel: Panel, length: float) -> None:
    with pytest.raises(UnrollError, match=f"cap seam is to be {length} mm long; expected a length"):
        flatten(panel, lengths={"cap seam": length})


def test_a_side_that_leaves_the_boundary_is_refused(panel: Panel) -> None:
    sides = (PanelSide("cap seam", panel.sides[0].path[::-1]), *panel.sides[1:])
    with pytest.raises(UnrollError, match="cap seam leaves the boundary at vertex 0; sides run"):
        flatten(replace(panel, sides=sides))


def test_a_boundary_edge_without_a_seam_is_refused(panel: Panel) -> None:
    with pytest.raises(UnrollError, match="the boundary edge at vertex 8 belongs to no side"):
        flatten(replace(panel, sides=panel.sides[1:]))


@pytest.mark.parametrize("start", [np.zeros((3, 2)), np.full((117, 2), np.nan)])
def test_a_start_for_another_panel_is_refused(panel: Panel, start: np.ndarray) -> None:
    with pytest.raises(UnrollError, match=r"the start has shape .*; expected \(117, 2\) numbers"):
        flatten(panel, start=start)


def test_lengths_that_cannot_meet_are_reported_with_the_best_piece() -> None:
    """One edge longer than all the others together."""
    panel = grid_panel(frustum(height=20.0), 1, 1)
    with pytest.raises(NotConverged, match="a seam edge is still .* % off") as caught:
        flatten(panel, lengths={"front seam": 1000.0})
    best = caught.value.best
    assert isinstance(best, Flattening) and np.isfinite(best.points).all()


@pytest.mark.parametrize("length", [1e-7, 1e-9, 1e-10])
def test_a_seam_of_next_to_no_length_is_reported_with_the_best_piece(length: float) -> None:
    """Its edges outweigh all else so far that the pivots of the others cancel."""
    with pytest.raises(NotConverged, match="outer: .* a seam edge is still .* % off") as caught:
        flatten(grid_panel(frustum(), 4, 4), lengths={"outer wrist": length})
    assert "\n" not in str(caught.value) and np.isfinite(caught.value.best.points).all()


def test_a_piece_that_covers_itself_is_reported_with_the_best_piece() -> None:
    """A spiral stair of more than a full turn."""

    def stair(across: np.ndarray, down: np.ndarray) -> tuple[np.ndarray, ...]:
        angle, radius = 7.5 * down, 50 + 40 * across
        return radius * np.sin(angle), 4 * angle, radius * np.cos(angle)

    panel = grid_panel(stair, 80, 6)  # type: ignore[arg-type]
    panel = replace(panel, traces={})
    with pytest.raises(NotConverged, match="outer: the flat piece covers .* mm² of cloth twice"):
        flatten_free(panel)


def test_a_folded_answer_never_gets_out(panel: Panel) -> None:
    flat = flatten(panel)
    rim, task = rim_of(panel), _task(panel, rim_of(panel), EvenEnergy())
    folded = replace(flat, points=flat.points * [-1, 1])
    state = State(folded.points @ np.array([1, 1j]), 0.0, 0.0, 0.0)
    with pytest.raises(NotConverged, match="the flat piece folds over itself"):
        _check_finished(folded, state, task, rim)
    _check_finished(flat, state, task, rim)


def test_nothing_is_yielded_for_a_bad_panel(panel: Panel) -> None:
    with pytest.raises(UnrollError):
        next(flatten_steps(panel, held=["hem"]))


def test_overlap_counts_what_is_covered_twice_and_not_what_merely_touches() -> None:
    square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]])
    assert overlap_area(square) == 0
    closed_dart = np.array([[0.0, 0], [4, 0], [4, 4], [2, 4], [2, 2], [2, 4], [0, 4]])
    assert overlap_area(closed_dart) == pytest.approx(0, abs=1e-12)
    crossed_dart = np.array([[0.0, 0], [4, 0], [4, 4], [1.5, 4], [2, 2], [2.5, 4], [0, 4]])
    assert overlap_area(crossed_dart) == pytest.approx(1.0)
