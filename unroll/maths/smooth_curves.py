"""Curves through points that bend no other way than the points ask for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import BSpline, make_interp_spline
from scipy.linalg import null_space
from scipy.optimize import nnls

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray


@dataclass(frozen=True, eq=False)
class SmoothCurve:
    """A plane curve of cubic segments with continuous curvature.

    Attributes
    ----------
    spline : BSpline
        Position over the parameter, which runs along the chords of the given points, mm.
    sites : (k,) float
        Parameter of each given point.
    """

    spline: BSpline
    sites: FloatArray

    def at(self, parameter: ArrayLike) -> FloatArray:
        """Return the position at a parameter, (..., 2), mm."""
        return np.asarray(self.spline(parameter), dtype=float)

    def slope(self, parameter: ArrayLike, order: int = 1) -> FloatArray:
        """Return a derivative of the position by the parameter, (..., 2)."""
        return np.asarray(self.spline(parameter, order), dtype=float)

    def curvature(self, parameter: ArrayLike) -> FloatArray:
        """Return the signed curvature, 1/mm, positive where the curve turns left."""
        first, second = self.slope(parameter), self.slope(parameter, 2)
        cross = first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
        return np.asarray(cross / np.linalg.norm(first, axis=-1) ** 3)

    def parameters(self, step: float) -> FloatArray:
        """Return parameters about `step` mm apart; every given point is among them."""
        counts = np.maximum(np.ceil(np.diff(self.sites) / step), 1).astype(int)
        runs = [np.linspace(a, b, n, endpoint=False)
                for a, b, n in zip(self.sites, self.sites[1:], counts, strict=False)]
        return np.concatenate([*runs, self.sites[-1:]])

    def sampled(self, step: float = 1.0) -> FloatArray:
        """Return a polyline, (n, 2), whose points lie on the curve about `step` mm apart."""
        return self.at(self.parameters(step))

    def cubics(self) -> FloatArray:
        """Return the curve as Bézier control points, (segments, 4, 2), mm."""
        knots = np.unique(self.spline.t)
        third = np.diff(knots)[:, None] / 3.0
        at, slope = self.at(knots), self.slope(knots)
        return np.stack(
            [at[:-1], at[:-1] + third * slope[:-1], at[1:] - third * slope[1:], at[1:]], axis=1
        )


def curve_through(
    points: ArrayLike,
    *,
    start: ArrayLike | None = None,
    end: ArrayLike | None = None,
    start_bend: ArrayLike | None = None,
    end_bend: ArrayLike | None = None,
) -> SmoothCurve:
    """Draw the smooth curve through points.

    Parameters
    ----------
    points : (k, 2) float
        In order, k ≥ 2, mm.
    start, end : (2,) float or None
        Direction of travel there (any length); None leaves the end free of curvature.
    start_bend, end_bend : (2,) float or None
        Second derivative by length there as well (0, 0 joins a straight line without a jump of
        curvature); it needs the direction, and costs one more segment.

    Notes
    -----
    The cubic spline by chord length: among the curves through the points it bends least
    (C. de Boor, A Practical Guide to Splines, 1978, ch. V), so that it makes no waves of its own.

    Examples
    --------
    >>> curve = curve_through([[0, 0], [0, -50], [5, -120]], start=(0, -1))
    >>> (curve.at(curve.sites[1]).round(6) + 0.0).tolist()
    [0.0, -50.0]
    """
    through = np.asarray(points, dtype=float)
    sites = polylines.lengths_along(through)
    ends = [_end_conditions(start, start_bend), _end_conditions(end, end_bend)]
    inner = list(sites[1:-1])
    if start_bend is not None:
        inner.insert(0, 0.5 * (sites[0] + sites[1]))
    if end_bend is not None:
        inner.append(0.5 * (sites[-2] + sites[-1]))
    if start_bend is not None and end_bend is not None and len(sites) == 2:
        inner = [sites[0] + f * (sites[1] - sites[0]) for f in (1 / 3, 2 / 3)]
    knots = np.concatenate([[sites[0]] * 4, inner, [sites[-1]] * 4])
    spline = make_interp_spline(sites, through, k=3, t=knots, bc_type=(ends[0], ends[1]))
    return SmoothCurve(spline, sites)


def _end_conditions(direction: ArrayLike | None, bend: ArrayLike | None) -> list[tuple[int, Any]]:
    """Return the derivatives that are held at an end, as the solver wants them."""
    if direction is None:
        return [(2, np.zeros(2))]
    unit = np.asarray(direction, dtype=float)
    held: list[tuple[int, Any]] = [(1, unit / np.linalg.norm(unit))]
    if bend is not None:
        held.append((2, np.asarray(bend, dtype=float)))
    return held


def waves(curve: SmoothCurve, *, least: float = 1e-4) -> int:
    """Count the changes of the side to which a curve bends.

    Parameters
    ----------
    least : float
        Curvature below this, 1/mm, counts as straight (1e-4 is a radius of ten metres).
    """
    bend = curve.curvature(curve.parameters(1.0))
    sides = np.sign(bend[np.abs(bend) > least])
    return int(np.count_nonzero(np.diff(sides)))


SHARES = (1 / 3, 2 / 3)  # of each stretch between points, where it may change its bend
EVEN = 0.03  # weight of the change of bend against the bend itself, share of the length
STRAIGHT = np.radians(0.05)  # a turn below this counts as none
SLOWEST = 0.7  # of the even pace along a chord


def fair_curve_through(
    points: ArrayLike,
    *,
    start: ArrayLike | None = None,
    end: ArrayLike | None = None,
    start_bend: ArrayLike | None = None,
    end_bend: ArrayLike | None = None,
) -> SmoothCurve:
    """Draw the curve through points whose bend changes least, without waves of its own.

    Parameters
    ----------
    points : (k, 2) float
        In order, k ≥ 2, mm.
    start, end : (2,) float or None
        Direction of travel there.
    start_bend, end_bend : (2,) float or None
        Second derivative by length there.

    Notes
    -----
    A cubic spline with a knot on each point and one half way between, continuous in curvature.
    Its third derivative is made least squares small; where the points turn the same way at both
    ends of a stretch, the curve may not turn the other way within it. The second derivative of a
    cubic spline is linear between knots, so that this is one linear condition a knot.

    Examples
    --------
    >>> curve = fair_curve_through([[0, 0], [0, -50], [5, -120]], start=(0, -1))
    >>> (curve.at(curve.sites[1]).round(6) + 0.0).tolist()
    [0.0, -50.0]
    """
    given = np.asarray(points, dtype=float)
    size = polylines.length(given)
    through = given / size  # of length one, so that all conditions weigh alike
    sites = polylines.lengths_along(through)
    between = [sites[:-1] + share * np.diff(sites) for share in SHARES]
    inner = np.sort(np.concatenate([sites[1:-1], *between]))
    knots = np.concatenate([[sites[0]] * 4, inner, [sites[-1]] * 4])
    basis = BSpline(knots, np.eye(len(knots) - 4), 3)
    held = [(sites, 0, through)]
    for at, direction, bend in ((sites[:1], start, start_bend), (sites[-1:], end, end_bend)):
        if direction is not None:
            held.append((at, 1, _unit(direction)[None]))
        if bend is not None:
            held.append((at, 2, size * np.asarray(bend, dtype=float)[None]))
    rows = np.vstack([basis(at, order) for at, order, _ in held])
    values = np.vstack([value for _, _, value in held])
    guards = _guards(basis, sites, through, start, end)
    coefficients = _least(basis, rows, values, guards)
    return SmoothCurve(BSpline(size * knots, size * coefficients, 3), size * sites)


def _unit(direction: ArrayLike) -> FloatArray:
    vector = np.asarray(direction, dtype=float)
    return np.asarray(vector / np.linalg.norm(vector))


def _guards(
    basis: BSpline, sites: FloatArray, points: FloatArray,
    start: ArrayLike | None, end: ArrayLike | None,
) -> tuple[FloatArray, FloatArray]:
    """Return rows over (x coefficients, y coefficients), and what each must at least come to.

    Bends that may not change sides, and a pace along each chord that may not die down (where it
    does, a curve turns on the spot).
    """
    chords = np.diff(points, axis=0) / np.diff(sites)[:, None]
    first = chords[0] if start is None else _unit(start)
    last = chords[-1] if end is None else _unit(end)
    ways = np.vstack([first, chords, last])
    turns = np.arctan2(
        ways[:-1, 0] * ways[1:, 1] - ways[:-1, 1] * ways[1:, 0], (ways[:-1] * ways[1:]).sum(axis=1)
    )
    signs = np.where(np.abs(turns) < STRAIGHT, 0.0, np.sign(turns))
    rows, least = [], []
    for k, chord in enumerate(chords):
        stops = sites[k] + np.array([0.0, *SHARES, 1.0]) * (sites[k + 1] - sites[k])
        if signs[k] * signs[k + 1] > 0:  # else the curve has to change sides here
            square = signs[k] * np.array([-chord[1], chord[0]])
            rows += [np.kron(square, basis(at, 2)) for at in stops]
            least += [0.0] * len(stops)
        rows += [np.kron(chord, basis(at, 1)) for at in np.linspace(stops[0], stops[-1], 9)]
        least += [SLOWEST] * 9
    return np.array(rows), np.array(least)


def _least(
    basis: BSpline, rows: FloatArray, values: FloatArray,
    guards: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Return coefficients, (n, 2), of the least squares small third derivative under conditions.

    What the equations leave free is searched by least distance programming (C. L. Lawson and
    R. J. Hanson, Solving Least Squares Problems, 1974, ch. 23).
    """
    count = len(basis.c)
    knots = np.unique(basis.t)
    spans = np.diff(knots)
    third = basis(0.5 * (knots[:-1] + knots[1:]), 3) * np.sqrt(spans)[:, None]
    ends, middle = basis(knots, 2), basis(0.5 * (knots[:-1] + knots[1:]), 2)
    # Simpson's rule is exact for the square of a second derivative that is linear on a span
    bends = np.vstack([
        ends[:-1] * np.sqrt(spans / 6)[:, None], ends[1:] * np.sqrt(spans / 6)[:, None],
        middle * np.sqrt(4 * spans / 6)[:, None],
    ])
    root = np.kron(np.eye(2), np.vstack([bends, EVEN * third]))
    equal = np.kron(np.eye(2), rows)
    fixed = np.linalg.lstsq(equal, np.concatenate([values[:, 0], values[:, 1]]), rcond=None)[0]
    free = null_space(equal)
    q, r = np.linalg.qr(root @ free)
    offset = q.T @ (root @ fixed)
    to_free = np.linalg.inv(r)
    # with z = r y + offset the energy is |z|², and y = r⁻¹ (z − offset)
    guard = guards[0] @ free @ to_free
    least = guards[1] - guards[0] @ (fixed - free @ to_free @ offset)
    is_free = np.linalg.norm(guard, axis=1) > 1e-9  # the rest is settled by the equations
    z = _least_distance(guard[is_free], least[is_free])
    coefficients = fixed + free @ to_free @ (z - offset)
    return np.column_stack([coefficients[:count], coefficients[count:]])


def _least_distance(guard: FloatArray, least: FloatArray) -> FloatArray:
    """Return the shortest z with guard @ z ≥ least; zero where nothing can meet all of them."""
    size = guard.shape[1]
    if not len(guard) or np.all(least <= 0):
        return np.zeros(size)
    stacked = np.vstack([guard.T, least])
    target = np.zeros(size + 1)
    target[-1] = 1.0
    duals, gap = nnls(stacked, target)
    rest = stacked @ duals - target
    if gap < 1e-9 or abs(rest[-1]) < 1e-12:
        return np.zeros(size)
    return np.asarray(-rest[:-1] / rest[-1])
