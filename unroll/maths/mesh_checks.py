"""Does a closed outline run over itself?"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
import shapely
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely.ops import polygonize

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray

THINNEST = 1e-10
"""Least height of a triangle over its longest edge; thinner ones have no direction left."""


def directed_edges(faces: IntArray) -> IntArray:
    """Return the directed edges of all faces, (3m, 2): first all 0-1, then 1-2, then 2-0."""
    return np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])


def boundary_loop(faces: IntArray, count: int) -> IntArray:
    """Return the vertices of the one boundary loop of a disk, anticlockwise, (k,).

    Parameters
    ----------
    faces : (m, 3) int
        A disk, as `check_disk` accepts.
    count : int
        Number of vertices.

    Examples
    --------
    >>> boundary_loop(np.array([[0, 1, 2], [0, 2, 3]]), 4).tolist()
    [0, 1, 2, 3]
    """
    edges = boundary_edges(faces, count)
    following = np.empty(count, dtype=np.int64)
    following[edges[:, 0]] = edges[:, 1]
    loop = np.empty(len(edges), dtype=np.int64)
    at = int(edges[:, 0].min())
    for k in range(len(edges)):
        loop[k] = at
        at = int(following[at])
    return loop


def boundary_edges(faces: IntArray, count: int) -> IntArray:
    """Return the directed edges that have no partner in the other direction, (k, 2)."""
    edges = directed_edges(faces)
    code = edges[:, 0] * count + edges[:, 1]
    back = edges[:, 1] * count + edges[:, 0]
    lone = ~np.isin(code, back, assume_unique=True)
    return edges[lone]


def check_disk(vertices: FloatArray, faces: IntArray, name: str) -> None:
    """Refuse a mesh that is not one disk of sound triangles.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int
    name : str
        What the mesh is called in the message.

    Raises
    ------
    UnrollError
        When a position is not a number; a face names a vertex that is not there, names one twice
        or is without area; an edge has more than two faces, or two that run the same way; or the
        surface is in several parts, closed, or has holes or handles.
    """
    _check_numbers(vertices, faces, name)
    _check_triangles(vertices, faces, name)
    _check_edges(faces, len(vertices), name)
    _check_topology(faces, len(vertices), name)


def _check_numbers(vertices: FloatArray, faces: IntArray, name: str) -> None:
    bad = np.flatnonzero(~np.isfinite(vertices).all(axis=1))
    if len(bad):
        raise UnrollError(
            f"{name}: vertex {bad[0]} has a position that is not a number "
            f"({len(bad)} such vertices); the mesh is broken"
        )
    if len(faces) == 0:
        raise UnrollError(f"{name}: the mesh has no faces; expected at least 1")
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise UnrollError(
            f"{name}: a face names vertex {faces.max() if faces.min() >= 0 else faces.min()}; "
            f"expected 0 to {len(vertices) - 1} (wrong base of counting?)"
        )


def _check_triangles(vertices: FloatArray, faces: IntArray, name: str) -> None:
    sides = vertices[faces[:, [1, 2, 0]]] - vertices[faces]
    longest = np.sqrt(np.einsum("ijk,ijk->ij", sides, sides)).max(axis=1)
    normal = np.cross(sides[:, 0], sides[:, 1])
    double_area = np.sqrt(np.einsum("ij,ij->i", normal, normal))
    bad = np.flatnonzero(~(double_area > THINNEST * longest**2))
    if len(bad):
        raise UnrollError(
            f"{name}: face {bad[0]} has no area ({len(bad)} such faces); "
            "two of its corners meet or all three lie on a line"
        )


def _check_edges(faces: IntArray, count: int, name: str) -> None:
    edges = directed_edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    ordered = np.sort(low * count + high)
    crowded = ordered[2:][ordered[2:] == ordered[:-2]]
    if len(crowded):
        a, b = divmod(int(crowded[0]), count)
        raise UnrollError(f"{name}: more than two faces meet at edge {a}-{b}; expected 1 or 2")
    directed = np.sort(edges[:, 0] * count + edges[:, 1])
    twice = directed[1:][directed[1:] == directed[:-1]]
    if len(twice):
        a, b = divmod(int(twice[0]), count)
        raise UnrollError(
            f"{name}: two faces run along edge {a}-{b} the same way; "
            "some faces are turned inside out"
        )


def _check_topology(faces: IntArray, count: int, name: str) -> None:
    """Refuse what is not a disk.

    Faces joined across edges to one part, with a boundary and Euler characteristic 1, are a disk:
    a vertex where the surface only touches itself would count once instead of twice, and a
    connected surface with a boundary cannot have more than 1.
    """
    unused = np.flatnonzero(np.bincount(faces.ravel(), minlength=count) == 0)
    if len(unused):
        raise UnrollError(f"{name}: vertex {unused[0]} belongs to no face ({len(unused)} such)")
    edges = directed_edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    code = low * count + high
    order = np.argsort(code, kind="stable")
    paired = np.flatnonzero(code[order][1:] == code[order][:-1])
    face_of = np.tile(np.arange(len(faces)), 3)[order]
    joins = (np.ones(len(paired)), (face_of[paired], face_of[paired + 1]))
    graph = sparse.coo_array(joins, shape=(len(faces), len(faces)))
    parts, _ = connected_components(graph, directed=False)
    if parts > 1:
        raise UnrollError(
            f"{name}: the surface is in {parts} parts; expected 1 (cut right through by a seam?)"
        )
    edge_count = len(code) - len(paired)
    if edge_count == len(paired):
        raise UnrollError(f"{name}: the surface is closed; cut it open along a seam first")
    euler = count - edge_count + len(faces)
    if euler != 1:
        raise UnrollError(
            f"{name}: the surface is not a disk (Euler characteristic {euler}; expected 1): "
            "it has a hole, a handle or touches itself; cut it along a seam first"
        )


def crossing_faces(points: FloatArray, faces: IntArray) -> IntArray:
    """Return the pairs of faces (k, 2) that cut each other and share no corner.

    Parameters
    ----------
    points : (n, 3) float
    faces : (m, 3) int

    Examples
    --------
    >>> points = np.array([[0, 0, 0], [4, 0, 0], [0, 4, 0], [1, 1, -1], [1, 1, 2], [1, 9, 2.0]])
    >>> crossing_faces(points, np.array([[0, 1, 2], [3, 4, 5]])).tolist()
    [[0, 1]]
    """
    pairs = _close_pairs(points, faces)
    one, two = faces[pairs[:, 0]], faces[pairs[:, 1]]
    shares = (one[:, :, None] == two[:, None, :]).any(axis=(1, 2))
    pairs = pairs[~shares]
    cuts = np.zeros(len(pairs), dtype=bool)
    for edges, others in ((pairs[:, 0], pairs[:, 1]), (pairs[:, 1], pairs[:, 0])):
        corners = points[faces[others]]
        for k in range(3):
            start, end = points[faces[edges, k]], points[faces[edges, (k + 1) % 3]]
            cuts |= _pierces(start, end, corners)
    return np.asarray(pairs[cuts])


def _close_pairs(points: FloatArray, faces: IntArray) -> IntArray:
    """Return the pairs of faces whose boxes overlap, found among those with near centres."""
    corners = points[faces]
    low, high, centres = corners.min(axis=1), corners.max(axis=1), corners.mean(axis=1)
    reach = np.linalg.norm(corners - centres[:, None], axis=2).max(axis=1)
    # Most faces are alike; the few long ones (a card's fan) search on their own.
    usual = 1.5 * float(np.median(reach))
    is_long = reach > usual
    small, long = np.flatnonzero(~is_long), np.flatnonzero(is_long)
    tree = cKDTree(centres[small])
    found = [small[tree.query_pairs(2 * usual, output_type="ndarray").reshape(-1, 2)]]
    for face in long.tolist():
        others = np.arange(len(faces))
        others = others[(others < face) | ~is_long[others]]
        found.append(np.stack([np.full(len(others), face), others], axis=1))
    pairs = np.concatenate(found)
    a, b = pairs.T
    overlap = ((low[a] <= high[b]) & (low[b] <= high[a])).all(axis=1)
    return np.asarray(np.sort(pairs[overlap], axis=1), dtype=np.int64)


def _pierces(start: FloatArray, end: FloatArray, corners: FloatArray) -> NDArray[np.bool_]:
    """Tell which segments start-end run through the inside of their triangle."""
    a, b, c = corners.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    before, after = np.sum(normal * (start - a), axis=1), np.sum(normal * (end - a), axis=1)
    crosses = before * after < 0
    span = np.where(crosses, before - after, 1.0)
    hit = start + (end - start) * (np.where(crosses, before, 0.0) / span)[:, None]
    inside = crosses
    for u, v in ((a, b), (b, c), (c, a)):
        inside = inside & (np.sum(np.cross(v - u, hit - u) * normal, axis=1) > 0)
    return np.asarray(inside)


def winding_number(outline: FloatArray, point: FloatArray) -> int:
    """Return how many times an outline runs anticlockwise around a point.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> winding_number(square, np.array([0.5, 0.5])), winding_number(square, np.array([2.0, 0.5]))
    (1, 0)
    """
    seen = (outline - point) @ np.array([1, 1j])
    turn = np.angle(np.roll(seen, -1) * seen.conj())
    return round(float(np.sum(turn)) / (2 * np.pi))


def overlap_area(outline: FloatArray) -> float:
    """Return the area that an anticlockwise outline covers more than once.

    Parameters
    ----------
    outline : (k, 2) float
        Corners, the first one not repeated.

    Examples
    --------
    >>> bow = np.array([[0.0, 0], [4, 0], [4, 2], [1, 2], [1, -1], [2, -1], [2, 3], [0, 3]])
    >>> overlap_area(bow)
    2.0
    """
    ring = shapely.LinearRing(outline)
    if ring.is_simple:
        return 0.0
    total = 0.0
    for part in polygonize(shapely.node(ring)):
        inside = np.array(part.representative_point().coords[0])
        total += part.area * max(winding_number(outline, inside) - 1, 0)
    return float(total)
