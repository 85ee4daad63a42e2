"""From a flattening to the piece that is cut: its stitching line, its reference lines."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.sections import trace_level
from unroll.nouns import ArmMesh, Flattening, Mesh, Panel, PanelSide, Piece, PieceSide, Trace

PANELS = ("outer", "inner")
REFERENCE_LINES = {
    "underarm line": "underarm",
    "upper arm line": "upper_arm",
    "elbow line": "elbow",
    "forearm line": "forearm",
}
BELOW_UNDERARM_MM = 0.01  # the underarm's level touches the armhole; just below it runs through


def cut(arm: ArmMesh) -> tuple[Panel, ...]:
    """Return the outer and the inner panel of an arm, darts slit.

    Raises
    ------
    UnrollError
        When a dart does not start on the cap seam, or a panel is not a disk.
    """
    return tuple(cut_panel(arm, name) for name in PANELS)


def cut_panel(arm: ArmMesh, name: str) -> Panel:
    """Return one panel of an arm, "outer" or "inner"; see `cut`."""
    seams = _seam_of_edge(arm.paths)
    darts = [path for path_name, path in arm.paths.items() if path_name.startswith("dart ")]
    for number, path in enumerate(darts, start=1):
        if path[0] not in arm.paths["cap seam"]:
            raise UnrollError(f"dart {number} does not start on the cap seam (wrong vertex path?)")
    return _panel(arm, name, seams, darts)


def _seam_of_edge(paths: Mapping[str, IntArray]) -> dict[tuple[int, int], str]:
    return {
        (min(a, b), max(a, b)): name
        for name, path in paths.items()
        if not name.endswith("middle")
        for a, b in zip(path[:-1].tolist(), path[1:].tolist(), strict=True)
    }


def _panel(
    arm: ArmMesh, name: str, seams: Mapping[tuple[int, int], str], darts: list[IntArray]
) -> Panel:
    faces = arm.mesh.faces[arm.panel_faces[name]]
    cuts = {
        (min(a, b), max(a, b))
        for path in darts
        for a, b in zip(path[:-1].tolist(), path[1:].tolist(), strict=True)
    }
    own_faces, origin = unzip(faces, cuts)
    loop = boundary_loop(own_faces)
    sides = _sides(loop, origin, seams, {int(path[-1]) for path in darts})
    mesh = Mesh(arm.mesh.vertices[origin], own_faces)
    return Panel(name, mesh, origin, sides, _traces(arm, name, mesh, origin))


def unzip(faces: IntArray, cuts: set[tuple[int, int]]) -> tuple[IntArray, IntArray]:
    """Return faces with vertices doubled along cut edges, and each new vertex's old number.

    Notes
    -----
    Two corners at one old vertex stay one vertex where their faces share an uncut edge; each
    connected set of corners becomes a vertex.
    """
    corners = np.arange(faces.size).reshape(-1, 3)
    edges = np.stack([faces, np.roll(faces, -1, axis=1)], axis=-1).reshape(-1, 2)
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=-1).reshape(-1, 2)
    turned = edges[:, 0] > edges[:, 1]
    edges[turned], ends[turned] = edges[turned][:, ::-1], ends[turned][:, ::-1]
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    edges, ends = edges[order], ends[order]
    twin = np.flatnonzero(np.all(edges[1:] == edges[:-1], axis=1))
    keep = np.array([(a, b) not in cuts for a, b in edges[twin].tolist()], dtype=bool)
    first, second = ends[twin[keep]], ends[twin[keep] + 1]
    rows, columns = first.ravel(), second.ravel()
    links = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(faces.size, faces.size))
    count, label = connected_components(links, directed=False)
    origin = np.empty(count, dtype=np.int64)
    origin[label] = faces.ravel()
    return label.reshape(-1, 3).astype(np.int64), origin


def boundary_loop(faces: IntArray) -> IntArray:
    """Return the vertices of the one boundary loop, anticlockwise, cloth on the left.

    Raises
    ------
    UnrollError
        When the boundary is not a single simple loop.
    """
    edges = np.stack([faces, np.roll(faces, -1, axis=1)], axis=-1).reshape(-1, 2)
    size = int(faces.max()) + 1
    code, back = edges[:, 0] * size + edges[:, 1], edges[:, 1] * size + edges[:, 0]
    rim = edges[~np.isin(code, back)]
    after = dict(rim.tolist())
    start = int(rim[0, 0]) if len(rim) else 0
    loop, here = [start], after.get(start, start)
    while here != start and len(loop) <= len(rim):
        loop.append(here)
        here = after.get(here, start)
    if len(rim) == 0 or len(after) != len(rim) or len(loop) != len(rim):
        raise UnrollError(
            f"panel has {len(rim)} boundary edges that do not form one loop; expected a disk "
            "(does a dart reach another edge?)"
        )
    return np.array(loop, dtype=np.int64)


def _sides(
    loop: IntArray, origin: IntArray, seams: Mapping[tuple[int, int], str], points: set[int]
) -> tuple[PanelSide, ...]:
    """Split a boundary loop into sides at every change of seam and at dart points."""
    nexts = np.roll(loop, -1)
    pairs = np.sort(np.column_stack([origin[loop], origin[nexts]]), axis=1)
    names = [seams[(a, b)] for a, b in pairs.tolist()]
    breaks = [
        k for k in range(len(loop)) if names[k] != names[k - 1] or int(origin[loop[k]]) in points
    ]
    runs = []
    for start, stop in zip(breaks, [*breaks[1:], breaks[0] + len(loop)], strict=True):
        index = np.arange(start, stop + 1) % len(loop)
        runs.append(PanelSide(names[start], loop[index]))
    first = next(
        k
        for k, run in enumerate(runs)
        if run.seam in ("cap seam", "underarm seam")
        and runs[k - 1].seam in ("front seam", "back seam")
    )
    return tuple(runs[first:] + runs[:first])


def _traces(arm: ArmMesh, name: str, mesh: Mesh, origin: IntArray) -> dict[str, Trace]:
    traces = {"grain": _grain(arm, arm.paths[f"{name} middle"], mesh, origin)}
    for line, station in REFERENCE_LINES.items():
        plane = arm.stations[station]
        height = (mesh.vertices - plane.origin) @ plane.normal
        if station == "underarm":
            height = height + BELOW_UNDERARM_MM
        near = np.linalg.norm(mesh.vertices - plane.origin, axis=1) < plane.girth
        trace = trace_level(mesh.faces, np.where(near, height, np.sign(height) * plane.girth))
        if trace is not None:
            traces[line] = Trace(*trace)
    return traces


def _grain(arm: ArmMesh, middle: IntArray, mesh: Mesh, origin: IntArray) -> Trace:
    """Return the middle line down to the elbow's bend: upper arm and grain run together.

    Under a dart in the middle it starts at the dart's point.
    """
    elbow = arm.stations["elbow"]
    radius = elbow.girth / np.pi
    points: FloatArray = arm.mesh.vertices[middle]
    slit = [v for name, path in arm.paths.items() if name.startswith("dart ") for v in path[:-1]]
    is_whole = ~np.isin(middle, slit)
    upper = middle[is_whole & (points[:, 2] > elbow.origin[2] + 1.2 * radius)]
    if len(upper) < 2:
        upper = middle[is_whole][:2]
    number = {int(old): new for new, old in enumerate(origin)}
    own = np.array([number[int(old)] for old in upper])
    flat = mesh.faces.ravel()
    order = np.argsort(flat, kind="stable")
    corner = order[np.searchsorted(flat[order], own)]
    return Trace(corner // 3, np.eye(3)[corner % 3])


def outline(flattening: Flattening, *, arm: str, source: str = "unrolled") -> Piece:
    """Return the piece that a flattened panel stands for.

    Parameters
    ----------
    flattening : Flattening
    arm : {"left", "right"}
    source : str
        "unrolled" or "corrected".

    Notes
    -----
    The stitching line runs through the panel's boundary vertices; nothing is smoothed, so that
    seam lengths are those of the flattening to rounding.
    """
    panel, points = flattening.panel, flattening.points
    sides = tuple(PieceSide(side.seam, points[side.path]) for side in panel.sides)
    lines = {
        name: _without_repeats(trace.on(points, panel.mesh.faces))
        for name, trace in panel.traces.items()
    }
    return Piece(panel.name, source, arm, sides, lines)


def _without_repeats(line: FloatArray) -> FloatArray:
    """Drop points that follow their neighbour within a thousandth of a millimetre."""
    steps = polylines.chords(line)
    return np.asarray(line[np.concatenate([[True], steps > 1e-3])])
