"""Where notches lie, so that they meet and the ease falls where it should."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from unroll.finish.darts import Dart, is_cut_out
from unroll.maths.arrays import FloatArray
from unroll.maths.offsets import right_normals
from unroll.maths.polylines import crossings, point_at
from unroll.nouns import Notch, NotchMark, Piece, StitchingSide
from unroll.nouns.piece import DRAWN
from unroll.nouns.seam import SEWN_FIRST, Chain, Seam, seams_of

CROSSING = ("upper arm", "elbow", "forearm")  # notches where a reference line meets a side
UNLIKE = 1.0  # mm; legs of a dart that differ by more need a mark between their ends
MATCHED = 0.4  # of a leg, from the dart's opening
AS_DRAWN = 25.0  # mm that a maker's own notch may lie off its usual place
NEAR = 6.0  # mm that a reference line's end may lie off the side
BASES = ("armhole base", "wrist base", "shoulder extension")


def place_notches(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """Return the pieces with notches that meet when the seams are walked.

    Parameters
    ----------
    pieces : tuple of Piece
        Drafted or unrolled; end plates keep the notches they have.

    Notes
    -----
    On the cap seam the shoulder notch shares the ease between front and back as their lengths do;
    there is none under the arm. On the back seam (two marks) and the front seam (one) the stretch
    above the upper-arm notch and the one below the forearm notch are equally long on both pieces,
    so that whatever one piece has more lies between these two. Notches that a maker drew on her own
    pieces go before them, where both pieces of a side seam bear one near the usual place.
    """
    found: dict[str, list[Notch]] = {p.name: [] for p in pieces}
    for seam in seams_of(pieces):
        for chain, notches in _as_drawn(_notches_of(seam)):
            found[chain.piece.name].extend(notches)
    return tuple(
        p if p.name in BASES else replace(p, notches=_in_order(found[p.name])) for p in pieces
    )


def _in_order(notches: list[Notch]) -> tuple[Notch, ...]:
    return tuple(sorted(notches, key=lambda n: (n.side_index, n.along)))


def _notches_of(seam: Seam) -> list[tuple[Chain, list[Notch]]]:
    """Return the notches that one seam needs."""
    if seam.name in SEWN_FIRST:
        return _side_notches(seam, 1 if seam.name == "front seam" else 2)
    if seam.second.piece.name in BASES and seam.first.piece.name not in BASES:
        return [(seam.first, _as_on_base(seam))]
    return []


_Placed = list[tuple[Chain, list[Notch]]]


def _as_drawn(placed: _Placed) -> _Placed:
    """Return a seam's notches, those that are drawn on each of its pieces where they are drawn."""
    drawn = [_drawn_places(chain, notches) for chain, notches in placed]
    names = set.intersection(*map(set, drawn)) if drawn else set()
    return [
        (chain, [chain.notch(n.name, at[n.name], n.marks) if n.name in names else n
                 for n in notches])
        for (chain, notches), at in zip(placed, drawn, strict=True)
    ]  # fmt: skip


def _drawn_places(chain: Chain, notches: Sequence[Notch]) -> dict[str, float]:
    """Return how far along a chain the drawn notch nearest to each usual one lies, mm, by name."""
    free = {n.name: at for n in chain.piece.notches if n.name.startswith(DRAWN)
            for at in [chain.along(n)] if at is not None}  # fmt: skip
    usual = {n.name: at for n in notches for at in [chain.along(n)] if at is not None}
    found: dict[str, float] = {}
    offs = sorted((abs(at - there), name, one) for name, at in usual.items()
                  for one, there in free.items())  # fmt: skip
    for off, name, one in offs:
        if off < AS_DRAWN and name not in found and one in free:
            found[name] = free.pop(one)
    return found


def _as_on_base(seam: Seam) -> list[Notch]:
    """Return a plate's notches carried to the line sewn to it, at equal shares of the length."""
    out = []
    for notch in seam.second.piece.notches:
        along = seam.second.along(notch)
        if along is None:
            continue
        share = along / seam.second.length
        if 1e-6 < share < 1.0 - 1e-6:  # the seam's own ends need no notch
            out.append(seam.first.notch(notch.name, share * seam.first.length, notch.marks))
    return out


def _side_notches(seam: Seam, marks: int) -> list[tuple[Chain, list[Notch]]]:
    """Return the notches of a side seam: equal lengths outside them, the ease between."""
    model = seam.second  # the inner arm's lines set the places
    first, second = _from_the_top(seam.first), _from_the_top(model)
    places = {name: _crossing(second, name) for name in CROSSING}
    marked = {name: at for name, at in places.items() if at is not None}
    if not marked:
        return []
    top, bottom = min(marked.values()), second.length - max(marked.values())
    span = second.length - top - bottom
    stretch = (first.length - top - bottom) / span if span > 0 else 1.0
    on_second = [second.notch(name, at, marks) for name, at in marked.items()]
    on_first = [
        first.notch(name, top + (at - top) * stretch, marks) for name, at in marked.items()
    ]
    return [(first, on_first), (second, on_second)]


def _from_the_top(chain: Chain) -> Chain:
    """Return a side seam's chain walked from the armhole down."""
    sides, count = chain.piece.sides, len(chain.piece.sides)
    after = sides[(chain.sides[-1] + 1) % count].seam
    return Chain(chain.piece, chain.sides, is_reversed="wrist" not in after)


def _crossing(chain: Chain, name: str) -> float | None:
    """Return how far along a side a reference line meets it, mm; None where it does not."""
    line = chain.piece.lines.get(f"{name} line")
    if line is None or len(line) < 2:
        return None
    at, off = min((chain.nearest(end) for end in (line[0], line[-1])), key=lambda hit: hit[1])
    return at if off < NEAR else None


# -- notches as slits: from the cutting line inwards, never as deep as the allowance ----------

DEEPEST = 5.0  # mm
SHARE = 0.5  # of the allowance at most
SPACING = 6.0  # mm between the slits of a double notch
MARK = 4.0  # mm; a pencil mark inwards from the edge, where there is no allowance to cut into


def notch_marks(
    sides: Sequence[StitchingSide], cutting: FloatArray, notches: Sequence[Notch]
) -> tuple[NotchMark, ...]:
    """Return each notch as slits that end short of the stitching line."""
    return tuple(_mark(sides[notch.side_index], cutting, notch) for notch in notches)


def dart_notches(
    sides: Sequence[StitchingSide], cutting: FloatArray, darts: Sequence[Dart]
) -> tuple[NotchMark, ...]:
    """Return the slits where the legs of each dart, run on, reach the cutting line."""
    marks = []
    for dart in darts:
        if is_cut_out(sides, dart):
            continue  # its own cutting line shows where the legs are
        there, back = (sides[i] for i in dart.legs)
        depth = _depth(sides[dart.before].allowance)
        for index, at, out, along in (
            (dart.legs[0], there.points[0], -there.tangents[0], 0.0),
            (dart.legs[1], back.points[-1], back.tangents[-1], back.length),
        ):
            slit = _slit(at, out, cutting, depth)
            marks.append(NotchMark(dart.name, index, along, at, slit[None]))
    return tuple(marks)


def match_notches(
    sides: Sequence[StitchingSide], cutting: FloatArray, darts: Sequence[Dart]
) -> tuple[NotchMark, ...]:
    """Return a notch on either leg of each dart whose legs are unlike.

    Such legs are sewn at equal shares of their lengths, so one share is shown: nearer the opening
    than the point, where both legs still have their own cutting line.
    """
    return tuple(
        replace(_mark(sides[leg], cutting, Notch(dart.name, leg, share * sides[leg].length)),
                name=f"{dart.name} match")
        for dart in darts if are_unlike(sides, dart)
        for leg, share in zip(dart.legs, (MATCHED, 1.0 - MATCHED), strict=True)
    )  # fmt: skip


def are_unlike(sides: Sequence[StitchingSide], dart: Dart) -> bool:
    """Tell whether a dart's legs differ in length, or in how far their middles bow out."""
    there, back = (sides[i] for i in dart.legs)
    bows = []
    for leg in (there, back):
        chord = leg.points[-1] - leg.points[0]
        middle = point_at(leg.points, 0.5 * leg.length) - leg.points[0]
        # both are walked with the cloth on the left, so that like legs bow alike
        bows.append(float(chord[0] * middle[1] - chord[1] * middle[0]) / np.hypot(*chord))
    return abs(there.length - back.length) > UNLIKE or abs(bows[0] - bows[1]) > UNLIKE


def _mark(side: StitchingSide, cutting: FloatArray, notch: Notch) -> NotchMark:
    depth = _depth(side.allowance)
    shifts = (np.arange(notch.marks) - (notch.marks - 1) / 2) * SPACING
    # a double notch at the very end of a seam moves inwards as a pair
    half = min(-shifts[0], side.length / 2)
    middle = float(np.clip(notch.along, half, side.length - half))
    slits = []
    for shift in shifts:
        along = float(np.clip(middle + shift, 0.0, side.length))
        normal = right_normals(side.tangent_at(along)[None])[0]
        point = point_at(side.points, along)
        if depth == 0.0:
            edge = point + side.allowance * normal
            slits.append(np.stack([edge, edge - MARK * normal]))
        else:
            slits.append(_slit(point, normal, cutting, depth))
    at = point_at(side.points, notch.along)
    return NotchMark(notch.name, notch.side_index, notch.along, at, np.stack(slits))


def _depth(allowance: float) -> float:
    """Return how deep a slit is cut, mm; 0 where there is no allowance."""
    return min(DEEPEST, SHARE * allowance) if allowance > 0 else 0.0


def _slit(at: FloatArray, out: FloatArray, cutting: FloatArray, depth: float) -> FloatArray:
    """Return the outer and inner end of one slit, (2, 2)."""
    hits = crossings(np.stack([at, at + 500 * out]), np.vstack([cutting, cutting[:1]]))
    outer = at + hits[:, 0].min() * out if len(hits) else at
    return np.stack([outer, outer - depth * out])
