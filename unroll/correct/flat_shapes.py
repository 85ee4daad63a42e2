"""The pieces' flat points, and how they are sewn to each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import ArmMesh, Flattening, Panel

RINGS = 8  # beside a dart's point, watched lest the legs cross
LEAST_OPEN_MM = 0.05


@dataclass(frozen=True, eq=False)
class FlatShapes:
    """Where the pieces' points lie, and which of their edges are sewn to what.

    Attributes
    ----------
    flattenings : tuple of Flattening
        As they were laid flat at first.
    points : (k, 2) float
        All their points, one panel after the other, mm.
    corners : (m, 3) int
        Flat point of each corner of the arm's faces; −1 for faces of the ends.
    pairs : (p, 4) int
        Edges that are sewn to each other, two points each: side seams, legs of darts.
    alone : (j, 2) int
        Edges that are sewn to an end, and mouths that are fixed: they keep their length.
    lengths : (j,) float
        That length, mm.
    on_wrist : (w,) int
        Which of these are the wrist's edge.
    points_of_darts : (t, 3) int
        Beside the point of each dart: the point, and the next point on either leg, anticlockwise
        while the dart is open; and the ones after those.
    mouths : (d, 6) int
        At each dart's mouth, along the outline: the point before it on the cap seam, the mouth's
        first end, the next point on that leg; the last point on the other leg, the mouth's other
        end, the point after it on the cap seam.
    """

    flattenings: tuple[Flattening, ...]
    points: FloatArray
    corners: IntArray
    pairs: IntArray
    alone: IntArray
    lengths: FloatArray
    on_wrist: IntArray
    points_of_darts: IntArray
    mouths: IntArray

    @property
    def inside(self) -> IntArray:
        """Points off the outlines."""
        return self._inside[0]

    @cached_property
    def _inside(self) -> tuple[IntArray, sparse.csr_array, SuperLU]:
        """Points off the outlines, their means over their neighbours, and what solves for them."""
        corners = self.corners[self.corners[:, 0] >= 0]
        rows, columns = np.concatenate([corners[:, way] for way in ([0, 1], [1, 2], [2, 0])]).T
        count = len(self.points)
        links = sparse.csr_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
        links = ((links + links.T) > 0).astype(float)
        counts = [len(f.points) for f in self.flattenings]
        firsts = np.concatenate([[0], np.cumsum(counts)[:-1]])
        rim = [side.path + first for f, first in zip(self.flattenings, firsts, strict=True)
               for side in f.panel.sides]  # fmt: skip
        inside = np.setdiff1d(np.arange(count), np.concatenate(rim))
        degree = sparse.diags_array(np.asarray(links.sum(axis=1)).ravel())
        system = sparse.csr_array(degree - links)[inside]
        return inside, system, splu(sparse.csc_array(system[:, inside]))

    def with_inside_evened(self, points: FloatArray) -> FloatArray:
        """Return points (k, 2) whose outlines are kept and whose insides follow them evenly.

        What is cut and sewn is the outline; where the points inside lie on the cloth is free. Each
        is moved from where it was laid flat at first by the mean of what its neighbours are.
        """
        inside, system, solver = self._inside
        moved = points - self.points
        moved[inside] = 0.0
        moved[inside] = solver.solve(-(system @ moved))
        return self.points + moved

    def wrist_share(self, points: FloatArray) -> float:
        """Return the length of the wrist's edge of flat points (k, 2) over that laid flat first."""
        edges = self.alone[self.on_wrist]
        now, first = (_edges(p, edges)[0].sum() for p in (points, self.points))
        return float(now / first)

    def with_wrist_wider(self, times: float) -> FlatShapes:
        """Return the shapes with a wrist's edge that is to be so many times as long."""
        lengths = self.lengths.copy()
        lengths[self.on_wrist] *= times
        return replace(self, lengths=lengths)

    def laid(self, points: FloatArray) -> tuple[Flattening, ...]:
        """Return the flattenings with other points (k, 2)."""
        counts = [len(f.points) for f in self.flattenings]
        parts = np.split(points, np.cumsum(counts)[:-1])
        return tuple(
            replace(f, points=part) for f, part in zip(self.flattenings, parts, strict=True)
        )


def flat_shapes(
    arm: ArmMesh, flattenings: Sequence[Flattening], *, fixed_mouths: Sequence[str] = ()
) -> FlatShapes:
    """Return the flat shapes of an arm's panels.

    Parameters
    ----------
    fixed_mouths : sequence of str
        Darts whose mouth stays as wide as it is.
    """
    corners = np.full((len(arm.mesh.faces), 3), -1)
    sewn: dict[tuple[int, int], list[tuple[int, int]]] = {}
    fixed: list[tuple[int, int]] = []
    mouths: list[tuple[int, ...]] = []
    darts: list[tuple[int, int, int]] = []
    wrist: list[int] = []
    first = 0
    for flattening in flattenings:
        panel = flattening.panel
        corners[arm.panel_faces[panel.name]] = panel.mesh.faces + first
        legs: dict[str, list[IntArray]] = {}
        for side in panel.sides:
            legs.setdefault(side.seam, []).append(side.path + first)
            wrist += list(side.path + first) if side.seam.endswith(" wrist") else []
            for one, other in zip(side.path[:-1], side.path[1:], strict=True):
                a, b = sorted((int(panel.arm_vertices[one]), int(panel.arm_vertices[other])))
                sewn.setdefault((a, b), []).append((int(one) + first, int(other) + first))
        fixed += [(int(legs[m][0][0]), int(legs[m][1][-1])) for m in fixed_mouths if m in legs]
        mouths += _mouths(panel, first)
        darts += [ring for legs_ in _darts(legs) for ring in legs_]
        first += len(flattening.points)
    points = np.concatenate([f.points for f in flattenings])
    pairs = [one + other for one, other in (e for e in sewn.values() if len(e) == 2)]
    alone = np.array([e[0] for e in sewn.values() if len(e) == 1] + fixed)
    lengths = np.linalg.norm(points[alone[:, 0]] - points[alone[:, 1]], axis=1)
    return FlatShapes(
        tuple(flattenings),
        points,
        corners,
        np.array(pairs).reshape(-1, 4),
        alone,
        lengths,
        np.flatnonzero(np.isin(alone, wrist).all(axis=1)),
        np.array(darts, dtype=np.int64).reshape(-1, 3),
        np.array(mouths, dtype=np.int64).reshape(-1, 6),
    )


def _mouths(panel: Panel, first: int) -> list[tuple[int, ...]]:
    """Return the points at the mouth of each of a panel's darts."""
    out, sides = [], panel.sides
    for index, side in enumerate(sides):
        back = sides[(index + 1) % len(sides)]
        if not side.seam.startswith("dart ") or back.seam != side.seam:
            continue
        before, after = sides[index - 1], sides[(index + 2) % len(sides)]
        own = [*before.path[-2:-1], *side.path[:2], *back.path[-2:], *after.path[1:2]]
        out.append(tuple(int(vertex) + first for vertex in own))
    return out


def kinks(shapes: FlatShapes, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return by how much the cap seam turns across each closed dart, (d,), and slopes (d, 2k).

    Radians; positive where it juts out.
    """
    before, one, into, back, other, after = shapes.mouths.T
    near, near_slopes = _corners(points, into, one, before)
    far, far_slopes = _corners(points, after, other, back)
    return near + far - np.pi, near_slopes + far_slopes


def _corners(
    points: FloatArray, start: IntArray, corner: IntArray, end: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return the angles at corners, anticlockwise from start to end, (d,), and slopes (d, 2k)."""
    a, b = points[start] - points[corner], points[end] - points[corner]
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.sum(a * b, axis=1))
    by_start, by_end = (
        np.stack([-way[:, 1], way[:, 0]], axis=1) / np.sum(way * way, axis=1)[:, None]
        for way in (a, b)
    )
    slopes = np.zeros((len(corner), len(points), 2))
    rows = np.arange(len(corner))
    slopes[rows, end] += by_end
    slopes[rows, start] -= by_start
    slopes[rows, corner] += by_start - by_end
    return np.mod(turn, 2.0 * np.pi), slopes.reshape(len(corner), points.size)


def _darts(legs: Mapping[str, Sequence[IntArray]]) -> list[list[tuple[int, int, int]]]:
    """Return the rings of points about the point of each dart; its legs run in and out."""
    out = []
    for name, pair in legs.items():
        if name.startswith("dart ") and len(pair) == 2:
            into, back = pair[0][::-1], pair[1]
            rings = min(RINGS, len(into) - 1, len(back) - 1)
            tip = int(back[0])
            out.append([(tip, int(into[k]), int(back[k])) for k in range(1, rings + 1)])
    return out


def openings(shapes: FlatShapes, points: FloatArray) -> FloatArray:
    """Return how far each dart is open beside its point, (t,) mm; negative where legs cross."""
    tip, one, other = points[shapes.points_of_darts].transpose(1, 0, 2)
    along, across = one - tip, other - tip
    turned = along[:, 0] * across[:, 1] - along[:, 1] * across[:, 0]
    return np.asarray(turned / np.linalg.norm(along, axis=1))


def seam_faults(
    shapes: FlatShapes, points: FloatArray, closed: IntArray | None = None
) -> tuple[FloatArray, sparse.csr_array]:
    """Return by how much each seam edge is off, (c,) mm, and the slopes by the points, (c, 2k).

    Parameters
    ----------
    closed : (n,) int, optional
        Rows of `points_of_darts` where the dart is all but closed: it is to stay so.
    """
    pairs, alone = shapes.pairs, shapes.alone
    one, one_way = _edges(points, pairs[:, :2])
    other, other_way = _edges(points, pairs[:, 2:])
    single, single_way = _edges(points, alone)
    rings = shapes.points_of_darts[[] if closed is None else closed]
    gaps, gap_ways = _gaps(points, rings)
    faults = np.concatenate([one - other, single - shapes.lengths, gaps - LEAST_OPEN_MM])
    ends = np.concatenate([pairs, np.concatenate([alone, alone], axis=1), rings[:, [0, 1, 2, 2]]])
    ways = np.concatenate(
        [
            np.stack([one_way, -one_way, -other_way, other_way], axis=1),
            # an edge by itself is written twice, each time for half
            0.5 * np.stack([single_way, -single_way, single_way, -single_way], axis=1),
            gap_ways,
        ]
    )
    rows = np.repeat(np.arange(len(faults)), 8)
    columns = (2 * ends[:, :, None] + np.arange(2)).ravel()
    slopes = sparse.csr_array((ways.ravel(), (rows, columns)), shape=(len(faults), points.size))
    return faults, slopes


def _gaps(points: FloatArray, rings: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return how far darts are open at rings (t, 3), and the slopes by their points, (t, 4, 2).

    The last point is written twice, each time for half.
    """
    tip, one, other = points[rings].transpose(1, 0, 2)
    length = np.linalg.norm(one - tip, axis=1)[:, None]
    along, across = (one - tip) / length, other - tip
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    # turning the leg turns the normal; its length cancels to first order
    turned = np.sum(along * across, axis=1)[:, None] / length * normal
    half = 0.5 * normal
    ways = np.stack([turned - normal, -turned, half, half], axis=1)
    return np.sum(normal * across, axis=1), ways


def _edges(points: FloatArray, ends: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return lengths, and ways from the second end to the first."""
    ways = points[ends[:, 0]] - points[ends[:, 1]]
    lengths = np.linalg.norm(ways, axis=1)
    return lengths, ways / lengths[:, None]
