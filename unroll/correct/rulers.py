"""By how much a filled arm misses the arm that is wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.placing import fit_turn
from unroll.maths.sections import trace_level
from unroll.maths.triangles import area_percentile, triangles_of, vertex_normals
from unroll.nouns import ArmMesh, Trace
from unroll.nouns.corrected import Miss

STOPS = ("underarm", "upper_arm", "elbow", "forearm", "wrist")
# The armhole's hold fades out within these shares of its height, below the underarm.
REACH, LEAST_REACH = 0.45, 0.3


@dataclass(frozen=True, eq=False)
class Whereabouts:
    """Where each vertex of an arm lies.

    Attributes
    ----------
    along : (n,) float
        Distance along the arm's axis from the underarm's level, mm; negative above it.
    stops : (5,) float
        `along` at underarm, upper arm, elbow, forearm and wrist.
    freed : (n,) float
        0 at the armhole's edge, 1 below the cap, smooth between.
    """

    along: FloatArray
    stops: FloatArray
    freed: FloatArray


def girth_levels(where: Whereabouts) -> FloatArray:
    """Return the distances along the axis of the girth levels of a miss, (7,), mm."""
    stops = where.stops
    between = 0.5 * (stops[:-1] + stops[1:])
    return np.asarray(np.sort(np.concatenate([stops[1:-1], between])))


def whereabouts_of(arm: ArmMesh) -> Whereabouts:
    """Return where the vertices of an arm lie.

    Notes
    -----
    Between two stations a vertex's place along the axis is the share in which the two planes'
    distances divide, so that a station's section lies exactly at its stop, and the bend of the
    elbow is followed. `freed` solves Laplace's equation over the surface between the armhole's edge
    and the arm below the cap.
    """
    axis = np.array([arm.stations[name].origin for name in STOPS])
    stops = polylines.lengths_along(axis)
    along = _along(arm, stops)
    return Whereabouts(along, stops, _freed(arm, along, stops))


def _along(arm: ArmMesh, stops: FloatArray) -> FloatArray:
    planes = [arm.stations[name] for name in STOPS]
    below = np.array([-(arm.mesh.vertices - p.origin) @ p.normal for p in planes])
    along = below[0].copy()
    for k in range(len(stops) - 1):
        inside = (below[k] >= 0.0) & (along >= stops[k] - 1e-9)
        span = np.maximum(below[k] - below[k + 1], 1e-9)
        share = np.clip(below[k] / span, 0.0, 1.0)
        along = np.where(inside, stops[k] + share * (stops[k + 1] - stops[k]), along)
    return np.asarray(along)


def _freed(arm: ArmMesh, along: FloatArray, stops: FloatArray) -> FloatArray:
    height = float(-arm.landmarks["underarm"][2])
    # the upper arm's girth is to follow its number, so it lies below where changes fade
    full = min(REACH * height, max(float(stops[1]) - 0.5, LEAST_REACH * height))
    v, f = arm.mesh.vertices, arm.mesh.faces
    rim = np.union1d(arm.paths["cap seam"], arm.paths["underarm seam"])
    plates = np.concatenate([arm.panel_faces["armhole plate"], arm.panel_faces["wrist plate"]])
    side = np.setdiff1d(np.arange(len(f)), plates)
    level = np.where(along >= full, 1.0, 0.0)
    known = along >= full
    known[rim] = True
    known[np.setdiff1d(np.arange(len(v)), np.unique(f[side]))] = True
    stiffness = sparse.csr_matrix(triangles_of(v, f[side]).cotangent_laplacian())
    free = np.flatnonzero(~known)
    right = -stiffness[free][:, known] @ level[known]
    level[free] = spsolve(stiffness[free][:, free].tocsc(), right)
    level[rim] = 0.0
    return np.clip(level, 0.0, 1.0)


UPPER_ARM, ELBOW, FOREARM, WRIST = 1, 3, 5, 7  # among the rings
LEVELS = [UPPER_ARM, ELBOW, FOREARM, WRIST]
ACROSS_MM = 60.0


@dataclass(frozen=True, eq=False)
class Ruler:
    """What is measured on every filled shape of one mesh.

    Attributes
    ----------
    arm : ArmMesh
        The arm that is wanted.
    where : Whereabouts
    rings : tuple of tuple of Trace
        The lines round the arm at the girth levels and the wrist, a trace a panel.
    girths : (8,) float
        Girth wanted at each, mm.
    centres : (8, 3) float
        Its centre, mm.
    across : tuple of (2, 2) int, (2,) float
        For each ring, vertices of the front and of the back seam just above and below it, and the
        share of the lower one.
    areas : (n,) float
        Area of each vertex on the cap, 0 elsewhere.
    normals : (n, 3) float
    """

    arm: ArmMesh
    where: Whereabouts
    rings: tuple[tuple[Trace, ...], ...]
    girths: FloatArray
    centres: FloatArray
    across: tuple[tuple[IntArray, FloatArray], ...]
    areas: FloatArray
    normals: FloatArray

    @property
    def way(self) -> FloatArray:
        """Unit vector from the upper arm's centre to the wrist's, (3,)."""
        length = self.centres[WRIST] - self.centres[UPPER_ARM]
        return np.asarray(length / np.linalg.norm(length))


def ruler_of(arm: ArmMesh) -> Ruler:
    """Return the ruler of a left arm that is wanted."""
    where, v = whereabouts_of(arm), arm.mesh.vertices
    # just above the wrist's edge, where the card end begins
    at = np.append(girth_levels(where), where.stops[-1] - 0.5)
    rings = tuple(_ring(arm, where.along - place) for place in at)
    taped = [_tape(ring, v, arm) for ring in rings]
    girths, centres = np.array([t[0] for t in taped]), np.array([t[1] for t in taped])
    areas = _cap_areas(arm)
    return Ruler(
        arm,
        where,
        rings,
        girths,
        centres,
        tuple(_seams_at(arm, where, a) for a in at),
        areas,
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
    wanted = ruler.arm.mesh.vertices
    taped = [_tape(ring, filled, ruler.arm) for ring in ruler.rings]
    centres = np.array([t[1] for t in taped])
    offset = centres - ruler.centres
    levels = LEVELS
    lean = lean_of(ruler, centres[levels])
    twist = np.mean(
        [_turn_about(ruler.way, across(ruler, filled, k), across(ruler, wanted, k)) for k in levels]
    )
    hung = _hung(ruler, filled, centres[levels])
    off = np.abs(np.sum((hung - wanted) * ruler.normals, axis=1))
    return Miss(
        girths=np.array([t[0] for t in taped[:-1]]) / ruler.girths[:-1] - 1.0,
        outward_rad=float(lean[1]),
        forward_rad=float(lean[0]),
        twist_rad=float(twist),
        elbow=offset[ELBOW],
        wrist=offset[WRIST],
        cap_mean=float(off @ ruler.areas / ruler.areas.sum()),
        cap_p95=area_percentile(off, ruler.areas, 95.0),
    )


def lean_of(ruler: Ruler, centres: FloatArray) -> FloatArray:
    """Return how far the arm's length leans forward, outward and up, (3,) rad.

    Parameters
    ----------
    ruler : Ruler
    centres : (4, 3) float
        Of upper arm, elbow, forearm and wrist, mm.
    """
    turn = fit_turn(np.diff(ruler.centres[LEVELS], axis=0), np.diff(centres, axis=0))
    return np.asarray(turn @ ruler.way - ruler.way)


def _hung(ruler: Ruler, filled: FloatArray, here: FloatArray) -> FloatArray:
    """Return a filled shape with its swing taken out, the armhole left alone.

    The swing is read from the ways from section to section and across each, as in the stand-off; it
    is a turn about a point of the line from the shoulder point to the underarm, the one about which
    it leaves the sections' centres closest.
    """
    there = ruler.centres[LEVELS]
    turn = fit_turn(_ways(ruler, filled, here), _ways(ruler, ruler.arm.mesh.vertices, there))
    left = np.mean(there - here @ turn.T, axis=0)
    reach = (np.eye(3) - turn)[:, 2]
    size = float(reach @ reach)
    z = float(reach @ left) / size if size > 1e-12 else 0.0
    pivot = np.array([0.0, 0.0, np.clip(z, float(ruler.arm.landmarks["underarm"][2]), 0.0)])
    share = ruler.where.freed[:, None] * Rotation.from_matrix(turn).as_rotvec()
    return np.asarray(Rotation.from_rotvec(share).apply(filled - pivot) + pivot)


def _ways(ruler: Ruler, points: FloatArray, centres: FloatArray) -> FloatArray:
    """Return the directions that tell a turn: from centre to centre, and across each section."""
    ways = np.array([across(ruler, points, ring) for ring in LEVELS])
    ways *= ACROSS_MM / np.linalg.norm(ways, axis=1, keepdims=True)
    return np.concatenate([np.diff(centres, axis=0), ways])


def _ring(arm: ArmMesh, heights: FloatArray) -> tuple[Trace, ...]:
    out = []
    for panel in ("outer", "inner"):
        faces = arm.panel_faces[panel]
        found = trace_level(arm.mesh.faces[faces], heights)
        if found is not None:
            out.append(Trace(faces[found[0]], found[1]))
    return tuple(out)


def _tape(ring: tuple[Trace, ...], points: FloatArray, arm: ArmMesh) -> tuple[float, FloatArray]:
    """Return the girth of a line round the arm, taut in its best plane, and its centre."""
    line = np.concatenate([trace.on(points, arm.mesh.faces) for trace in ring])
    hull, _ = taut(line)
    around = line[hull.vertices]
    following = np.roll(around, -1, axis=0)
    weights = np.linalg.norm(following - around, axis=1)
    centre = weights @ (0.5 * (following + around)) / weights.sum()
    return float(hull.area), np.asarray(centre)


def taut(line: FloatArray) -> tuple[ConvexHull, FloatArray]:
    """Return the hull of a line round the arm (k, 3) in its best plane, and that plane, (2, 3)."""
    middle = line.mean(axis=0)
    plane = np.linalg.svd(line - middle, full_matrices=False)[2][:2]
    return ConvexHull((line - middle) @ plane.T), plane


def _seams_at(arm: ArmMesh, where: Whereabouts, place: float) -> tuple[IntArray, FloatArray]:
    pairs, shares = [], []
    for seam in ("front seam", "back seam"):
        path = arm.paths[seam]
        along = where.along[path]
        below = int(np.clip(np.argmax(along >= place), 1, len(path) - 1))
        span = float(along[below] - along[below - 1])
        pairs.append(path[below - 1 : below + 1])
        shares.append((place - float(along[below - 1])) / span)
    return np.array(pairs), np.clip(np.array(shares), 0.0, 1.0)


def across(ruler: Ruler, points: FloatArray, ring: int) -> FloatArray:
    """Return the way from the back seam to the front seam at a ring, (3,) mm."""
    pairs, shares = ruler.across[ring]
    ends = (1.0 - shares)[:, None] * points[pairs[:, 0]] + shares[:, None] * points[pairs[:, 1]]
    return np.asarray(ends[0] - ends[1])


def _turn_about(axis: FloatArray, here: FloatArray, there: FloatArray) -> float:
    """Return the angle between ways about a unit axis that points down, front outward."""
    here, there = here - (here @ axis) * axis, there - (there @ axis) * axis
    return float(np.arctan2(np.cross(here, there) @ axis, here @ there))


def _cap_areas(arm: ArmMesh) -> FloatArray:
    v, outer = arm.mesh.vertices, arm.mesh.faces[arm.panel_faces["outer"]]
    a, b, c = (v[outer[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    area[v[outer].mean(axis=1)[:, 2] < arm.landmarks["underarm"][2]] = 0.0
    return np.asarray(np.bincount(outer.ravel(), np.repeat(area / 3.0, 3), len(v)), dtype=float)
