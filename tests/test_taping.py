"""The tape against shapes whose lengths are known in closed form, and against exact geodesics."""

from __future__ import annotations

from dataclasses import replace

import igl
import numpy as np
import pytest
import trimesh

from tests.samples import sample_measures
from unroll.arms.lofting import loft, mesh_arm
from unroll.arms.taping import girth_at, tape
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.sections import hull_arc, taut_girth, taut_line
from unroll.nouns import Mesh


def cylinder(radius=45.0, height=300.0, around=256):
    return trimesh.creation.cylinder(radius=radius, height=height, sections=around)


def test_the_girth_of_a_cylinder_is_its_circumference():
    mesh = cylinder()
    girth = taut_girth(mesh.vertices, mesh.faces, np.zeros(3), np.array([0.0, 0.0, 1.0]))
    assert girth == pytest.approx(2 * np.pi * 45.0, rel=1e-4)  # 256 chords lose 2.5e-5


def test_a_slanted_girth_of_a_cylinder_is_an_ellipse():
    """A&S 17.3: a plane at 30° cuts an ellipse of half-axes R and R / cos 30°."""
    from unroll.maths.ellipses import ellipse_perimeter

    mesh = cylinder()
    normal = np.array([np.sin(np.pi / 6), 0.0, np.cos(np.pi / 6)])
    girth = taut_girth(mesh.vertices, mesh.faces, np.zeros(3), normal)
    assert girth == pytest.approx(float(ellipse_perimeter(45 / np.cos(np.pi / 6), 45)), rel=1e-4)


def test_a_tape_bridges_a_hollow():
    waist = cylinder(around=256)
    vertices = waist.vertices.copy()
    hollow = np.abs(np.arctan2(vertices[:, 1], vertices[:, 0])) < 0.5
    vertices[hollow, :2] *= 0.8
    girth = taut_girth(vertices, waist.faces, np.zeros(3), np.array([0.0, 0.0, 1.0]))
    angles = np.arctan2(waist.vertices[:, 1], waist.vertices[:, 0])
    edge = np.max(np.abs(angles[hollow]))
    step = 2 * np.pi / 256
    assert girth == pytest.approx(
        45 * (2 * np.pi - 2 * (edge + step)) + 2 * 45 * np.sin(edge + step), rel=1e-4
    )


@pytest.mark.parametrize("turn", [0.0, 0.5, 1.2])
def test_a_tape_along_a_cylinder_is_nearly_the_helix(turn):
    """The geodesic of a cylinder is a helix of length √(h² + (Rφ)²)."""
    mesh = cylinder()
    start = np.array([45.0, 0.0, 140.0])
    end = np.array([45 * np.cos(turn), 45 * np.sin(turn), -140.0])
    middle = np.array([np.cos(turn / 2), np.sin(turn / 2), 0.0])
    length = taut_line(mesh.vertices, mesh.faces, start, end, middle)[0]
    helix = np.hypot(280.0, 45.0 * turn)
    # a plane path is longer than the geodesic, by a few hundredths of a percent at this turn
    assert helix * (1 - 2e-4) <= length <= helix * 1.001


def test_lengths_on_an_arm_match_exact_geodesics():
    """Reference: exact polyhedral geodesics (Mitchell, Mount & Papadimitriou 1987) of libigl."""
    arm = loft(sample_measures(), edge=9.0)
    faces = np.concatenate([arm.mesh.faces[arm.panel_faces[n]] for n in ("outer", "inner")])
    side = trimesh.Trimesh(arm.mesh.vertices, faces)  # without the plates: no way through the body
    vertices, faces = np.array(side.vertices), np.array(side.faces, dtype=np.int64)
    rows = {row.name: row.got_mm for row in tape(arm, sample_measures())}
    source = int(np.argmin(np.linalg.norm(vertices, axis=1)))
    for name, landmark in (
        ("shoulder_to_elbow", "elbow point"),
        ("shoulder_to_inner_elbow", "elbow crease"),
    ):
        target = int(np.argmin(np.linalg.norm(vertices - arm.landmarks[landmark], axis=1)))
        exact = igl.exact_geodesic(
            vertices,
            faces,
            np.array([source]),
            np.array([], dtype=int),
            np.array([target]),
            np.array([], dtype=int),
        )
        missed = np.linalg.norm(vertices[target] - arm.landmarks[landmark])
        # the tape is a plane path (at most 0.3 % longer) to a point between mesh vertices
        assert float(exact[0]) - missed <= rows[name] <= 1.003 * float(exact[0]) + missed


def test_an_arc_between_neighbours_on_the_hull():
    square = np.array([[0, 1], [1, 1], [0.5, 0.4], [0.0, 0.0], [1.0, 0.0]])
    assert hull_arc(square) == pytest.approx(3.0)


def test_a_cap_arcs_tape_runs_over_the_outside_from_edge_to_edge_of_the_armhole():
    measures = sample_measures()
    arm = loft(measures, edge=9.0)
    rows = {row.name: row for row in tape(arm, measures)}
    for number, arc in enumerate(measures.cap_arcs, start=1):
        row = rows[f"cap_arc {number}"]
        assert polylines.length(row.line) == pytest.approx(row.got_mm, abs=1e-9)
        assert row.line[[0, -1], 1] == pytest.approx([0.0, 0.0], abs=1e-6)  # the armhole's plane
        assert row.line[0, 0] < 0.0 < row.line[-1, 0] and row.line[:, 1].max() > 20.0
        assert row.line[:, 2] == pytest.approx(arm.landmarks["underarm"][2] + arc.up)


def test_a_tape_finds_the_same_where_the_same_surface_is_cut_into_smaller_triangles(sample_shape):
    arm, measures = mesh_arm(sample_shape), sample_shape.measures
    panels = {name: arm.mesh.faces[arm.panel_faces[name]] for name in arm.panel_faces}
    vertices, outer = arm.mesh.vertices, panels.pop("outer")
    for _ in range(5):  # to a quarter of a millimetre where the cap's tape ends
        above = (vertices[outer] - arm.landmarks["underarm"]) @ arm.up
        over = np.stack([vertices[outer, 0], above], axis=-1)
        is_end = ((over.min(axis=1) <= 0.0) & (over.max(axis=1) >= 0.0)).all(axis=1)
        vertices, outer = trimesh.remesh.subdivide(vertices, outer, np.flatnonzero(is_end))
    panels = {"outer": outer, **panels}
    faces = np.concatenate(list(panels.values()))
    starts = np.cumsum([0, *map(len, panels.values())])
    places = {name: at + np.arange(len(panels[name])) for name, at in zip(panels, starts)}
    small = replace(arm, mesh=Mesh(vertices, faces), panel_faces=places)
    for was, now in zip(tape(arm, measures), tape(small, measures)):
        assert now.got_mm == pytest.approx(was.got_mm, abs=1e-6), now.name


def test_a_level_that_misses_the_arm_is_named():
    arm = loft(sample_measures(), edge=13.0)
    with pytest.raises(UnrollError, match="the tape's level misses the arm"):
        girth_at(arm, np.array([0.0, 0.0, 500.0]), np.array([0.0, 0.0, 1.0]))


@pytest.mark.parametrize(("off", "is_again"), [(0.4, False), (0.6, True), (-0.6, True)])
def test_a_measure_that_cannot_be_met_is_told_and_measured_again_only_beyond_a_tapes_error(
    sample_shape, off, is_again
):
    """Half a percent: two tapes of one measure differ by as much; common practice, no source."""
    arm, measures = mesh_arm(sample_shape), sample_shape.measures
    asked = replace(measures, cap_height=measures.cap_height / (1.0 + 0.01 * off))
    rows = tape(arm, asked, fights={"cap_height": "armhole_height"})
    (row,) = (row for row in rows if row.name == "cap_height")
    assert "cannot be met together with armhole height" in row.note
    assert (" more than" if off > 0.0 else " less than") in row.note
    assert row.note.endswith("; measure both again") is is_again
