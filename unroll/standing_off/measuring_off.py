"""Sewn arm against measured arm: girths, hang, and the distance over the cap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from unroll.errors import UnrollError
from unroll.geometry.averages import area_percentile, face_normals
from unroll.geometry.closest_points import signed_distances
from unroll.geometry.membrane import enclosed_volume
from unroll.geometry.placing import angle_between
from unroll.geometry.tracing import trace_level
from unroll.standing_off.levels import Level, asked_levels, sewn_levels
from unroll.standing_off.swings import swing_between, swing_shares
from unroll.types import ArmMesh, FloatArray, IntArray
from unroll.types.sewn import Sewn, SewnGirth, StandOff

NEEDED = ("front seam", "back seam", "cap seam", "outer wrist", "inner wrist")


def stand_off(sewn: Sewn, target: ArmMesh) -> StandOff:
    """Return how far a sewn and filled arm stands off the arm that was measured.

    Parameters
    ----------
    sewn : Sewn
    target : ArmMesh
        The lofted arm, of the same side.

    Raises
    ------
    UnrollError
        When the two are not of the same arm, or a seam that the hang is read from is missing.

    Notes
    -----
    The swing of the whole arm is read from its levels below the cap (see `swing_between`) and taken
    out before the cap is compared: fully below the upper arm's level, not at all at the armhole,
    which is held, smoothly between. Distances are to the nearest point of the measured arm's side
    surface, positive outside, over the part of the outer piece above the underarm's level.
    """
    _check(sewn, target)
    asked, levels = asked_levels(target), sewn_levels(sewn, target)
    height = -float(target.stations["underarm"].origin[2])
    swing = swing_between(levels, asked, side=target.side, armhole_height=height)
    turned = swing.undone(sewn.mesh.vertices, swing_shares(sewn, levels))
    cap = _cap(sewn, target, turned)
    distances = np.full(len(turned), np.nan)
    distances[cap.vertices] = cap.distances
    outer = sewn.mesh.faces[sewn.faces_of("outer")]
    asked_outer = target.mesh.faces[target.panel_faces["outer"]]
    return StandOff(
        source=sewn.source,
        arm=sewn.arm,
        swing_deg=swing.swing_deg,
        wrist_mm=swing.wrist_mm,
        outward_deg=swing.outward_deg,
        forward_deg=swing.forward_deg,
        twist_deg=swing.twist_deg,
        **_bulge(sewn, target, turned, cap),
        girths=_girths(levels, target),
        length_asked=_length(asked),
        length_sewn=_length(levels),
        bend_asked_deg=_bend_deg(asked),
        bend_sewn_deg=_bend_deg(levels),
        volume_asked=enclosed_volume(target.mesh.vertices, target.mesh.faces),
        volume_sewn=sewn.volume,
        faces=cap.faces,
        distances=distances,
        turned=turned,
        profile_asked=_profile(target.mesh.vertices, asked_outer, target),
        profile_sewn=_profile(turned, outer, target),
        profile_swung=_profile(sewn.mesh.vertices, outer, target),
        limits=sewn.limits,
    )


@dataclass(frozen=True, eq=False)
class _Cap:
    """The cap's faces; its vertices with their share of the area and their distances."""

    faces: IntArray
    vertices: IntArray
    areas: FloatArray
    distances: FloatArray


def _check(sewn: Sewn, target: ArmMesh) -> None:
    if sewn.arm != target.side:
        raise UnrollError(
            f"the sewn arm is a {sewn.arm} one and the measured arm a {target.side} one; "
            "expected the same side"
        )
    missing = [name for name in NEEDED if name not in sewn.seam_paths]
    if missing:
        raise UnrollError(
            f"the sewn arm has no {missing[0]!r}, which its hang is read from "
            "(do the pieces name their seams as usual?)"
        )


def _cap(sewn: Sewn, target: ArmMesh, turned: FloatArray) -> _Cap:
    """Measure the part of the outer piece that lies above the underarm's level."""
    faces = sewn.faces_of("outer")
    corners = sewn.mesh.faces[faces]
    is_above = turned[corners].mean(axis=1)[:, 2] > target.stations["underarm"].origin[2]
    faces, corners = faces[is_above], corners[is_above]
    sides = np.concatenate([target.panel_faces["outer"], target.panel_faces["inner"]])
    surface = target.mesh.vertices, target.mesh.faces[sides]
    # Vertices, not middles of faces: chords lie inside a round surface by an amount that grows
    # with the mesh size.
    vertices = np.unique(corners)
    areas = 0.5 * np.linalg.norm(face_normals(turned, corners), axis=1)
    shares = np.bincount(corners.ravel(), np.repeat(areas / 3, 3), minlength=len(turned))[vertices]
    return _Cap(faces, vertices, shares, signed_distances(turned[vertices], *surface)[0])


def _bulge(sewn: Sewn, target: ArmMesh, turned: FloatArray, cap: _Cap) -> dict[str, float]:
    """Return the figures of the distance over the cap."""
    away, areas = cap.distances, cap.areas
    worst = int(np.argmax(away))
    place = turned[cap.vertices[worst]]
    seam = turned[sewn.seam_paths["cap seam"]]
    front, back = (float(target.landmarks[f"armhole {side}"][0]) for side in ("front", "back"))
    breadth = areas[away > 0.5 * away[worst]].sum() if away[worst] > 0 else 0.0
    return {
        "bulge_max": max(float(away[worst]), 0.0),
        "bulge_mean": float(np.average(np.maximum(away, 0), weights=areas)),
        "bulge_below_seam": float(np.linalg.norm(seam - place, axis=1).min()),
        "bulge_forward": float(np.clip(2 * (place[0] - back) / (front - back) - 1, -1, 1)),
        "bulge_breadth": float(2 * np.sqrt(breadth / np.pi)),
        "hollow_max": max(float(-away.min()), 0.0),
        "hollow_mean": float(np.average(np.maximum(-away, 0), weights=areas)),
        "cap_mean": float(np.average(np.abs(away), weights=areas)),
        "cap_p95": area_percentile(np.abs(away), areas, 95.0),
    }


def _girths(levels: Mapping[str, Level], target: ArmMesh) -> tuple[SewnGirth, ...]:
    return tuple(
        SewnGirth(name, target.stations[name].girth, level.girth) for name, level in levels.items()
    )


def _length(levels: Mapping[str, Level]) -> float:
    """Return the way from the shoulder point over the elbow's centre to the wrist's, mm."""
    places = [np.zeros(3), *(levels[name].centre for name in ("elbow", "wrist") if name in levels)]
    return float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())


def _bend_deg(levels: Mapping[str, Level]) -> float:
    """Return the angle between the centre line above and below the elbow, degrees."""
    if not {"upper_arm", "elbow", "wrist"} <= set(levels):
        return float("nan")
    upper = levels["elbow"].centre - levels["upper_arm"].centre
    fore = levels["wrist"].centre - levels["elbow"].centre
    return float(np.degrees(angle_between(upper, fore)))


def _profile(points: FloatArray, faces: IntArray, target: ArmMesh) -> FloatArray:
    """Return the outer line through the middle of the cap, (k, 2): outward and up, shoulder first.

    Where the plane x = 0, through the shoulder point, cuts the outer part, down to the upper arm.
    """
    found = trace_level(faces, points[:, 0])
    if found is None:
        return np.zeros((0, 2))
    line = np.einsum("kc,kcx->kx", found[1], points[faces[found[0]]])
    if line[0, 2] < line[-1, 2]:
        line = line[::-1]
    low = float(target.stations["upper_arm"].origin[2])
    line = line[: int(np.argmax(line[:, 2] < low)) or len(line)]
    outward = 1.0 if target.side == "left" else -1.0
    return np.stack([outward * line[:, 1], line[:, 2]], axis=1)
