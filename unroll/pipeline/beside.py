"""Work that may be done beside the rest: at once, or on a second core."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

Beside = Callable[..., "Future[Any]"]


def at_once(function: Callable[..., Any], /, *args: Any) -> Future[Any]:
    """Run a function here and now; its answer, or its fault, is had by `result()`.

    Examples
    --------
    >>> at_once(max, 3, 5).result()
    5
    """
    future: Future[Any] = Future()
    try:
        future.set_result(function(*args))
    except Exception as fault:
        future.set_exception(fault)
    return future
