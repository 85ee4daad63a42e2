"""The least change of a maker's own draft that brings the filled arm nearest."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from unroll.correct.draft_bench import (
    LENGTH,
    WEDGE,
    DraftBench,
    DraftNumber,
    Manner,
    cap_surplus,
    wanted_arm,
)
from unroll.correct.draft_loop import helps, nearest
from unroll.correct.on_bench import Tell, silent
from unroll.drafts.comparing import cap_height
from unroll.drafts.taping import GIRTHS, tape_draft
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import lengths_along, part
from unroll.nouns import ArmMeasures, Cloth, Piece, PieceSide, mirrored, verdicts_of
from unroll.nouns.corrected import DraftChange, DraftCorrection
from unroll.nouns.seam import is_dart
from unroll.units import Unit

CAP, INTAKE = "cap_height", "dart intake"
LINES = ("upper arm line", "elbow line", "forearm line")
LONG = ("outer", "inner")
NUMBERS = (
    DraftNumber(CAP, 4.0, 10.0, 40.0),
    *(DraftNumber(name, 3.0, 6.0, 25.0) for name in GIRTHS),
    DraftNumber(LENGTH, 4.0, 16.0, 48.0),
    DraftNumber(WEDGE, 3.0, 6.0, 20.0),
)
DARTED = DraftNumber(INTAKE, 4.0, 10.0, 40.0)  # of all darts together
Shift = Callable[[FloatArray], FloatArray]


def correct_own(
    pieces: tuple[Piece, ...],
    measures: ArmMeasures,
    cloth: Cloth,
    *,
    spacing: float = 10.0,
    tell: Tell = silent,
    unit: Unit = "mm",
) -> DraftCorrection:
    """Return a maker's own draft with the least change that brings the filled arm nearest.

    Parameters
    ----------
    pieces : tuple of Piece
        "outer", "inner", "armhole base" and "wrist base", with their level lines.
    spacing : float
        Edge length of the sewn mesh, mm.
    tell : callable, optional
        Is told the progress.
    unit : {"in", "cm", "mm"}
        Of what is told to help.

    Raises
    ------
    UnrollError
        When the draft cannot be sewn as it is.

    Notes
    -----
    The outline stays hers: the cap is raised or lowered with its darts as they are, the darts take
    in more or less, three widths, the length to the elbow and the elbow's wedge change, each
    fading out to where the next one is measured. The numbers are sought as those of a draft by the
    flat rules, see `correct_draft`.
    """
    left = tuple(p if p.arm == "left" else mirrored(p, "left") for p in pieces)
    has_darts = any(is_dart(side.seam) for piece in left for side in piece.sides)
    manner: Manner = "darts" if has_darts else "ease"
    numbers = (*NUMBERS, DARTED) if has_darts else NUMBERS
    bench = DraftBench(
        lambda changes: changed(left, changes), cloth, manner, spacing, wanted_arm(measures),
        numbers, cap_surplus(left),
    )  # fmt: skip
    first, best = nearest(bench, tell=tell)
    now = changed(left, bench.named(best.changes))
    found = verdicts_of(best.fit)
    is_short = not all(verdict.is_met for verdict in found)
    sided = now if measures.side == "left" else tuple(mirrored(p, "right") for p in now)
    return DraftCorrection(
        manner="own", pieces=sided, changes=_told(left, now, measures),
        before=first.fit, after=best.fit, uncorrected=pieces, wanted=bench.wanted,
        sewn_before=first.sewn, sewn_after=best.sewn, surplus=(first.surplus, best.surplus),
        verdicts=found,
        helps=helps(measures, cloth, manner, best.surplus, unit) if is_short else (),
    )  # fmt: skip


def changed(pieces: tuple[Piece, ...], changes: Mapping[str, float]) -> tuple[Piece, ...]:
    """Return the left arm's pieces with changes of their numbers, by name, mm.

    Raises
    ------
    UnrollError
        When a change leaves no cap seam between two darts.
    """
    return tuple(
        _changed(piece, changes) if piece.name in LONG else piece for piece in pieces
    )


@dataclass(frozen=True)
class _Levels:
    """Heights of a long piece's levels, mm: armhole corners, upper arm, elbow, forearm, wrist."""

    heights: tuple[float, ...]

    def hat(self, index: int) -> Callable[[FloatArray], FloatArray]:
        """Return what is 1 at a level, and 0 at its neighbours and beyond."""
        high, here, low = self.heights[index - 1 : index + 2]
        return lambda y: np.interp(-y, [-high, -here, -low], [0.0, 1.0, 0.0])

    def below(self) -> Callable[[FloatArray], FloatArray]:
        """Return what is 0 above the upper arm and 1 below the elbow."""
        _, upper, elbow, *_ = self.heights
        return lambda y: np.interp(-y, [-upper, -elbow], [0.0, 1.0])


def _levels(piece: Piece) -> _Levels:
    first = piece.sides[0].points[0]
    lines = [float(piece.lines[name][:, 1].mean()) for name in LINES]
    wrist = next(side.points for side in piece.sides if "wrist" in side.seam)
    return _Levels((float(first[1]), *lines, float(wrist[:, 1].mean())))


def _changed(piece: Piece, changes: Mapping[str, float]) -> Piece:
    levels = _levels(piece)
    piece = _taken_in(piece, changes.get(INTAKE, 0.0)) if piece.name == "outer" else piece
    piece = _raised(piece, changes.get(CAP, 0.0)) if piece.name == "outer" else piece

    def move(points: FloatArray) -> FloatArray:
        x, y = points.T
        out = np.zeros_like(points)
        for index, name in enumerate(GIRTHS, start=1):
            side = _side_of(piece, points)
            out[:, 0] += 0.25 * changes.get(name, 0.0) * side * levels.hat(index)(y)
        out[:, 1] -= changes.get(LENGTH, 0.0) * levels.below()(y)
        return out + _wedged(piece, points, changes.get(WEDGE, 0.0), levels)

    return _moved(piece, move)


def _side_of(piece: Piece, points: FloatArray) -> FloatArray:
    """Return how far points lie from the middle of a piece towards its edges: −1 left, 1 right."""
    sides = {side.seam: side.points for side in piece.sides}
    ends = []
    for seam in ("front seam", "back seam"):
        down = sides[seam][np.argsort(-sides[seam][:, 1])]
        ends.append(np.interp(-points[:, 1], -down[:, 1], down[:, 0]))
    left, right = np.minimum(*ends), np.maximum(*ends)
    half = np.maximum(0.5 * (right - left), 1.0)
    return np.asarray(np.clip((points[:, 0] - 0.5 * (left + right)) / half, -1.0, 1.0))


def _wedged(
    piece: Piece, points: FloatArray, by: float, levels: _Levels
) -> FloatArray:
    """Return the shift of points by a wedge at the elbow: the back longer, the front as it is."""
    line = piece.lines["elbow line"]
    is_front_left = piece.name == "outer"
    line = line[np.argsort(line[:, 0])]
    front, back = (line[0], line[-1]) if is_front_left else (line[-1], line[0])
    width = float(np.linalg.norm(back - front))
    # the back lies to the right of the outer's front: it sinks when the piece turns clockwise
    angle = (-by if is_front_left else by) / width * levels.below()(points[:, 1])
    off = points - front
    turned = np.stack([
        np.cos(angle) * off[:, 0] - np.sin(angle) * off[:, 1],
        np.sin(angle) * off[:, 0] + np.cos(angle) * off[:, 1],
    ], axis=1)  # fmt: skip
    return np.asarray(turned - off)


def _moved(piece: Piece, shift: Shift) -> Piece:
    sides = tuple(PieceSide(s.seam, s.points + shift(s.points)) for s in piece.sides)
    lines = {name: line + shift(line) for name, line in piece.lines.items() if name != "grain"}
    return replace(piece, sides=sides, lines={**piece.lines, **lines})


def _raised(piece: Piece, by: float) -> Piece:
    """Return an outer piece with its cap higher: darts move as they are, what is beside stretches.

    A cap without darts is stretched upwards from its two ends.
    """
    if by == 0.0:
        return piece
    caps = [i for i, side in enumerate(piece.sides) if side.seam == "cap seam"]
    first, last = caps[0], caps[-1]
    sides = []
    for index, side in enumerate(piece.sides):
        share = np.zeros(len(side.points))
        along = lengths_along(side.points) / max(side.length, 1e-9)
        if first == last and index == first:
            y = side.points[:, 1]
            low, high = min(y[0], y[-1]), y.max()
            share = np.clip((y - low) / max(high - low, 1e-9), 0.0, 1.0)
        elif index == first:
            share = along
        elif index == last:
            share = 1.0 - along
        elif first < index < last:
            share = np.ones(len(side.points))
        sides.append(PieceSide(side.seam, side.points + np.outer(share, [0.0, by])))
    return replace(piece, sides=tuple(sides))


def _taken_in(piece: Piece, by: float) -> Piece:
    """Return an outer piece whose darts take in more, each alike: its legs part at the cap seam."""
    sides = list(piece.sides)
    tips = [i for i, side in enumerate(sides[:-1])
            if is_dart(side.seam) and sides[i + 1].seam == side.seam]  # fmt: skip
    if not tips or by == 0.0:
        return piece
    each = 0.5 * by / len(tips)
    for index in tips:
        before, there, back, after = sides[index - 1 : index + 3]
        sides[index - 1] = _shortened(before, each)
        sides[index + 2] = _reversed(_shortened(_reversed(after), each))
        mouth = sides[index - 1].points[-1], sides[index + 2].points[0]
        sides[index], sides[index + 1] = _legs(there, back, *mouth)
    return replace(piece, sides=tuple(sides))


def _legs(
    there: PieceSide, back: PieceSide, start: FloatArray, end: FloatArray
) -> tuple[PieceSide, PieceSide]:
    """Return a dart's legs from another mouth, as much unlike in length as they were.

    The point moves along the mouth, by what keeps the legs so.
    """
    along = (end - start) / max(float(np.linalg.norm(end - start)), 1e-9)
    unlike, tip = there.length - back.length, there.points[-1]

    def swung(by: float) -> tuple[PieceSide, PieceSide]:
        moved = tip + by * along
        other = _reversed(_swung(_reversed(back), end, moved))
        return _swung(there, start, moved), other

    def off(by: float) -> float:
        one, other = swung(by)
        return one.length - other.length - unlike

    by, step = 0.0, 1.0
    for _ in range(6):
        slope = (off(by + step) - off(by)) / step
        by -= off(by) / slope if abs(slope) > 1e-6 else 0.0
    return swung(float(by))


def _shortened(side: PieceSide, by: float) -> PieceSide:
    """Return a side that ends sooner, or that runs straight on, by so much."""
    if by >= 0.9 * side.length:
        raise UnrollError("the darts leave no cap seam between them; expected room for both")
    if by >= 0:
        return PieceSide(side.seam, part(side.points, 0.0, side.length - by))
    way = side.points[-1] - side.points[-2]
    return PieceSide(
        side.seam, np.vstack([side.points, side.points[-1] - by * way / np.linalg.norm(way)])
    )


def _reversed(side: PieceSide) -> PieceSide:
    return PieceSide(side.seam, side.points[::-1])


def _swung(leg: PieceSide, start: FloatArray, tip: FloatArray) -> PieceSide:
    """Return a dart's leg from another start to another point, turned and stretched to fit."""
    old, new = leg.points[0] - leg.points[-1], start - tip
    scale = np.array([new @ old, old[0] * new[1] - old[1] * new[0]]) / (old @ old)
    turn = np.array([[scale[0], -scale[1]], [scale[1], scale[0]]])
    return PieceSide(leg.seam, (leg.points - leg.points[-1]) @ turn.T + tip)


def _told(
    before: tuple[Piece, ...], after: tuple[Piece, ...], measures: ArmMeasures
) -> tuple[DraftChange, ...]:
    """Return each number as it was on the draft, and as it is to be."""
    was, now = _numbers(before, measures), _numbers(after, measures)
    return tuple(DraftChange(name, was[name], now[name]) for name in was)


def _numbers(pieces: tuple[Piece, ...], measures: ArmMeasures) -> dict[str, float]:
    outer = next(piece for piece in pieces if piece.name == "outer")
    taped = {row.name: row.got_mm for row in tape_draft(pieces, measures)}
    names = (*GIRTHS, "shoulder_to_elbow", "shoulder_to_inner_elbow")
    intakes = {
        f"{one.seam} intake": float(np.linalg.norm(other.points[-1] - one.points[0]))
        for one, other in zip(outer.sides, outer.sides[1:], strict=False)
        if is_dart(one.seam) and one.seam == other.seam
    }
    numbers = {CAP: cap_height(outer), **dict(sorted(intakes.items()))}
    numbers |= {name: taped[name] for name in names}
    wedge = taped["shoulder_to_elbow"] - taped["shoulder_to_inner_elbow"]
    return {**numbers, "elbow_wedge": wedge}
