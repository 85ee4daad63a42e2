"""Libraries loaded without their documentation, in processes where nobody reads it."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def undocumented() -> Iterator[None]:
    """Have whatever asks for documentation meanwhile be told that there is none.

    SciPy and Matplotlib read their functions' documentation and write it anew while they load,
    which takes SciPy a third of the time until a command begins.
    """
    asked = inspect.getdoc
    inspect.getdoc = lambda _: None  # type: ignore[assignment]
    try:
        yield
    finally:
        inspect.getdoc = asked
