"""The arm's grids joined along their seams and closed: one mesh whose parts have names."""

from __future__ import annotations

import numpy as np

from unroll.arms.grid import Grids
from unroll.arms.limb import ArmSurface
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import ArmMesh, Mesh, Station


def close_mesh(surface: ArmSurface, grids: Grids) -> ArmMesh:
    """Join both grids along the seams, close the ends, and name everything."""
    outer, inner, vertices = _numbered(grids)
    faces = {
        "outer": grid_faces(outer, vertices),
        "inner": grid_faces(inner[:, ::-1], vertices),
    }
    hole = np.concatenate([outer[0], inner[0, -2:0:-1]])
    wrist = np.concatenate([outer[-1], inner[-1, -2:0:-1]])
    middles = np.array([vertices[hole].mean(axis=0), vertices[wrist].mean(axis=0)])
    count = len(vertices)
    faces["armhole plate"] = _fan(hole, count)
    faces["wrist plate"] = _fan(wrist[::-1], count + 1)
    starts = np.cumsum([0] + [len(part) for part in faces.values()])
    panel_faces = {name: np.arange(starts[k], starts[k + 1]) for k, name in enumerate(faces)}
    mesh = Mesh(np.vstack([vertices, middles]), np.concatenate(list(faces.values())))
    paths = {
        "front seam": outer[:, 0],
        "back seam": outer[:, -1],
        "cap seam": outer[0],
        "underarm seam": inner[0],
        "outer wrist": outer[-1],
        "inner wrist": inner[-1],
        "outer middle": outer[:, outer.shape[1] // 2],
        "inner middle": inner[:, inner.shape[1] // 2],
    }
    for number, slit in enumerate(grids.slits, start=1):
        paths[f"dart {number}"] = outer[: slit.row + 1, slit.column]
    return ArmMesh("left", mesh, panel_faces, paths, _stations(surface), _landmarks(surface))


def _numbered(grids: Grids) -> tuple[IntArray, IntArray, FloatArray]:
    """Return vertex numbers of both grids, first and last columns shared, and the vertices."""
    rows, columns = grids.outer.shape[:2]
    outer = np.arange(rows * columns).reshape(rows, columns)
    inner_columns = grids.inner.shape[1]
    inner = np.empty((rows, inner_columns), dtype=np.int64)
    inner[:, 0], inner[:, -1] = outer[:, 0], outer[:, -1]
    own = np.arange(rows * (inner_columns - 2)).reshape(rows, -1) + outer.size
    inner[:, 1:-1] = own
    vertices = np.vstack([grids.outer.reshape(-1, 3), grids.inner[:, 1:-1].reshape(-1, 3)])
    return outer, inner, vertices


def grid_faces(grid: IntArray, vertices: FloatArray) -> IntArray:
    """Return two triangles a cell, split along the diagonal that gives the fuller angles.

    Rows run down and columns to the right, seen from outside.
    """
    a, b = grid[:-1, :-1].ravel(), grid[1:, :-1].ravel()
    c, d = grid[1:, 1:].ravel(), grid[:-1, 1:].ravel()
    beside = _angle(vertices, a, b, d) + _angle(vertices, c, d, b)
    facing = _angle(vertices, b, c, a) + _angle(vertices, d, a, c)
    cut_ac = beside >= facing
    first = np.where(cut_ac[:, None], np.column_stack([a, b, c]), np.column_stack([a, b, d]))
    second = np.where(cut_ac[:, None], np.column_stack([a, c, d]), np.column_stack([b, c, d]))
    return np.stack([first, second], axis=1).reshape(-1, 3)


def _angle(vertices: FloatArray, at: IntArray, one: IntArray, other: IntArray) -> FloatArray:
    u, v = vertices[one] - vertices[at], vertices[other] - vertices[at]
    cross = np.linalg.norm(np.cross(u, v), axis=1)
    return np.asarray(np.arctan2(cross, np.sum(u * v, axis=1)))


def _fan(loop: IntArray, middle: int) -> IntArray:
    return np.column_stack([loop, np.roll(loop, -1), np.full(len(loop), middle)])


def _stations(surface: ArmSurface) -> dict[str, Station]:
    limb = surface.limb
    stations = {}
    for name, along in limb.layout.stations.items():
        centre, _, up = limb.frame(along)
        stations[name] = Station(name, centre, up, float(limb.girth(along)))
    return stations


def _landmarks(surface: ArmSurface) -> dict[str, FloatArray]:
    limb, layout, plate = surface.limb, surface.limb.layout, surface.limb.cap.plate
    elbow, wrist = (
        limb.ring(s, np.array([0.25, 0.75]), exact=False) for s in (layout.elbow, layout.wrist)
    )
    middle = plate.angle_at_level(-0.5 * plate.height)
    half, x, z = plate.half_width(middle), plate.middle(middle), -0.5 * plate.height
    return {
        "shoulder": np.zeros(3),
        "underarm": np.array([plate.middles[-1], 0.0, -plate.height]),
        "armhole front": np.array([x + half, 0.0, z]),
        "armhole back": np.array([x - half, 0.0, z]),
        "elbow point": elbow[1],
        "elbow crease": elbow[0],
        "elbow centre": limb.centre(layout.elbow),
        "wrist point": wrist[0],
        "wrist centre": limb.centre(layout.wrist),
    }
