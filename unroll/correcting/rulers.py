"""By how much a filled arm misses the arm that is wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from unroll.correcting.deforming import MIRROR
from unroll.correcting.handles import Handles, girth_levels, handles_of
from unroll.geometry.averages import area_percentile, vertex_normals
from unroll.geometry.placing import fit_turn
from unroll.geometry.tracing import trace_level
from unroll.types import ArmMesh, FloatArray, Trace
from unroll.types.corrected import Miss

BANDS, ACROSS = 4, 3
UPPER_ARM, ELBOW, FOREARM, WRIST = 1, 3, 5, 7  # among the rings


@dataclass(frozen=True, eq=False)
class Ruler:
    """What is measured on every filled shape of one mesh.

    Attributes
    ----------
    arm : ArmMesh
        The arm that is wanted.
    handles : Handles
    rings : tuple of tuple of Trace
        The lines round the arm at the girth levels and the wrist, a trace a panel.
    girths : (8,) float
        Girth wanted at each, mm.
    centres : (8, 3) float
        Its centre, mm, on a left arm.
    areas : (n,) float
        Area of each vertex on the cap, 0 elsewhere.
    parts : (12, n) float
        Weights of the means over the parts of the cap.
    normals : (n, 3) float
    """

    arm: ArmMesh
    handles: Handles
    rings: tuple[tuple[Trace, ...], ...]
    girths: FloatArray
    centres: FloatArray
    areas: FloatArray
    parts: FloatArray
    normals: FloatArray


def ruler_of(arm: ArmMesh) -> Ruler:
    """Return the ruler of an arm that is wanted."""
    handles, v = handles_of(arm), arm.mesh.vertices
    # just above the wrist's edge, where the card end begins
    at = np.append(girth_levels(handles), handles.stops[-1] - 0.5)
    rings = tuple(_ring(arm, handles.along - place) for place in at)
    taped = [_tape(ring, v * _side(arm), arm) for ring in rings]
    girths, centres = np.array([t[0] for t in taped]), np.array([t[1] for t in taped])
    areas = _cap_areas(arm)
    return Ruler(
        arm, handles, rings, girths, centres, areas, _parts(arm, areas),
        vertex_normals(v, arm.mesh.faces),
    )


def missed(ruler: Ruler, filled: FloatArray) -> Miss:
    """Return by how much a filled shape misses the arm.

    Parameters
    ----------
    ruler : Ruler
    filled : (n, 3) float
        The filled place of each vertex of the ruler's arm, mm.

    Notes
    -----
    Every vertex has its own place to be in, so nothing is searched for: distances over the cap
    are taken along the arm's normal, the hang from the centres of upper arm, elbow, forearm and
    wrist.
    """
    side = _side(ruler.arm)
    taped = [_tape(ring, filled * side, ruler.arm) for ring in ruler.rings]
    centres = np.array([t[1] for t in taped])
    offset = centres - ruler.centres
    levels = [UPPER_ARM, ELBOW, FOREARM, WRIST]
    turn = fit_turn(np.diff(ruler.centres[levels], axis=0), np.diff(centres[levels], axis=0))
    length = ruler.centres[WRIST] - ruler.centres[UPPER_ARM]
    lean = turn @ length / np.linalg.norm(length) - length / np.linalg.norm(length)
    away = np.sum((filled - ruler.arm.mesh.vertices) * ruler.normals, axis=1)
    return Miss(
        girths=np.array([t[0] for t in taped[:-1]]) / ruler.girths[:-1] - 1.0,
        outward_rad=float(lean[1]), forward_rad=float(lean[0]),
        elbow=offset[ELBOW], wrist=offset[WRIST], cap=ruler.parts @ away,
        cap_mean=float(np.abs(away) @ ruler.areas / ruler.areas.sum()),
        cap_p95=area_percentile(np.abs(away), ruler.areas, 95.0),
    )


def _side(arm: ArmMesh) -> FloatArray:
    return np.ones(3) if arm.side == "left" else MIRROR


def _ring(arm: ArmMesh, heights: FloatArray) -> tuple[Trace, ...]:
    out = []
    for panel in ("outer", "inner"):
        faces = arm.panel_faces[panel]
        found = trace_level(arm.mesh.faces[faces], heights)
        if found is not None:
            out.append(Trace(faces[found[0]], found[1]))
    return tuple(out)


def _tape(
    ring: tuple[Trace, ...], points: FloatArray, arm: ArmMesh
) -> tuple[float, FloatArray]:
    """Return the girth of a line round the arm, taut in its best plane, and its centre."""
    line = np.concatenate([trace.on(points, arm.mesh.faces) for trace in ring])
    middle = line.mean(axis=0)
    frame = np.linalg.svd(line - middle, full_matrices=False)[2]
    hull = ConvexHull((line - middle) @ frame[:2].T)
    around = line[hull.vertices]
    following = np.roll(around, -1, axis=0)
    weights = np.linalg.norm(following - around, axis=1)
    centre = weights @ (0.5 * (following + around)) / weights.sum()
    return float(hull.area), np.asarray(centre)


def _cap_areas(arm: ArmMesh) -> FloatArray:
    v, outer = arm.mesh.vertices, arm.mesh.faces[arm.panel_faces["outer"]]
    a, b, c = (v[outer[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    area[v[outer].mean(axis=1)[:, 2] < arm.landmarks["underarm"][2]] = 0.0
    return np.bincount(outer.ravel(), np.repeat(area / 3.0, 3), len(v))


def _parts(arm: ArmMesh, areas: FloatArray) -> FloatArray:
    """Return weights, rows adding up to 1, of means over bands down the cap, back to front."""
    v = arm.mesh.vertices
    down = np.clip(v[:, 2] / arm.landmarks["underarm"][2], 0.0, 1.0)
    front = v[:, 0] / np.abs(v[areas > 0, 0]).max()
    rows = []
    for band in range(BANDS):
        for place in range(ACROSS):
            near = np.maximum(1.0 - np.abs(down - (band + 0.5) / BANDS) * BANDS, 0.0)
            beside = np.maximum(1.0 - np.abs(1.5 * front - (place - 1)), 0.0)
            rows.append(areas * near * beside)
    parts = np.array(rows)
    return np.asarray(parts / np.maximum(parts.sum(axis=1, keepdims=True), 1e-9))
