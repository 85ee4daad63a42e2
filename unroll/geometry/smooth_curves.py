"""Curves through points: few cubic segments, continuous curvature, as a hand would draw them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import BSpline, make_interp_spline

from unroll.types.arrays import FloatArray


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
    >>> curve.at(curve.sites[1]).round(6).tolist()
    [0.0, -50.0]
    """
    through = np.asarray(points, dtype=float)
    sites = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(through, axis=0), axis=1))])
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
