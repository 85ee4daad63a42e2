"""From drawn lines to the outlines of paper pieces: lines closed, frames and squares set aside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from unroll.drafts.own_nicks import without_nicks
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.polylines import crosses_itself, signed_area
from unroll.nouns.own import DrawnLine, OwnOutline

LEAST_MM = 25.0  # across; smaller loops are letters and marks
SAME_SHARE, SAME_MM = 0.002, 0.5  # two loops that are one outline drawn twice
WITHIN_SHARE = 0.5  # of a cutting line's area that its stitching line holds at least
CLOSELY_MM = 0.02  # what rounding leaves between ends that meet
BESIDE_MM = 12.0  # outside an outline; notches are drawn there
NOTCH_MM = 1.5, 16.0  # size of a drawn notch
TOUCHES_MM = 1.0  # a notch begins so near to its line
HAIR_MM2 = 1.0  # of area that lies double where an outline crosses itself by rounding
MOST_LOOPS = 400


@dataclass(frozen=True, eq=False)
class Loop:
    """A closed line: points (k, 2), the first not repeated, and where drawn lines meet in it."""

    points: FloatArray
    joints: IntArray
    gap: float = 0.0

    @property
    def polygon(self) -> shapely.Polygon:
        """The area within."""
        return shapely.Polygon(self.points)


@dataclass(frozen=True, eq=False)
class Found:
    """What the lines of one drawing come to.

    Attributes
    ----------
    outlines : tuple of OwnOutline
    squares : tuple of float
        Sides of the squares among them, mm.
    gap : float
        Widest gap that was closed, mm.
    """

    outlines: tuple[OwnOutline, ...]
    squares: tuple[float, ...]
    gap: float


def outlines_of(lines: Sequence[DrawnLine], *, file: str, closes_within: float) -> Found:
    """Return the outlines of the pieces that lines draw.

    Parameters
    ----------
    lines : sequence of DrawnLine
    file : str
    closes_within : float
        How far the ends of two lines may lie apart and still meet, mm.

    Raises
    ------
    UnrollError
        When no line is closed, or there are too many. The text goes on after the file's name.

    Notes
    -----
    Closed lines first; then open ones of one style whose ends meet two by two; what then is left
    is taken together and the outermost way round it is followed. Of two outlines one within the
    other, the inner one is the stitching line and the outer one the cutting line.
    """
    loops = list(_loops(lines, closes_within))
    if len(loops) > MOST_LOOPS:
        raise UnrollError(f"has {len(loops)} closed lines; expected at most {MOST_LOOPS} (a whole "
                          "page of drawings? keep the pieces alone)")
    corners = [_square_corners(loop) for loop in loops]
    squares = tuple(side for box in corners if box is not None for side in [_side(box)] if side)
    bare = [loop for loop, box in zip(loops, corners, strict=True) if box is None]
    pieces = list(_nested(_once_each(bare)))
    if not pieces:
        gap = _least_gap(lines)
        why = f" (the nearest to close is open by {gap:.1f} mm)" if gap < np.inf else ""
        raise UnrollError("has no closed outline of a piece; expected lines that close within "
                          f"{closes_within:g} mm{why}")
    outlines = tuple(_outline(stitch, around, lines, file) for stitch, around in pieces)
    return Found(outlines, squares, max(loop.gap for loop, _ in pieces))


def _loops(lines: Sequence[DrawnLine], within: float) -> Iterator[Loop]:
    left: list[DrawnLine] = []
    for line in lines:
        gap = float(np.linalg.norm(line.points[0] - line.points[-1]))
        if len(line.points) > 3 and gap <= within and _is_large(line.points):
            yield _loop(line.points, np.zeros(0, dtype=int), gap)
        elif len(line.points) > 1 and np.ptp(line.points, axis=0).max() > 1e-3:
            left.append(line)
    # ends that meet closely first: a line across may end within a millimetre of a corner
    for tolerance in (min(CLOSELY_MM, within), within):
        found = list(_of_open_lines(left, tolerance))
        yield from found
        taken = shapely.union_all([loop.polygon.buffer(BESIDE_MM) for loop in found])
        left = [line for line in left if not taken.intersects(shapely.LineString(line.points))]


def _of_open_lines(lines: Sequence[DrawnLine], within: float) -> Iterator[Loop]:
    left: list[FloatArray] = []
    styles = dict.fromkeys(line.style for line in lines)
    for style in styles:
        found, rest = _chained([line.points for line in lines if line.style == style], within)
        yield from found
        left += rest
    yield from _outermost(left, within)


def _is_large(points: FloatArray) -> bool:
    return bool(np.ptp(points, axis=0).max() >= LEAST_MM)


def _loop(points: FloatArray, joints: IntArray, gap: float) -> Loop:
    """Return a loop from a closed run of points, anticlockwise, none of them twice in a row."""
    keep = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > 1e-6
    if gap > 0 and len(points) > 1 and not keep[0]:
        keep[0] = True
    at = np.cumsum(keep) - 1
    kept, marks = points[keep], at[np.asarray(joints, dtype=int)]
    if len(kept) > 1 and np.linalg.norm(kept[0] - kept[-1]) <= max(gap, 1e-6):
        kept = kept[:-1]
    marks = np.unique(marks % len(kept)) if len(kept) else marks
    if len(kept) > 2 and signed_area(kept) < 0:
        kept, marks = kept[::-1], np.sort(len(kept) - 1 - marks)
    return Loop(kept, marks, gap)


def _chained(
    lines: list[FloatArray], within: float
) -> tuple[list[Loop], list[FloatArray]]:
    """Return the loops of lines that meet two by two, and the lines that are in none."""
    nodes = _nodes(np.concatenate([[line[0], line[-1]] for line in lines]), within)
    ends = nodes.reshape(-1, 2)
    at: dict[int, list[int]] = {}
    for index, pair in enumerate(ends):
        for node in pair:
            at.setdefault(int(node), []).append(index)
    free = {i for i, pair in enumerate(ends) if all(len(at[int(n)]) == 2 for n in pair)}
    loops, used = [], set[int]()
    for first in range(len(lines)):
        way = _way_round(first, ends, at, free - used) if first in free - used else []
        if way:
            used |= {index for index, _ in way}
            loops.append(_joined(way, lines))
    large = [loop for loop in loops if len(loop.points) > 2 and _is_large(loop.points)]
    return large, [line for index, line in enumerate(lines) if index not in used]


def _nodes(points: FloatArray, within: float) -> IntArray:
    pairs = cKDTree(points).query_pairs(within, output_type="ndarray")
    count = len(points)
    link = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(link, directed=False)[1])


def _way_round(
    first: int, ends: IntArray, at: dict[int, list[int]], free: set[int]
) -> list[tuple[int, bool]]:
    """Return lines end to end from one back to itself: index, and whether it runs backwards."""
    way, here = [(first, False)], int(ends[first][1])
    while here != ends[first][0]:
        index = next((i for i in at[here] if i != way[-1][0]), -1)
        if index not in free or index == first:
            return []
        backwards = int(ends[index][0]) != here
        way.append((index, backwards))
        here = int(ends[index][0 if backwards else 1])
    return way if len(way) > 1 else []


def _joined(way: list[tuple[int, bool]], lines: list[FloatArray]) -> Loop:
    runs = [lines[index][::-1] if backwards else lines[index] for index, backwards in way]
    after = runs[1:] + runs[:1]
    gaps = [float(np.linalg.norm(a[-1] - b[0])) for a, b in zip(runs, after, strict=True)]
    points, joints, count = [], [], 0
    for run in runs:
        joints.append(count)
        points.append(run[:-1])
        count += len(run) - 1
    return _loop(np.concatenate(points), np.array(joints), max(gaps))


def _outermost(lines: list[FloatArray], within: float) -> Iterator[Loop]:
    """Yield the outermost ways round lines that meet and cross as they like.

    Lines that meet others at both ends come first: one that is only drawn across a piece would
    close the mouth of a dart.
    """
    if not lines:
        return
    ends = np.concatenate([[line[0], line[-1]] for line in lines])
    nodes = _nodes(ends, within)
    middles = np.array([ends[nodes == node].mean(axis=0) for node in range(nodes.max() + 1)])
    gap = float(np.linalg.norm(ends - middles[nodes], axis=1).max())
    # ends that meet to within rounding meet exactly, so that the way round is closed
    runs = [
        np.vstack([middles[nodes[2 * i]], line[1:-1], middles[nodes[2 * i + 1]]])
        for i, line in enumerate(lines)
    ]
    pairs = nodes.reshape(-1, 2)
    usual = _meeting(pairs, [i for i, run in enumerate(runs) if not _is_chord(run, pairs, i)])
    usual = usual or _meeting(pairs, range(len(runs)))
    first = _ways_round([runs[i] for i in usual])
    rest = [ring for ring in _ways_round(runs) if not any(map(ring.intersects, first))]
    tree = cKDTree(middles[np.unique(pairs[usual])] if usual else middles)
    for ring in (*first, *rest):
        points = shapely.get_coordinates(ring.exterior)
        yield _loop(points, np.flatnonzero(tree.query(points[:-1])[0] < 1e-3), gap)


def _is_chord(run: FloatArray, ends: IntArray, index: int) -> bool:
    """Tell a straight line between two places where other lines meet without it."""
    reach = np.linalg.norm(run - run[0], axis=1).max()
    is_straight = float(np.linalg.norm(run[-1] - run[0])) > 0.99999 * reach and (
        shapely.LineString(run).length < 1.00001 * reach
    )
    others = np.bincount(np.delete(ends, index, axis=0).ravel(), minlength=int(ends.max()) + 1)
    return is_straight and bool(others[ends[index]].min() > 1)


def _meeting(ends: IntArray, among: Sequence[int]) -> list[int]:
    """Return the lines that meet others at both ends, and these again."""
    kept = list(among)
    while True:
        count = np.bincount(ends[kept].ravel(), minlength=int(ends.max()) + 1)
        left = [index for index in kept if count[ends[index]].min() > 1]
        if len(left) == len(kept):
            return kept
        kept = left


def _ways_round(runs: list[FloatArray]) -> list[shapely.Polygon]:
    if not runs:
        return []
    lines = shapely.union_all([shapely.LineString(run) for run in runs])
    faces = shapely.get_parts(shapely.polygonize([lines]))
    parts = shapely.get_parts(shapely.union_all(faces))
    return [part for part in parts if _is_large(shapely.get_coordinates(part))]


def _square_corners(loop: Loop) -> FloatArray | None:
    """Return the corners of a rectangle, (4, 2); None for any other loop."""
    corners = shapely.get_coordinates(loop.polygon.simplify(0.05).exterior)[:-1]
    if len(corners) == 5:  # the start may lie on a side
        corners = shapely.get_coordinates(
            shapely.Polygon(np.roll(corners, 1, axis=0)).simplify(0.05).exterior
        )[:-1]
    if len(corners) != 4:
        return None
    ways = np.roll(corners, -1, axis=0) - corners
    ways = ways / np.linalg.norm(ways, axis=1)[:, None]
    across = np.abs(np.sum(ways * np.roll(ways, -1, axis=0), axis=1))
    return corners if across.max() < 0.02 else None


def _side(corners: FloatArray) -> float | None:
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    return float(sides.mean()) if np.ptp(sides) < 0.01 * sides.mean() else None


def _once_each(loops: Sequence[Loop]) -> list[Loop]:
    """Return every loop once, where one is drawn twice the one with more joints; largest first."""
    kept: list[Loop] = []
    ranked = sorted(loops, key=lambda loop: (-len(loop.joints), loop.gap))
    for loop in ranked:
        area = loop.polygon.area
        if area < LEAST_MM**2 / 4 or any(_is_same(loop, other) for other in kept):
            continue
        kept.append(loop)
    return sorted(kept, key=lambda loop: -loop.polygon.area)


def _is_same(loop: Loop, other: Loop) -> bool:
    one, two = loop.polygon, other.polygon
    if abs(one.area - two.area) > SAME_SHARE * two.area:
        return False
    return float(shapely.hausdorff_distance(one.exterior, two.exterior)) < SAME_MM


def _nested(loops: Sequence[Loop]) -> Iterator[tuple[Loop, Loop | None]]:
    """Yield each piece's stitching line with the cutting line around it; largest first."""
    polygons = [loop.polygon.buffer(0) for loop in loops]
    around = []
    for index, polygon in enumerate(polygons):
        inside = polygon.representative_point()
        holders = [k for k in range(index) if polygons[k].contains(inside)]
        around.append(holders[-1] if holders else -1)
    for index, loop in enumerate(loops):
        within = [k for k, holder in enumerate(around) if holder == index]
        large = [k for k in within if polygons[k].area > WITHIN_SHARE * polygons[index].area]
        holds_pieces = len([k for k in within if polygons[k].length > 200.0]) > 1
        outside = around[index]
        is_top = outside < 0 or _is_frame(outside, around, polygons)
        if is_top and not holds_pieces:
            yield (loops[large[0]], loop) if large else (loop, None)


def _is_frame(index: int, around: list[int], polygons: Sequence[shapely.Polygon]) -> bool:
    within = [k for k, holder in enumerate(around) if holder == index]
    return around[index] < 0 and len([k for k in within if polygons[k].length > 200.0]) > 1


def _outline(
    loop: Loop, around: Loop | None, lines: Sequence[DrawnLine], file: str
) -> OwnOutline:
    if crosses_itself(loop.points) and not _by_a_hair(loop):
        where = shapely.is_valid_reason(loop.polygon).partition("[")[2].rstrip("]")
        at = [f"{float(x):.0f} mm" for x in where.split()[:2]]
        place = "{} across, {} up".format(*at) if len(at) == 2 else "a place that is not told"
        raise UnrollError(f"has an outline that crosses itself near {place}; expected one that "
                          "does not")
    area = (around or loop).polygon.buffer(BESIDE_MM)
    shapely.prepare(area)
    edge = shapely.LinearRing(loop.points)
    marks = tuple(
        line.points for line in lines
        if len(line.points) > 1 and area.contains(shapely.LineString(line.points))
        and not _is_edge(line.points, edge, around)
    )
    points, joints, nicks = without_nicks(loop.points, loop.joints)
    loop = _with_ends(Loop(points, joints, loop.gap), marks)
    edges = (loop, around) if around else (loop,)
    if around:
        nicks = np.vstack([nicks, without_nicks(around.points, around.joints)[2]])
    return OwnOutline(
        file, loop.points, loop.joints, marks, None if around is None else False,
        notches=np.vstack([_notches(marks, edges), nicks]),
    )  # fmt: skip


def _notches(marks: Sequence[FloatArray], edges: Sequence[Loop]) -> FloatArray:
    """Return the middles of small marks that touch the stitching or the cutting line, (n, 2).

    A straight one that runs along the line is a dash of it.
    """
    small = [m for m in marks if NOTCH_MM[0] <= np.ptp(m, axis=0).max() <= NOTCH_MM[1]]
    touching = np.zeros(len(small), dtype=bool)
    for edge in (shapely.LinearRing(loop.points) for loop in edges):
        shapely.prepare(edge)
        touching |= shapely.dwithin(edge, [shapely.LineString(m) for m in small], TOUCHES_MM)
    found = [mark for mark, is_at in zip(small, touching, strict=True)
             if is_at and not _is_dash(mark, edges[0])]  # fmt: skip
    return np.array([0.5 * (m.min(axis=0) + m.max(axis=0)) for m in found]).reshape(-1, 2)


def _is_dash(mark: FloatArray, edge: Loop) -> bool:
    way = mark[-1] - mark[0]
    reach = float(np.linalg.norm(way))
    if shapely.LineString(mark).length > 1.01 * reach:
        return False
    ring = shapely.LinearRing(edge.points)
    at = ring.project(shapely.Point(mark.mean(axis=0)))
    beside = ring.interpolate([at - 1.0, at + 1.0]) if 1.0 < at < ring.length - 1.0 else None
    if beside is None:
        return False
    along = np.diff(shapely.get_coordinates(beside), axis=0)[0]
    return bool(abs(way @ along) > 0.7 * reach * np.linalg.norm(along))


def _by_a_hair(loop: Loop) -> bool:
    """Tell whether an outline crosses itself only where two lines run into one tip."""
    mended = max(shapely.get_parts(loop.polygon.buffer(0)), key=lambda part: part.area)
    return bool(abs(mended.area - signed_area(loop.points)) < HAIR_MM2)


def _is_edge(points: FloatArray, edge: shapely.LinearRing, around: Loop | None) -> bool:
    """Tell whether a line is part of the outline, or of the cutting line around it."""
    line = shapely.LineString(points)
    some = line.interpolate(np.linspace(0.0, 1.0, 9), normalized=True)
    if float(shapely.distance(some, edge).max()) < 0.1:
        return True
    if around is None:
        return False
    return float(shapely.distance(some, shapely.LinearRing(around.points)).max()) < 0.1


def _with_ends(loop: Loop, marks: Sequence[FloatArray]) -> Loop:
    """Return a loop without joints with one where each line straight across it ends."""
    if len(loop.joints):
        return loop
    edge = shapely.LinearRing(loop.points)
    places = [
        end for mark in marks for end in (mark[0], mark[-1])
        if is_across(mark, loop.points) and edge.distance(shapely.Point(end)) < SAME_MM
    ]
    joints = set(loop.joints.tolist())
    for place in places:
        joints.add(int(np.argmin(np.linalg.norm(loop.points - place, axis=1))))
    return replace(loop, joints=np.array(sorted(joints), dtype=int))


def is_across(mark: FloatArray, outline: FloatArray) -> bool:
    """Tell whether a line runs from one edge of an outline to another."""
    edge = shapely.LinearRing(outline)
    ends = shapely.points(mark[[0, -1]])
    chord = float(np.linalg.norm(mark[-1] - mark[0]))
    if chord < LEAST_MM or float(shapely.distance(ends, edge).max()) > 1.0:
        return False
    middle = shapely.LineString(mark).interpolate(0.5, normalized=True)
    return float(edge.distance(middle)) > 0.1 * chord


def _least_gap(lines: Sequence[DrawnLine]) -> float:
    gaps = [
        float(np.linalg.norm(line.points[0] - line.points[-1])) for line in lines
        if len(line.points) > 3 and _is_large(line.points)
    ]
    return min(gaps, default=np.inf)


def counted(outlines: Sequence[object]) -> str:
    """Return how many outlines there are, in words.

    Examples
    --------
    >>> counted([1]), counted([1, 2])
    ('1 outline', '2 outlines')
    """
    return f"{len(outlines)} outline{'' if len(outlines) == 1 else 's'}"
