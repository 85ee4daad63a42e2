"""Laying panels flat: exact seams, no folds, how the piece lies, warm starts, odd panels."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.arm_files import arm_panels
from tests.surfaces import (
    arm_like,
    cylinder,
    frustum,
    full_cone,
    gaussian_bump,
    grid_panel,
    spherical_cap,
)
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten, flatten_free, flatten_steps
from unroll.flat.rims import rim_of
from unroll.nouns import Flattening, Mesh, Panel, PanelSide

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def darted() -> Panel:
    return grid_panel(arm_like(), 40, 18, slits={6: 8, 12: 8})


@pytest.fixture(scope="module")
def flat(darted: Panel) -> Flattening:
    return flatten(darted)


def moved(panel: Panel, points: np.ndarray) -> Panel:
    mesh = Mesh(points, panel.mesh.faces)
    return Panel(panel.name, mesh, panel.arm_vertices, panel.sides, panel.traces)


def edge_lengths(points: np.ndarray, path: np.ndarray) -> np.ndarray:
    return np.linalg.norm(np.diff(points[path], axis=0), axis=1)


def side_length(flattening: Flattening, seam: str) -> float:
    return sum(
        float(edge_lengths(flattening.points, side.path).sum())
        for side in flattening.panel.sides
        if side.seam == seam
    )


@pytest.mark.parametrize("energy", ["even", "woven"])
def test_every_edge_of_every_seam_keeps_its_length(darted: Panel, energy: str) -> None:
    flat = flatten(darted, energy=energy)  # type: ignore[arg-type]
    for side in darted.sides:
        curved = edge_lengths(darted.mesh.vertices, side.path)
        assert edge_lengths(flat.points, side.path) == pytest.approx(curved, rel=1e-9)
    assert flat.seam_error <= 1e-9 and measure_distortion(flat).flips == 0


def test_both_legs_of_a_dart_stay_alike(darted: Panel, flat: Flattening) -> None:
    for seam in ("dart 1", "dart 2"):
        one, two = (edge_lengths(flat.points, s.path) for s in darted.sides if s.seam == seam)
        assert one == pytest.approx(two[::-1], rel=1e-9)
        mouth = [s.path for s in darted.sides if s.seam == seam]
        assert np.linalg.norm(flat.points[mouth[0][0]] - flat.points[mouth[1][-1]]) > 5  # it opens


def test_only_the_seams_named_are_held(darted: Panel) -> None:
    seams = measure_distortion(flatten(darted, held=["front seam", "cap seam"])).seam_lengths_mm
    off = {name: abs(flat / curved - 1) for name, (curved, flat) in seams.items()}
    assert off["front seam"] <= 1e-9 and off["cap seam"] <= 1e-9
    assert off["back seam"] > 1e-4


@pytest.mark.parametrize("factor", [0.95, 1.06])
def test_a_seam_can_be_given_another_length(darted: Panel, factor: float) -> None:
    """A cap seam with ease: 6 % more than the armhole, shared by its edges alike."""
    curved = sum(
        edge_lengths(darted.mesh.vertices, s.path).sum()
        for s in darted.sides
        if s.seam == "cap seam"
    )
    flat = flatten(darted, lengths={"cap seam": factor * curved})
    assert side_length(flat, "cap seam") == pytest.approx(factor * curved, rel=1e-9)
    for side in darted.sides:
        scale = factor if side.seam == "cap seam" else 1.0
        before = edge_lengths(darted.mesh.vertices, side.path)
        assert edge_lengths(flat.points, side.path) == pytest.approx(scale * before, rel=1e-9)


def test_a_darts_length_is_that_of_one_leg(darted: Panel) -> None:
    flat = flatten(darted, lengths={"dart 1": 90.0})
    legs = [s.path for s in darted.sides if s.seam == "dart 1"]
    assert [edge_lengths(flat.points, leg).sum() for leg in legs] == pytest.approx([90.0, 90.0])


def test_a_held_seam_line_does_not_zigzag() -> None:
    """A rim that must stay longer than the cloth beside it would like buckles if it may."""
    panel = grid_panel(arm_like(), 160, 64, slits={20: 32, 44: 32})
    flat = flatten(panel, energy="even")
    rim = rim_of(panel)
    for side in panel.sides:
        step = np.diff(flat.points[side.path] @ np.array([1, 1j]))
        turn = np.angle(step[1:] / step[:-1])
        zigzag = np.diff(turn)
        # A smooth line turns by little more at one vertex than at the next.
        assert np.abs(zigzag).max() < np.radians(1.5)
    assert rim.is_held.all()


def test_darts_take_distortion_out_of_a_domed_panel() -> None:
    plain, cut = (
        measure_distortion(flatten(grid_panel(arm_like(), 40, 18, slits=slits)))
        for slits in (None, {6: 8, 12: 8})
    )
    spread = [
        np.average(np.log(d.stretch_max / d.stretch_min), weights=d.weights) for d in (plain, cut)
    ]
    assert spread[1] < 0.5 * spread[0]


def test_woven_pieces_spare_the_threads_and_shear_instead(darted: Panel, flat: Flattening) -> None:
    woven = measure_distortion(flat)
    even = measure_distortion(flatten(darted, energy="even"))

    def mean(values: np.ndarray) -> float:
        return float(np.average(np.abs(values), weights=woven.weights))

    assert mean(np.log(woven.warp)) < 0.7 * mean(np.log(even.warp))
    assert mean(np.log(woven.weft)) < 0.7 * mean(np.log(even.weft))
    assert mean(woven.shear_rad) > 2 * mean(even.shear_rad)


def test_the_piece_lies_with_its_grain_down_from_the_origin(flat: Flattening) -> None:
    panel = flat.panel
    for piece in (flat, flatten_free(panel), flatten_free(panel, energy="woven")):
        start, end = panel.traces["grain"].on(piece.points, panel.mesh.faces)[[0, -1]]
        assert start == pytest.approx([0, 0], abs=1e-9)
        assert end[0] == pytest.approx(0, abs=1e-9) and end[1] < -400


def test_without_a_grain_line_the_longest_way_lies_upright() -> None:
    panel = grid_panel(frustum(turn_rad=2.0), 20, 8)
    bare = Panel(panel.name, panel.mesh, panel.arm_vertices, panel.sides)
    flat = flatten(bare)
    grained = flatten(panel)
    assert flat.points - flat.points.mean(axis=0) == pytest.approx(
        grained.points - grained.points.mean(axis=0), abs=1e-6
    )  # a frustum is symmetric: its longest way is its middle, the end higher on the body up


def test_a_grain_line_without_length_is_passed_over(darted: Panel) -> None:
    from unroll.nouns import Trace

    grain = darted.traces["grain"]
    point = Trace(grain.faces[[0, 0]], grain.weights[[0, 0]])
    panel = Panel("outer", darted.mesh, darted.arm_vertices, darted.sides, {"grain": point})
    assert np.isfinite(flatten(panel).points).all()


def test_where_the_panel_lies_in_space_changes_nothing(flat: Flattening) -> None:
    turn = np.linalg.qr(np.random.default_rng(4).normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    away = moved(flat.panel, flat.panel.mesh.vertices @ turn.T + [400.0, -900.0, 50.0])
    assert flatten(away).points == pytest.approx(flat.points, abs=1e-6)


def test_a_panel_in_other_units_gives_the_same_piece_in_those(flat: Flattening) -> None:
    inches = moved(flat.panel, flat.panel.mesh.vertices / 25.4)
    assert flatten(inches).points == pytest.approx(flat.points / 25.4, abs=1e-7)


def test_a_mirrored_panel_gives_the_mirrored_piece(flat: Flattening) -> None:
    panel = flat.panel
    mesh = Mesh(panel.mesh.vertices * [-1.0, 1, 1], panel.mesh.faces[:, ::-1])
    sides = tuple(PanelSide(s.seam, s.path[::-1]) for s in reversed(panel.sides))
    trace = panel.traces["grain"]
    grain = type(trace)(trace.faces, trace.weights[:, ::-1])
    other = flatten(Panel("outer", mesh, panel.arm_vertices, sides, {"grain": grain}))
    assert other.points == pytest.approx(flat.points * [-1, 1], abs=1e-6)


def test_numbering_the_vertices_otherwise_changes_nothing(flat: Flattening) -> None:
    panel = flat.panel
    order = np.random.default_rng(6).permutation(len(panel.mesh.vertices))
    place = np.argsort(order)
    faces = place[panel.mesh.faces]
    mesh = Mesh(panel.mesh.vertices[order], faces)
    sides = tuple(PanelSide(s.seam, place[s.path]) for s in panel.sides)
    other = flatten(Panel("outer", mesh, panel.arm_vertices[order], sides, panel.traces))
    assert other.points[place] == pytest.approx(flat.points, abs=1e-6)


def test_the_same_panel_gives_the_same_bytes(flat: Flattening) -> None:
    assert flatten(flat.panel).points.tobytes() == flat.points.tobytes()


def test_the_steps_end_with_the_answer_and_never_fold(flat: Flattening) -> None:
    steps = list(flatten_steps(flat.panel))
    assert steps[-1].points == pytest.approx(flat.points, abs=0)
    assert [step.steps for step in steps] == list(range(len(steps)))
    assert all(measure_distortion(step).flips == 0 for step in steps)


def test_a_slightly_changed_panel_is_quick_from_the_last_answer(flat: Flattening) -> None:
    bent = flat.panel.mesh.vertices * [1.01, 1.0, 0.995]
    cold = flatten(moved(flat.panel, bent))
    warm = flatten(moved(flat.panel, bent), start=flat.points)
    assert warm.steps < cold.steps
    assert warm.points == pytest.approx(cold.points, abs=1e-5)
    # and a free one too
    free = flatten_free(flat.panel)
    again = flatten_free(flat.panel, start=free.points)
    assert again.steps < 0.2 * free.steps


def test_a_start_that_folds_is_left_aside(flat: Flattening) -> None:
    folded = flat.points * [-1, 1]
    assert flatten(flat.panel, start=folded).points == pytest.approx(flat.points, abs=1e-9)


def test_a_single_triangle_and_a_strip_lie_flat() -> None:
    corners = np.array([[0.0, 0, 0], [30, 0, 0], [0, 0, 40]])
    side = PanelSide("rim", np.array([0, 1, 2, 0]))
    one = Panel("patch", Mesh(corners, np.array([[0, 1, 2]])), np.arange(3), (side,))
    for flat in (flatten(one), flatten_free(one)):
        assert sorted(edge_lengths(flat.points, side.path)) == pytest.approx([30, 40, 50])
    strip = grid_panel(cylinder(), 1, 30)
    assert flatten(strip).seam_error < 1e-12


@pytest.mark.parametrize("name", ["arm_p50", "arm_rest"])
def test_arms_of_open_meshes_flatten_with_equal_seams(name: str) -> None:
    """Coarse, irregular triangles of modelled bodies; see meshes/SOURCES_arms.md."""
    panels = arm_panels(name)
    seams = []
    for panel in panels:
        flat = flatten(panel)
        distortion = measure_distortion(flat)
        assert distortion.flips == 0 and flat.seam_error <= 1e-9
        assert 0.8 < np.average(distortion.area_ratio, weights=distortion.weights) < 1.2
        seams.append(distortion.seam_lengths_mm)
    for seam in ("front seam", "back seam"):
        assert seams[0][seam][1] == pytest.approx(seams[1][seam][1], rel=1e-9)
        assert seams[0][seam][1] > 300


@settings(max_examples=40)
@given(
    height=st.floats(-60, 60),
    width=st.floats(40, 120),
    slit=st.integers(0, 8),
    energy=st.sampled_from(["even", "woven"]),
)
def test_bumps_and_hollows_never_fold(height: float, width: float, slit: int, energy: str) -> None:
    slits = {5: slit} if slit and height > 0 else None  # a dart in a hollow would overlap
    panel = grid_panel(gaussian_bump(height, width), 16, 11, slits=slits)
    for flat in (flatten(panel, energy=energy), flatten_free(panel, energy=energy)):  # type: ignore[arg-type]
        assert measure_distortion(flat).flips == 0 and flat.seam_error <= 1e-9


@settings(max_examples=30)
@given(seed=st.integers(0, 10**6), rough=st.floats(0.0, 1.5))
def test_crumpled_panels_never_fold(seed: int, rough: float) -> None:
    """Heights at random, up to one and a half edges: nothing that a sewer would cut."""
    panel = grid_panel(gaussian_bump(0.0), 10, 10)
    points = panel.mesh.vertices.copy()
    points[:, 1] += 30 * rough * np.random.default_rng(seed).normal(size=len(points))
    flat = flatten_free(moved(panel, points))
    assert measure_distortion(flat).flips == 0


@pytest.mark.parametrize("degrees", [120, 150])
def test_deep_caps_flatten_with_their_rims_kept(degrees: int) -> None:
    """More than a half sphere: the rim is shorter than the girth, and still kept."""
    flat = flatten(spherical_cap(12, np.radians(degrees)), energy="even")
    assert measure_distortion(flat).flips == 0 and flat.seam_error <= 1e-9


def test_a_sharp_cone_flattens_with_its_rim_kept() -> None:
    flat = flatten(full_cone(10, np.radians(120)), energy="even")
    assert measure_distortion(flat).flips == 0 and flat.seam_error <= 1e-9


@pytest.mark.parametrize("page", ["flattening", "distortion"])
def test_the_pages_snippets_run_and_their_pictures_are_small(
    page: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    path = ROOT / "docs" / f"{page}.md"
    tried = doctest.testfile(str(path), module_relative=False)
    assert tried.attempted > 5 and tried.failed == 0
    pictures = re.findall(r"\]\((pictures/[^)]+)\)", path.read_text(encoding="utf-8"))
    assert pictures
    for name in pictures:
        assert (ROOT / "docs" / name).stat().st_size < 200_000
