"""Plane sections of a scan: what a tape finds there, and the section's outline."""

from __future__ import annotations

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.sections import hull_length
from unroll.nouns import Mesh

AROUND = 256  # points of an outline
EVEN = 2.0 * np.pi * np.arange(AROUND) / AROUND
WAYS = np.column_stack([np.sin(EVEN), -np.cos(EVEN)])
BETWEEN = 6  # points on each straight piece of a section, or a coarse one swells when turned


class Cutter:
    """Cuts one mesh by many planes."""

    def __init__(self, mesh: Mesh) -> None:
        self.corners = mesh.faces
        self.vertices = mesh.vertices
        self._columns = tuple(np.ascontiguousarray(column) for column in mesh.faces.T)

    def segments(self, centre: FloatArray, frame: FloatArray, reach: float) -> FloatArray:
        """Return a plane's section about a centre, (k, 2, 2): forward and outward, mm.

        Parameters
        ----------
        centre : (3,) float
        frame : (3, 3) float
            Rows: forward, outward, and up, which is square to the plane.
        reach : float
            What lies farther from the centre is another part of the body, mm.
        """
        height = (self.vertices - centre) @ frame[2]
        above = height >= 0.0
        first, second, third = (above[column] for column in self._columns)
        faces = self.corners[(first != second) | (second != third)]
        ends = np.stack([faces, np.roll(faces, -1, axis=1)], axis=-1)
        crossed = above[ends[..., 0]] != above[ends[..., 1]]
        a, b = ends[crossed].reshape(-1, 2).T
        share = (height[a] / (height[a] - height[b]))[:, None]
        points = self.vertices[a] + share * (self.vertices[b] - self.vertices[a]) - centre
        found = (points @ frame[:2].T).reshape(-1, 2, 2)
        near = np.linalg.norm(found.mean(axis=1), axis=1) < reach
        return np.asarray(found[near])


def hull_girth(segments: FloatArray) -> float:
    """Return the length of a tape round a section, bridging hollows, mm.

    Raises
    ------
    UnrollError
        When the section is none.
    """
    points = segments.reshape(-1, 2)
    girth = hull_length(points) if len(points) > 2 else 0.0
    if not girth > 0.0:
        raise UnrollError("has a gap all round where the arm should be (a part missing, or "
                          "landmarks mixed up?)")
    return girth


def outline(segments: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a section's middle, (2,), and its outline about it, (AROUND, 2), mm.

    It runs from the innermost point over the front; across a hole it is led straight.
    """
    share = (np.arange(BETWEEN) + 0.5) / BETWEEN
    points = (
        segments[:, None, 0] + share[:, None] * (segments[:, None, 1] - segments[:, None, 0])
    ).reshape(-1, 2)
    weight = np.repeat(np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1), BETWEEN)
    middle = np.average(points, axis=0, weights=np.maximum(weight, 1e-9))
    for _ in range(3):  # the middle of the area, which a hole does not pull aside
        ring = turned(points - middle)
        onward = np.concatenate([ring[1:], ring[:1]])
        cross = ring[:, 0] * onward[:, 1] - ring[:, 1] * onward[:, 0]
        middle = middle + cross @ (ring + onward) / (3.0 * cross.sum())
    return middle, turned(points - middle)


def turned(points: FloatArray) -> FloatArray:
    """Return points about the origin at even angles, (AROUND, 2), from the innermost on."""
    angle = (np.arctan2(points[:, 1], points[:, 0]) + 0.5 * np.pi) % (2.0 * np.pi)
    order = np.argsort(angle)
    angle, radius = angle[order], np.hypot(*points.T)[order]
    # the last before the innermost and the first after it, once more a turn away
    at = np.concatenate([angle[-1:] - 2.0 * np.pi, angle, angle[:1] + 2.0 * np.pi])
    far = np.interp(EVEN, at, np.concatenate([radius[-1:], radius, radius[:1]]))
    return np.asarray(far[:, None] * WAYS)
