"""Where two stitching lines meet when they are sewn: by length, from notch to notch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from unroll.geometry.sharp_corners import sharp_corners
from unroll.types import FloatArray, IntArray, Piece
from unroll.types.sewn import Run, Seam

Marks = tuple[FloatArray, FloatArray]
SAME_MM = 1e-6


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
    ease spreads. Marks are the ends, notches of the same name, corners between sides, and sharp
    corners within a side: a corner between two stitches would be cut off, or not, as their number
    happens to fall.
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


def _shared_marks(one: _Chain, two: _Chain, near: float) -> Marks:
    """Return the marks of both chains, paired; of the second, measured from its far end."""
    first, second = [0.0, one.length], [0.0, two.length]
    for name, at in one.notches.items():
        if name in two.notches:
            first.append(at)
            second.append(two.length - two.notches[name])
    marks = _rising(first, second)
    partners = one.partners, two.length - two.partners
    for at, is_first, apart in _corners_in_turn(one, two, near):
        if is_first:
            marks = _with_mark(marks, at, partners[1], near, apart)
        else:
            marks = _with_mark(marks[::-1], at, partners[0], near, apart)[::-1]
    return marks


def _corners_in_turn(one: _Chain, two: _Chain, near: float) -> list[tuple[float, bool, float]]:
    """Return where corners want a mark, whether on the first chain, and how clear of other marks.

    Joints between sides come first: they need one. Of sharp corners nearer to each other than the
    mesh can follow, the sharpest has it.
    """
    joints = [(at, True, SAME_MM) for at in one.joints]
    joints += [(two.length - at, False, SAME_MM) for at in two.joints]
    sharp = [(turn, at, True) for at, turn in one.sharp]
    sharp += [(turn, two.length - at, False) for at, turn in two.sharp]
    sharp.sort(key=lambda corner: -corner[0])
    return joints + [(at, is_first, near) for _, at, is_first in sharp]


def _with_mark(marks: Marks, at: float, partners: FloatArray, near: float, apart: float) -> Marks:
    """Return the marks and one more, at `at` of the first chain, unless one is within `apart`.

    On the other chain it lies at the same share of length between marks, or at a corner that is
    `near`: two corners that almost meet are stitched corner to corner.
    """
    here, there = marks
    place = float(np.interp(at, here, there))
    index = int(np.searchsorted(here, at))
    is_near = np.abs(partners - place) < near
    is_between = (partners > there[index - 1] + SAME_MM) & (partners < there[index] - SAME_MM)
    corners = partners[is_near & is_between]
    if len(corners):
        place = float(corners[np.abs(corners - place).argmin()])
    if min(np.abs(here - at).min(), np.abs(there - place).min()) < apart:
        return marks
    return np.insert(here, index, at), np.insert(there, index, place)


def _rising(first: Sequence[float], second: Sequence[float]) -> Marks:
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
    """A chain of sides as one line, with its joints, sharp corners and notches."""

    def __init__(self, runs: Sequence[Run], by_name: Mapping[str, Piece]) -> None:
        sides = [by_name[run.piece].sides[run.side_index] for run in runs]
        starts = np.concatenate([[0.0], np.cumsum([side.length for side in sides])])
        self.length = float(starts[-1])
        self.joints = [float(at) for at in starts[1:-1]]
        self.sharp = [
            (float(start + at), float(turn))
            for side, start in zip(sides, starts[:-1], strict=True)
            for at, turn in zip(*sharp_corners(side.points), strict=True)
        ]
        self.partners = np.array(self.joints + [at for at, _ in self.sharp])
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
