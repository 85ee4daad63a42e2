"""Where each vertex of an arm lies: how far along it, and how far from the armhole's edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve

from unroll.geometry.triangles import triangles_of
from unroll.types import ArmMesh, FloatArray

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
    stops = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(axis, axis=0), axis=1))])
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
