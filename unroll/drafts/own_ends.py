"""Where a cap that runs smoothly into the side ends: at the change from curved to straight."""

from __future__ import annotations

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import lengths_along

REACH_MM, STEP_MM = 45.0, 1.0  # looked at to either side of the place walked to
CHORD_MM = 8.0  # that a direction is read from
CORNER_DEG = 22.0  # a turn by more over a chord ends the stretch that is looked at
BESIDE_MM, LEAST_MM = 12.0, 40.0  # needed on either side of the end, and in all
CURVED, STRAIGHT = 0.3, 0.15  # degrees a mm: at least on the cap's side, at most on the seam's


def smooth_end(points: FloatArray, at: float, way: float) -> float | None:
    """Return how far beyond a place a curved cap ends and a straight side begins, mm.

    None where the one runs on into the other, and nothing tells.

    Parameters
    ----------
    points : (k, 2) float
        Anticlockwise outline, the first point not repeated.
    at : float
        mm along it from its first point, where the side is thought to end.
    way : {1.0, -1.0}
        Which way along the outline the cap lies; the answer is positive that way.

    Notes
    -----
    The direction of a straight side is constant and that of a cap's curve changes with its length:
    a line with one bend is fitted to it for every place of the bend. It is taken where it fits
    better than a smooth curve with as many numbers.
    """
    along, heading = _heading(points, at, way)
    if along.size == 0 or np.ptp(along) < LEAST_MM:
        return None
    bends = along[(along > along[0] + BESIDE_MM) & (along < along[-1] - BESIDE_MM)]
    fits = [_fit(_bent(along - bend), heading) for bend in bends]
    off, (_, side, cap, _) = min(fits, key=lambda fit: fit[0])
    smooth, _ = _fit(np.vander((along - along.mean()) / REACH_MM, 5), heading)
    if off > smooth or abs(side) > STRAIGHT or cap - side < CURVED:
        return None
    return float(bends[int(np.argmin([fit[0] for fit in fits]))])


def _heading(points: FloatArray, at: float, way: float) -> tuple[FloatArray, FloatArray]:
    """Return places along the outline and its direction there, degrees, up to the next corner."""
    closed = np.vstack([points, points[:1]])
    lengths = lengths_along(closed)

    def place(there: FloatArray) -> FloatArray:
        there = there % lengths[-1]
        return np.stack([np.interp(there, lengths, closed[:, k]) for k in range(2)], axis=1)

    along = np.arange(-REACH_MM, REACH_MM + 0.5 * STEP_MM, STEP_MM)
    half = 0.5 * CHORD_MM
    chord = place(at + way * (along + half)) - place(at + way * (along - half))
    heading = way * np.degrees(np.unwrap(np.arctan2(chord[:, 1], chord[:, 0])))
    turn = np.interp(along + half, along, heading) - np.interp(along - half, along, heading)
    corners = along[np.abs(turn) > CORNER_DEG]
    low = corners[corners < 0.0].max(initial=-np.inf) + CHORD_MM
    high = corners[corners >= 0.0].min(initial=np.inf) - CHORD_MM
    kept = (along >= low) & (along <= high)
    return along[kept], heading[kept]


def _bent(beyond: FloatArray) -> FloatArray:
    """Return the columns of a line that bends at 0, and curves beyond."""
    cap = np.maximum(beyond, 0.0)
    return np.column_stack([np.ones_like(beyond), np.minimum(beyond, 0.0), cap, cap**2])


def _fit(columns: FloatArray, values: FloatArray) -> tuple[float, FloatArray]:
    """Return how far off the best combination of columns is, and its numbers."""
    best = np.linalg.lstsq(columns, values, rcond=None)[0]
    return float(np.linalg.norm(columns @ best - values)), np.asarray(best, dtype=float)
