"""Triangles within an outline: every edge of the outline is kept, no edge cuts a corner off."""

from __future__ import annotations

from collections import deque

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.spatial import Delaunay, cKDTree

from unroll.maths.arrays import FloatArray, IntArray, numbered


def locate(points: FloatArray, corners: FloatArray) -> tuple[IntArray, FloatArray]:
    """Find the triangle that each point lies in, or nearly.

    Parameters
    ----------
    points : (k, 2) float
    corners : (m, 3, 2) float
        Triangles, anticlockwise.

    Returns
    -------
    index : (k,) int
    weights : (k, 3) float
        Barycentric; a little negative for a point outside all triangles, which takes the one it
        lies outside of by the least share.

    Examples
    --------
    >>> index, weights = locate(np.array([[0.25, 0.25]]), np.array([[[0, 0], [1, 0], [0, 1.0]]]))
    >>> index.tolist(), weights.tolist()
    ([0], [[0.5, 0.25, 0.25]])
    """
    near = min(16, len(corners))
    _, candidates = cKDTree(corners.mean(axis=1)).query(points, k=near)
    candidates = np.asarray(candidates).reshape(len(points), near)
    a = corners[candidates, 0]
    u, v = corners[candidates, 1] - a, corners[candidates, 2] - a
    offset = points[:, None] - a
    doubled = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    two = (offset[..., 0] * v[..., 1] - offset[..., 1] * v[..., 0]) / doubled
    three = (u[..., 0] * offset[..., 1] - u[..., 1] * offset[..., 0]) / doubled
    weights = np.stack([1 - two - three, two, three], axis=-1)
    best = np.argmax(weights.min(axis=-1), axis=1)
    rows = np.arange(len(points))
    return candidates[rows, best], weights[rows, best]


def recover_edges(points: FloatArray, faces: IntArray, wanted: IntArray) -> IntArray:
    """Return a triangulation of the same points that holds every edge of `wanted`.

    Parameters
    ----------
    points : (n, 2) float
    faces : (m, 3) int
        Anticlockwise triangulation of the points' convex hull.
    wanted : (k, 2) int
        Edges to hold; they must not cross one another or run through another point.

    Raises
    ------
    ValueError
        When an edge cannot be had, because a point lies on it.

    Notes
    -----
    S. W. Sloan, Computers & Structures 47, 1993, doi 10.1016/0045-7949(93)90239-A: each crossing
    edge whose two faces form a convex quadrangle is turned, until none crosses.
    """
    have = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    size = len(points)
    held = set((have[:, 0] * size + have[:, 1]).tolist())
    missing = [(int(a), int(b)) for a, b in wanted if min(a, b) * size + max(a, b) not in held]
    if not missing:
        return faces
    opposite = {}
    for a, b, c in faces.tolist():
        opposite[a, b], opposite[b, c], opposite[c, a] = c, a, b
    for start, end in missing:
        _recover(points, opposite, start, end)
    found = {
        tuple(np.roll((a, b, c), -int(np.argmin((a, b, c)))).tolist())
        for (a, b), c in opposite.items()
    }
    return np.array(sorted(found), dtype=np.int64)


def _recover(
    points: FloatArray, opposite: dict[tuple[int, int], int], start: int, end: int
) -> None:
    """Turn the edges that cross start-end until it is an edge."""
    crossing = deque(
        (a, b)
        for (a, b) in opposite
        if a < b and not {a, b} & {start, end} and _cross(points, a, b, start, end)
    )
    for _ in range(50 * (len(crossing) + 1) ** 2):
        if not crossing:
            break
        a, b = crossing.popleft()
        if (a, b) not in opposite or (b, a) not in opposite:
            continue
        c, d = opposite[a, b], opposite[b, a]
        if _side(points, c, d, a) >= 0 or _side(points, c, d, b) <= 0:
            crossing.append((a, b))
            continue
        _turn(opposite, a, b, c, d)
        if not {c, d} & {start, end} and _cross(points, c, d, start, end):
            crossing.append((c, d))
    if (start, end) not in opposite and (end, start) not in opposite:
        raise ValueError(f"edge {start}-{end} of the outline runs through another of its points")


def _turn(opposite: dict[tuple[int, int], int], a: int, b: int, c: int, d: int) -> None:
    """Replace the faces abc and bad by dbc and cad."""
    del opposite[a, b], opposite[b, a]
    for u, v, w in ((d, b, c), (c, a, d)):
        opposite[u, v], opposite[v, w], opposite[w, u] = w, u, v


def _side(points: FloatArray, a: int, b: int, c: int) -> float:
    """Return twice the signed area of abc."""
    ux, uy = points[b] - points[a]
    vx, vy = points[c] - points[a]
    return float(ux * vy - uy * vx)


def _cross(points: FloatArray, a: int, b: int, c: int, d: int) -> bool:
    """Tell whether the open segments ab and cd cross."""
    return (
        _side(points, a, b, c) * _side(points, a, b, d) < 0
        and _side(points, c, d, a) * _side(points, c, d, b) < 0
    )


def crossing_of_outline(outline: FloatArray) -> FloatArray | None:
    """Return a point where the closed polyline `outline` (k, 2) crosses itself, else None.

    Examples
    --------
    >>> crossing_of_outline(np.array([[0, 0], [2, 0], [0, 2], [2, 2.0]]))
    array([1., 1.])
    >>> crossing_of_outline(np.array([[0, 0], [2, 0], [2, 2], [0, 2.0]])) is None
    True
    """
    polygon = shapely.Polygon(outline)
    if polygon.is_valid:
        return None
    reason = str(shapely.is_valid_reason(polygon))
    if "[" not in reason:
        return np.asarray(outline[0], dtype=float)
    return np.array([float(word) for word in reason.split("[")[1].rstrip("]").split()[:2]])


def mesh_outline(outline: FloatArray, *, spacing: float) -> tuple[FloatArray, IntArray]:
    """Fill the closed polyline `outline` with triangles of about `spacing`.

    Parameters
    ----------
    outline : (k, 2) float
        Simple polygon, anticlockwise, mm, the first point not repeated.
    spacing : float
        Wished edge length, mm.

    Returns
    -------
    points : (n, 2) float
        The outline's points first, in their order, then the inner ones.
    faces : (m, 3) int
        Anticlockwise. Each edge of the outline is an edge of one face, and no inner edge joins two
        points of the outline: such an edge would meet its like when the outline is sewn.

    Raises
    ------
    ValueError
        When the outline crosses itself.

    Notes
    -----
    A hexagonal grid clipped to the outline, evened out by a few averaging passes, under a Delaunay
    triangulation; edges of the outline that it misses are recovered by flips (S. W. Sloan, "A fast
    algorithm for generating constrained Delaunay triangulations", Computers & Structures 47, 1993,
    doi 10.1016/0045-7949(93)90239-A).
    """
    outline = np.asarray(outline, dtype=float)
    if (crossing := crossing_of_outline(outline)) is not None:
        raise ValueError(f"the outline crosses itself near ({crossing[0]:.1f}, {crossing[1]:.1f})")
    count = len(outline)
    points = np.concatenate([outline, _grid_within(outline, spacing)])
    faces = _triangles_within(points, outline)
    for _ in range(3):
        points = _evened(points, faces, count)
        faces = _triangles_within(points, outline)
    return _split_across(points, faces, count)


def _grid_within(outline: FloatArray, spacing: float) -> FloatArray:
    """Return hexagonal grid points inside the outline, clear of its edges."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    rise = spacing * np.sqrt(0.75)
    rows = np.arange(np.floor((high[1] - low[1]) / rise) + 1)
    columns = np.arange(np.floor((high[0] - low[0]) / spacing) + 2)
    x, row = np.meshgrid(columns, rows)
    middle = 0.5 * (low + high)
    grid = np.stack([(x + 0.5 * (row % 2)) * spacing, row * rise], axis=-1).reshape(-1, 2)
    grid += middle - 0.5 * (grid.min(axis=0) + grid.max(axis=0))
    polygon = shapely.Polygon(outline)
    shapely.prepare(polygon)
    grid = grid[shapely.contains_xy(polygon, grid[:, 0], grid[:, 1])]
    if not len(grid):
        return np.asarray(grid)
    clear = cKDTree(_densely(outline, 0.2 * spacing)).query(grid)[0]
    return np.asarray(grid[clear > 0.62 * spacing])


def _densely(outline: FloatArray, step: float) -> FloatArray:
    """Return points along the closed polyline, no further apart than `step`."""
    ends = np.roll(outline, -1, axis=0)
    counts = np.maximum(np.ceil(np.linalg.norm(ends - outline, axis=1) / step), 1).astype(int)
    edge, number = numbered(counts)
    along = number / counts[edge]
    return np.asarray(outline[edge] + along[:, None] * (ends - outline)[edge])


def _triangles_within(points: FloatArray, outline: FloatArray) -> IntArray:
    """Return the Delaunay triangles inside the outline, its edges recovered."""
    count = len(outline)
    faces = _anticlockwise(points, Delaunay(points).simplices.astype(np.int64))
    wanted = np.stack([np.arange(count), (np.arange(count) + 1) % count], axis=1)
    faces = recover_edges(points, faces, wanted)
    centres = points[faces].mean(axis=1)
    inside = shapely.contains_xy(shapely.Polygon(outline), centres[:, 0], centres[:, 1])
    return np.asarray(faces[inside])


def _anticlockwise(points: FloatArray, faces: IntArray) -> IntArray:
    """Return the faces turned anticlockwise, those without area left out."""
    a, b, c = points[faces].transpose(1, 0, 2)
    doubled = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    faces = np.where((doubled < 0)[:, None], faces[:, [0, 2, 1]], faces)
    longest = np.max([np.sum((b - a) ** 2, 1), np.sum((c - b) ** 2, 1), np.sum((a - c) ** 2, 1)], 0)
    return np.asarray(faces[np.abs(doubled) > 1e-9 * longest])


def _evened(points: FloatArray, faces: IntArray, fixed: int) -> FloatArray:
    """Return the points with each inner one moved to the mean of its neighbours."""
    edges = np.unique(np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1), axis=0)
    both = np.concatenate([edges, edges[:, ::-1]])
    link = coo_matrix((np.ones(len(both)), both.T), shape=(len(points), len(points))).tocsr()
    degree = np.asarray(link.sum(axis=1)).ravel()
    is_inner = (np.arange(len(points)) >= fixed) & (degree > 0)
    moved = points.copy()
    moved[is_inner] = (link @ points)[is_inner] / degree[is_inner, None]
    return moved


def _split_across(points: FloatArray, faces: IntArray, count: int) -> tuple[FloatArray, IntArray]:
    """Put a point into the middle of each inner edge that joins two points of the outline."""
    edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, uses = np.unique(edges, axis=0, return_counts=True)
    across = unique[(uses == 2) & (unique[:, 1] < count)]
    return split_edges(points, faces, across)


def split_edges(
    points: FloatArray, faces: IntArray, edges: IntArray
) -> tuple[FloatArray, IntArray]:
    """Put a point into the middle of each of `edges` (k, 2), lower number first."""
    if not len(edges):
        return points, faces
    middle = {(int(a), int(b)): len(points) + k for k, (a, b) in enumerate(edges)}
    split: list[tuple[int, int, int]] = []
    for face in faces.tolist():
        split.extend(_split_face(face, middle))
    return np.concatenate([points, points[edges].mean(axis=1)]), np.array(split, dtype=np.int64)


def _split_face(face: list[int], middle: dict[tuple[int, int], int]) -> list[tuple[int, int, int]]:
    """Return the face cut through the middles of those of its edges that have one."""
    for k in range(3):
        a, b, c = face[k], face[(k + 1) % 3], face[(k + 2) % 3]
        point = middle.get((min(a, b), max(a, b)))
        if point is not None:
            rest = {edge: at for edge, at in middle.items() if set(edge) in ({b, c}, {c, a})}
            return _split_face([a, point, c], rest) + _split_face([point, b, c], rest)
    return [(face[0], face[1], face[2])]
