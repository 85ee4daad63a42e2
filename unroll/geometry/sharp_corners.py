"""Sharp corners within a polyline, whether it is sampled finely or coarsely."""

from __future__ import annotations

import numpy as np

from unroll.geometry.flat_lines import lengths_along
from unroll.types.arrays import FloatArray


def sharp_corners(
    points: FloatArray, *, reach: float = 3.0, limit_deg: float = 20.0
) -> tuple[FloatArray, FloatArray]:
    """Return where a polyline turns sharply: distances from its start, mm, and turns, degrees.

    Parameters
    ----------
    points : (k, 2) float
    reach : float
        Length of line before and after a point over which its turn is measured, mm.
    limit_deg : float
        Least turn of a corner, degrees.

    Returns
    -------
    at, turn : (n,) float
        The sharpest first; turns without sign.

    Notes
    -----
    The turn at a point is the angle between the chords of `reach` mm before and after it. Where
    the edges are longer than that it is the angle between two edges; where they are short, noise of
    the samples does not turn it, a rounded corner is still one, and an even bend of radius r turns
    by reach / r only. Of points within `reach` of each other the sharpest stands for all.

    Examples
    --------
    >>> at, turn = sharp_corners(np.array([[0.0, 0], [12, 0], [12, 12], [13, 24]]))
    >>> at.tolist(), turn.round(1).tolist()
    ([12.0], [90.0])
    """
    at = lengths_along(points)

    def places(along: FloatArray) -> FloatArray:
        return np.stack([np.interp(along, at, points[:, k]) for k in range(2)], axis=1)

    inner = at[1:-1]
    before, after = places(inner) - places(inner - reach), places(inner + reach) - places(inner)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, np.einsum("ij,ij->i", before, after))))
    kept: list[int] = []
    for k in np.argsort(-turn, kind="stable"):
        if turn[k] >= limit_deg and all(abs(inner[k] - inner[j]) >= reach for j in kept):
            kept.append(int(k))
    return inner[kept], turn[kept]
