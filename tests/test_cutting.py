"""Panels are disks that know their edges, and lines run through them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.errors import UnrollError
from unroll.flat.cutting import boundary_loop, cut, unzip
from unroll.nouns import DartLine

DARTS = (DartLine(60.0, 80.0), DartLine(-60.0, 80.0))


@pytest.fixture(scope="module")
def shape():
    return shape_arm(sample_measures())


def euler(panel):
    f = panel.mesh.faces
    edges = np.sort(np.stack([f, np.roll(f, -1, axis=1)], axis=-1).reshape(-1, 2), axis=1)
    return len(panel.mesh.vertices) - len(np.unique(edges, axis=0)) + len(f)


@pytest.mark.parametrize("darts", [(), DARTS, (DartLine(0.0, 260.0, 1.0),)])
def test_panels_are_disks_that_cover_the_side(shape, darts):
    arm = mesh_arm(shape, edge=9.0, darts=darts)
    outer, inner = cut(arm)
    assert euler(outer) == euler(inner) == 1
    assert len(outer.mesh.faces) == len(arm.panel_faces["outer"])
    assert len(inner.mesh.faces) == len(arm.panel_faces["inner"])
    for panel in (outer, inner):
        assert panel.mesh.vertices == pytest.approx(arm.mesh.vertices[panel.arm_vertices])


def test_sides_run_round_the_panel_in_the_usual_order(shape):
    outer, inner = cut(mesh_arm(shape, edge=9.0, darts=DARTS))
    assert [side.seam for side in outer.sides] == [
        "cap seam",
        "dart 2",
        "dart 2",
        "cap seam",
        "dart 1",
        "dart 1",
        "cap seam",
        "front seam",
        "outer wrist",
        "back seam",
    ]
    assert [side.seam for side in inner.sides] == [
        "underarm seam",
        "back seam",
        "inner wrist",
        "front seam",
    ]
    for panel in (outer, inner):
        ends = [(side.path[0], side.path[-1]) for side in panel.sides]
        assert all(a[1] == b[0] for a, b in zip(ends, ends[1:] + ends[:1]))


def test_both_panels_share_their_seams_edge_for_edge(shape):
    outer, inner = cut(mesh_arm(shape, edge=9.0, darts=DARTS))
    for seam in ("front seam", "back seam"):
        mine = next(s for s in outer.sides if s.seam == seam)
        other = next(s for s in inner.sides if s.seam == seam)
        assert np.array_equal(outer.arm_vertices[mine.path], inner.arm_vertices[other.path][::-1])


def test_dart_legs_are_doubled_and_meet_at_their_point(shape):
    outer, _ = cut(mesh_arm(shape, edge=9.0, darts=DARTS))
    first, second = (s for s in outer.sides if s.seam == "dart 1")
    assert first.path[-1] == second.path[0]
    assert np.array_equal(outer.arm_vertices[first.path], outer.arm_vertices[second.path][::-1])
    assert len(set(first.path) & set(second.path)) == 1


def test_reference_lines_lie_on_their_levels(shape):
    arm = mesh_arm(shape, edge=9.0, darts=DARTS)
    for panel in cut(arm):
        for line, name in (("elbow line", "elbow"), ("upper arm line", "upper_arm")):
            points = panel.traces[line].on(panel.mesh.vertices, panel.mesh.faces)
            station = arm.stations[name]
            assert (points - station.origin) @ station.normal == pytest.approx(0.0, abs=1e-5)
        grain = panel.traces["grain"].on(panel.mesh.vertices, panel.mesh.faces)
        assert np.all(np.diff(grain[:, 2]) < 0)
        assert grain[:, 0] == pytest.approx(0.0, abs=1e-6)


def test_reference_lines_of_both_panels_make_up_the_girth(shape):
    arm = mesh_arm(shape)
    for line, girth in (("upper arm line", 286.0), ("elbow line", 246.0), ("forearm line", 243.0)):
        walked = sum(
            np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
            for points in (p.traces[line].on(p.mesh.vertices, p.mesh.faces) for p in cut(arm))
        )
        assert walked == pytest.approx(girth, abs=0.3)


def test_the_right_arm_is_cut_the_other_way_round(shape):
    right = shape_arm(sample_measures(side="right"))
    outer, inner = cut(mesh_arm(right, edge=9.0))
    assert [s.seam for s in outer.sides] == ["cap seam", "back seam", "outer wrist", "front seam"]
    assert [s.seam for s in inner.sides] == [
        "underarm seam",
        "front seam",
        "inner wrist",
        "back seam",
    ]


def test_unzipping_a_square_along_its_middle():
    faces = np.array([[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4]])
    cut_faces, origin = unzip(faces, {(1, 4)})
    assert len(origin) == 8
    assert np.array_equal(origin[cut_faces], faces)


def test_a_dart_off_the_cap_seam_is_refused(shape):
    arm = mesh_arm(shape, edge=9.0, darts=DARTS)
    paths = dict(arm.paths) | {"dart 1": arm.paths["front seam"][5:9]}
    with pytest.raises(UnrollError, match="dart 1 does not start on the cap seam"):
        cut(dataclasses.replace(arm, paths=paths))


def test_a_ring_is_not_a_panel():
    ring = np.array([[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4], [2, 0, 3], [2, 3, 5]])
    with pytest.raises(UnrollError, match="boundary edges that do not form one loop"):
        boundary_loop(ring)
