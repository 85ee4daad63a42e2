"""Where notches lie, so that they meet and the ease falls where it should."""

from __future__ import annotations

from dataclasses import replace

from unroll.nouns import Notch, Piece
from unroll.nouns.seam import SEWN_FIRST, Chain, Seam, seams_of

CROSSING = ("upper arm", "elbow", "forearm")  # notches where a reference line meets a side
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
    so that whatever one piece has more lies between these two.
    """
    found: dict[str, list[Notch]] = {p.name: [] for p in pieces}
    for seam in seams_of(pieces):
        for chain, notches in _notches_of(seam):
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
