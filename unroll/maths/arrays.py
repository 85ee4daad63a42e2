"""Arrays that a value can own: copied, checked for shape, read-only."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def own(array: Any, dtype: type, *shape: int | None) -> Any:
    """Return a read-only copy of `array`, checked against `shape`.

    Parameters
    ----------
    array : array_like
        Anything numpy can read.
    dtype : type
        `float`, `int` or `bool`.
    *shape : int or None
        The expected length of each axis; None admits any.

    Raises
    ------
    ValueError
        When the number of axes or a fixed length differs.

    Examples
    --------
    >>> own([[1, 2]], float, None, 2).shape
    (1, 2)
    """
    kind = {float: np.float64, int: np.int64, bool: np.bool_}[dtype]
    copy: NDArray[Any] = np.array(array, dtype=kind)
    if copy.ndim != len(shape) or any(
        want is not None and got != want for got, want in zip(copy.shape, shape, strict=True)
    ):
        raise ValueError(f"array has shape {copy.shape}; expected {shape}")
    copy.flags.writeable = False
    return copy


def numbered(counts: IntArray) -> tuple[IntArray, IntArray]:
    """Return the group of each item, (n,), and its number there, where groups lie end to end.

    Parameters
    ----------
    counts : (k,) int
        Of each group.

    Examples
    --------
    >>> [one.tolist() for one in numbered(np.array([2, 0, 3]))]
    [[0, 0, 2, 2, 2], [0, 1, 0, 1, 2]]
    """
    group = np.repeat(np.arange(len(counts)), counts)
    return group, np.arange(len(group)) - (np.cumsum(counts) - counts)[group]


def first_largest(values: FloatArray, alike: float) -> int:
    """Return the index of the first value within `alike` of the largest.

    The last bits differ from one processor to another; what decides anything must not hang on
    which of several equal values they make the largest.

    Examples
    --------
    >>> first_largest(np.array([1.0, 3.0 - 1e-12, 3.0]), 1e-9)
    1
    """
    return int(np.argmax(values > values.max() - alike))
