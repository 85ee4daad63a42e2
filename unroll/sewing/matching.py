"""Where two stitching lines meet when they are sewn: by length, from notch to notch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from unroll.types import FloatArray, IntArray, Piece
from unroll.types.sewn import Run, Seam


@dataclass(frozen=True, eq=False)
class Match:
    """Stitches of one seam: distances along each chain, paired.

    Attributes
    ----------
    first, second : (k,) float
        mm along the chain of that name; `first` rises, `second` falls, because two pieces that lie
        right sides up run past each other.
    """

    first: FloatArray
    second: FloatArray


def match_seam(seam: Seam, by_name: Mapping[str, Piece], spacing: float) -> Match:
    """Pair stitches along a seam, at most about `spacing` mm apart on the longer side.

    Both sides get the same number of stitches between marks, at equal fractions of length, so that
    ease spreads. Marks are the ends, notches of the same name, and corners between sides.
    """
    one, two = _Chain(seam.first, by_name), _Chain(seam.second, by_name)
    first, second = _shared_marks(one, two, 0.25 * spacing)
    second = two.length - second
    stops_one, stops_two = [first[0]], [second[0]]
    for a, b, c, d in zip(first[:-1], first[1:], second[:-1], second[1:], strict=True):
        count = max(int(np.ceil(max(b - a, c - d) / spacing - 1e-9)), 1)
        part = np.arange(1, count + 1) / count
        stops_one.extend(a + (b - a) * part)
        stops_two.extend(c + (d - c) * part)
    return Match(np.array(stops_one), np.array(stops_two))


def _shared_marks(one: _Chain, two: _Chain, near: float) -> tuple[FloatArray, FloatArray]:
    """Return the marks of both chains, paired; of the second, measured from its far end."""
    first, second = [0.0, one.length], [0.0, two.length]
    for name, at in one.notches.items():
        if name in two.notches:
            first.append(at)
            second.append(two.length - two.notches[name])
    first_sorted, second_sorted = _rising(first, second)
    first_more, second_more = list(first_sorted), list(second_sorted)
    corners = [(at, True) for at in one.corners] + [(two.length - at, False) for at in two.corners]
    for at, is_first in corners:
        here = np.array(first_more if is_first else second_more)
        if np.abs(here - at).min() < 1e-6:
            continue
        a, b = np.sort(np.array(first_more)), np.sort(np.array(second_more))
        there = float(np.interp(at, a, b) if is_first else np.interp(at, b, a))
        others = two.length - np.array(two.corners) if is_first else np.array(one.corners)
        if len(others) and np.abs(others - there).min() < near:
            # Two corners that almost meet are stitched corner to corner.
            there = float(others[np.abs(others - there).argmin()])
        first_more.append(at if is_first else there)
        second_more.append(there if is_first else at)
    return _rising(first_more, second_more)


def _rising(first: Sequence[float], second: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """Return the pairs in rising order; a pair that would run backwards is left out."""
    order = np.argsort(first, kind="stable")
    one, two = np.array(first)[order], np.array(second)[order]
    keep = [0]
    for k in range(1, len(one) - 1):
        rises = one[k] > one[keep[-1]] + 1e-6 and two[k] > two[keep[-1]] + 1e-6
        if rises and one[k] < one[-1] - 1e-6 and two[k] < two[-1] - 1e-6:
            keep.append(k)
    keep.append(len(one) - 1)
    return one[keep], two[keep]


class _Chain:
    """A chain of sides as one line, with its corners and notches."""

    def __init__(self, runs: Sequence[Run], by_name: Mapping[str, Piece]) -> None:
        lengths = [by_name[run.piece].sides[run.side_index].length for run in runs]
        starts = np.concatenate([[0.0], np.cumsum(lengths)])
        self.length = float(starts[-1])
        self.corners = [float(at) for at in starts[1:-1]]
        found: list[tuple[str, float]] = []
        for run, start in zip(runs, starts[:-1], strict=True):
            for notch in by_name[run.piece].notches:
                if notch.side_index == run.side_index:
                    found.append((notch.name, float(start + notch.along)))
        uses = Counter(name for name, _ in found)
        self.notches = {name: at for name, at in found if uses[name] == 1}


def run_stops(
    runs: Sequence[Run], by_name: Mapping[str, Piece], stops: FloatArray
) -> list[tuple[Run, FloatArray, IntArray]]:
    """Split the stops of a chain among its runs.

    Returns
    -------
    list of (run, along, index)
        Stops within the run, mm from its start, both ends included, and which stops they are.
    """
    order = np.argsort(stops, kind="stable")
    rising = stops[order]
    out, start = [], 0.0
    for run in runs:
        length = by_name[run.piece].sides[run.side_index].length
        is_in = (rising > start - 1e-6) & (rising < start + length + 1e-6)
        along = np.clip(rising[is_in] - start, 0.0, length)
        out.append((run, along, order[is_in]))
        start += length
    return out
