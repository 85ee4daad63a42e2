"""Darts of a piece: which sides are their legs, how they close, which way they are pressed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import turn_between
from unroll.nouns import StitchingSide
from unroll.nouns.seam import SewnSide, is_dart

WIDEST_FOLDED = 35.0  # mm at the mouth; a wider dart would be trimmed anyway: common practice


@dataclass(frozen=True, eq=False)
class Dart:
    """A dart's legs in outline order, and the seam's sides before and after its mouth.

    Attributes
    ----------
    name : str
    legs : (int, int)
        Side indices: from the mouth to the point, and back.
    before, after : int
        Side indices beside the mouth.
    is_pressed_back : bool
        Folded over the side before the mouth (towards the back of a left cap), else the one after.
    """

    name: str
    legs: tuple[int, int]
    before: int
    after: int
    is_pressed_back: bool


@dataclass(frozen=True, eq=False)
class Closing:
    """The turn that closes a dart: the mouth's far end comes to the near one, lines in line.

    Attributes
    ----------
    near, far : (2,) float
        Ends of the mouth on the side before and the side after, mm.
    near_out, far_out : (2,) float
        Unit directions in which each leg leaves the cloth.
    angle_rad : float
        Turn of the far side.
    """

    near: FloatArray
    far: FloatArray
    near_out: FloatArray
    far_out: FloatArray
    angle_rad: float

    def close(self, points: FloatArray) -> FloatArray:
        """Return points of the far side where they lie once the dart is closed."""
        out: FloatArray = (points - self.far) @ _rotation(self.angle_rad).T + self.near
        return out

    def open(self, points: FloatArray) -> FloatArray:
        """Undo `close`."""
        out: FloatArray = (points - self.near) @ _rotation(self.angle_rad) + self.far
        return out

    def fold(self, points: FloatArray) -> FloatArray:
        """Return points mirrored in the near leg's line: cloth folded under it."""
        off = points - self.near
        along = off @ self.near_out
        out: FloatArray = self.near + 2 * along[..., None] * self.near_out - off
        return out


def find_darts(sides: Sequence[SewnSide]) -> tuple[Dart, ...]:
    """Return the darts of an outline; each is two neighbouring sides of one name."""
    count = len(sides)
    firsts = [
        i
        for i in range(count)
        if is_dart(sides[i].seam)
        and sides[(i + 1) % count].seam == sides[i].seam
        and sides[i - 1].seam != sides[i].seam
    ]
    darts = []
    for first in firsts:
        before, after = (first - 1) % count, (first + 2) % count
        darts.append(
            Dart(
                sides[first].seam,
                (first, (first + 1) % count),
                before,
                after,
                _far_half(sides, first),
            )
        )
    return tuple(darts)


def cut_out_wide_darts(
    sides: Sequence[StitchingSide],
) -> tuple[StitchingSide, ...]:
    """Return the sides with an allowance on dart legs, where a dart is too wide to fold under.

    Such darts are cut out along their legs, at the allowance of the seam that they open into; all
    of a piece's darts are then, so that the maker handles them alike.
    """
    out, darts = list(sides), find_darts(sides)
    if _widest_mouth(sides) > WIDEST_FOLDED:
        for dart in darts:
            for index in dart.legs:
                out[index] = replace(out[index], allowance=sides[dart.before].allowance)
    return tuple(out)


def is_cut_out(sides: Sequence[StitchingSide], dart: Dart) -> bool:
    """Tell whether a dart is cut out along its legs; theirs may be no allowance at all."""
    return sides[dart.legs[0]].allowance > 0 or _widest_mouth(sides) > WIDEST_FOLDED


def _widest_mouth(sides: Sequence[StitchingSide]) -> float:
    legs = [dart.legs for dart in find_darts(sides)]
    mouths = [sides[two].points[-1] - sides[one].points[0] for one, two in legs]
    return max((float(np.linalg.norm(mouth)) for mouth in mouths), default=0.0)


def closing(sides: Sequence[StitchingSide], dart: Dart) -> Closing:
    """Return the turn that closes `dart`, from the direction of its legs at the mouth."""
    there, back = (sides[i] for i in dart.legs)
    near_out, far_out = -there.tangents[0], back.tangents[-1]
    return Closing(
        there.points[0], back.points[-1], near_out, far_out, turn_between(far_out, near_out)
    )


def _far_half(sides: Sequence[SewnSide], first: int) -> bool:
    """Tell whether a dart lies in the second half of its seam, so that it is pressed back.

    Darts are pressed towards the middle of the seam (the shoulder); common practice, no source.
    """
    count = len(sides)
    seam = sides[(first - 1) % count].seam

    def length(step: int) -> float:
        total, index = 0.0, first
        while True:
            index = (index + step) % count
            if index == first or not (is_dart(sides[index].seam) or sides[index].seam == seam):
                return total
            total += sides[index].length if sides[index].seam == seam else 0.0

    return length(-1) >= length(1)


def _rotation(angle: float) -> FloatArray:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
