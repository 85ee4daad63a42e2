"""Levels of an arm, measured: where the centre lies, how far round it is, which way it faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.sections import nearest_part, pulled_taut, section_segments
from unroll.nouns import ArmMesh, Sewn

LINES = {
    "upper_arm": "upper arm line",
    "elbow": "elbow line",
    "forearm": "forearm line",
}
LEVELS = (*LINES, "wrist")


@dataclass(frozen=True, eq=False)
class Level:
    """A cross-section of an arm.

    Attributes
    ----------
    centre : (3,) float
        Centroid of the section, mm.
    girth : float
        What a taut tape finds round it, mm.
    across : (3,) float
        From the back seam to the front seam, mm.
    line : (k, 3) float
        Where the tape lies, its start repeated, mm.
    """

    centre: FloatArray
    girth: float
    across: FloatArray
    line: FloatArray


def asked_levels(target: ArmMesh) -> dict[str, Level]:
    """Return the levels of the measured arm at its stations."""
    points, faces = target.mesh.vertices, target.mesh.faces
    front, back = points[target.paths["front seam"]], points[target.paths["back seam"]]
    out = {}
    for name in LEVELS:
        if name not in target.stations:
            continue
        station = target.stations[name]
        if name == "wrist":
            ring = _ring(target.paths["outer wrist"], target.paths["inner wrist"])
            out[name] = _ring_level(points[ring], front[-1] - back[-1], station.normal)
            continue
        across = _cross(front, station.origin, station.normal) - _cross(
            back, station.origin, station.normal
        )
        out[name] = _level(points, faces, station.origin, station.normal, across)
    return out


def sewn_levels(sewn: Sewn, target: ArmMesh) -> dict[str, Level]:
    """Return the levels of the sewn arm: at its pieces' lines, else at the same share of its seams.

    A level's plane is the one that fits the line drawn on the cloth best, as a tape laid along it.
    """
    points, faces = sewn.mesh.vertices, sewn.mesh.faces
    front = points[_downwards(sewn, "front seam")]
    back = points[_downwards(sewn, "back seam")]
    out = {}
    for name in LEVELS:
        if name not in target.stations:
            continue
        if name == "wrist":
            ring = _ring(sewn.seam_paths["outer wrist"], sewn.seam_paths["inner wrist"])
            down = front[-1] + back[-1] - front[-2] - back[-2]
            out[name] = _ring_level(points[ring], front[-1] - back[-1], -down)
            continue
        traces = sewn.lines.get(LINES[name], ())
        if len(traces) >= 2:
            line = np.concatenate([trace.on(points, faces) for trace in traces])
            origin, normal = _plane(line)
        else:
            origin, normal = _plane_at_share(front, back, *seam_shares(target, name))
        across = _cross(front, origin, normal) - _cross(back, origin, normal)
        out[name] = _level(points, faces, origin, normal, across)
    return out


def _downwards(sewn: Sewn, name: str) -> IntArray:
    """Return a seam's path from the armhole to the wrist."""
    path = sewn.seam_paths[name]
    return path[::-1] if path[0] in sewn.seam_paths["outer wrist"] else path


def _level(
    points: FloatArray, faces: IntArray, origin: FloatArray, normal: FloatArray, across: FloatArray
) -> Level:
    """Return the section of a mesh by a plane, the part nearest to `origin`."""
    segments = nearest_part(section_segments(points, faces, origin, normal), origin)
    line = pulled_taut(segments, origin, normal)
    return Level(_centroid(segments, normal), polylines.length(line), across, line)


def _centroid(segments: FloatArray, normal: FloatArray) -> FloatArray:
    """Return the centroid of the area within a closed section."""
    # Segments come unsorted and turned either way; around an inner point all count alike.
    middle = segments.reshape(-1, 3).mean(axis=0)
    spokes = segments - middle
    areas = np.abs(0.5 * np.cross(spokes[:, 0], spokes[:, 1]) @ normal)
    thirds = spokes.sum(axis=1) / 3
    return np.asarray(middle + areas @ thirds / areas.sum())


def _ring(outer: IntArray, inner: IntArray) -> IntArray:
    """Return the closed ring of two half rings that share their ends."""
    return np.concatenate([outer, inner[-2:0:-1] if inner[0] == outer[0] else inner[1:-1]])


def _ring_level(ring: FloatArray, across: FloatArray, normal: FloatArray) -> Level:
    """Return the level of a closed ring of points."""
    segments = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
    normal = normal / np.linalg.norm(normal)
    girth = float(np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).sum())
    return Level(_centroid(segments, normal), girth, across, np.concatenate([ring, ring[:1]]))


def _plane(line: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a point and the unit normal of the plane that fits points best."""
    middle = line.mean(axis=0)
    return middle, np.linalg.svd(line - middle, full_matrices=False)[2][2]


def _cross(line: FloatArray, origin: FloatArray, normal: FloatArray) -> FloatArray:
    """Return where a polyline first crosses a plane; its point nearest to the plane if nowhere."""
    heights = (line - origin) @ normal
    crossed = np.flatnonzero(heights[:-1] * heights[1:] <= 0)
    if not len(crossed):
        return np.asarray(line[np.argmin(np.abs(heights))])
    # Of several crossings the one nearest to the level's middle.
    k = crossed[np.argmin(np.linalg.norm(line[crossed] - origin, axis=1))]
    span = heights[k] - heights[k + 1]
    t = heights[k] / span if span else 0.0
    return np.asarray(line[k] + t * (line[k + 1] - line[k]))


def seam_shares(target: ArmMesh, name: str) -> tuple[float, float]:
    """Return how far down the front and the back seam a station lies, as shares of their length."""
    station = target.stations[name]
    out = []
    for seam in ("front seam", "back seam"):
        line = target.mesh.vertices[target.paths[seam]]
        walked = polylines.lengths_along(line)
        heights = (line - station.origin) @ station.normal
        out.append(float(np.interp(0.0, -heights, walked) / walked[-1]))
    return out[0], out[1]


def _plane_at_share(
    front: FloatArray, back: FloatArray, front_share: float, back_share: float
) -> tuple[FloatArray, FloatArray]:
    """Return the plane across the arm at shares of its two seams."""
    places, ways = [], []
    for line, share in ((front, front_share), (back, back_share)):
        walked = polylines.lengths_along(line)
        at = np.clip(np.array([share - 0.02, share, share + 0.02]), 0, 1) * walked[-1]
        around = np.stack([np.interp(at, walked, line[:, k]) for k in range(3)], axis=1)
        places.append(around[1])
        ways.append((around[2] - around[0]) / np.linalg.norm(around[2] - around[0]))
    across = places[0] - places[1]
    across /= np.linalg.norm(across)
    down = ways[0] + ways[1]
    down -= (down @ across) * across
    return np.asarray(0.5 * (places[0] + places[1])), np.asarray(down / np.linalg.norm(down))
