"""Edges in a picture, to parts of a pixel, in linear light."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import map_coordinates

from unroll.maths.arrays import FloatArray, IntArray

ACROSS_PX = 6.0  # how far on either side of an edge its brightness is read


def linear(grey: IntArray) -> FloatArray:
    """Return brightness as light (IEC 61966-2-1), 0 to 1: blur mixes light, not grey levels."""
    level = np.arange(256) / 255.0
    curve = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    return np.asarray(curve.astype(np.float32)[grey])


def moved_to_edge(
    light: FloatArray, points: FloatArray, ahead: FloatArray
) -> tuple[FloatArray, float]:
    """Return points moved across an edge to its half-way brightness, and its width, pixels.

    Parameters
    ----------
    light : (h, w) float
    points, ahead : (n, 2) float
        Along the edge, within a few pixels of it, and its direction there.

    Notes
    -----
    Where another edge lies near (in a narrow dart, at a tip) the levels beside it are not those of
    paper and floor, and the point stays within a pixel of where the threshold had it.
    """
    ahead = ahead / np.maximum(np.linalg.norm(ahead, axis=1), 1e-9)[:, None]
    out = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
    reach = np.linspace(-ACROSS_PX, ACROSS_PX, 49)
    spots = points[:, None] + reach[None, :, None] * out[:, None]
    lines = map_coordinates(light, [spots[..., 1], spots[..., 0]], order=1, mode="nearest")
    ends = lines[:, :9].mean(axis=1), lines[:, -9:].mean(axis=1)
    span = ends[1] - ends[0]
    usual = float(np.median(span))
    share = (lines - ends[0][:, None]) / np.where(np.abs(span) > 1e-6, span, 1.0)[:, None]
    at = _crossing(share, reach, 0.5)
    width = np.abs(_crossing(share, reach, 0.9) - _crossing(share, reach, 0.1))
    is_sound = (span * np.sign(usual) > 0.6 * abs(usual)) & (np.abs(at) < 3.0)
    shift = np.where(is_sound, at, np.clip(np.where(np.isfinite(at), at, 0.0), -1.0, 1.0))
    sound = width[is_sound & np.isfinite(width)]
    return points + shift[:, None] * out, float(np.median(sound)) if len(sound) else 99.0


def beside(light: FloatArray, points: FloatArray, ahead: FloatArray) -> FloatArray:
    """Return the darker over the brighter of the two levels beside an edge at each point, (n,)."""
    ahead = ahead / np.maximum(np.linalg.norm(ahead, axis=1), 1e-9)[:, None]
    out = ACROSS_PX * np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
    levels = [
        map_coordinates(light, [at[:, 1], at[:, 0]], order=1, mode="nearest")
        for at in (points - out, points + out)
    ]
    return np.asarray(np.minimum(*levels) / np.maximum(np.maximum(*levels), 1e-6))


def _crossing(share: FloatArray, reach: FloatArray, level: float) -> FloatArray:
    """Return where profiles (n, m) first rise through a level nearest to their middle, (n,)."""
    above = share >= level
    steps = above[:, 1:] & ~above[:, :-1]
    middle = np.abs(0.5 * (reach[1:] + reach[:-1]))
    index = np.argmin(np.where(steps, middle, np.inf), axis=1)
    row = np.arange(len(share))
    low, high = share[row, index], share[row, index + 1]
    part = (level - low) / np.where(high > low, high - low, 1.0)
    at = reach[index] + part * (reach[1] - reach[0])
    return np.asarray(np.where(steps.any(axis=1), at, np.nan))


def sharpened(light: FloatArray, quad: FloatArray) -> FloatArray:
    """Return the corners of a dark square, (4, 2): where its four edges meet.

    Parameters
    ----------
    light : (h, w) float
    quad : (4, 2) float
        Its corners to a pixel or two, in order.

    Notes
    -----
    A line through each edge at its half-way brightness: corners that are sought by themselves come
    out too far in, for white blooms over black in a picture's grey levels.
    """
    share = np.linspace(0.12, 0.88, 60)[:, None]
    lines = []
    for start, end in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        points = start + share * (end - start)
        fine, _ = moved_to_edge(light, points, np.repeat((end - start)[None], len(points), axis=0))
        middle = np.median(fine, axis=0)
        way = np.linalg.svd(fine - fine.mean(axis=0), full_matrices=False)[2][0]
        normal = np.array([-way[1], way[0]])
        off = (fine - middle) @ normal
        keep = np.abs(off - np.median(off)) < 3.0 * np.median(np.abs(off - np.median(off))) + 0.05
        middle = fine[keep].mean(axis=0)
        way = np.linalg.svd(fine[keep] - middle, full_matrices=False)[2][0]
        lines.append((middle, way))
    out = []
    for (a, u), (b, v) in zip([lines[-1], *lines[:-1]], lines, strict=True):
        t = np.linalg.solve(np.stack([u, -v], axis=1), b - a)[0]
        out.append(a + t * u)
    return np.array(out)
