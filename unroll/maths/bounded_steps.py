"""Steps of a search that stay within bounds and are not led by what is out of reach."""

from __future__ import annotations

import numpy as np
from scipy.optimize import lsq_linear

from unroll.maths.arrays import FloatArray

FAR = 2.0  # a miss of more than so many times what is let pass counts by its size, not its square


def bounded_step(
    slopes: FloatArray,
    miss: FloatArray,
    large: FloatArray,
    bounds: tuple[FloatArray, FloatArray],
    *,
    damping: float = 0.1,
) -> FloatArray:
    """Return the step within bounds that leaves the least miss, (k,).

    Parameters
    ----------
    slopes : (m, k) float
        Of the weighed misses by the numbers.
    miss : (m,) float
        Each over what is let pass.
    large : (k,) float
        A step of each number that counts as large.
    bounds : two (k,) float
        Lowest and highest step of each number; 0 lies between them.
    damping : float
        What a large step costs, as the square of a miss.

    Notes
    -----
    Misses beyond `FAR` weigh by their size (P. J. Huber 1964, "Robust estimation of a location
    parameter", doi 10.1214/aoms/1177703732), so that a figure which cannot be reached does not
    spoil those that can.

    Examples
    --------
    >>> one = np.eye(1)
    >>> bounded_step(one, np.array([2.0]), np.ones(1), (-np.ones(1), np.ones(1))).round(3)
    array([-1.])
    """
    heavy = np.sqrt(far_weights(miss))
    rows = np.vstack([heavy[:, None] * slopes, np.diag(np.sqrt(damping) / large)])
    wanted = np.concatenate([-heavy * miss, np.zeros(len(large))])
    low, high = (np.asarray(bound, float) for bound in bounds)
    found = lsq_linear(rows, wanted, (np.minimum(low, -1e-9), np.maximum(high, 1e-9)))
    return np.asarray(found.x)


def far_weights(miss: FloatArray) -> FloatArray:
    """Return the weight of each miss: 1 near by, less beyond `FAR`, (m,)."""
    return np.asarray(FAR / np.maximum(np.abs(miss), FAR))


def far_cost(miss: FloatArray) -> float:
    """Return the sum of squares of the misses, those beyond `FAR` going on in a straight line.

    Examples
    --------
    >>> far_cost(np.array([1.0])), far_cost(np.array([2.0])), far_cost(np.array([3.0]))
    (1.0, 4.0, 8.0)
    """
    size = np.abs(miss)
    return float(np.where(size <= FAR, size**2, FAR * (2.0 * size - FAR)).sum())
