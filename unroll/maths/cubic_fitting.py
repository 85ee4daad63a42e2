"""Few cubic segments through a polyline: smooth where it is smooth, corners kept."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import BSpline, CubicSpline, PPoly
from scipy.linalg import lstsq

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, numbered
from unroll.maths.sampled_lines import (
    Ends,
    SampledLine,
    evaluate,
    parabolic,
    sampled_line,
    with_straight_middles,
)

NARROWEST = 5.0  # mm between knots; sharper changes of curvature get a doubled knot
MOST_KNOTS = 44  # a line that so many do not follow is noise: it is kept point by point
LIGHT = 1e-2  # weight of places between samples
SHARPER = 3.0  # times the lesser turn beside it: what turns no more is a curve, sampled coarsely


def fit_cubics(
    points: FloatArray,
    *,
    tolerance: float = 0.1,
    corner_deg: float = 30.0,
    start_tangent: FloatArray | None = None,
    end_tangent: FloatArray | None = None,
) -> FloatArray:
    """Fit cubic Bézier segments to a polyline, with continuous curvature between corners.

    Parameters
    ----------
    points : (k, 2) float
        Polyline, mm; both ends are kept exactly.
    tolerance : float
        Largest distance from a point of the polyline to the curve, mm. Between points the curve
        may bulge from a chord by twice the sagitta of an arc that turns as the polyline does.
    corner_deg : float
        A turn sharper than this, degrees, is a corner, and is kept; see `corners_of`.
    start_tangent, end_tangent : (2,) float, optional
        Unit directions of travel to hold at the ends.

    Returns
    -------
    (m, 4, 2) float
        Control points, end to end, mm.

    Notes
    -----
    Each run between corners is a least-squares cubic spline over chord length; the parameters are
    moved to the nearest points of the curve a few times, and a knot is set in the middle of the
    worst span until every point is near enough (in the manner of Plass and Stone, "Curve-fitting
    with piecewise parametric cubics", SIGGRAPH 1983, doi 10.1145/800059.801153).
    """
    points = _without_repeats(np.asarray(points, dtype=float))
    breaks = [0, *corners_of(points, corner_deg), len(points) - 1]
    runs = []
    for index, (first, last) in enumerate(zip(breaks[:-1], breaks[1:], strict=True)):
        ends = (
            start_tangent if index == 0 else None,
            end_tangent if index == len(breaks) - 2 else None,
        )
        runs.append(_fit_run(points[first : last + 1], tolerance, ends))
    return np.concatenate(runs)


def sample_cubics(cubics: FloatArray, *, sagitta: float = 0.01) -> tuple[FloatArray, FloatArray]:
    """Return points (k, 2) along Bézier segments, and unit tangents there.

    No chord strays more than `sagitta` from the curve; joints between segments are points.

    Examples
    --------
    >>> line = np.array([[[0, 0], [1, 0], [2, 0], [3, 0]]], dtype=float)
    >>> sample_cubics(line)[0].tolist()
    [[0.0, 0.0], [3.0, 0.0]]
    """
    # |B''| bounds the sagitta of a step h in the parameter by |B''| h² / 8
    bend = 6 * np.linalg.norm(np.diff(cubics, n=2, axis=1), axis=2).max(axis=1)
    steps = np.maximum(np.ceil(np.sqrt(bend / (8 * sagitta)) - 1e-9), 1).astype(int)
    segment, number = numbered(steps)
    segment, part = np.r_[0, segment], np.r_[0.0, (number + 1) / steps[segment]]
    at, along = evaluate(np.transpose(cubics[segment], (1, 0, 2)), part[:, None])
    # both ends of the curve are kept to the last bit, so that sides stay joined
    at[0], at[-1] = cubics[0, 0], cubics[-1, 3]
    unit: FloatArray = along / np.linalg.norm(along, axis=1, keepdims=True)
    return at, unit


def distance_to_cubics(points: FloatArray, cubics: FloatArray) -> FloatArray:
    """Return the distance, (k,), from each point to Bézier segments, mm."""
    line, _ = sample_cubics(cubics, sagitta=1e-4)
    a, b = line[:-1], line[1:]
    along = b - a
    share = np.einsum("kmj,mj->km", points[:, None] - a, along) / np.einsum(
        "ij,ij->i", along, along
    )
    foot = a + np.clip(share, 0, 1)[..., None] * along
    out: FloatArray = np.linalg.norm(points[:, None] - foot, axis=2).min(axis=1)
    return out


def _without_repeats(points: FloatArray) -> FloatArray:
    keep = np.concatenate([[True], polylines.chords(points) > 1e-9])
    keep[-1] = True
    if len(points) > 2 and np.linalg.norm(points[-1] - points[-2]) <= 1e-9:
        keep[-2] = False
    out: FloatArray = points[keep]
    return out


def corners_of(points: FloatArray, corner_deg: float = 30.0) -> list[int]:
    """Return the indices of a polyline's corners: turns sharper than `corner_deg`, degrees.

    Where the turns on both sides are nearly as sharp, a tight curve was sampled coarsely.

    Examples
    --------
    >>> corners_of(np.array([[0.0, 0], [5, 0], [10, 0], [10, 5], [10, 10]]))
    [2]
    """
    step = np.diff(points, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(heading) + np.pi) % (2 * np.pi) - np.pi)
    beside = np.minimum(np.r_[0.0, turn[:-1]], np.r_[turn[1:], 0.0])
    is_corner = (turn > np.deg2rad(corner_deg)) & (turn > SHARPER * beside)
    return [int(i) + 1 for i in np.nonzero(is_corner)[0]]


def _fit_run(points: FloatArray, tolerance: float, ends: Ends) -> FloatArray:
    """Fit one run without corners; add knots until it is near enough."""
    if len(points) == 2 and all(end is None for end in ends):
        return _straight(points)[None]
    line = sampled_line(with_straight_middles(points), 0.9 * tolerance, ends)
    inner: list[float] = []
    while True:
        spline, u = _fitted(line, line.at / line.at[-1], inner, ends)
        at, excess = line.worst(spline, u)
        if excess <= 0:
            break
        if len(inner) + 4 >= min(len(line.samples), MOST_KNOTS):
            return _through(points, line.limit, ends)
        inner = _one_more_knot(inner, u, at, NARROWEST / line.at[-1])
    return _as_bezier(_without_idle_knots(spline, line, u, inner, ends))


def _fitted(
    line: SampledLine,
    u: FloatArray,
    inner: list[float],
    ends: Ends,
    rounds: int = 4,
) -> tuple[BSpline, FloatArray]:
    """Return the spline on these knots, and the samples' parameters."""
    for _ in range(rounds):
        spline = _least_squares(line, u, inner, ends)
        u = _nearer(spline, line.samples, u)
    return spline, u


def _without_idle_knots(
    spline: BSpline,
    line: SampledLine,
    u: FloatArray,
    inner: list[float],
    ends: Ends,
) -> BSpline:
    """Drop each knot without which the curve still is near enough."""
    for knot in list(inner):
        fewer = list(inner)
        fewer.remove(knot)
        trial, moved = _fitted(line, u, fewer, ends, rounds=2)
        if line.worst(trial, moved)[1] <= 0:
            spline, u, inner = trial, moved, fewer
    return spline


def _straight(points: FloatArray) -> FloatArray:
    share = np.array([[0.0], [1 / 3], [2 / 3], [1.0]])
    out: FloatArray = points[0] * (1 - share) + points[-1] * share
    return out


def _least_squares(
    line: SampledLine,
    u: FloatArray,
    inner: list[float],
    ends: Ends,
) -> BSpline:
    """Fit a cubic B-spline with fixed ends and, where given, fixed end directions.

    Places between samples weigh little: they say where the curve goes when knots lie closer than
    samples, which would leave it free to go anywhere.
    """
    knots = np.r_[[0.0] * 4, inner, [1.0] * 4]
    count = len(knots) - 4
    places, u = np.concatenate([line.samples, line.between]), line.parameters(u)
    weight = np.where(np.arange(len(places)) < len(line.samples), 1.0, LIGHT)
    basis = BSpline.construct_fast(knots, np.eye(count), 3)(np.clip(u, 0, 1))
    base, freedom = _held(count, line.samples[0], line.samples[-1], ends)
    # normal equations: a B-spline basis is well conditioned, and they are fifty times faster here
    weighed = basis.T * weight
    square, rest = weighed @ basis, weighed @ (places - basis @ base)
    across, up = freedom
    # by pivoted orthogonal factors: the iteration for singular values fails on some sound matrices
    unknown, *_ = lstsq(
        across.T @ square @ across + up.T @ square @ up,
        across.T @ rest[:, 0] + up.T @ rest[:, 1],
        lapack_driver="gelsy",
        check_finite=False,
    )
    return BSpline.construct_fast(knots, base + (freedom @ unknown).T, 3)


def _held(
    count: int, first: FloatArray, last: FloatArray, ends: Ends
) -> tuple[FloatArray, FloatArray]:
    """Return what holds `count` control points: they are base (count, 2) + freedom @ unknowns.

    Freedom, (2, count, k), is x by x and y by y; a point beside an end with a direction has one
    unknown, how far it lies that way.
    """
    base = np.zeros((count, 2))
    base[0], base[-1] = first, last
    columns = np.zeros((2, count, 2 * count))
    each = np.arange(count)
    columns[0, each, 2 * each] = columns[1, each, 2 * each + 1] = 1.0
    is_free = (each > 0) & (each < count - 1)
    unknowns = np.repeat(is_free, 2)
    for index, end, tangent in ((1, first, ends[0]), (count - 2, last, ends[1])):
        if tangent is not None:
            base[index] = end
            columns[:, index, 2 * index] = tangent
            unknowns[2 * index + 1] = False
    return base, columns[:, :, unknowns]


def _nearer(spline: BSpline, samples: FloatArray, u: FloatArray) -> FloatArray:
    """Move the parameters one Newton step towards the nearest points of the curve."""
    off = spline(u) - samples
    first, second = spline(u, 1), spline(u, 2)
    slope = np.einsum("ij,ij->i", first, first) + np.einsum("ij,ij->i", off, second)
    step = np.einsum("ij,ij->i", off, first) / np.where(slope > 0, slope, np.inf)
    moved = np.clip(u - step, 0.0, 1.0)
    moved[0], moved[-1] = 0.0, 1.0
    return moved if np.all(np.diff(moved) > 0) else u


def _one_more_knot(inner: list[float], u: FloatArray, at: float, narrowest: float) -> list[float]:
    """Halve the span that holds the worst place; double the nearest knot if it is too narrow.

    A doubled knot lets the curvature jump, as it does where two curves were joined. A span is
    not halved while one beside it is four times as wide: that one is at fault, and knots would
    crowd at their joint until there are no samples left between them to hold the curve.
    """
    edges = np.unique(np.r_[0.0, inner, 1.0])
    worst = int(np.clip(np.searchsorted(edges, at) - 1, 0, len(edges) - 2))
    width = np.diff(edges)
    beside = max((i for i in (worst - 1, worst + 1) if 0 <= i < len(width)),
                 key=lambda i: width[i], default=worst)
    worst = beside if width[beside] > 3.9 * width[worst] else worst
    within = u[(u > edges[worst]) & (u < edges[worst + 1])]
    singles = [knot for knot in set(inner) if inner.count(knot) < 2]
    is_narrow = edges[worst + 1] - edges[worst] < 2 * narrowest or len(within) < 2
    if is_narrow and singles:
        return sorted([*inner, min(singles, key=lambda knot: (abs(knot - at), knot))])
    if len(within) < 2:
        worst = int(np.argmax(np.histogram(u, edges)[0]))
        within = u[(u > edges[worst]) & (u < edges[worst + 1])]
    middle = 0.5 * (edges[worst] + edges[worst + 1])
    knot = middle if within.min() < middle < within.max() else float(np.median(within))
    return sorted([*inner, float(knot)])


def _through(points: FloatArray, limit: float, ends: Ends) -> FloatArray:
    """Return cubics from point to point: the last resort.

    Their curvature is continuous, unless that takes them away from the chords; then each turns
    along its chord only, as far as a parabola through the points beside it does.
    """
    line = sampled_line(points, limit, ends)
    held = tuple("not-a-knot" if end is None else (1, end) for end in ends)
    spline = CubicSpline(line.at, points, bc_type=held)
    if line.worst(spline, line.at)[1] <= 0:
        return _as_bezier(spline)
    return parabolic(points, ends)


def _as_bezier(spline: BSpline | PPoly) -> FloatArray:
    """Return the Bézier control points of each polynomial span."""
    poly = spline if isinstance(spline, PPoly) else None
    if poly is None:
        breaks = np.unique(spline.t)
        values, first = spline(breaks), spline(breaks, 1)
    else:
        breaks = poly.x
        values, first = poly(breaks), poly(breaks, 1)
    width = np.diff(breaks)[:, None]
    return np.stack(
        [
            values[:-1],
            values[:-1] + first[:-1] * width / 3,
            values[1:] - first[1:] * width / 3,
            values[1:],
        ],
        axis=1,
    )
