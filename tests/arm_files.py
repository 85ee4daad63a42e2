"""The arms of meshes/arm_*.obj, cut into two panels along shortest ways from armhole to wrist."""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import numpy as np
import trimesh

from unroll.flat.cutting import unzip
from unroll.maths.mesh_checks import boundary_edges, boundary_loop
from unroll.nouns import Mesh, Panel, PanelSide

MESHES = Path(__file__).resolve().parent.parent / "meshes"


def arm_panels(name: str) -> tuple[Panel, Panel]:
    """Return the two halves of `meshes/<name>.obj`, named "outer" and "inner"."""
    mesh = trimesh.load(MESHES / f"{name}.obj", process=False)
    vertices = np.array(mesh.vertices)[:, [2, 0, 1]]  # the files' y is up, their z forward
    faces = np.array(mesh.faces, dtype=np.int64)
    loops = rim_loops(faces, len(vertices))
    rims = sorted(loops, key=lambda loop: -rim_length(vertices[loop]))
    paths = seam_paths(vertices, faces, rims)
    cuts = {(min(a, b), max(a, b)) for path in paths.values() for a, b in zip(path[:-1], path[1:])}
    new, origin = unzip(faces, cuts)
    parts = trimesh.graph.connected_component_labels(
        trimesh.graph.face_adjacency(new), node_count=len(new)
    )
    armhole, on_seam = set(rims[0].tolist()), {e: s for s, p in paths.items() for e in edges(p)}
    return tuple(  # type: ignore[return-value]
        half(title, new[parts == part], origin, vertices, on_seam, armhole)
        for part, title in zip(np.unique(parts), ("outer", "inner"), strict=True)
    )


def rim_loops(faces: np.ndarray, count: int) -> list[np.ndarray]:
    after = dict(boundary_edges(faces, count).tolist())
    loops = []
    while after:
        loop = [next(iter(after))]
        while after[loop[-1]] != loop[0]:
            loop.append(after[loop[-1]])
        for vertex in loop:
            del after[vertex]
        loops.append(np.array(loop))
    return loops


def rim_length(points: np.ndarray) -> float:
    return float(np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1).sum())


def seam_paths(
    vertices: np.ndarray, faces: np.ndarray, rims: list[np.ndarray]
) -> dict[str, list[int]]:
    """Shortest ways along edges from rim to rim, between their foremost and hindmost points."""
    graph = nx.Graph()
    rim = {int(v) for loop in rims for v in loop}
    for a, b in boundaryless(faces):
        cost = float(np.linalg.norm(vertices[a] - vertices[b]))
        graph.add_edge(a, b, weight=cost + 1e3 * ((a in rim) + (b in rim)))
    out = {}
    for seam, pick in (("front seam", np.argmax), ("back seam", np.argmin)):
        top, low = (int(loop[pick(vertices[loop, 0])]) for loop in rims)
        out[seam] = nx.shortest_path(graph, top, low, weight="weight")
        graph.remove_nodes_from(out[seam])
    return out


def boundaryless(faces: np.ndarray) -> set[tuple[int, int]]:
    return {(int(a), int(b)) for f in faces for a, b in zip(f, np.roll(f, -1))}


def edges(path: list[int]) -> list[tuple[int, int]]:
    return [(min(a, b), max(a, b)) for a, b in zip(path[:-1], path[1:])]


def half(
    title: str,
    faces: np.ndarray,
    origin: np.ndarray,
    vertices: np.ndarray,
    on_seam: dict[tuple[int, int], str],
    armhole: set[int],
) -> Panel:
    kept, own = np.unique(faces, return_inverse=True)
    own = own.reshape(-1, 3)
    arm = origin[kept]
    loop = boundary_loop(own, len(kept))
    ends = [(int(arm[a]), int(arm[b])) for a, b in zip(loop, np.roll(loop, -1))]
    names = [
        on_seam.get((min(e), max(e)), "armhole" if e[0] in armhole else f"{title} wrist")
        for e in ends
    ]
    first = next(k for k in range(len(loop)) if names[k] != names[k - 1])
    loop, names = np.roll(loop, -first), names[first:] + names[:first]
    starts = [k for k in range(len(names)) if k == 0 or names[k] != names[k - 1]]
    closed = np.append(loop, loop[0])
    sides = tuple(
        PanelSide(names[a], closed[a : b + 1])
        for a, b in zip(starts, [*starts[1:], len(names)], strict=True)
    )
    return Panel(title, Mesh(vertices[arm], own), arm, sides)
