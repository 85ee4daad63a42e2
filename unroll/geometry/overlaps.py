"""Does a closed outline run over itself?"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.ops import polygonize

FloatArray = NDArray[np.float64]


def winding_number(outline: FloatArray, point: FloatArray) -> int:
    """Return how many times an outline runs anticlockwise around a point.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> winding_number(square, np.array([0.5, 0.5])), winding_number(square, np.array([2.0, 0.5]))
    (1, 0)
    """
    seen = (outline - point) @ np.array([1, 1j])
    turn = np.angle(np.roll(seen, -1) * seen.conj())
    return round(float(np.sum(turn)) / (2 * np.pi))


def overlap_area(outline: FloatArray) -> float:
    """Return the area that an anticlockwise outline covers more than once.

    Parameters
    ----------
    outline : (k, 2) float
        Corners, the first one not repeated.

    Examples
    --------
    >>> bow = np.array([[0.0, 0], [4, 0], [4, 2], [1, 2], [1, -1], [2, -1], [2, 3], [0, 3]])
    >>> overlap_area(bow)
    2.0
    """
    ring = shapely.LinearRing(outline)
    if ring.is_simple:
        return 0.0
    total = 0.0
    for part in polygonize(shapely.node(ring)):
        inside = np.array(part.representative_point().coords[0])
        total += part.area * max(winding_number(outline, inside) - 1, 0)
    return float(total)
