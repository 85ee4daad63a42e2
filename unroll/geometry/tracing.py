"""Level lines of a function on a mesh's vertices."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from unroll.types.arrays import FloatArray, IntArray


def trace_level(faces: IntArray, values: FloatArray) -> tuple[IntArray, FloatArray] | None:
    """Return the longest line on which `values` (at vertices) is zero, or None.

    Returns
    -------
    (k,) int, (k, 3) float
        Face and barycentric weights of each point, in order along the line. A value of exactly
        zero counts as positive, so that the line never runs along an edge.
    """
    values = np.where(np.abs(values) < 1e-7 * np.abs(values).max(), 0.0, values)
    is_up = values >= 0.0
    count = is_up[faces].sum(axis=1)
    crossed = np.flatnonzero((count == 1) | (count == 2))
    if len(crossed) == 0:
        return None
    edges = np.stack([faces[crossed], np.roll(faces[crossed], -1, axis=1)], axis=-1)
    mixed = is_up[edges[..., 0]] != is_up[edges[..., 1]]
    sides = np.argsort(~mixed, axis=1, kind="stable")[:, :2]
    picked = np.take_along_axis(edges, sides[:, :, None], axis=1)
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
