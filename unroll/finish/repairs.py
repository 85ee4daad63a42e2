"""Pieces trued as on the table, before they are smoothed: darts folded, ends drawn to the arm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import isotonic_regression

from unroll.finish.darts import Closing, Dart, find_darts
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import (
    crosses_itself,
    crossings,
    end_direction,
    lengths_along,
    part,
    point_at,
    signed_distances,
    turn_between,
)
from unroll.nouns import Notch, Piece, PieceSide
from unroll.nouns.seam import Outlined
from unroll.units import Unit, format_small

SHORTEST_EASE = 1.5  # mm; a smaller surplus vanishes in sewing: common practice, no source
CAP_KINK_DEG = 12.0  # the cap's turn across a closed dart beyond which it is drawn anew
LEGS_EQUAL = 0.1  # mm
MOST_REDRAWN = 5.0  # mm that a cap's edge may move beside a mouth: our judgement, no source
REACHES = (45.0, 30.0, 20.0, 12.0)  # mm of edge on both sides of a mouth that are drawn anew
MEETING, REOPENING = 0.05, 0.3  # mm; legs nearer than that meet, wider again reopen
TAPER = 0.03  # of the mouth; how wide legs stay apart that met before the point
MOST_SCALED = 0.15  # an end that is farther off does not belong to the arm
BASES = ("armhole base", "wrist base")


@dataclass(frozen=True, eq=False)
class TruedPiece:
    """A piece and what was done to it, a line each."""

    piece: Piece
    remarks: tuple[str, ...] = ()


# -- darts ------------------------------------------------------------------------------------


def with_trued_darts(piece: Piece, unit: Unit = "mm") -> TruedPiece:
    """Return a piece whose darts can be sewn.

    Notes
    -----
    Legs that meet before the point are parted; legs of unequal length, and an edge that turns
    sharply across a mouth, are drawn anew with the dart folded shut, and unfolded. What would need
    more than a few millimetres stays as it is, for the truing check to tell.
    """
    remarks = []
    for number in range(len(find_darts(piece.sides))):
        for repair in (_parted, partial(_drawn_folded, unit=unit)):
            sides, remark = repair(piece.sides, find_darts(piece.sides)[number])
            trial = replace(piece, sides=sides)
            if remark and (crosses_itself(piece.outline) or not crosses_itself(trial.outline)):
                notches = tuple(kept_notch(notch, piece.sides, sides) for notch in piece.notches)
                piece = replace(trial, notches=notches)
                remarks.append(f"{piece.name}, {remark}")
    return TruedPiece(piece, tuple(remarks))


def kept_notch(notch: Notch, before: Sequence[PieceSide], after: Sequence[PieceSide]) -> Notch:
    """Return a notch at the same share of its side, which has changed."""
    index = notch.side_index
    return replace(notch, along=notch.along * after[index].length / before[index].length)


Repaired = tuple[tuple[PieceSide, ...], str]  # sides, and what was done; "" where nothing


def _parted(sides: tuple[PieceSide, ...], dart: Dart) -> Repaired:
    """Part legs that meet, cross or reopen: from the mouth they only come nearer."""
    one, two = sides[dart.legs[0]].points, sides[dart.legs[1]].points[::-1]
    share = np.linspace(0.0, 1.0, max(len(one), len(two), 40))
    a, b = (np.array([point_at(leg, s * lengths_along(leg)[-1]) for s in share])
            for leg in (one, two))  # fmt: skip
    across = (b[0] - a[0]) / max(np.linalg.norm(b[0] - a[0]), 1e-9)
    gap = (b - a) @ across
    reopens = gap - np.minimum.accumulate(gap)
    if gap[0] <= MEETING or (gap[share < 0.97].min() > MEETING and reopens.max() < REOPENING):
        return sides, ""
    weights = np.where(np.arange(len(gap)) == 0, 1e6, 1.0)
    narrowing = isotonic_regression(gap, weights=weights, increasing=False).x
    wanted = np.maximum(narrowing, TAPER * gap[0] * (1.0 - share))
    wanted[0], wanted[-1] = gap[0], 0.0
    half = 0.5 * (wanted - gap)[:, None] * across
    point = 0.5 * (a[-1] + b[-1])
    a, b = a - half, b + half
    a[-1] = b[-1] = point
    out = list(sides)
    out[dart.legs[0]] = replace(sides[dart.legs[0]], points=a)
    out[dart.legs[1]] = replace(sides[dart.legs[1]], points=b[::-1])
    return tuple(out), f"{dart.name}: its legs met before the point and were parted"


def _drawn_folded(sides: tuple[PieceSide, ...], dart: Dart, *, unit: Unit) -> Repaired:
    """Draw the edge across a dart's mouth anew with the dart folded, and unfold it."""
    fold, apart = folded(sides, dart)
    before, after = sides[dart.before].points, fold.close(sides[dart.after].points)
    kink = turn_between(-end_direction(before[::-1]), end_direction(after))
    if abs(np.rad2deg(kink)) <= CAP_KINK_DEG and abs(apart) <= LEGS_EQUAL:
        return sides, ""
    for reach in REACHES:
        if reach > 0.45 * min(sides[dart.before].length, sides[dart.after].length):
            continue
        curve, at = _across(before, after, fold, reach)
        if at is not None and _farthest(curve, before, after) <= MOST_REDRAWN:
            words = _drawn_words(dart, kink, apart, unit)
            return _unfolded(sides, dart, fold, reach, curve, at), words
    return sides, ""


def folded(sides: Sequence[PieceSide], dart: Dart) -> tuple[Closing, float]:
    """Return the fold that brings a dart's legs in line, point on point, and their difference.

    Parameters
    ----------
    sides : sequence of PieceSide
        Of one outline.
    dart : Dart
    """
    there, back = sides[dart.legs[0]], sides[dart.legs[1]]
    near_out, far_out = -end_direction(there.points), -end_direction(back.points[::-1])
    apart = back.length - there.length
    # with the points together, the far end stands off the near one by what its leg is longer
    near = there.points[0] + apart * near_out
    angle = turn_between(far_out, near_out)
    return Closing(near, back.points[-1], near_out, far_out, angle), apart


def _across(
    before: FloatArray, after: FloatArray, fold: Closing, reach: float
) -> tuple[FloatArray, float | None]:
    """Return a smooth curve across the folded mouth, and where it crosses the leg's line."""
    rest = lengths_along(before)[-1] - reach
    start, end = point_at(before, rest), point_at(after, reach)
    ahead = -end_direction(part(before, 0.0, rest)[::-1]), end_direction(part(after, reach, np.inf))
    chord = float(np.linalg.norm(end - start))
    spline = CubicHermiteSpline([0.0, 1.0], [start, end], np.array(ahead) * chord)
    curve = spline(np.linspace(0.0, 1.0, 41))
    leg = fold.near + np.outer([-40.0, 40.0], fold.near_out)
    hits = crossings(curve, leg)[:, 0]
    # a point of the curve that lies on the leg's line is met twice
    return curve, float(hits[0]) if len(hits) and np.ptp(hits) < 0.01 else None


def _farthest(curve: FloatArray, before: FloatArray, after: FloatArray) -> float:
    """Return how far the drawn curve lies off the folded edge, mm."""
    edge = np.vstack([before, after, before[:1]])
    return float(np.abs(signed_distances(curve, edge)).max())


def _unfolded(
    sides: tuple[PieceSide, ...],
    dart: Dart,
    fold: Closing,
    reach: float,
    curve: FloatArray,
    at: float,
) -> tuple[PieceSide, ...]:
    """Return the sides with the drawn curve in place of the edge on both sides of the mouth."""
    before, after = sides[dart.before].points, sides[dart.after].points
    whole = lengths_along(curve)[-1]
    first = np.vstack([part(before, 0.0, lengths_along(before)[-1] - reach)[:-1],
                       part(curve, 0.0, at)])  # fmt: skip
    last = np.vstack([fold.open(part(curve, at, whole)),
                      part(after, reach, lengths_along(after)[-1])[1:]])  # fmt: skip
    out = list(sides)
    there, back = (sides[i].points for i in dart.legs)
    for index, points in (
        (dart.before, first),
        (dart.legs[0], _moved_end(there, first[-1])),
        (dart.legs[1], _moved_end(back[::-1], last[0])[::-1]),
        (dart.after, last),
    ):
        out[index] = replace(sides[index], points=points)
    return tuple(out)


def _moved_end(leg: FloatArray, mouth: FloatArray) -> FloatArray:
    """Return a leg, mouth first, whose mouth end lies elsewhere; its point stays."""
    at = lengths_along(leg)
    moved: FloatArray = leg + (1.0 - at / at[-1])[:, None] * (mouth - leg[0])
    return moved


def _drawn_words(dart: Dart, kink: float, apart: float, unit: Unit) -> str:
    turned = abs(np.rad2deg(kink))
    parts = [f"turned {turned:.0f}°"] if turned > CAP_KINK_DEG else []
    if abs(apart) > LEGS_EQUAL:
        parts.append(f"stepped {format_small(abs(apart), unit, decimals=1)}")
    return f"{dart.name}: the edge {' and '.join(parts)} across it and was drawn smooth"


# -- end plates -------------------------------------------------------------------------------


def trued_base(base: Piece, arm: Sequence[Outlined], unit: Unit = "mm") -> TruedPiece:
    """Return an end plate whose edge is as long as what is sewn to it.

    It is scaled to the girth that they have together; then its two corners slide along the edge
    until each part has the length of its own.

    Parameters
    ----------
    base : Piece
    arm : sequence of Piece or of smoothed pieces
        Smoothed they are a little longer than their chords, and it is these that are sewn.
    unit : {"in", "cm", "mm"}
        Of the words that say what was done.
    """
    have = [side.length for side in base.sides]
    want = [_wanted(side, arm) for side in base.sides]
    scale = sum(want) / sum(have)
    off = max(abs(h - w) for h, w in zip(have, want, strict=True))
    if len(have) != 2 or off < 0.02 or abs(scale - 1.0) > MOST_SCALED:
        return TruedPiece(base)
    loop = scale * np.vstack([base.sides[0].points, base.sides[1].points[1:]])
    slide = 0.5 * (want[0] - scale * have[0])
    girth = scale * sum(have)
    if abs(slide) > 0.25 * min(want):
        return TruedPiece(base)
    turns = np.vstack([loop, loop[1:], loop[1:]])
    first = part(turns, girth - slide, girth + want[0] - slide)
    second = part(turns, girth + want[0] - slide, 2 * girth - slide)
    second[0], second[-1] = first[-1], first[0]
    first, second = _uncrowded(first), _uncrowded(second)
    sides = (replace(base.sides[0], points=first), replace(base.sides[1], points=second))
    lines = {name: scale * points for name, points in base.lines.items()}
    if "mid-height line" in lines:
        lines["mid-height line"] = np.array([first[-1], first[0]])
    notches = tuple(kept_notch(notch, base.sides, sides) for notch in base.notches)
    piece = replace(base, sides=sides, lines=lines, notches=notches)
    change = girth - sum(have)
    if abs(change) < 0.5:
        return TruedPiece(piece)
    longer = "longer" if change > 0 else "shorter"
    return TruedPiece(piece, (
        f"{base.name}: its edge was drawn {format_small(abs(change), unit, decimals=1)} {longer} "
        f"({100 * abs(change) / sum(have):.1f} %), to meet the arm",
    ))  # fmt: skip


def _uncrowded(points: FloatArray) -> FloatArray:
    """Return a polyline without points that lie close to its ends for the length of its chords."""
    at = lengths_along(points)
    least = 0.4 * float(np.median(np.diff(at)))
    keep = (at > least) & (at < at[-1] - least)
    keep[[0, -1]] = True
    kept: FloatArray = points[keep]
    return kept


def _wanted(side: PieceSide, arm: Sequence[Outlined]) -> float:
    """Return the length of what is sewn to a plate's side; ease over the cap is not counted."""
    found = (sum(s.length for s in piece.sides if s.seam == side.seam) for piece in arm)
    mates = [length for length in found if length > 0]
    if len(mates) != 1:
        return side.length
    is_eased = side.seam == "cap seam" and mates[0] - side.length >= SHORTEST_EASE
    return side.length if is_eased else mates[0]
