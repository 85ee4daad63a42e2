"""Walk every pair of stitching lines that will be sewn, notch by notch."""

from __future__ import annotations

from unroll.geometry.outlines import corner_deg
from unroll.types import Cloth, Piece, SeamEnd, WalkedSeam, WalkedStretch
from unroll.walking.chains import Chain, Pair, is_dart, pairs
from unroll.walking.judging import judge, judge_ends

REACH = 8.0  # mm of a line that count for its direction at a corner


def walk(pieces: tuple[Piece, ...], *, cloth: Cloth) -> tuple[WalkedSeam, ...]:
    """Walk every pair of stitching lines between notches.

    Parameters
    ----------
    pieces : tuple of Piece
        Pieces of one arm and one source; a seam whose partner is missing is left out.
    cloth : Cloth
        What it eases in.

    Returns
    -------
    tuple of WalkedSeam
        Outer piece first in each; darts by their two legs, front leg first on a left arm.

    Examples
    --------
    >>> from tests.samples import sample_measures
    >>> from unroll.drafting import draft
    >>> from unroll.types import Make
    >>> seams = walk(draft(sample_measures(), Make(), manner="darts"), cloth=Cloth())
    >>> {seam.name: seam.verdict for seam in seams}["cap seam"]
    'good'
    """
    return tuple(_walked(pair, cloth) for pair in pairs(pieces))


def _walked(pair: Pair, cloth: Cloth) -> WalkedSeam:
    """Walk one pair."""
    pieces = (pair.first.piece.name, pair.second.piece.name)
    lengths = (pair.first.length, pair.second.length)
    stretches = _stretches(pair)
    verdict, text = judge(pair.seam, pieces, lengths, stretches, cloth)
    ends = _ends(pair)
    verdict, text = judge_ends(verdict, text, ends)
    source = pair.first.piece.source
    return WalkedSeam(pair.seam, source, pieces, lengths, stretches, ends, verdict, text)


def _stretches(pair: Pair) -> tuple[WalkedStretch, ...]:
    """Return the stretches between the notches that both lines bear, in walking order."""
    first, second = _marks(pair.first), _marks(pair.second)
    shared = sorted((first[name], second[name], name) for name in first.keys() & second.keys())
    stops = [(0.0, 0.0, "start")]
    for one, two, name in shared:
        is_inside = 1e-6 < one < pair.first.length - 1e-6 and two > stops[-1][1]
        if is_inside and two < pair.second.length - 1e-6:
            stops.append((one, two, name))
    stops.append((pair.first.length, pair.second.length, "end"))
    return tuple(
        WalkedStretch(a[2], b[2], (b[0] - a[0], b[1] - a[1]))
        for a, b in zip(stops, stops[1:], strict=False)
    )


def _marks(chain: Chain) -> dict[str, float]:
    """Return where along a chain its notches lie, by name."""
    found = ((n.name, chain.along(n)) for n in chain.piece.notches)
    return {name: at for name, at in found if at is not None}


def _ends(pair: Pair) -> tuple[SeamEnd, ...]:
    """Return the places where a line runs on across the seam, with the angles that meet there."""
    if is_dart(pair.seam):
        first, second = pair.first.sides[0], pair.second.sides[0]
        piece = pair.first.piece
        angles = (_corner(piece, first), _corner(piece, second + 1))
        return (SeamEnd("cap seam", angles),)
    if pair.seam not in ("front seam", "back seam"):
        return ()
    return tuple(
        SeamEnd(f"{name} end", (_end_angle(pair.first, name), _end_angle(pair.second, name)))
        for name in ("armhole", "wrist")
    )


def _end_angle(chain: Chain, name: str) -> float:
    """Return the angle inside a piece at one end of a side seam, degrees."""
    sides = chain.piece.sides
    before, after = chain.sides[0], chain.sides[-1] + 1
    at_start = ("wrist" in sides[before - 1].seam) == (name == "wrist")
    return _corner(chain.piece, before if at_start else after)


def _corner(piece: Piece, index: int) -> float:
    """Return the angle inside a piece where side `index` starts, degrees."""
    count = len(piece.sides)
    arriving, leaving = piece.sides[(index - 1) % count], piece.sides[index % count]
    return corner_deg(arriving.points, leaving.points, reach=REACH)


def kinks_deg(seams: tuple[WalkedSeam, ...]) -> dict[str, float]:
    """Return the kink at each end that has to be smooth, degrees, by "seam, end"."""
    return {f"{seam.name}, {end.name}": end.kink_deg for seam in seams for end in seam.ends}
