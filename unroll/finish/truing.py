"""Truing checks on finished pieces: what must meet, meets; what must run smooth, does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from unroll.finish.darts import closing, find_darts
from unroll.finish.repairs import CAP_KINK_DEG, SHORTEST_EASE
from unroll.maths.polylines import crossings, turn_between
from unroll.nouns import EaseSpan, FinishedPiece, SeamCheck, Sheet, Truing
from unroll.nouns.seam import SEAM_END, SEWN_FIRST, Chain, Seam, seams_of
from unroll.units import format_small, inches_first

EASED = "cap seam"  # its surplus is eased in along its whole length, which ends at notches
NOTCHES_MEET = 0.3  # mm
EASED_ANYWHERE = 1.0  # mm that vanish in any seam when it is sewn: common practice, no source
PLEATS = 3.0  # times what the cloth takes in; more cannot be sewn smooth
LEGS_EQUAL = 0.3  # mm
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
        Every stretch walked; what cannot be cut; what is outside limits, with what would help;
        and what the maker should know.
    """
    seams: list[SeamCheck] = []
    verdicts: list[str] = []
    cautions: list[str] = []
    arms = dict.fromkeys(piece.arm for piece in finished)
    for arm in arms:
        wrong: list[str] = []
        told: list[str] = []
        cloth = [p for p in finished if p.arm == arm and p.material == "cloth"]
        for seam in seams_of(cloth):
            if not seam.is_whole:
                continue
            checks = seam_checks(seam)
            seams += checks
            for check in checks:
                _judge_length(check, sheet, bool(seam.first.piece.darts), wrong, told)
            if seam.name in SEWN_FIRST:
                _judge_ends(seam, wrong, told)
        for piece in cloth:
            _judge_darts(piece, sheet, wrong, told)
            wrong += _cut_notches(piece)
            told += piece.remarks
        whose = f"{arm} arm, " if len(arms) > 1 else ""
        verdicts += [whose + line for line in wrong]
        cautions += [whose + line for line in told]
    faults = [
        f"{piece.title} ({piece.arm}) is not printed: its outline crosses itself near "
        + inches_first(f"{at[0]:.0f} mm across, {at[1]:.0f} mm up", sheet.unit)
        + "; measure again what shapes it there"
        for piece in finished
        if (at := piece.crossing) is not None
    ]
    return Truing(tuple(seams), tuple(faults), tuple(dict.fromkeys(cautions)),
                  tuple(dict.fromkeys(verdicts)))  # fmt: skip


def seam_checks(seam: Seam) -> tuple[SeamCheck, ...]:
    """Walk one seam from notch to notch."""
    stops = seam.stops
    return tuple(
        SeamCheck(
            seam.name, one[0], two[0], seam.pieces, (two[1] - one[1], two[2] - one[2]),
            seam.name == EASED or SEAM_END not in (one[0], two[0]),
        )
        for one, two in zip(stops[:-1], stops[1:], strict=True)
    )  # fmt: skip


def ease_spans(seam: Seam) -> dict[str, tuple[EaseSpan, ...]]:
    """Return the stretches whose surplus is eased in, from notch to notch, by the longer piece."""
    spans: dict[str, list[EaseSpan]] = {}
    at = np.zeros(2)
    for check in seam_checks(seam):
        end = at + check.lengths
        surplus = check.difference
        if check.is_ease and abs(surplus) >= SHORTEST_EASE:
            which = 0 if surplus > 0 else 1
            runs = (seam.first, seam.second)[which].runs(float(at[which]), float(end[which]))
            percent = 100 * abs(surplus) / min(check.lengths)
            span = EaseSpan(check.seam, check.start, check.end, runs, abs(surplus), percent)
            spans.setdefault(check.pieces[which], []).append(span)
        at = end
    return {name: tuple(found) for name, found in spans.items()}


def _judge_length(
    check: SeamCheck, sheet: Sheet, has_darts: bool, verdicts: list[str], cautions: list[str]
) -> None:
    """Judge one stretch: equal, or a surplus that the cloth eases in."""
    where = f"{check.seam}, {_stretch(check)}"
    longer, shorter = check.pieces if check.difference > 0 else check.pieces[::-1]
    gap = abs(check.difference)
    if gap <= NOTCHES_MEET:
        return
    if not check.is_ease or (check.seam == EASED and check.difference < 0):
        by = format_small(gap, sheet.unit, decimals=1)
        text = f"{where}: the {longer} is {by} longer than the {shorter}"
        if gap <= EASED_ANYWHERE:
            cautions.append(f"{text}; ease it in")
        else:
            verdicts.append(
                f"{text}; lengthen the {shorter} by as much, or shorten the {longer}, before you "
                "cut"
            )
        return
    takes = 0.01 * sheet.cloth.eases_percent[1] * min(check.lengths)
    if gap <= max(takes, SHORTEST_EASE):
        return
    much, most, left = (format_small(mm, sheet.unit) for mm in (gap, takes, gap - takes))
    text = f"{where}: {much} to ease into the {longer}; {sheet.cloth.name} takes {most}"
    if gap > PLEATS * takes:
        verdicts.append(f"{text}: will not sew flat, {left} too much; "
                        f"{_less(check, has_darts, longer)}")  # fmt: skip
    else:
        cautions.append(f"{text}: expect puckers; {_less(check, has_darts, longer)}")


def _less(check: SeamCheck, has_darts: bool, longer: str) -> str:
    """Return what would take a surplus in."""
    if check.seam == EASED and longer == "outer":
        return "wider or more darts would take it in" if has_darts else "darts would take it in"
    if check.seam == "back seam" and longer == "outer":
        return "a dart at the elbow would take it in"
    return f"steam and stretch the {next(p for p in check.pieces if p != longer)} to it"


def _stretch(check: SeamCheck) -> str:
    if check.start == check.end == SEAM_END:
        return "end to end"
    return f"{check.start} to {check.end}"


def _judge_ends(seam: Seam, verdicts: list[str], cautions: list[str]) -> None:
    """Check that the edge runs smoothly across both ends of a seam."""
    a, b = _corner_angles(seam.first), _corner_angles(seam.second)
    for which, total in (("start", a[0] + b[1]), ("end", a[1] + b[0])):
        text = (
            f"{seam.name}, {which} on the {seam.pieces[0]}: the two corners add up to "
            f"{total:.0f} degrees, not 180"
        )
        if abs(total - 180) > SEAM_END_DEG:
            verdicts.append(f"{text}; leave room there and draw the edge on the sewn seam")
        elif abs(total - 180) > SMOOTHING_ONLY_DEG:
            cautions.append(f"{text}; trim the edge smooth after sewing")


def _corner_angles(chain: Chain) -> tuple[float, float]:
    """Return the angles within the piece at the start and end of a chain, degrees.

    A cusp (the inner piece under the arm, where the armhole runs into the seam) counts as 0.
    """
    sides = chain.piece.sides
    first, last = chain.sides[0], chain.sides[-1]
    start = turn_between(sides[first - 1].tangents[-1], sides[first].tangents[0])
    after = sides[(last + 1) % len(sides)]
    end = turn_between(sides[last].tangents[-1], after.tangents[0])
    within = 180 - np.rad2deg([start, end])
    within = np.where(within > 350, within - 360, within)
    return float(within[0]), float(within[1])


def _judge_darts(
    piece: FinishedPiece, sheet: Sheet, verdicts: list[str], cautions: list[str]
) -> None:
    """Check that dart legs are equal and the cap runs smooth once they are closed."""
    for dart in find_darts(piece.sides):
        legs = [piece.sides[i].length for i in dart.legs]
        if abs(legs[0] - legs[1]) > LEGS_EQUAL:
            by = format_small(abs(legs[0] - legs[1]), sheet.unit, decimals=1)
            text = f"{piece.name}, {dart.name}: one leg is {by} longer than the other"
            if abs(legs[0] - legs[1]) <= EASED_ANYWHERE:
                cautions.append(f"{text}; ease it in")
            else:
                verdicts.append(f"{text}; move the point until both are equally long")
        close = closing(piece.sides, dart)
        after = close.close(close.far + piece.sides[dart.after].tangents[0]) - close.near
        kink = abs(np.rad2deg(turn_between(piece.sides[dart.before].tangents[-1], after)))
        text = f"{piece.name}: the seam turns {kink:.0f} degrees across the closed {dart.name}"
        if kink > 2 * CAP_KINK_DEG:
            verdicts.append(f"{text}; fold the dart and redraw the edge as a smooth curve")
        elif kink > CAP_KINK_DEG:
            cautions.append(f"{text}; sew it as a soft curve")


def _cut_notches(piece: FinishedPiece) -> list[str]:
    """Check that no slit reaches the stitching line."""
    loop = np.vstack([piece.stitching, piece.stitching[:1]])
    return [
        f"{piece.name}: the notch {mark.name} reaches the stitching line; mark it with a pencil"
        for mark in piece.notches
        if piece.sides[mark.side_index].allowance > 0
        and any(len(crossings(slit, loop)) for slit in mark.slits)
    ]
