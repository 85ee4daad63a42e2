"""Level lines of a function on a mesh's vertices."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.optimize import minimize_scalar
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import BoolArray, FloatArray, IntArray

PLANE_RAD = 2e-3  # to which a taut tape's plane is found: far below a thousandth of a mm of it


def section_segments(
    vertices: FloatArray, faces: IntArray, origin: FloatArray, normal: FloatArray
) -> FloatArray:
    """Return the segments in which a plane cuts a mesh, (k, 2, 3), mm.

    A vertex on the plane counts as above it; faces side by side end at the very same point.
    """
    above = (vertices - origin) @ normal
    _, edges = _crossed_faces(faces, above >= 0.0)
    one, other = np.moveaxis(np.sort(edges, axis=-1), -1, 0)
    share = (above[one] / (above[one] - above[other]))[..., None]
    return np.asarray((1.0 - share) * vertices[one] + share * vertices[other])


def _crossed_faces(faces: IntArray, is_up: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the faces with vertices on both sides, (k,), and the two edges between, (k, 2, 2)."""
    count = is_up[faces].sum(axis=1)
    crossed = np.flatnonzero((count == 1) | (count == 2))
    edges = np.stack([faces[crossed], np.roll(faces[crossed], -1, axis=1)], axis=-1)
    mixed = is_up[edges[..., 0]] != is_up[edges[..., 1]]
    sides = np.argsort(~mixed, axis=1, kind="stable")[:, :2]
    return crossed, np.take_along_axis(edges, sides[:, :, None], axis=1)


def nearest_part(segments: FloatArray, point: FloatArray) -> FloatArray:
    """Return the connected part of a section whose middle is nearest to `point`, (k, 2, 3)."""
    ends = segments.reshape(-1, 3)
    _, index = np.unique(np.round(ends, 6), axis=0, return_inverse=True)
    index = index.reshape(-1)
    size = int(index.max()) + 1
    links = coo_matrix((np.ones(len(segments)), (index[0::2], index[1::2])), shape=(size, size))
    count, label = connected_components(links, directed=False)
    of_segment = label[index[0::2]]
    middles = [segments[of_segment == k].reshape(-1, 3).mean(axis=0) for k in range(count)]
    nearest = int(np.argmin(np.linalg.norm(np.array(middles) - point, axis=1)))
    return np.asarray(segments[of_segment == nearest])


def in_plane(points: FloatArray, origin: FloatArray, normal: FloatArray) -> FloatArray:
    """Return points of a plane in two coordinates of that plane, (k, 2)."""
    first = np.cross(normal, [1.0, 0.0, 0.0] if abs(normal[0]) < 0.9 else [0.0, 1.0, 0.0])
    first = first / np.linalg.norm(first)
    second = np.cross(normal, first)
    return np.asarray((points - origin) @ np.column_stack([first, second]))


def taut_girth(
    vertices: FloatArray, faces: IntArray, origin: FloatArray, normal: FloatArray
) -> float:
    """Return the girth of a mesh at a plane as a tape finds it: the hull of the section, mm.

    Raises
    ------
    UnrollError
        When the plane misses the mesh.
    """
    return polylines.length(taut_ring(vertices, faces, origin, normal))


def taut_ring(
    vertices: FloatArray, faces: IntArray, origin: FloatArray, normal: FloatArray
) -> FloatArray:
    """Return where a tape lies round a mesh at a plane, (k, 3), its start repeated, mm.

    Raises
    ------
    UnrollError
        When the plane misses the mesh.
    """
    segments = section_segments(vertices, faces, origin, normal)
    if len(segments) == 0:
        raise UnrollError("the tape's level misses the arm (is a length mixed up?)")
    return pulled_taut(nearest_part(segments, origin), origin, normal)


def pulled_taut(segments: FloatArray, origin: FloatArray, normal: FloatArray) -> FloatArray:
    """Return where a tape lies round a section's segments (n, 2, 3): (k, 3), its start repeated."""
    ends = segments.reshape(-1, 3)
    corners = ConvexHull(in_plane(ends, origin, normal)).vertices
    return np.asarray(ends[np.append(corners, corners[0])])


def taut_arc(
    vertices: FloatArray,
    faces: IntArray,
    origin: FloatArray,
    normal: FloatArray,
    start: FloatArray,
    end: FloatArray,
) -> FloatArray:
    """Return a tape from `start` to `end` over an open section, (k, 3) mm.

    The hull less the straight line that closes it.
    """
    segments = section_segments(vertices, faces, origin, normal).reshape(-1, 3)
    points = np.vstack([segments, start, end])
    loop = points[ConvexHull(in_plane(points, origin, normal)).vertices]
    first, last = (int(np.argmin(np.linalg.norm(loop - at, axis=1))) for at in (start, end))
    loop, last = np.roll(loop, -first, axis=0), (last - first) % len(loop)
    return loop if last == len(loop) - 1 else np.vstack([loop[:1], loop[:0:-1]])


def hull_arc(points: FloatArray) -> float:
    """Return the hull's length between the last two points, which lie on it side by side, mm."""
    return hull_length(points) - float(np.linalg.norm(points[-1] - points[-2]))


def hull_length(points: FloatArray) -> float:
    """Return the length of a tape round points (n, 2), mm; there and back along a line of them."""
    hull = shapely.convex_hull(shapely.linestrings(points))
    return float(shapely.length(hull)) * (1.0 if shapely.get_dimensions(hull) == 2 else 2.0)


def taut_line(
    vertices: FloatArray,
    faces: IntArray,
    start: FloatArray,
    end: FloatArray,
    outward: FloatArray,
    *,
    swing_rad: float = 0.8,
    tries: int = 9,
) -> tuple[float, FloatArray]:
    """Return the shortest plane tape between two surface points, and its points, mm.

    Parameters
    ----------
    start, end : (3,) float
        Points on the surface.
    outward : (3,) float
        The side of the straight line from start to end on which the tape runs.
    swing_rad : float
        How far the tape's plane may turn about that line to either side.
    tries : int
        Planes tried before the best is looked for between its neighbours.

    Notes
    -----
    A taut tape is a geodesic of the hull. The shortest plane path is at least as long; on an arm
    it is longer by a few hundredths of a percent, far less than a tape errs.
    """
    reach = float(np.linalg.norm(end - start))
    chord = (end - start) / reach
    out = outward - (outward @ chord) * chord
    out = out / np.linalg.norm(out)
    side = np.cross(chord, out)
    seen = (vertices - start) @ np.column_stack([chord, out, side])
    near = faces[_swept(seen[:, 1:], faces, swing_rad)]
    key = np.unique(np.sort(_sides(near), axis=1) @ [len(vertices), 1])
    edges = seen[key // len(vertices)], seen[key % len(vertices)]

    def tape(angle: float) -> FloatArray:
        return _upper_hull(_crossed(*edges, angle), reach)

    def length(angle: float) -> float:
        return polylines.length(tape(angle))

    angles = np.linspace(-swing_rad, swing_rad, tries)
    lengths = np.array([length(angle) for angle in angles])
    best = int(np.argmin(lengths))
    # its neighbours may lie where the length jumps, so no curve is laid through the three
    about = float(angles[max(best - 1, 0)]), float(angles[min(best + 1, tries - 1)])
    nearest = minimize_scalar(
        length, bounds=about, method="bounded", options={"xatol": PLANE_RAD}
    )
    angle = float(nearest.x) if nearest.fun <= lengths[best] else float(angles[best])
    line, up = tape(angle), np.cos(angle) * out + np.sin(angle) * side
    return polylines.length(line), start + np.outer(line[:, 0], chord) + np.outer(line[:, 1], up)


def _sides(faces: IntArray) -> IntArray:
    """Return the two ends of every side of faces, (3m, 2)."""
    return np.stack([faces, np.roll(faces, -1, axis=1)], axis=-1).reshape(-1, 2)


def _swept(across: FloatArray, faces: IntArray, swing_rad: float) -> BoolArray:
    """Tell which faces a half-plane meets that swings about a line to either side, (m,).

    Parameters
    ----------
    across : (n, 2) float
        Vertices seen along the line, which is the origin; at rest the half-plane is the first axis.
    """
    angle = np.arctan2(across[:, 1], across[:, 0])[faces]
    return np.asarray((angle.min(axis=1) <= swing_rad) & (angle.max(axis=1) >= -swing_rad))


def _crossed(one: FloatArray, other: FloatArray, angle: float) -> FloatArray:
    """Return where a plane through the first axis, turned by an angle about it, cuts edges, (k, 2).

    Parameters
    ----------
    one, other : (m, 3) float
        Ends of the edges. A point's coordinates in the plane are those along and off the axis.
    """
    up = np.array([np.cos(angle), np.sin(angle)])
    beside = one[:, 1:] @ [-up[1], up[0]], other[:, 1:] @ [-up[1], up[0]]
    is_cut = (beside[0] >= 0.0) != (beside[1] >= 0.0)
    here, there = one[is_cut], other[is_cut]
    share = (beside[0][is_cut] / (beside[0] - beside[1])[is_cut])[:, None]
    points = here + share * (there - here)
    return np.column_stack([points[:, 0], points[:, 1:] @ up])


def _upper_hull(points: FloatArray, reach: float) -> FloatArray:
    """Return the hull over points (k, 2), from the origin to `reach` on the first axis."""
    x, y = points.T
    over = (y >= -1e-9) & (x > 1e-9) & (x < reach - 1e-9)
    line = shapely.linestrings(np.vstack([[0.0, 0.0], points[over], [reach, 0.0]]))
    # normalized it runs clockwise from its leftmost corner
    corners = shapely.get_coordinates(shapely.normalize(shapely.convex_hull(line)))
    return np.asarray(corners[: int(np.argmax(corners[:, 0])) + 1])


def trace_level(faces: IntArray, values: FloatArray) -> tuple[IntArray, FloatArray] | None:
    """Return the longest line on which `values` (at vertices) is zero, or None.

    Returns
    -------
    (k,) int, (k, 3) float
        Face and barycentric weights of each point, in order along the line. A value of exactly
        zero counts as positive, so that the line never runs along an edge.
    """
    values = np.where(np.abs(values) < 1e-7 * np.abs(values).max(), 0.0, values)
    crossed, picked = _crossed_faces(faces, values >= 0.0)
    if len(crossed) == 0:
        return None
    _, number = np.unique(np.sort(picked.reshape(-1, 2), axis=1), axis=0, return_inverse=True)
    number = number.reshape(-1, 2)
    order, at_face = _chain(number)
    ends = picked.reshape(-1, 2)
    where = {int(n): k for k, n in enumerate(number.reshape(-1))}
    out_faces, out_weights = [], []
    for node, face in zip(order, at_face, strict=True):
        a, b = ends[where[node]]
        t = values[a] / (values[a] - values[b])
        owner = crossed[where[node] // 2] if face is None else crossed[face]
        weights = (faces[owner] == a) * (1.0 - t) + (faces[owner] == b) * t
        out_faces.append(int(owner))
        out_weights.append(weights)
    return np.array(out_faces, dtype=np.int64), np.array(out_weights)


def _chain(links: IntArray) -> tuple[list[int], list[int | None]]:
    """Return the nodes of the largest chain in order, each with a link that holds it."""
    size = int(links.max()) + 1
    graph = coo_matrix((np.ones(len(links)), (links[:, 0], links[:, 1])), shape=(size, size))
    _, label = connected_components(graph, directed=False)
    largest = int(np.argmax(np.bincount(label)))
    at: dict[int, list[int]] = {}
    for k, (a, b) in enumerate(links.tolist()):
        if label[a] == largest:
            at.setdefault(a, []).append(k)
            at.setdefault(b, []).append(k)
    ends = sorted(node for node, own in at.items() if len(own) == 1)
    here = ends[0] if ends else min(at)
    order: list[int] = [here]
    faces: list[int | None] = [at[here][0]]
    used: set[int] = set()
    while True:
        onward = [k for k in at[here] if k not in used]
        if not onward:
            return order, faces
        used.add(onward[0])
        a, b = links[onward[0]].tolist()
        here = b if a == here else a
        order.append(here)
        faces.append(onward[0])
