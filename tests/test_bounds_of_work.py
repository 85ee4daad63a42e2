"""Work stays bounded: what is larger than any arm has longer edges, not more triangles."""

from __future__ import annotations

import pytest

from tests.samples import sample_measures
from tests.study_quick import scaled
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.correct.layout_trials import SEARCH_EDGE_MM, search_edge
from unroll.maths.triangles import MOST_MM2, edge_within


def test_an_arm_of_a_body_has_the_edges_that_were_asked_for() -> None:
    assert edge_within(8.0, MOST_MM2) == 8.0
    assert edge_within(8.0, 9.0 * MOST_MM2) == pytest.approx(24.0)


def test_an_arm_of_four_metres_has_no_more_triangles_than_a_large_one() -> None:
    large, vast = (
        len(mesh_arm(shape_arm(scaled(sample_measures(), by)), edge=20.0).mesh.faces)
        for by in (1.5, 6.0)
    )
    assert vast < 1.15 * large


def test_layouts_of_what_is_larger_than_any_arm_are_tried_on_fewer_triangles() -> None:
    usual, vast = (shape_arm(scaled(sample_measures(), by)) for by in (1.0, 2.5))
    assert search_edge(usual) == SEARCH_EDGE_MM  # of a body's arm it stays as it was
    counts = [len(mesh_arm(one, edge=search_edge(one)).mesh.faces) for one in (usual, vast)]
    assert counts[1] < counts[0]
