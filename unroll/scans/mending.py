"""A scan as it was read becomes one clean surface in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, diags
from scipy.sparse.csgraph import connected_components

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import Mesh
from unroll.nouns.scan import MM_PER

WELD = 2e-6  # of the file's extent: corners nearer than that are one
SIZES_MM = (200.0, 2300.0)  # longest extent, from a child's arm to a whole body
USUAL_SIZE_MM = 550.0
FINE_EDGE_MM = 4.0  # a mesh finer than this carries a scanner's noise
SMOOTHING = ((0.5, -0.53), 10)  # G. Taubin 1995, doi 10.1145/218380.218473: no shrinking
FEWEST_FACES = 20
LEAST_SHARE = 0.02  # of all area: a smaller body is a crumb
LEAST_RIM_MM = 25.0  # across: a smaller opening is a hole
LID_MM2, LID_ROUNDNESS = 800.0, 0.045  # of a flat end; area over squared edge, a circle has 0.08


@dataclass(frozen=True, eq=False)
class Mended:
    """One clean surface, mm, the unit of its file, and what was done to it."""

    mesh: Mesh
    unit: str
    told: tuple[str, ...]


def mend(mesh: Mesh, unit: str | None) -> Mended:
    """Return the scan's largest arm-like body, welded, its flat lids off, in millimetres.

    Parameters
    ----------
    mesh : Mesh
        As read.
    unit : str or None
        Of the file; guessed by its size where None.

    Raises
    ------
    UnrollError
        When no body is there, or its size is no arm's in any unit.
    """
    welded = _welded(mesh)
    if len(welded.faces) < FEWEST_FACES:
        raise UnrollError(f"has {len(welded.faces)} triangles that are not empty and not there "
                          f"twice; expected at least {FEWEST_FACES} (cut off, or damaged?)")
    body, told = _largest(welded)
    unit = _unit_of(body, unit, told)
    body = _smoothed(Mesh(MM_PER[unit] * body.vertices, body.faces), told)
    return Mended(_without_lids(body, told), unit, tuple(told))


def _welded(mesh: Mesh) -> Mesh:
    """Return the mesh with coinciding corners joined; empty and repeated triangles left out."""
    v, f = mesh.vertices, mesh.faces
    low = v[f.ravel()].min(axis=0)
    size = float(np.ptp(v[f.ravel()], axis=0).max())
    if size <= 0.0:
        raise UnrollError("has no size: all its points coincide (damaged?)")
    cells = np.rint((v - low) / (WELD * size))
    keys = np.ascontiguousarray(np.clip(cells, -1e9, 1e9).astype(np.int64))
    cell = (keys[:, 0] * 2_000_003 + keys[:, 1]) * 2_000_003 + keys[:, 2]
    _, first, number = np.unique(cell, return_index=True, return_inverse=True)
    faces = number.reshape(-1)[f]
    ordered = np.sort(faces, axis=1)
    whole = (ordered[:, 0] != ordered[:, 1]) & (ordered[:, 1] != ordered[:, 2])
    faces, ordered = faces[whole], ordered[whole]
    _, kept = np.unique(ordered, axis=0, return_index=True)
    return packed(v[first], faces[np.sort(kept)])


def packed(vertices: FloatArray, faces: IntArray) -> Mesh:
    """Return the mesh without vertices that no face has."""
    used, number = np.unique(faces, return_inverse=True)
    return Mesh(vertices[used], number.reshape(-1, 3))


def thinned(mesh: Mesh, most: int) -> Mesh:
    """Return a mesh of about so many vertices at most, some of its own, to be looked at."""
    if len(mesh.vertices) <= most:
        return mesh
    cell = np.sqrt(1.5 * areas(mesh).sum() / most)  # a surface passes through so many cells
    cells = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / cell).astype(np.int64)
    _, first, number = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    faces = number.reshape(-1)[mesh.faces]
    whole = (np.diff(np.sort(faces, axis=1), axis=1) > 0).all(axis=1)
    return packed(mesh.vertices[first], faces[whole])


def areas(mesh: Mesh) -> FloatArray:
    """Return the area of each face, (m,)."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def links(faces: IntArray, count: int) -> coo_matrix:
    """Return which vertices an edge joins, (n, n), each both ways."""
    ends = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    both = np.concatenate([ends, ends[:, ::-1]])
    return coo_matrix((np.ones(len(both)), both.T), shape=(count, count))


def _largest(mesh: Mesh) -> tuple[Mesh, list[str]]:
    """Return the largest body that is longer than wide, else the largest."""
    count, label = connected_components(links(mesh.faces, len(mesh.vertices)), directed=False)
    of_face = label[mesh.faces[:, 0]]
    size = np.bincount(of_face, areas(mesh), count)
    large = [int(k) for k in np.argsort(-size) if size[k] > LEAST_SHARE * size.sum()]
    slim = [k for k in large if _slimness(mesh.vertices[label == k]) > 2.0]
    chosen = (slim or large)[0]
    told = []
    if count > 1:
        told.append(f"{count} bodies are in the file; the largest that is shaped like an arm, "
                    f"{100.0 * size[chosen] / size.sum():.0f} % of the surface, is taken")
    return packed(mesh.vertices, mesh.faces[of_face == chosen]), told


def _slimness(points: FloatArray) -> float:
    spread = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[1]
    return float(spread[0] / max(spread[1], 1e-12))


def _unit_of(mesh: Mesh, unit: str | None, told: list[str]) -> str:
    """Return the file's unit, guessed by the body's size where it is not told."""
    size = float(np.linalg.norm(np.ptp(mesh.vertices, axis=0)))
    fitting = {name: mm for name, mm in MM_PER.items()
               if SIZES_MM[0] <= size * mm <= SIZES_MM[1]}  # fmt: skip
    if unit is None and not fitting:
        raise UnrollError(f"is {size:.4g} across, no arm's size in m, cm, mm or inches (only a "
                          "part, or scaled? write unit in the sheet's table [scan])")
    if unit is not None and unit not in fitting:
        raise UnrollError(f"is {size:.4g} {unit} across; expected {SIZES_MM[0]:.0f} to "
                          f"{SIZES_MM[1]:.0f} mm (is [scan] unit right?)")
    if unit is None:
        unit = min(fitting, key=lambda name: abs(np.log(size * fitting[name] / USUAL_SIZE_MM)))
        told.append(f"its unit is guessed by its size: {unit} ([scan] unit overrules it)")
    return unit


def _smoothed(mesh: Mesh, told: list[str]) -> Mesh:
    """Return a fine mesh with the scanner's noise taken out; a coarse one as it is."""
    v, f = mesh.vertices, mesh.faces
    if np.median(np.linalg.norm(v[f[:, 0]] - v[f[:, 1]], axis=1)) > FINE_EDGE_MM:
        return mesh
    link = links(f, len(v)).tocsr()
    link.data[:] = 1.0
    mean = diags(1.0 / np.asarray(link.sum(axis=1)).ravel()) @ link
    still = np.zeros(len(v), dtype=bool)
    still[boundary(f).ravel()] = True
    (shrink, swell), rounds = SMOOTHING
    for step in (shrink, swell) * rounds:
        v = np.where(still[:, None], v, v + step * (mean @ v - v))
    moved = float(np.linalg.norm(v - mesh.vertices, axis=1).mean())
    told.append(f"a fine mesh: noise was smoothed out, {moved:.2f} mm on average")
    return Mesh(v, f)


def boundary(faces: IntArray) -> IntArray:
    """Return the edges that one face alone has, (k, 2)."""
    ends = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    size = int(faces.max()) + 1
    code, count = np.unique(ends[:, 0] * size + ends[:, 1], return_counts=True)
    rim = code[count == 1]
    return np.column_stack([rim // size, rim % size])


def rims(mesh: Mesh) -> list[IntArray]:
    """Return the vertices of each open edge, the longest edge first; not in order."""
    ends = boundary(mesh.faces)
    if len(ends) == 0:
        return []
    count = len(mesh.vertices)
    link = coo_matrix((np.ones(len(ends)), ends.T), shape=(count, count))
    _, label = connected_components(link, directed=False)
    long = np.linalg.norm(mesh.vertices[ends[:, 0]] - mesh.vertices[ends[:, 1]], axis=1)
    whole = np.bincount(label[ends[:, 0]], long)
    order = [k for k in np.argsort(-whole) if whole[k] > 0.0]
    on_rim = np.unique(ends)
    return [on_rim[label[on_rim] == k] for k in order]


def _without_lids(mesh: Mesh, told: list[str]) -> Mesh:
    """Return the mesh without the flat ends that some programs close an arm with."""
    open_ends = rims(mesh)
    if open_ends and _extent(mesh.vertices[open_ends[0]]) > LEAST_RIM_MM:
        return mesh
    import trimesh

    whole = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    lids = [
        faces for faces, area, edges in
        zip(whole.facets, whole.facets_area, whole.facets_boundary, strict=True)
        if area > LID_MM2 and area > LID_ROUNDNESS * _length(mesh.vertices, edges) ** 2
    ]  # fmt: skip
    if not lids:
        return mesh
    told.append(f"{len(lids)} flat end{'s were' if len(lids) > 1 else ' was'} taken off")
    kept = np.ones(len(mesh.faces), dtype=bool)
    kept[np.concatenate(lids)] = False
    return packed(mesh.vertices, mesh.faces[kept])


def _extent(points: FloatArray) -> float:
    return float(np.linalg.norm(np.ptp(points, axis=0)))


def _length(vertices: FloatArray, edges: IntArray) -> float:
    return float(np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1).sum())
