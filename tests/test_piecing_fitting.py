"""Fitted curves between the points of the line: how far they stand off it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from tests.samples import sample_measures
from unroll.drafts.bases import armhole_base
from unroll.finish.finishing import smooth_sides
from unroll.maths.cubic_fitting import distance_to_cubics, fit_cubics, sample_cubics
from unroll.maths.ellipses import ellipse_perimeter
from unroll.nouns import Armhole

TOLERANCE = 0.1
# Part of a corrected inner piece's front seam, laid flat on a mesh of 13 mm.
FRONT_SEAM = np.array(
    [
        [0.0, 0.0], [0.1, 13.5], [0.0, 26.9], [0.1, 35.9], [0.2, 44.9], [0.7, 54.0], [1.6, 63.1],
        [2.5, 72.3], [5.4, 81.8], [9.0, 91.1], [10.9, 100.1], [10.5, 109.5], [7.9, 119.2],
        [3.6, 129.3], [-1.9, 139.6],
    ]
)  # fmt: skip


def turned(chords: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    """The polyline of these chords, each turned against the one before."""
    heading = np.cumsum(np.radians([0.0, *degrees]))
    steps = np.asarray(chords)[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=1)
    return np.concatenate([[[0.0, 0.0]], np.cumsum(steps, axis=0)])


def random_line(rng: np.random.Generator) -> np.ndarray:
    """A polyline of uneven chords that winds without corners."""
    count = int(rng.integers(5, 40))
    chords = np.exp(rng.uniform(np.log(0.4), np.log(25.0), count))
    return turned(chords, np.clip(rng.normal(size=count - 1) * 12.0, -29.0, 29.0))


def beyond(points: np.ndarray, cubics: np.ndarray) -> float:
    """How much farther off the line the curve runs than tolerance and two sagittas, mm.

    The sagitta of a chord is that of an arc as long that turns as the line does at its ends.
    """
    curve = shapely.points(sample_cubics(cubics, sagitta=0.005)[0])
    steps = np.diff(points, axis=0)
    length, heading = np.hypot(*steps.T), np.unwrap(np.arctan2(*steps.T[::-1]))
    turn = np.abs(np.diff(heading, prepend=heading[0], append=heading[-1]))
    allowed = TOLERANCE + length * np.maximum(turn[:-1], turn[1:]) / 4
    chords = [shapely.LineString(points[k : k + 2]) for k in range(len(steps))]
    off = np.stack([shapely.distance(curve, chord) for chord in chords], axis=1)
    return float((off - allowed).min(axis=1).max())


def test_a_curve_does_not_leave_the_line_between_its_points() -> None:
    cubics = fit_cubics(FRONT_SEAM, tolerance=TOLERANCE)
    assert distance_to_cubics(FRONT_SEAM, cubics).max() <= TOLERANCE
    curve, _ = sample_cubics(cubics)
    # Its arcs bulge 0.35 mm from their chords; it once ran 20 mm off and back.
    assert shapely.distance(shapely.points(curve), shapely.LineString(FRONT_SEAM)).max() < 0.5
    assert len(cubics) <= 6


@pytest.mark.parametrize("seed", range(16))
def test_however_a_line_is_sampled_the_curve_stays_beside_it(seed: int) -> None:
    line = random_line(np.random.default_rng(seed))
    cubics = fit_cubics(line, tolerance=TOLERANCE)
    assert distance_to_cubics(line, cubics).max() <= TOLERANCE
    # The curve is looked at every millimetre: what lies in between can be a little farther off.
    assert beyond(line, cubics) < 0.1


@pytest.mark.parametrize(
    ("chords", "turns", "is_smooth"),
    [
        ([10.0] * 5, [25.0, 20.0, 20.0, 15.0], True),
        ([20.0, 20.0, 1.0, 20.0, 20.0], [0.0, 28.0, 28.0, 0.0], False),
    ],
)
def test_a_line_that_nothing_less_follows_gets_a_cubic_for_each_chord(
    chords: list[float], turns: list[float], is_smooth: bool
) -> None:
    points = turned(chords, turns)
    cubics = fit_cubics(points, tolerance=0.001)
    assert np.concatenate([cubics[:, 0], cubics[-1:, 3]]) == pytest.approx(points, abs=1e-9)
    assert beyond(points, cubics) < 0
    # Curvature runs on, unless that would take the curve away from the line.
    jumps = np.abs(bends(cubics[:-1]) + bends(cubics[1:, ::-1]))
    assert (jumps < 1e-9).all() == is_smooth


def bends(cubics: np.ndarray) -> np.ndarray:
    """Curvature at the end of each cubic, 1/mm."""
    out, back = cubics[:, 3] - cubics[:, 2], cubics[:, 1] - cubics[:, 2]
    cross = out[:, 0] * back[:, 1] - out[:, 1] * back[:, 0]
    return 2 / 3 * cross / np.hypot(*out.T) ** 3


@pytest.mark.parametrize("turn", [0.0, 4.0])
def test_two_points_between_held_tangents_make_one_curve(turn: float) -> None:
    """A straight side that runs on smoothly into its neighbours, straight or slightly bent."""
    start, end = (np.array([np.cos(t), np.sin(t)]) for t in np.radians([-turn, turn]))
    points = np.array([[0.0, 0.0], [40.0, 0.0]])
    cubics = fit_cubics(points, start_tangent=start, end_tangent=end)
    _, along = sample_cubics(cubics)
    assert along[[0, -1]] == pytest.approx(np.array([start, end]), abs=1e-9)


@pytest.mark.parametrize(
    ("width", "height"), [(94.5, 121.5), (107.0, 148.0), (74.1, 98.8), (69.4, 99.1), (80.0, 80.0)]
)
def test_an_oval_armhole_base_is_fitted_without_a_loop(width: float, height: float) -> None:
    """Ovals bulge everywhere: where a fitted curve turned the other way it ran off and back."""
    girth = float(ellipse_perimeter(0.5 * width, 0.5 * height))
    base = armhole_base(sample_measures(armhole=Armhole(width, height, girth)))
    for side in smooth_sides(base, lambda _: 10.0):
        one, two = side.tangents[:-1], side.tangents[1:]
        assert (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).min() > -1e-9
        assert len(side.cubics) <= 8


def test_a_line_is_fitted_though_singular_values_do_not_settle(monkeypatch) -> None:
    """On some sound matrices their iteration fails; the outer of one wild sheet met it."""

    def fails(*_given, **_how):
        raise np.linalg.LinAlgError("SVD did not converge in Linear Least Squares")

    x = np.linspace(0.0, 300.0, 151)
    line = np.column_stack([x, 30.0 * np.sin(x / 40.0)])
    monkeypatch.setattr(np.linalg, "lstsq", fails)
    cubics = fit_cubics(line, tolerance=0.1)
    assert distance_to_cubics(line, cubics).max() < 0.1
