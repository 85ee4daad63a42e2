"""Where the filling starts from: a crude shape made from the sewn faces alone."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from unroll.geometry.flat_lookup import locate
from unroll.geometry.membrane import enclosed_volume
from unroll.geometry.placing import fit_motion
from unroll.sewing.joining import Joined
from unroll.sewing.shells import Shell
from unroll.types import FloatArray, IntArray
from unroll.types.sewn import Sewn

LANDMARKS = 48


def crude_start(joined: Joined, held: dict[int, FloatArray]) -> FloatArray:
    """Return a place for every sewn vertex, (n, 3) mm, from distances over the cloth.

    Parameters
    ----------
    joined : Joined
    held : dict of int to (n, 3) float
        Places of the vertices of pieces that are held, by piece index.

    Notes
    -----
    Distances along the mesh from some vertices far apart, then the three-dimensional arrangement
    whose straight distances come closest (V. de Silva, J. B. Tenenbaum, "Sparse multidimensional
    scaling using landmark points", 2004), turned right side out. It knows nothing of arms.
    """
    points = _arranged(joined.shell)
    if enclosed_volume(points, joined.shell.faces) < 0:
        points = points * np.array([1.0, 1.0, -1.0])
    for piece, places in held.items():
        turn, shift = fit_motion(points[joined.sewn[piece]], places)
        points = points @ turn.T + shift
    return points


def start_from(joined: Joined, sewn: Sewn) -> FloatArray:
    """Return the places of `joined`'s vertices on an earlier filled shape of the same pieces.

    Card is stiff: the places inside it follow from its edge, and are nan here.
    """
    count = joined.shell.count
    total, weight = np.zeros((count, 3)), np.zeros(count)
    for piece, flat, vertices in zip(joined.pieces, joined.flat, joined.sewn, strict=True):
        faces = sewn.faces_of(piece.name)
        if sewn.is_card[faces].all():
            continue
        index, weights = locate(flat, sewn.rest[faces])
        corners = sewn.mesh.vertices[sewn.mesh.faces[faces[index]]]
        places = np.einsum("kc,kcx->kx", weights, corners)
        np.add.at(total, vertices, places)
        np.add.at(weight, vertices, 1.0)
    with np.errstate(invalid="ignore"):
        return np.asarray(total / weight[:, None])


def _arranged(shell: Shell) -> FloatArray:
    """Return the landmark arrangement of the sewn vertices."""
    marks, distances = _distances(shell)
    squares = distances**2
    among = squares[:, marks]
    mean = among.mean(axis=0)
    centred = -0.5 * (among - mean[None] - mean[:, None] + among.mean())
    values, vectors = np.linalg.eigh(centred)
    values, vectors = values[::-1][:3], vectors[:, ::-1][:, :3]
    signs = np.sign(vectors[np.argmax(np.abs(vectors), axis=0), np.arange(3)])
    scale = signs / np.sqrt(np.maximum(values, 1e-9 * values[0]))
    return np.asarray(-0.5 * (squares.T - mean[None]) @ (vectors * scale))


def _distances(shell: Shell) -> tuple[IntArray, FloatArray]:
    """Return vertices picked one after another, each farthest from the rest, and distances.

    Returns
    -------
    (k,) int
    (k, n) float
        Distance over the mesh from each of them to every vertex, mm.
    """
    ends = np.stack([shell.faces.ravel(), np.roll(shell.faces, -1, axis=1).ravel()])
    lengths = np.linalg.norm(shell.rest - np.roll(shell.rest, -1, axis=1), axis=2).ravel()
    size = shell.count
    key, first = np.unique(ends.min(axis=0) * size + ends.max(axis=0), return_index=True)
    graph = coo_matrix((lengths[first], (key // size, key % size)), shape=(size, size)).tocsr()
    marks, rows, nearest = [0], [], np.full(size, np.inf)
    for _ in range(min(LANDMARKS, size)):
        row = dijkstra(graph, directed=False, indices=marks[-1])
        rows.append(row)
        nearest = np.minimum(nearest, row)
        marks.append(int(np.argmax(nearest)))
    return np.array(marks[:-1]), np.array(rows)
