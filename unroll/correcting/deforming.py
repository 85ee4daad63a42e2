"""Move an arm's vertices by a correction: the surface that is laid flat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from unroll.correcting.handles import Handles, girth_levels, handles_of
from unroll.errors import UnrollError
from unroll.geometry.averages import face_normals
from unroll.types import ArmMesh, FloatArray, Mesh
from unroll.types.corrected import Correction

ELBOW_BLEND = 0.16  # the forearm's turn fades in over this many elbow girths to either side
MIRROR = np.array([1.0, -1.0, 1.0])


def deform(arm: ArmMesh, correction: Correction, handles: Handles | None = None) -> ArmMesh:
    """Return the arm with its vertices moved by a correction; faces, lines and names stay.

    Parameters
    ----------
    arm : ArmMesh
    correction : Correction
    handles : Handles, optional
        Of this arm, where they are known already.

    Notes
    -----
    In this order: girths are scaled about the axis, lengths added along it, the forearm turned
    about the elbow, the cap moved outward, the whole arm twisted, turned about the shoulder point
    and moved outward. Every change fades to nothing at the armhole's edge, which is sewn to a plate
    that does not move. The wrist keeps its girth: it is sewn to a base of the measured size.
    """
    handles = handles or handles_of(arm)
    side = np.ones(3) if arm.side == "left" else MIRROR
    points, axis = arm.mesh.vertices * side, handles.axis * side
    points = points + _girths(points, axis, handles, correction.girths)
    points = points + _lengths(axis, handles, correction)
    points = _bent(points, axis, handles, correction)
    points = points + _cap(points, arm, handles, correction.cap)
    points = _twisted(points, axis[0], handles.freed * correction.twist_rad)
    points = _turned(points, handles.freed, correction.outward_rad, correction.forward_rad)
    points = points + np.outer(handles.freed, [0.0, correction.reach, 0.0])
    return replace(arm, mesh=Mesh(points * side, arm.mesh.faces))


def check_unfolded(arm: ArmMesh, design: ArmMesh) -> None:
    """Refuse a changed arm some of whose triangles face the other way.

    Raises
    ------
    UnrollError
        When a triangle is turned over.
    """
    before, after = (face_normals(a.mesh.vertices, a.mesh.faces) for a in (arm, design))
    turned = int(np.count_nonzero(np.sum(before * after, axis=1) <= 0.0))
    if turned:
        raise UnrollError(
            f"the correction turns {turned} triangles over; expected none (a step too far?)"
        )


def _girths(
    points: FloatArray, axis: FloatArray, handles: Handles, girths: FloatArray
) -> FloatArray:
    at = np.append(girth_levels(handles), handles.stops[-1])
    change = PchipInterpolator(at, np.append(girths, 0.0))(np.clip(handles.along, at[0], at[-1]))
    centre = np.stack(
        [np.interp(handles.along, handles.stops, axis[:, k]) for k in range(3)], axis=1
    )
    first = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
    centre += np.minimum(handles.along, 0.0)[:, None] * first
    return np.asarray((handles.freed * change)[:, None] * (points - centre))


def _lengths(axis: FloatArray, handles: Handles, correction: Correction) -> FloatArray:
    elbow, wrist = handles.stops[2], handles.stops[4]
    upper = np.clip(handles.along / elbow, 0.0, 1.0)
    lower = np.clip((handles.along - elbow) / (wrist - elbow), 0.0, 1.0)
    down = (axis[2] - axis[0]) / np.linalg.norm(axis[2] - axis[0])
    on = (axis[4] - axis[2]) / np.linalg.norm(axis[4] - axis[2])
    return np.asarray(
        np.outer(correction.upper * upper, down) + np.outer(correction.lower * lower, on)
    )


def _bent(
    points: FloatArray, axis: FloatArray, handles: Handles, correction: Correction
) -> FloatArray:
    reach = ELBOW_BLEND * handles.elbow_girth
    share = smooth_step((handles.along - handles.stops[2] + reach) / (2.0 * reach))
    down = (axis[2] - axis[0]) / np.linalg.norm(axis[2] - axis[0])
    about = axis[2] + correction.upper * down
    return np.asarray(_turned(points - about, share, 0.0, correction.bend_rad) + about)


def _cap(points: FloatArray, arm: ArmMesh, handles: Handles, shift: float) -> FloatArray:
    """Return a shift away from the underarm, greatest midway over the cap's upper part."""
    height = float(-arm.landmarks["underarm"][2])
    away = points * [0.0, 1.0, 1.0] + [0.0, 0.0, height]
    away = away / np.maximum(np.linalg.norm(away, axis=1), 1e-9)[:, None]
    bump = 4.0 * handles.freed * (1.0 - handles.freed)
    upper = smooth_step((points[:, 2] + height) / (0.5 * height))
    return np.asarray(shift * (bump * upper)[:, None] * away)


def _turned(points: FloatArray, share: FloatArray, outward: float, forward: float) -> FloatArray:
    """Return points turned about the origin by a share of two angles."""
    x, y, z = points.T
    cos, sin = np.cos(share * outward), np.sin(share * outward)
    y, z = cos * y - sin * z, sin * y + cos * z
    cos, sin = np.cos(share * forward), np.sin(share * forward)
    x, z = cos * x - sin * z, sin * x + cos * z
    return np.asarray(np.stack([x, y, z], axis=1))


def _twisted(points: FloatArray, about: FloatArray, angle: FloatArray) -> FloatArray:
    """Return points turned about the upright line through a point, the front outward."""
    x, y = points[:, 0] - about[0], points[:, 1] - about[1]
    cos, sin = np.cos(angle), np.sin(angle)
    turned = np.stack([cos * x - sin * y, sin * x + cos * y, points[:, 2]], axis=1)
    return np.asarray(turned + about * [1.0, 1.0, 0.0])


def smooth_step(share: FloatArray) -> FloatArray:
    """Return 0 below 0, 1 above 1, and 3s² − 2s³ between."""
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share))
