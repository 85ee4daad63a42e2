"""A dart closed, folded and cut out; notches cut into the allowance."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from trimesh.transformations import reflection_matrix, rotation_matrix

from tests.own_pieces import made_arm, own_sheet
from unroll.finish.allowance import cutting_line
from unroll.finish.darts import closing, find_darts
from unroll.finish.finishing import finish
from unroll.nouns import StitchingSide


def test_legs_that_touch_at_a_darts_point_are_cut_where_their_allowances_meet():
    # at the point the legs run half a degree past each other, as curved legs may
    up = np.linspace(0.0, 1.0, 61)

    def leg(way: float) -> np.ndarray:
        return np.stack([way * (30.0 * up**2 - 0.8 * up), 100.0 * up], axis=1)

    runs = (
        ("cap seam", np.array([[70.0, 100.0], [29.2, 100.0]])),
        ("dart 1", leg(1.0)[::-1]),
        ("dart 1", leg(-1.0)),
        ("cap seam", np.array([[-29.2, 100.0], [-70.0, 100.0]])),
        ("back seam", np.array([[-70.0, 100.0], [-70.0, -60.0]])),
        ("hem", np.array([[-70.0, -60.0], [70.0, -60.0]])),
        ("front seam", np.array([[70.0, -60.0], [70.0, 100.0]])),
    )

    def side(name: str, points: np.ndarray) -> StitchingSide:
        tangents = np.gradient(points, axis=0)
        tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
        return StitchingSide(name, np.zeros((1, 4, 2)), points, tangents, 10.0)

    line = cutting_line([side(name, points) for name, points in runs]).line
    # the allowances meet where the slit is 20 mm wide: 2 (30 u^2 - 0.8 u) = 20, a little higher
    # for the legs' slope; nothing of the line lies below, near the point
    inside = line[(np.abs(line[:, 0]) < 12.0) & (line[:, 1] > -50.0)]
    assert inside[:, 1].min() == pytest.approx(59.1, abs=3.0)


def test_notches_are_cut_from_the_edge_inwards_and_never_reach_the_stitching_line():
    count = 0
    for piece in finish(made_arm(), own_sheet()):
        if piece.material != "cloth":
            continue  # a card base has no allowance
        cutting = shapely.Polygon(piece.cutting)
        for mark in piece.notches:
            seam = shapely.LineString(piece.sides[mark.side_index].points)
            for outer, inner in mark.slits:
                count += 1
                assert cutting.exterior.distance(shapely.Point(outer)) < 1e-6
                assert cutting.contains(shapely.Point(inner))
                away = [seam.distance(shapely.Point(end)) for end in (outer, inner)]
                assert away[0] > away[1] + 1.0 and away[1] > 3.0  # of 10 mm allowed
    assert count > 8


def test_a_dart_closes_by_a_turn_and_folds_as_in_a_mirror():
    outer = finish(made_arm(), own_sheet())[0]
    points = outer.cutting[::7]
    at = np.c_[points, np.zeros(len(points)), np.ones(len(points))]
    darts = find_darts(outer.sides)
    assert len(darts) == 2
    for dart in darts:
        close = closing(outer.sides, dart)
        there, back = (outer.sides[leg].points for leg in dart.legs)
        assert np.allclose(close.close(back), there[::-1], atol=0.01)  # leg lies on leg
        moved = points - close.far
        turned = np.c_[moved, np.zeros(len(points))] @ rotation_matrix(
            close.angle_rad, [0, 0, 1])[:3, :3].T  # fmt: skip
        assert np.allclose(close.close(points), turned[:, :2] + close.near)
        assert np.allclose(close.open(close.close(points)), points)
        normal = [-close.near_out[1], close.near_out[0], 0.0]
        mirror = reflection_matrix([*close.near, 0.0], normal)
        assert np.allclose(close.fold(points), (at @ mirror.T)[:, :2])
