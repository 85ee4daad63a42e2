"""The smoothest values over a mesh between values that are given."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import spsolve

from unroll.types.arrays import BoolArray, FloatArray, IntArray


def spread_between(faces: IntArray, values: FloatArray, is_given: BoolArray) -> FloatArray:
    """Return values at all vertices, each that is not given the mean of its neighbours'.

    Parameters
    ----------
    faces : (m, 3) int
    values : (n,) float
    is_given : (n,) bool

    Examples
    --------
    >>> strip = np.array([[0, 1, 2], [1, 3, 2], [2, 3, 4]])
    >>> given = np.array([True, True, False, True, True])
    >>> float(spread_between(strip, np.array([0.0, 0.0, 9.0, 1.0, 1.0]), given)[2])
    0.5
    """
    count = len(values)
    ends = faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    keys = np.unique(np.sort(ends, axis=1), axis=0)
    both = np.concatenate([keys, keys[:, ::-1]])
    link = coo_matrix((np.ones(len(both)), both.T), shape=(count, count)).tocsr()
    flow = (diags(np.asarray(link.sum(axis=1)).ravel()) - link).tocsr()
    free = np.flatnonzero(~is_given & (np.diff(link.indptr) > 0))
    out = np.array(values)
    if len(free):
        given = np.flatnonzero(is_given)
        out[free] = spsolve(flow[free][:, free].tocsc(), -flow[free][:, given] @ values[given])
    return out
