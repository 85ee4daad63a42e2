"""The preview's files, drawn by other cores: whoever asks for them need not load what draws."""

from __future__ import annotations

from unroll.nouns import MakeResult
from unroll.workers import Each

HALVES = 2


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
