"""The preview's files, drawn by other cores: whoever asks for them need not load what draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from unroll.nouns import MakeResult

HALVES = 2

# Runs a function on each item, here or on other cores; answers come in the items' order.
Each = Callable[[Callable[..., Any], Iterable[Any]], Iterable[Any]]


def preview_files(result: MakeResult, *, each: Each = map) -> dict[str, bytes | str]:
    """Return the pictures and 3D files alone.

    Parameters
    ----------
    result : MakeResult
    each : callable
        Draws two halves of them: `map`, or the like on other cores.
    """
    files: dict[str, bytes | str] = {}
    for drawn in each(_half, [(result, half) for half in range(HALVES)]):
        files |= drawn
    return files


def _half(given: tuple[MakeResult, int]) -> dict[str, bytes | str]:
    from unroll.disk.outputs import preview_part  # loaded by whoever draws

    return preview_part(*given, HALVES)
