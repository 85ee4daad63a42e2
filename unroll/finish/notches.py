"""Notches as slits: from the cutting line inwards, never as deep as the allowance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from unroll.finish.darts import Dart, is_cut_out
from unroll.maths.arrays import FloatArray
from unroll.maths.offsets import right_normals
from unroll.maths.polylines import crossings, direction_at, point_at
from unroll.nouns import Notch, NotchMark, StitchingSide

DEEPEST = 5.0  # mm
SHARE = 0.5  # of the allowance at most
SPACING = 6.0  # mm between the slits of a double notch
UNLIKE = 1.0  # mm; legs of a dart that differ by more need a mark between their ends
MATCHED = 0.4  # of a leg, from the dart's opening
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
        normal = right_normals(direction_at(side.points, along)[None])[0]
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
