"""Truing checks on finished pieces: what must meet, meets; what must run smooth, does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from unroll.finish.allowance import SEWN_FIRST
from unroll.finish.darts import closing, find_darts
from unroll.finish.seams import EASED, SEAM_END, Chain, SmoothPiece, seam_pairs, walk
from unroll.maths.polylines import crossings, turn_between
from unroll.nouns import FinishedPiece, Notch, SeamCheck, Sheet, Truing

NOTCHES_MEET = 0.3  # mm
PLEATS = 3.0  # times what the cloth takes in; more cannot be sewn smooth
LEGS_EQUAL = 0.3  # mm
CAP_KINK_DEG = 12.0  # the cap's turn across a closed dart
SEAM_END_DEG = 50.0  # beyond this an end cannot be trimmed true; common practice, no source
SMOOTHING_ONLY_DEG = 8.0  # above this the maker is told


def check_truing(finished: Sequence[FinishedPiece], sheet: Sheet) -> Truing:
    """Walk every seam of the finished pieces and check darts, angles and notches.

    Parameters
    ----------
    finished : sequence of FinishedPiece
        One arm's pieces, or both; arms are checked apart.
    sheet : Sheet
        The cloth, for what it eases in.

    Returns
    -------
    Truing
        Every stretch walked; faults that stop the printer; cautions that do not.
    """
    seams: list[SeamCheck] = []
    faults: list[str] = []
    cautions: list[str] = []
    for arm in dict.fromkeys(piece.arm for piece in finished):
        cloth = [p for p in finished if p.arm == arm and p.material == "cloth"]
        smooth = [_as_smooth(piece) for piece in cloth]
        for first, second in seam_pairs(smooth):
            checks = walk(first, second)
            seams += checks
            for check in checks:
                _judge_length(check, sheet, faults, cautions)
            if first.seam in SEWN_FIRST:
                _judge_ends(first, second, faults, cautions)
        for piece in cloth:
            _judge_darts(piece, faults, cautions)
            faults += _notch_faults(piece)
    return Truing(tuple(seams), tuple(faults), tuple(dict.fromkeys(cautions)))


def _as_smooth(piece: FinishedPiece) -> SmoothPiece:
    notches = tuple(
        Notch(mark.name, mark.side_index, mark.along, len(mark.slits))
        for mark in piece.notches
        if not mark.name.startswith("dart")
    )
    return SmoothPiece(piece.name, piece.sides, notches)


def _judge_length(check: SeamCheck, sheet: Sheet, faults: list[str], cautions: list[str]) -> None:
    """Judge one stretch: equal, or a surplus that the cloth eases in."""
    where = f"{check.seam}, {_stretch(check)}"
    longer, shorter = check.pieces if check.difference > 0 else check.pieces[::-1]
    gap = abs(check.difference)
    if gap <= NOTCHES_MEET:
        return
    if not check.is_ease or (check.seam == EASED and check.difference < 0):
        faults.append(
            f"{where}: the {longer} is {gap:.1f} mm longer than the {shorter}; "
            f"notches meet within {NOTCHES_MEET} mm"
        )
        return
    percent = 100 * gap / min(check.lengths)
    most = sheet.cloth.eases_percent[1]
    text = (
        f"{where}: {gap:.0f} mm to ease into the {longer} is {percent:.1f} %; "
        f"{sheet.cloth.name} takes about {most:g} %"
    )
    if percent > PLEATS * most:
        faults.append(f"{text}: it would lie in pleats; use darts")
    elif percent > most:
        cautions.append(f"{text}: expect puckers, or use darts")


def _stretch(check: SeamCheck) -> str:
    if check.start == check.end == SEAM_END:
        return "end to end"
    return f"{check.start} to {check.end}"


def _judge_ends(first: Chain, second: Chain, faults: list[str], cautions: list[str]) -> None:
    """Check that the edge runs smoothly across both ends of a seam."""
    a, b = _corner_angles(first), _corner_angles(second)
    for which, total in (("start", a[0] + b[1]), ("end", a[1] + b[0])):
        off = total - 180
        text = (
            f"{first.seam}, {which} on the {first.piece.name}: the two corners add up to "
            f"{total:.0f} degrees, not 180"
        )
        if abs(off) > SEAM_END_DEG:
            faults.append(text)
        elif abs(off) > SMOOTHING_ONLY_DEG:
            cautions.append(f"{text}; trim the edge smooth after sewing")


def _corner_angles(chain: Chain) -> tuple[float, float]:
    """Return the angles within the piece at the start and end of a chain, degrees.

    A cusp (the inner piece under the arm, where the armhole runs into the seam) counts as 0.
    """
    sides = chain.piece.sides
    first, last = chain.side_indices[0], chain.side_indices[-1]
    start = turn_between(sides[first - 1].tangents[-1], sides[first].tangents[0])
    after = sides[(last + 1) % len(sides)]
    end = turn_between(sides[last].tangents[-1], after.tangents[0])
    within = 180 - np.rad2deg([start, end])
    within = np.where(within > 350, within - 360, within)
    return float(within[0]), float(within[1])


def _judge_darts(piece: FinishedPiece, faults: list[str], cautions: list[str]) -> None:
    """Check that dart legs are equal and the cap runs smooth once they are closed."""
    for dart in find_darts(piece.sides):
        legs = [piece.sides[i].length for i in dart.legs]
        if abs(legs[0] - legs[1]) > LEGS_EQUAL:
            faults.append(
                f"{piece.name}, {dart.name}: one leg is {abs(legs[0] - legs[1]):.1f} mm longer "
                f"than the other; legs agree within {LEGS_EQUAL} mm"
            )
        close = closing(piece.sides, dart)
        after = close.close(close.far + piece.sides[dart.after].tangents[0]) - close.near
        kink = abs(np.rad2deg(turn_between(piece.sides[dart.before].tangents[-1], after)))
        text = f"{piece.name}: the seam turns {kink:.0f} degrees across the closed {dart.name}"
        if kink > 2 * CAP_KINK_DEG:
            faults.append(f"{text}; at most {2 * CAP_KINK_DEG:.0f}")
        elif kink > CAP_KINK_DEG:
            cautions.append(f"{text}; sew it as a soft curve")


def _notch_faults(piece: FinishedPiece) -> list[str]:
    """Check that no slit reaches the stitching line."""
    loop = np.vstack([piece.stitching, piece.stitching[:1]])
    return [
        f"{piece.name}: the notch {mark.name} is cut through the stitching line"
        for mark in piece.notches
        if piece.sides[mark.side_index].allowance > 0
        and any(len(crossings(slit, loop)) for slit in mark.slits)
    ]
