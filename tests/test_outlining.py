"""A piece has the flattening's own lengths, and its lines."""

from __future__ import annotations

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import loft
from unroll.flat.cutting import cut, outline
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten
from unroll.nouns import DartLine


@pytest.fixture(scope="module")
def flats():
    arm = loft(sample_measures(), edge=12.0, darts=(DartLine(45.0, 80.0), DartLine(-45.0, 80.0)))
    return [flatten(panel) for panel in cut(arm)]


def test_seams_keep_the_lengths_of_the_flattening(flats):
    for flat in flats:
        piece = outline(flat, arm="left")
        lengths = measure_distortion(flat).seam_lengths_mm
        for seam in ("front seam", "back seam"):
            assert piece.seam_length(seam) == pytest.approx(lengths[seam][1], rel=1e-12)


def test_the_outline_is_closed_anticlockwise_and_as_large_as_its_faces(flats):
    for flat in flats:
        piece = outline(flat, arm="left")
        for one, other in zip(piece.sides, piece.sides[1:] + piece.sides[:1]):
            assert np.array_equal(one.points[-1], other.points[0])
        corners = flat.points[flat.panel.mesh.faces]
        u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        assert piece.area == pytest.approx(0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum())


def test_reference_lines_lie_in_their_order_down_the_grain(flats):
    for flat in flats:
        lines = outline(flat, arm="left").lines
        heights = [lines[n][:, 1].mean() for n in ("upper arm line", "elbow line", "forearm line")]
        assert heights == sorted(heights, reverse=True)
        grain = lines["grain"]
        assert abs(grain[0, 0] - grain[-1, 0]) < 1e-6
        assert grain[0, 1] > grain[-1, 1]
        for line in lines.values():
            assert np.linalg.norm(np.diff(line, axis=0), axis=1).min() > 1e-3
