"""Scans made from closed forms: a bent tube with or without a hand, and what a scanner spoils."""

from __future__ import annotations

import numpy as np

from unroll.nouns import Mesh

UPPER, LOWER = 210.0, 250.0  # axis of the upper arm above the bend's middle, and below it
TURN_MM = 70.0  # of axis over which the elbow bends
RADII = (48.0, 40.0, 42.0, 27.0)  # at the top, below the elbow, the fullest forearm, the wrist
PLACES = (0.0, UPPER + 16.0, UPPER + 60.0, UPPER + LOWER)  # slimmest a little below the elbow


def radius(along: np.ndarray) -> np.ndarray:
    """The tube's radius at distances along its axis: a smooth curve through four."""
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(PLACES, RADII)(along))


def axis(along: np.ndarray, bend: float) -> tuple[np.ndarray, np.ndarray]:
    """Points of the axis and its ways; the upper arm hangs down z, the elbow bends forward (x)."""
    turn = bend * np.clip((along - UPPER) / TURN_MM + 0.5, 0.0, 1.0)
    way = np.column_stack([np.sin(turn), np.zeros_like(turn), -np.cos(turn)])
    steps = np.diff(along)[:, None] * 0.5 * (way[1:] + way[:-1])
    return np.concatenate([np.zeros((1, 3)), np.cumsum(steps, axis=0)]), way


def tube(
    *, bend_deg: float = 25.0, edge: float = 5.0, ratio: float = 1.0, away_deg: float = 30.0
) -> Mesh:
    """A bent tube, a left arm: y up, x to the wearer's left, z forward, standing away from her."""
    count, around = int((UPPER + LOWER) / edge), 4 * int(2.0 * np.pi * RADII[0] / edge / 4)
    along = np.linspace(0.0, UPPER + LOWER, count + 1)
    middle, way = axis(along, np.radians(bend_deg))
    angle = 2.0 * np.pi * np.arange(around) / around
    ahead = np.column_stack([-way[:, 2], way[:, 1], way[:, 0]])
    rings = [
        m + r * (ratio * np.cos(angle)[:, None] * a + np.sin(angle)[:, None] * [0.0, 1.0, 0.0])
        for m, r, a in zip(middle, radius(along), ahead, strict=True)
    ]
    number = np.arange(len(along) * around).reshape(len(along), around)
    a, b = number[:-1], number[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3),
                            np.stack([a, c, d], -1).reshape(-1, 3)])  # fmt: skip
    lean = np.radians(away_deg)
    points = np.concatenate(rings)
    out = points[:, 1] * np.cos(lean) - points[:, 2] * np.sin(lean)
    up = points[:, 1] * np.sin(lean) + points[:, 2] * np.cos(lean)
    return Mesh(np.column_stack([out, up, points[:, 0]]), faces)


def with_hand(mesh: Mesh) -> Mesh:
    """The tube with a flat closed blade beyond the wrist: wider, then rounded off."""
    import trimesh

    tail = mesh.vertices[-1] - mesh.vertices[-200]
    rim = max(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).outline().entities,
              key=lambda e: mesh.vertices[e.points[0]] @ tail)  # fmt: skip
    loop = rim.points[:-1]
    points, faces, last = [mesh.vertices], [mesh.faces], loop
    middle = mesh.vertices[loop].mean(axis=0)
    normal = np.linalg.svd(mesh.vertices[loop] - middle, full_matrices=False)[2][2]
    normal *= np.sign(normal @ tail)
    start = len(mesh.vertices)
    for step in range(1, 37):
        size = 1.0 + 0.5 * np.sin(np.pi * min(step, 30) / 30.0) if step < 31 else (36.5 - step) / 6
        ring = middle + size * (mesh.vertices[loop] - middle) + 5.0 * step * normal
        here = np.arange(start, start + len(loop))
        points.append(ring)
        faces.append(np.column_stack([last, np.roll(last, -1), np.roll(here, -1)]))
        faces.append(np.column_stack([last, np.roll(here, -1), here]))
        last, start = here, start + len(loop)
    return Mesh(np.concatenate(points), np.concatenate(faces))


def soup(mesh: Mesh, seed: int = 0) -> Mesh:
    """The same triangles, each with corners of its own, in another order, some turned over."""
    random = np.random.default_rng(seed)
    faces = mesh.faces[random.permutation(len(mesh.faces))]
    faces = np.concatenate([faces, faces[:50]])  # and some twice
    over = random.random(len(faces)) < 0.3
    faces = np.where(over[:, None], faces[:, ::-1], faces)
    return Mesh(mesh.vertices[faces].reshape(-1, 3), np.arange(faces.size).reshape(-1, 3))


def holed(mesh: Mesh, count: int = 5, size: float = 14.0, seed: int = 1) -> Mesh:
    """The mesh with round holes, none of which reaches its first or last eighth."""
    random = np.random.default_rng(seed)
    middles = mesh.vertices[mesh.faces].mean(axis=1)
    inner = np.flatnonzero(np.abs(np.arange(len(middles)) % (len(middles) // 2) * 2.0
                                  / len(middles) - 0.5) < 0.375)  # fmt: skip
    kept = np.ones(len(middles), dtype=bool)
    for at in middles[random.choice(inner, count)]:
        kept &= np.linalg.norm(middles - at, axis=1) > size
    return Mesh(mesh.vertices, mesh.faces[kept])


def noisy(mesh: Mesh, sigma: float = 0.3, seed: int = 2) -> Mesh:
    """The mesh with every vertex off its place."""
    random = np.random.default_rng(seed)
    return Mesh(mesh.vertices + random.normal(0.0, sigma, mesh.vertices.shape), mesh.faces)
