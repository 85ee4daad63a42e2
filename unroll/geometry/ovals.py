"""Ovals whose two diameters and girth are all met, and their parts by length of edge."""

from __future__ import annotations

import numpy as np

from unroll.geometry.ellipses import superellipse_exponent, superellipse_loop
from unroll.types.arrays import FloatArray


def oval_part(
    width: float, height: float, girth: float, start: float, end: float, *, step: float = 1.0
) -> FloatArray:
    """Return part of the oval of given diameters and girth, as a polyline.

    Parameters
    ----------
    width, height : float
        Full diameters along x and y, mm.
    girth : float
        Length of the edge, mm.
    start, end : float
        Shares of the girth: 0 at the lowest point, a quarter at the rightmost, a half at the
        top; `end` < `start` runs clockwise.
    step : float
        Largest distance between points, mm.

    Returns
    -------
    (n, 2) float
        Centred at the origin.

    Raises
    ------
    UnrollError
        When no oval has these diameters and this girth.

    Notes
    -----
    The superellipse |x/a|ⁿ + |y/b|ⁿ = 1 (G. Lamé, 1818); the exponent is solved for the girth.
    """
    exponent = superellipse_exponent(0.5 * width, 0.5 * height, girth)
    count = 4 * max(int(np.ceil(abs(end - start) * girth / step / 4)), 1)
    shares = np.linspace(start, end, count + 1)
    points = superellipse_loop(shares % 1.0, 0.5 * width, 0.5 * height, exponent)
    return _exact_at_quarters(points, shares, 0.5 * width, 0.5 * height)


def _exact_at_quarters(
    points: FloatArray, shares: FloatArray, half_width: float, half_height: float
) -> FloatArray:
    """Return the points with those at the four ends of the axes set without rounding."""
    ends = np.array(
        [[0.0, -half_height], [half_width, 0.0], [0.0, half_height], [-half_width, 0.0]]
    )
    quarter = np.round(4.0 * shares)
    is_end = np.abs(4.0 * shares - quarter) < 1e-9
    out = points.copy()
    out[is_end] = ends[quarter[is_end].astype(int) % 4]
    return out
