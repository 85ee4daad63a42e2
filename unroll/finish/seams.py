"""Seams walked on finished sides: which runs are sewn together, and how long they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from unroll.finish.smoothing import is_dart
from unroll.nouns import EaseSpan, Notch, SeamCheck, StitchingSide

EASED = "cap seam"  # its surplus is eased in along its whole length, which ends at notches
SHORTEST_EASE = 1.5  # mm; a smaller surplus vanishes in sewing: common practice, no source
SEAM_END = "end of seam"


@dataclass(frozen=True, eq=False)
class SmoothPiece:
    """A piece whose sides are smooth and whose notches follow them; not yet cut out."""

    name: str
    sides: tuple[StitchingSide, ...]
    notches: tuple[Notch, ...]


@dataclass(frozen=True)
class Chain:
    """The sides of one piece that belong to one seam, end to end, darts closed.

    `starts` holds how far along the seam each side begins, mm; `marks` the notches by name.
    """

    piece: SmoothPiece
    seam: str
    side_indices: tuple[int, ...]
    starts: tuple[float, ...]
    length: float
    marks: dict[str, float]


def seam_chain(piece: SmoothPiece, seam: str) -> Chain:
    """Return the chain of `piece` along `seam`, in outline order."""
    edge = [i for i, side in enumerate(piece.sides) if not is_dart(side.seam)]
    mine = [i for i in edge if piece.sides[i].seam == seam]
    first = 0
    for position, index in enumerate(edge):
        if index in mine and piece.sides[edge[position - 1]].seam != seam:
            first = mine.index(index)
    order = tuple(mine[first:] + mine[:first])
    starts, total = [], 0.0
    for index in order:
        starts.append(total)
        total += piece.sides[index].length
    marks = {
        notch.name: starts[order.index(notch.side_index)] + notch.along
        for notch in piece.notches
        if notch.side_index in order
    }
    return Chain(piece, seam, order, tuple(starts), total, marks)


def seam_pairs(pieces: Sequence[SmoothPiece]) -> list[tuple[Chain, Chain]]:
    """Return the two chains of every seam that joins two pieces; the outer piece comes first.

    The outer arm is the one that is eased onto the others.
    """
    seams: dict[str, list[SmoothPiece]] = {}
    for piece in sorted(pieces, key=lambda piece: piece.name != "outer"):
        for seam in dict.fromkeys(side.seam for side in piece.sides if not is_dart(side.seam)):
            seams.setdefault(seam, []).append(piece)
    return [
        (seam_chain(found[0], seam), seam_chain(found[1], seam))
        for seam, found in seams.items()
        if len(found) == 2
    ]


def walk(first: Chain, second: Chain) -> tuple[SeamCheck, ...]:
    """Walk the second stitching line along the first, from notch to notch.

    Both outlines run anticlockwise with the right side up, so sewn together they run opposite ways.
    """
    common = [name for name in first.marks if name in second.marks]
    stops = [(SEAM_END, 0.0, 0.0)]
    stops += sorted(
        ((n, first.marks[n], second.length - second.marks[n]) for n in common),
        key=lambda stop: stop[1],
    )
    stops.append((SEAM_END, first.length, second.length))
    checks = []
    for (start, a, b), (end, c, d) in zip(stops[:-1], stops[1:], strict=True):
        if c - a < 1e-6 and abs(d - b) < 1e-6:
            continue  # a notch at the very end of the seam
        checks.append(
            SeamCheck(
                first.seam,
                start,
                end,
                (first.piece.name, second.piece.name),
                (c - a, d - b),
                _takes_ease(first.seam, start, end),
            )
        )
    return tuple(checks)


def _takes_ease(seam: str, start: str, end: str) -> bool:
    """Tell whether a surplus between these two notches is meant to be eased in."""
    return seam == EASED or SEAM_END not in (start, end)


def ease_spans(
    first: Chain, second: Chain, checks: Sequence[SeamCheck]
) -> dict[str, tuple[EaseSpan, ...]]:
    """Return the stretches whose surplus is eased in, from notch to notch, by the longer piece."""
    spans: dict[str, list[EaseSpan]] = {}
    at, other = 0.0, second.length
    for check in checks:
        end, other_end = at + check.lengths[0], other - check.lengths[1]
        surplus = check.difference
        if check.is_ease and abs(surplus) >= SHORTEST_EASE:
            runs = _runs(first, at, end) if surplus > 0 else _runs(second, other_end, other)
            percent = 100 * abs(surplus) / min(check.lengths)
            name = check.pieces[0 if surplus > 0 else 1]
            span = EaseSpan(check.seam, check.start, check.end, runs, abs(surplus), percent)
            spans.setdefault(name, []).append(span)
        at, other = end, other_end
    return {name: tuple(found) for name, found in spans.items()}


def _runs(chain: Chain, start: float, end: float) -> tuple[tuple[int, float, float], ...]:
    """Return the parts of a chain's sides between two distances along it."""
    out = []
    for index, begin in zip(chain.side_indices, chain.starts, strict=True):
        length = chain.piece.sides[index].length
        low, high = max(start - begin, 0.0), min(end - begin, length)
        if high - low > 1e-6:
            out.append((index, low, high))
    return tuple(out)
