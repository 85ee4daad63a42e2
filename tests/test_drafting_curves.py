"""Curves of the draft: through their points, continuous in curvature, without waves; outlines."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import arm_measures
from unroll.drafts import half_caps
from unroll.drafts.layout import inner_side, lay_out, outer_bottom
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import oval_part
from unroll.maths.polylines import (
    corner_deg,
    crosses_itself,
    cut_by_line,
    end_direction,
    signed_distances,
    spaced,
)
from unroll.maths.smooth_curves import SmoothCurve, curve_through, fair_curve_through, waves
from unroll.nouns import Make

# turns one way at every point, gently at the second and sharply at the third, as a back seam does
ONE_WAY = np.array([[0.0, 0.0], [3.0, -78.0], [11.0, -210.0], [33.0, -268.0], [115.0, -420.0]])


@pytest.mark.parametrize("draw", [curve_through, fair_curve_through])
def test_a_curve_passes_its_points_with_the_directions_asked_for(draw: object) -> None:
    curve: SmoothCurve = draw(  # type: ignore[operator]
        ONE_WAY, start=(0, -1), start_bend=(0, 0), end=(1, -2)
    )
    assert np.allclose(curve.at(curve.sites), ONE_WAY, atol=1e-8)
    assert np.allclose(curve.slope(0.0), [0, -1], atol=1e-8)
    assert np.allclose(curve.slope(0.0, 2), 0.0, atol=1e-8)
    end = curve.slope(curve.sites[-1])
    assert end[0] / end[1] == pytest.approx(-0.5, abs=1e-8)


@pytest.mark.parametrize("draw", [curve_through, fair_curve_through])
def test_curvature_is_continuous_across_the_points(draw: object) -> None:
    curve: SmoothCurve = draw(ONE_WAY, start=(0, -1), end=(1, -2))  # type: ignore[operator]
    for site in curve.sites[1:-1]:
        before, after = curve.curvature(site - 1e-7), curve.curvature(site + 1e-7)
        assert before == pytest.approx(after, abs=1e-7)


def test_a_fair_curve_bends_one_way_where_a_plain_spline_waves() -> None:
    plain = curve_through(ONE_WAY, start=(0, -1), start_bend=(0, 0), end=(1, -1.6))
    fair = fair_curve_through(ONE_WAY, start=(0, -1), start_bend=(0, 0), end=(1, -1.6))
    assert waves(plain) > 0
    assert waves(fair) == 0


def test_a_circle_comes_back_as_a_circle() -> None:
    # Bessel-type convergence of the cubic spline: error falls with the fourth power of the step
    errors = []
    for count in (9, 17, 33):
        angle = np.linspace(0.0, np.pi, count)
        points = 100.0 * np.column_stack([np.cos(angle), np.sin(angle)])
        line = curve_through(points, start=(0, 1), end=(0, -1)).sampled(0.5)
        errors.append(np.abs(np.linalg.norm(line, axis=1) - 100.0).max())
    assert errors[0] / errors[1] > 12 and errors[1] / errors[2] > 12


def test_cubics_are_the_curve() -> None:
    curve = fair_curve_through(ONE_WAY, start=(0, -1))
    cubics = curve.cubics()
    assert np.allclose(cubics[0, 0], ONE_WAY[0]) and np.allclose(cubics[-1, 3], ONE_WAY[-1])
    knots = np.unique(curve.spline.t)
    middle = np.einsum(
        "k,skd->sd", np.array([1, 3, 3, 1]) / 8.0, cubics)
    assert np.allclose(middle, curve.at(0.5 * (knots[:-1] + knots[1:])), atol=1e-9)


def polygon_turns(points: FloatArray, first: FloatArray, last: FloatArray) -> FloatArray:
    ways = np.vstack([first, np.diff(points, axis=0), last])
    angle = np.unwrap(np.arctan2(ways[:, 1], ways[:, 0]))
    return np.diff(angle)


def runs_of_bend(line: FloatArray) -> FloatArray:
    """Total turn of each stretch of a polyline that bends one way, degrees."""
    step = np.diff(line, axis=0)
    turn = np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))
    starts = np.nonzero(np.diff(np.sign(turn)))[0] + 1
    return np.array([np.degrees(part.sum()) for part in np.split(turn, starts)])


@settings(max_examples=20)
@given(arm_measures())
def test_sides_of_any_plausible_sheet_make_no_waves_of_their_own(measures: object) -> None:
    layout = lay_out(measures, Make())  # type: ignore[arg-type]
    for side in (1, -1):
        line = inner_side(layout, side)
        ends = np.array([x.end("inner", side) for x in layout.lines])
        corners = np.vstack([line[:1], ends])
        turns = polygon_turns(corners, np.array([0.0, -1.0]), layout.down)
        if abs(turns[0]) < np.radians(0.1):
            # plumb from the start: to bend after that, a curve must first swing the other way
            turns[0] = -turns[1]
        signs = np.sign(turns)
        asked = int(np.count_nonzero(np.diff(signs)))
        runs = runs_of_bend(line)
        # a swing of 3 degrees over 60 mm strays 0.4 mm from straight: a pencil line's width
        seen = np.sign(runs[np.abs(runs) > 3.0])
        assert np.count_nonzero(np.diff(seen)) <= asked


@settings(max_examples=10)
@given(arm_measures())
def test_side_lines_are_smooth_to_the_eye(measures: object) -> None:
    layout = lay_out(measures, Make())  # type: ignore[arg-type]
    for side in (1, -1):
        for line in (inner_side(layout, side), outer_bottom(layout, side)):
            step = np.diff(line, axis=0)
            turn = np.degrees(np.abs(np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))))
            # steps of about 1 mm: 3 degrees is a radius of 19 mm, tighter than any side bends
            assert turn.max() < 3.0


@given(st.floats(0.3, 1.0), st.floats(0.0, 1.0))
def test_an_oval_part_has_its_share_of_the_girth(ratio: float, share: float) -> None:
    width, height = 100.0, 100.0 * ratio
    low, high = 2.0 * np.hypot(width, height), 2.0 * (width + height)
    girth = low + (0.2 + 0.6 * share) * (high - low)
    part = oval_part(width, height, girth, 0.25, 0.5, step=0.25)
    assert np.linalg.norm(np.diff(part, axis=0), axis=1).sum() == pytest.approx(
        0.25 * girth, rel=1e-3
    )
    assert np.allclose(part[0], [50.0, 0.0]) and np.allclose(part[-1], [0.0, 0.5 * height])


def test_a_corner_between_arcs_is_measured_on_their_tangents() -> None:
    angle = np.linspace(-0.5 * np.pi, 0.0, 100)
    arc = 50.0 * np.column_stack([np.cos(angle), np.sin(angle)])  # arrives going straight up
    leaving = arc[-1] + np.linspace(0, 30, 10)[:, None] * np.array([-1.0, 0.0])
    # the tangent of a parabola through 8 mm of a radius of 50 is right within half a degree
    assert corner_deg(arc, leaving) == pytest.approx(90.0, abs=0.5)
    assert np.allclose(end_direction(leaving), [-1.0, 0.0])


def test_distances_outside_are_positive_and_inside_negative() -> None:
    square = np.array([[0.0, 0.0], [10, 0], [10, 10], [0, 10]])
    got = signed_distances(np.array([[5.0, 5.0], [13.0, 14.0], [10.0, 5.0]]), square)
    assert got == pytest.approx([-5.0, 5.0, 0.0])


def test_lines_cut_outlines_where_they_cross() -> None:
    circle = 10.0 * np.column_stack([np.cos(t := np.linspace(0, 2 * np.pi, 721)), np.sin(t)])
    cuts = cut_by_line(circle, np.array([0.0, 6.0]), np.array([1.0, 0.0]))
    assert cuts == pytest.approx([-8.0, 8.0], abs=1e-3)
    assert not crosses_itself(circle[:-1])
    assert crosses_itself(np.array([[0.0, 0], [10, 10], [10, 0], [0, 10]]))
    assert np.linalg.norm(np.diff(spaced(circle, 0.05), axis=0), axis=1).max() <= 0.05 + 1e-12


@pytest.mark.parametrize("middle", [10.0, -90.0])
def test_a_cap_whose_edge_does_not_cross_the_mid_height_line_is_refused(middle: float) -> None:
    curve = curve_through([(0.0, 0.0), (12.0, -25.0), (20.0, -60.0)])
    task = SimpleNamespace(is_flared=True, corner=np.array([20.0, middle]))
    with pytest.raises(UnrollError, match="does not cross the armhole's mid-height line"):
        half_caps._split_at_middle(task, curve)  # type: ignore[arg-type]
