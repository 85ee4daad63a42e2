"""Ovals whose two diameters and girth are all met, and their parts by length of edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)
LAST_STEP_RAD = 1e-8  # of Newton's method: what it leaves is the square of that
MAX_EXPONENT = 60.0  # a superellipse of this exponent is a rectangle to within 1 % of its girth


def ellipse_perimeter(half_width: ArrayLike, half_depth: ArrayLike) -> FloatArray:
    """Return the perimeter of ellipses.

    Parameters
    ----------
    half_width, half_depth : (...) float
        Half-axes, any unit; broadcast.

    Returns
    -------
    (...) float
        Perimeter, same unit.

    Notes
    -----
    P = 4 a E(m), m = 1 − b²/a² (Abramowitz & Stegun 17.3; DLMF 19.9.9), with the parameter m and
    not the modulus k.

    Examples
    --------
    >>> round(float(ellipse_perimeter(2.0, 1.0)), 8)
    9.68844822
    """
    a = np.maximum(half_width, half_depth)
    b = np.minimum(half_width, half_depth)
    return np.asarray(4.0 * a * ellipe(1.0 - (b / a) ** 2), dtype=float)


def ellipse_half_depth(perimeter: ArrayLike, ratio: ArrayLike) -> FloatArray:
    """Return the half-depth of the ellipse of given perimeter and width : depth.

    Examples
    --------
    >>> round(2 * float(ellipse_half_depth(151.2, 1.45)), 3)
    38.959
    """
    return np.asarray(perimeter, dtype=float) / ellipse_perimeter(ratio, 1.0)


def superellipse_perimeter(half_width: float, half_depth: float, exponent: float) -> float:
    """Return the perimeter of |x/a|ⁿ + |y/b|ⁿ = 1; see `superellipse_perimeters`."""
    found = superellipse_perimeters(*(np.array([x]) for x in (half_width, half_depth, exponent)))
    return float(found[0])


def superellipse_perimeters(
    half_width: FloatArray, half_depth: FloatArray, exponent: FloatArray
) -> FloatArray:
    """Return the perimeters of several |x/a|ⁿ + |y/b|ⁿ = 1, all given as (n,).

    Notes
    -----
    The quarter is walked in the angle of x = a cos^(2/n), y = b sin^(2/n) from each end to the
    middle; there the curve is a graph y = b (1 − (x/a)ⁿ)^(1/n) whose slope is bounded after the
    substitution, so that Gauss–Legendre quadrature converges to 1e-12.
    """
    exponent = exponent[:, None]
    middle = 0.5 ** (1.0 / exponent)
    u = 0.5 * middle * (_NODES + 1.0)  # u = x/a from 0 to the middle; the end of slope zero
    slope = u ** (exponent - 1.0) * (1.0 - u**exponent) ** (1.0 / exponent - 1.0)
    total = sum(
        np.hypot(a[:, None], b[:, None] * slope) @ _WEIGHTS
        for a, b in ((half_width, half_depth), (half_depth, half_width))
    )
    return np.asarray(2.0 * middle[:, 0] * total)


def superellipse_exponent(half_width: float, half_depth: float, perimeter: float) -> float:
    """Return the exponent of the superellipse of given half-axes and perimeter.

    Raises
    ------
    UnrollError
        When the perimeter is too short (below the rhombus) or too long (above the rectangle).
    """
    shortest = superellipse_perimeter(half_width, half_depth, 1.0)
    longest = superellipse_perimeter(half_width, half_depth, MAX_EXPONENT)
    if not shortest <= perimeter <= longest:
        raise UnrollError(
            f"an oval {2 * half_width:.1f} by {2 * half_depth:.1f} mm has a girth of "
            f"{shortest:.1f} to {longest:.1f} mm, not {perimeter:.1f} mm (is one of them mixed up?)"
        )
    return float(
        brentq(
            lambda n: superellipse_perimeter(half_width, half_depth, n) - perimeter,
            1.0,
            MAX_EXPONENT,
            xtol=1e-12,
        )
    )


def truncated_arc(opening_rad: ArrayLike, ratio: ArrayLike) -> FloatArray:
    """Return the length of a unit ellipse cut by a line along its width.

    Parameters
    ----------
    opening_rad : (...) float
        α in [0, π]: the ellipse x = r cos ψ, y = cos α + sin ψ is kept where y ≥ 0; 0 keeps all,
        π/2 half of it, π nothing.
    ratio : (...) float
        r, width : depth; the half-depth is 1.

    Notes
    -----
    Twice the arc from ψ = α − π/2 to π/2; the incomplete elliptic integral of the second kind
    (DLMF 19.2.5) of parameter 1 − r².
    """
    m = 1.0 - np.asarray(ratio, dtype=float) ** 2
    return np.asarray(2.0 * (ellipe(m) + ellipeinc(0.5 * np.pi - np.asarray(opening_rad), m)))


def angle_at_arc_fraction(
    fraction: ArrayLike, opening_rad: ArrayLike, ratio: ArrayLike
) -> FloatArray:
    """Return the angle ψ at a fraction of the truncated ellipse's arc length.

    Parameters
    ----------
    fraction : (...) float
        0 at ψ = α − π/2 (the front end), 1 at ψ = 3π/2 − α.
    opening_rad, ratio : (...) float
        As in `truncated_arc`.

    Notes
    -----
    Newton's method on ψ; the speed √(r² sin²ψ + cos²ψ) is bounded away from zero, so that at most
    six steps from the proportional guess reach rounding error for r between 0.5 and 2.
    """
    opening = np.asarray(opening_rad, dtype=float)
    r = np.asarray(ratio, dtype=float)
    m = 1.0 - r**2
    start = opening - 0.5 * np.pi
    target = np.asarray(fraction) * truncated_arc(opening, r) + ellipeinc(start, m)
    angle = start + np.asarray(fraction) * (2.0 * np.pi - 2.0 * opening)
    for _ in range(6):
        speed = np.sqrt(r**2 * np.sin(angle) ** 2 + np.cos(angle) ** 2)
        step = (ellipeinc(angle, m) - target) / speed
        angle = angle - step
        if np.abs(step).max(initial=0.0) < LAST_STEP_RAD:
            break
    return np.asarray(angle)


def superellipse_loop(
    fraction: FloatArray, half_width: float, half_depth: float, exponent: float
) -> FloatArray:
    """Return points of a superellipse at fractions of its girth, (k, 2).

    See `superellipse_loops`.
    """
    shape = (np.array([x], dtype=float) for x in (half_width, half_depth, exponent))
    return np.asarray(superellipse_loops(fraction, *shape)[0])


def superellipse_loops(
    fraction: FloatArray, half_width: FloatArray, half_depth: FloatArray, exponent: FloatArray
) -> FloatArray:
    """Return points of superellipses at fractions of their girths.

    Parameters
    ----------
    fraction : (k,) float
        0 at (0, −half_depth), running through (half_width, 0), anticlockwise.
    half_width, half_depth, exponent : (n,) float
        Shapes; exponent 2 is the ellipse.

    Returns
    -------
    (n, k, 2) float
    """
    fraction, size = np.asarray(fraction, dtype=float), np.stack([half_width, half_depth], axis=1)
    out = np.empty((len(size), len(fraction), 2))
    is_ellipse = np.abs(exponent - 2.0) < 1e-9
    if is_ellipse.any():
        ratio = (half_width / half_depth)[is_ellipse, None]
        angle = angle_at_arc_fraction(fraction, 0.0, ratio)
        out[is_ellipse] = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    if not is_ellipse.all():
        shape = (half_width / half_depth)[~is_ellipse, None], exponent[~is_ellipse, None]
        out[~is_ellipse] = _unit_loops(fraction, *shape)
    return np.asarray(out * size[:, None])


def _unit_loops(fraction: FloatArray, ratio: FloatArray, exponent: FloatArray) -> FloatArray:
    """Return superellipses of given width : depth and exponent (n, 1) with half-axes of 1."""
    # a quarter, from the lowest point forward; the others are its mirror images
    angle = np.linspace(-0.5 * np.pi, 0.0, 1001)
    cos, sin = np.abs(np.cos(angle)), np.abs(np.sin(angle))
    radius = (cos**exponent + sin**exponent) ** (-1.0 / exponent)
    x, y = radius * cos, radius * sin
    steps = np.hypot(ratio * np.diff(x, axis=1), np.diff(y, axis=1))
    walked = np.concatenate([np.zeros_like(ratio), np.cumsum(steps, axis=1)], axis=1)
    at = 4.0 * np.clip(fraction, 0.0, 1.0)
    quarter = np.minimum(np.floor(at), 3.0)
    share = np.where(quarter % 2 == 0, at - quarter, 1.0 - (at - quarter)) * walked[:, -1:]
    ways = np.stack([np.where(quarter < 2, 1.0, -1.0), np.where(abs(quarter - 1.5) < 1, 1.0, -1.0)])
    rows = [
        [np.interp(share[k], walked[k], one[k]) for one in (x, y)] for k in range(len(ratio))
    ]
    return np.asarray((np.array(rows) * ways).transpose(0, 2, 1))


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
