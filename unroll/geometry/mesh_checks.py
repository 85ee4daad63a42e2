"""Is a triangle mesh a disk that can be laid flat? Its faults, one clear line each."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

from unroll.errors import UnrollError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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
