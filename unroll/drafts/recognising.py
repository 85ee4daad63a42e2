"""Which outline is which piece, and which stretch of it is which seam, told from their shapes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from unroll.drafts.own_corners import (
    Corners,
    Dart,
    at_joints,
    corners_of,
    darts_of,
    horns,
    is_convex_top,
    sides_of,
    without_darts,
    wrist_corners,
)
from unroll.drafts.own_ends import OuterOutline, with_cap_ends
from unroll.drafts.own_lines import drawn_notches, with_levels
from unroll.drafts.own_lying import (
    LONG,
    Taken,
    stitched,
    stood_up,
    to_length,
    upright,
)
from unroll.drafts.own_plates import plate_of
from unroll.drafts.own_tips import with_tips
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMeasures, Make, Piece, mirrored
from unroll.nouns.own import DraftTable, OwnDraft, OwnOutline, Shot

BASES = ("armhole base", "wrist base")
SEAMS = {
    "outer": ("cap seam", "front seam", "outer wrist", "back seam"),
    "inner": ("underarm seam", "back seam", "inner wrist", "front seam"),
}
SLIM = 1.6  # length over width of a long piece at least
LONG_SHARES = (0.6, 1.5)  # of the arm's length
ROUND = 0.8  # 4 pi area / girth² of an end plate at least
PLATE_SHARE = 0.15  # of its girth by which an end plate may be off
REACH_MM, PHOTO_REACH_MM = 3.0, 8.0


@dataclass(frozen=True, eq=False)
class LongPiece:
    """An outer or inner piece with what was read off it: its outline and corners, upright."""

    piece: Piece
    taken: Taken
    lying: FloatArray
    corners: FloatArray
    told: tuple[str, ...]


def recognised(
    outlines: Sequence[OwnOutline],
    measures: ArmMeasures,
    make: Make,
    table: DraftTable,
    *,
    shots: tuple[Shot, ...] = (),
) -> OwnDraft:
    """Return the pieces that outlines are, with what was taken for what.

    Parameters
    ----------
    outlines : sequence of OwnOutline
        Of all files.
    measures : ArmMeasures
        Of the arm that the pieces are for: sizes tell the pieces apart, and end plates that are
        not drawn are made from them.
    make : Make
        The allowance to take off cutting lines.
    table : DraftTable
        What the sheet says; it has the last word.

    Raises
    ------
    UnrollError
        When there is no outer or no inner piece, or their corners cannot be found.
    """
    numbered = [replace(one, number=n) for n, one in enumerate(outlines, start=1)]
    chosen = _chosen(numbered, measures, table)
    is_turned = (table.arm == "right") != table.turned_over
    taken = {
        name: upright(name, stitched(one, make, table), is_turned)
        for name, one in chosen.items()
    }  # fmt: skip
    taken, scaled = to_length(taken, table)
    left = replace(measures, side="left")
    hole, hole_told = plate_of("armhole base", taken.get("armhole base"), left)
    inner = _long_piece(taken["inner"], left, table, None)
    outer = _long_piece(taken["outer"], left, table, (inner.piece, hole))
    marks = {one.piece.name: one.taken.marks for one in (outer, inner)}
    first, second, missing = with_levels(outer.piece, inner.piece, marks, left)
    told = [*scaled, *outer.told, *inner.told, *_levels_told(missing)]
    share = second.seam_length("inner wrist")
    share /= share + first.seam_length("outer wrist")
    wrist, wrist_told = plate_of("wrist base", taken.get("wrist base"), left, share=share)
    pieces = [first, second, hole, wrist]
    told += [hole_told, wrist_told]
    told += _left_out(numbered, chosen)
    pieces[:2] = [drawn_notches(piece, one.taken.notches)
                  for piece, one in zip(pieces[:2], (outer, inner), strict=True)]
    told += _notches_told(pieces)
    if measures.side == "right":
        pieces = [mirrored(piece, "right") for piece in pieces]
    corners = {one.taken.outline.number: one.corners for one in (outer, inner)}
    return OwnDraft(
        tuple(pieces), tuple(told), tuple(_as_told(numbered, outer, inner)), corners, shots
    )


def _as_told(numbered: Sequence[OwnOutline], *long: LongPiece) -> Iterator[OwnOutline]:
    """Yield the outlines as they are shown to the maker: the long ones upright."""
    upright_ones = {one.taken.outline.number: one.lying for one in long}
    for outline in numbered:
        points = upright_ones.get(outline.number)
        none = np.zeros(0, dtype=int)
        yield outline if points is None else replace(outline, points=points, joints=none)


# ---- which outline is which piece


def _chosen(
    outlines: Sequence[OwnOutline], measures: ArmMeasures, table: DraftTable
) -> dict[str, OwnOutline]:
    for name, number in table.pieces.items():
        if not 1 <= number <= len(outlines):
            raise UnrollError(f"[draft] says that the {name} is outline {number}; expected 1 to "
                              f"{len(outlines)}")
    chosen = {name: outlines[number - 1] for name, number in table.pieces.items()}
    free = [one for one in outlines if all(one is not other for other in chosen.values())]
    arm = measures.shoulder_to_elbow + measures.inner_elbow_to_wrist
    low, high = (share * arm for share in LONG_SHARES)
    long = [one for one in free if _is_long(one.points) and low < _size(one.points)[0] < high]
    chosen = _long_ones(long, chosen) | chosen
    for name, girth in zip(BASES, (measures.armhole.girth, measures.wrist_girth), strict=True):
        near = [one for one in free if _is_plate(one.points, girth)]
        if near and name not in chosen:
            # a card insert is smaller; the stitching line of cloth has a cutting line around it
            chosen[name] = min(near, key=lambda o: (o.cutting is None, _off(o.points, girth)))
    missing = [name for name in LONG if name not in chosen]
    if missing:
        raise UnrollError(
            f"no outline looks like the {missing[0]} piece: {len(outlines)} found, {len(long)} "
            f"of them {low:.0f} to {high:.0f} mm long and slim (another scale, or one missing? "
            f"name it in [draft]: {missing[0]} = 1)"
        )
    return chosen


def _long_ones(
    long: Sequence[OwnOutline], chosen: Mapping[str, OwnOutline]
) -> dict[str, OwnOutline]:
    """Return outer and inner piece: of two, the one that ends in a cap is the outer."""
    wanted = [name for name in LONG if name not in chosen]
    if len(long) < len(wanted) or not wanted:
        return {}
    if len(long) > len(wanted):
        numbers = ", ".join(str(one.number) for one in long)
        raise UnrollError(f"{len(long)} outlines are as long as an arm ({numbers}); expected "
                          f"{len(wanted)}: say in [draft] which is which ({wanted[0]} = "
                          f"{long[0].number})")
    if len(wanted) == 1:
        return {wanted[0]: long[0]}
    caps = [_ends_in_cap(one.points, one.is_photo) for one in long]
    if caps[0] == caps[1]:  # then the wider one: the outer has two thirds of the girth
        caps = [_size(one.points)[1] == max(_size(o.points)[1] for o in long) for one in long]
    outer = caps.index(True)
    return {"outer": long[outer], "inner": long[1 - outer]}


def _ends_in_cap(points: FloatArray, is_photo: bool) -> bool:
    upright = stood_up(points)
    darts = darts_of(upright, corners_of(upright, reach=_reach(is_photo)))
    return is_convex_top(without_darts(upright, darts))


def _reach(is_photo: bool) -> float:
    return PHOTO_REACH_MM if is_photo else REACH_MM


def _size(points: FloatArray) -> tuple[float, float]:
    """Return length and width of the narrowest box round an outline, mm."""
    box = shapely.get_coordinates(shapely.MultiPoint(points).minimum_rotated_rectangle)
    sides = sorted(np.linalg.norm(np.diff(box[:3], axis=0), axis=1).tolist())
    return sides[1], sides[0]


def _is_long(points: FloatArray) -> bool:
    length, width = _size(points)
    return length > SLIM * width


def _off(points: FloatArray, girth: float) -> float:
    return abs(polylines.length(np.vstack([points, points[:1]])) / girth - 1.0)


def _is_plate(points: FloatArray, girth: float) -> bool:
    around = polylines.length(np.vstack([points, points[:1]]))
    is_round = 4.0 * np.pi * shapely.Polygon(points).area > ROUND * around**2
    return bool(is_round and _off(points, girth) < PLATE_SHARE)


def _left_out(
    outlines: Sequence[OwnOutline], chosen: Mapping[str, OwnOutline]
) -> tuple[str, ...]:
    used = {one.number for one in chosen.values()}
    left = [str(one.number) for one in outlines if one.number not in used]
    return (f"left out, for the arm is sewn without: outline {', '.join(left)}",) if left else ()


# ---- which stretch is which seam


def _long_piece(
    taken: Taken, measures: ArmMeasures, table: DraftTable, joined: tuple[Piece, Piece] | None
) -> LongPiece:
    """Return an outer or inner piece; the outer's cap ends where its seams walk to."""
    reach = _reach(taken.outline.is_photo)
    if taken.outline.is_photo:
        taken = replace(taken, points=with_tips(taken.points, reach=reach))
    corners = at_joints(corners_of(taken.points, reach=reach), taken.points, taken.joints, reach)
    darts = darts_of(taken.points, corners)
    legs = {k for dart in darts for k in (dart.start, dart.tip, dart.end)}
    listed = sorted((set(corners.at.tolist()) | set(taken.joints.tolist())) - legs)
    lying, places = taken.points, taken.points[listed]
    four, points, darts, how = _four_corners(taken, corners, darts, listed, table, joined)
    taken = replace(taken, points=points)
    if not taken.has_grain:
        taken = taken.moved(_levelling(points[four[1]], points[four[0]]), np.zeros(2))
    middle = 0.5 * (taken.points[four[0]] + taken.points[four[1]])
    taken = taken.moved(np.eye(2), np.array([0.0, -0.5 * measures.armhole.height]) - middle)
    sides = sides_of(taken.points, four, darts, SEAMS[taken.name], darts_from_front=False)
    piece = Piece(taken.name, "own", "left", sides)
    piece = replace(piece, lines={"grain": _grain_line(piece)})
    count = f", {len(darts)} {'dart' if len(darts) == 1 else 'darts'}" if darts else ""
    line = "its allowance taken off" if taken.outline.cutting else "its line taken as stitched"
    told = (f"{taken.name}: {taken.called}{count}, {line}", *how)
    return LongPiece(piece, taken, lying, places, told)


def _four_corners(
    taken: Taken, corners: Corners, darts: tuple[Dart, ...], listed: list[int],
    table: DraftTable, joined: tuple[Piece, Piece] | None,
) -> tuple[tuple[int, int, int, int], FloatArray, tuple[Dart, ...], tuple[str, ...]]:
    """Return where the four sides begin (top right, top left, wrist left and right).

    With them the outline, which may have got points, its darts, and what is to be told. An outer
    is joined to the inner and the armhole's base.
    """
    points, name = taken.points, taken.name
    if name in table.corners:
        return _named_corners(taken, listed, table), points, darts, ()
    what = f"the {name}, {taken.called}"
    low_left, low_right = wrist_corners(points, corners, what=what)
    if joined is None:
        left, right = horns(points, corners, what=what)
        return (right, left, low_left, low_right), points, darts, ()
    wrist = np.array([low_left, low_right])
    found, how = with_cap_ends(
        OuterOutline(points, corners, taken.joints, darts, wrist), *joined
    )
    (front, back), (left, right) = found.ends.tolist(), found.wrist.tolist()
    return (back, front, left, right), found.points, found.darts, how


def _named_corners(
    taken: Taken, listed: list[int], table: DraftTable
) -> tuple[int, int, int, int]:
    numbers = table.corners[taken.name]
    if len(set(numbers)) != 4 or not all(1 <= n <= len(listed) for n in numbers):
        raise UnrollError(f"[draft] names the corners {list(numbers)} of the {taken.name}; "
                          f"expected four of 1 to {len(listed)}")
    at = np.array([listed[n - 1] for n in numbers])
    at = at[np.argsort(taken.points[at, 1])]
    low, high = (pair[np.argsort(taken.points[pair, 0])] for pair in (at[:2], at[2:]))
    return int(high[1]), int(high[0]), int(low[0]), int(low[1])


def _levelling(left: FloatArray, right: FloatArray) -> FloatArray:
    """Return the turn that brings the line between two points level."""
    way = (right - left) / np.linalg.norm(right - left)
    return np.array([[way[0], way[1]], [-way[1], way[0]]])


def _grain_line(piece: Piece) -> FloatArray:
    """Return an upright line down the middle of a piece, within it."""
    low, high = piece.outline.min(axis=0), piece.outline.max(axis=0)
    ruler = shapely.LineString([(0.0, low[1]), (0.0, high[1])])
    parts = shapely.get_parts(ruler.intersection(shapely.Polygon(piece.outline)))
    longest = max(parts, key=lambda part: part.length)
    top = float(shapely.get_coordinates(longest)[:, 1].max())
    return np.array([[0.0, top], [0.0, top - 0.55 * longest.length]])


def _notches_told(pieces: Sequence[Piece]) -> list[str]:
    counts = [f"{len(p.notches)} on the {p.name}" for p in pieces if p.name in SEAMS and p.notches]
    return [f"notches drawn: {', '.join(counts)}; those with a mate on the other piece, near their "
            "usual place, are taken, the rest are placed by walking"] if counts else []


def _levels_told(missing: Sequence[str]) -> tuple[str, ...]:
    if not missing:
        return ()
    return (f"not drawn, placed by the measures and by walking: {', '.join(missing)}",)
