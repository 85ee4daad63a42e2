"""Walk every pair of stitching lines that will be sewn, notch by notch."""

from __future__ import annotations

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import corner_deg, end_direction
from unroll.nouns import Cloth, Piece, SeamEnd, WalkedSeam, WalkedStretch, WalkVerdict
from unroll.nouns.seam import SEWN_FIRST, Chain, Seam, is_dart, seams_of
from unroll.units import Unit, format_small


def closed_cap(piece: Piece) -> FloatArray:
    """Return a piece's cap line with its darts closed, (k, 2), mm.

    Parameters
    ----------
    piece : Piece
        The outer piece.

    Notes
    -----
    Part after part is moved so that both legs of the dart between them meet at the cap seam and
    run there in one direction, as they do once sewn; for straight legs that is the turn about
    the dart point by which a maker folds the paper.
    """
    turn, shift = np.eye(2), np.zeros(2)
    line: list[FloatArray] = []
    sides = piece.sides
    for index, side in enumerate(sides):
        if side.seam == "cap seam":
            line.append((side.points @ turn.T + shift)[min(len(line), 1):])
        elif is_dart(side.seam) and index + 1 < len(sides) and sides[index + 1].seam == side.seam:
            leg, other = side.points, sides[index + 1].points[::-1]
            closing = _turn_onto(end_direction(other), end_direction(leg) @ turn.T)
            shift = leg[0] @ turn.T + shift - other[0] @ closing.T
            turn = closing
    return np.concatenate(line)


def _turn_onto(direction: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return the rotation matrix that turns one unit vector onto another."""
    cos = float(direction @ wanted)
    sin = float(direction[0] * wanted[1] - direction[1] * wanted[0])
    return np.array([[cos, -sin], [sin, cos]])


GOOD = 1.5  # mm (1/16 in) within which a walked seam is good: common practice, no source
USABLE = 3.0  # mm (1/8 in) within which it can be used: common practice, no source
KINK = 8.0  # degrees across a seam beyond which a line is trued: our judgement, no source
EASED = ("cap seam", "back seam")  # seams whose first line may be eased into the second


def judge_ends(
    verdict: WalkVerdict, text: str, ends: tuple[SeamEnd, ...]
) -> tuple[WalkVerdict, str]:
    """Return the verdict with what has to be trued where a line runs on across the seam."""
    off = [end for end in ends if abs(end.kink_deg) > KINK]
    if not off:
        return verdict, text
    words = ", ".join(
        f"{abs(e.kink_deg):.0f}° {'peak' if e.kink_deg > 0 else 'dip'} at the {e.name}"
        for e in off
    )
    return ("usable" if verdict == "good" else verdict), f"{text}; true the {words}"


def judge(
    seam: str, pieces: tuple[str, str], lengths: tuple[float, float],
    stretches: tuple[WalkedStretch, ...], cloth: Cloth, unit: Unit = "mm",
) -> tuple[WalkVerdict, str]:  # fmt: skip
    """Return the verdict on a seam and the sentence that says it."""
    difference = lengths[0] - lengths[1]
    if abs(difference) <= GOOD:
        return "good", f"good: the two lines are within {_amount(difference, unit)}"
    if abs(difference) <= USABLE:
        return "usable", f"usable: {_longer(pieces, difference, unit)}"
    if seam.startswith("dart "):
        return "wrong", (
            f"wrong: the legs differ by {_amount(difference, unit)}; move the dart point until "
            "both are equally long")
    if seam in EASED and difference > 0:
        return _eased(seam, pieces, difference, stretches, cloth, unit)
    return "wrong", (
        f"wrong: {_longer(pieces, difference, unit)}{_where(stretches, difference)}; shorten it "
        "there, or lengthen the other by as much")


def _amount(mm: float, unit: Unit) -> str:
    """Return a difference without sign: a tenth of a millimetre or a sixteenth of an inch."""
    return format_small(abs(mm), unit, decimals=1 if abs(mm) < 10.0 else 0)


def _longer(pieces: tuple[str, str], difference: float, unit: Unit) -> str:
    """Return which line is longer, and by how much."""
    names = pieces if difference > 0 else pieces[::-1]
    return f"the {names[0]}'s line is {_amount(difference, unit)} longer than the {names[1]}'s"


def _where(stretches: tuple[WalkedStretch, ...], difference: float) -> str:
    """Return between which notches a difference lies, or nothing when it lies everywhere."""
    sign = 1.0 if difference > 0 else -1.0
    there = [s for s in stretches if sign * s.difference_mm > 0.1]
    if not there or len(there) == len(stretches):
        return ""
    return f" between {there[0].start} and {there[-1].end}"


def _eased(
    seam: str, pieces: tuple[str, str], difference: float,
    stretches: tuple[WalkedStretch, ...], cloth: Cloth, unit: Unit,
) -> tuple[WalkVerdict, str]:
    """Return the verdict on a surplus that the cloth may ease in between two notches."""
    most = cloth.eases_percent[1]
    where = [s for s in stretches if s.difference_mm > 0.05]
    length = sum(s.lengths_mm[1] for s in where)
    percent = 100.0 * sum(s.difference_mm for s in where) / length if length else 0.0
    span = _where(stretches, difference)
    if difference - 0.01 * most * length <= GOOD:
        return "ease in", f"ease in {_amount(difference, unit)} ({percent:.1f} %){span}"
    takes = 0.01 * most * length
    left = difference - takes
    amount = _amount(left, unit)
    change = {
        "cap seam": f"take in {amount} with darts, or lower the cap",
        "back seam": f"take in {amount} with a dart at the elbow",
    }[seam]
    return "wrong", (
        f"wrong: {_longer(pieces, difference, unit)}, {percent:.1f} %{span}, and {cloth.name} "
        f"eases in {most:g} % at most ({format_small(takes, unit)}); {change}")


REACH = 8.0  # mm of a line that count for its direction at a corner


def walk(
    pieces: tuple[Piece, ...], *, cloth: Cloth, unit: Unit = "mm"
) -> tuple[WalkedSeam, ...]:
    """Walk every pair of stitching lines between notches.

    Parameters
    ----------
    pieces : tuple of Piece
        Pieces of one arm and one source; a seam whose partner is missing is left out.
    cloth : Cloth
        What it eases in.
    unit : {"in", "cm", "mm"}
        Of the sentences.

    Returns
    -------
    tuple of WalkedSeam
        Outer piece first in each; darts by their two legs, front leg first on a left arm.

    Examples
    --------
    >>> from tests.samples import sample_measures
    >>> from unroll.drafts.drafting import draft
    >>> from unroll.nouns import Make
    >>> seams = walk(draft(sample_measures(), Make(), manner="darts"), cloth=Cloth())
    >>> {seam.name: seam.verdict for seam in seams}["cap seam"]
    'good'
    """
    return tuple(_walked(seam, cloth, unit) for seam in seams_of(pieces))


def _walked(seam: Seam, cloth: Cloth, unit: Unit) -> WalkedSeam:
    """Walk one seam."""
    stretches = _stretches(seam)
    verdict, text = judge(seam.name, seam.pieces, seam.lengths, stretches, cloth, unit)
    ends = _ends(seam)
    verdict, text = judge_ends(verdict, text, ends)
    source = seam.first.piece.source
    return WalkedSeam(
        seam.name, source, seam.pieces, seam.lengths, stretches, ends, verdict, text
    )


def _stretches(seam: Seam) -> tuple[WalkedStretch, ...]:
    """Return the stretches between the notches that both lines bear, in walking order."""
    stops = [("start", 0.0, 0.0), *seam.stops[1:-1], ("end", *seam.lengths)]
    return tuple(
        WalkedStretch(a[0], b[0], (b[1] - a[1], b[2] - a[2]))
        for a, b in zip(stops[:-1], stops[1:], strict=True)
    )


def _ends(seam: Seam) -> tuple[SeamEnd, ...]:
    """Return the places where a line runs on across the seam, with the angles that meet there."""
    if seam.is_dart:
        first, second = seam.first.sides[0], seam.second.sides[0]
        piece = seam.first.piece
        angles = (_corner(piece, first), _corner(piece, second + 1))
        return (SeamEnd("cap seam", angles),)
    if seam.name not in SEWN_FIRST:
        return ()
    return tuple(
        SeamEnd(f"{name} end", (_end_angle(seam.first, name), _end_angle(seam.second, name)))
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
