"""Sewn arm against measured arm: girths, hang, and the distance over the cap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.closest_points import signed_distances, spread_between
from unroll.maths.membrane import enclosed_volume
from unroll.maths.placing import angle_between, fit_turn
from unroll.maths.sections import trace_level
from unroll.maths.triangles import area_percentile, face_normals
from unroll.nouns import ArmMesh, Fit, Sewn, SewnGirth
from unroll.sewn.levels import Level, asked_levels, sewn_levels

ACROSS_MM = 60.0


@dataclass(frozen=True, eq=False)
class Swing:
    """The turn of the sewn arm against the measured one, about a point of the armhole.

    Attributes
    ----------
    undo_rad : (3,) float
        Rotation vector that brings the sewn arm back.
    pivot : (3,) float
        The point it turns about, between the shoulder point and the underarm.
    swing_deg : float
        Angle between the two arms' lengths, degrees.
    outward_deg, forward_deg, twist_deg : float
        Its parts, and the turn about the arm's own length (positive when the front seam has turned
        outward).
    wrist_mm : float
        Distance between the two wrist centres.
    """

    undo_rad: FloatArray
    pivot: FloatArray
    swing_deg: float
    outward_deg: float
    forward_deg: float
    twist_deg: float
    wrist_mm: float

    def undone(self, points: FloatArray, share: FloatArray) -> FloatArray:
        """Return points (n, 3) turned back by their `share` (n,) of the swing."""
        turn = Rotation.from_rotvec(share[:, None] * self.undo_rad)
        return np.asarray(turn.apply(points - self.pivot) + self.pivot)


def swing_between(
    sewn: Mapping[str, Level], asked: Mapping[str, Level], *, side: str, armhole_height: float
) -> Swing:
    """Return the swing between the levels of the sewn and of the measured arm.

    Notes
    -----
    The rotation that brings the ways from level to level, and across each level, closest (least
    squares); then the point of the line from shoulder point to underarm about which it leaves the
    levels' centres closest. It is split into the shortest turn of the arm's length and a twist.
    """
    names = [name for name in asked if name in sewn]
    here, there = [sewn[name] for name in names], [asked[name] for name in names]
    undo = fit_turn(_ways(here), _ways(there))
    length = there[-1].centre - there[0].centre
    length = length / np.linalg.norm(length)
    hangs = undo.T @ length
    mirror = 1.0 if side == "left" else -1.0
    outward = _angle(mirror * hangs[1], -hangs[2]) - _angle(mirror * length[1], -length[2])
    forward = _angle(hangs[0], -hangs[2]) - _angle(length[0], -length[2])
    return Swing(
        Rotation.from_matrix(undo).as_rotvec(),
        _pivot(here, there, undo, armhole_height),
        float(np.degrees(angle_between(hangs, length))),
        outward,
        forward,
        mirror * _twist_deg(undo.T, length),
        float(np.linalg.norm(here[-1].centre - there[-1].centre)),
    )


def swing_shares(sewn: Sewn, levels: Mapping[str, Level]) -> FloatArray:
    """Return the share of the swing that each sewn vertex takes part in, (n,).

    None at the armhole, which is held; all of it below the upper arm's level; between them the
    smoothest spread, so that taking the swing out bends the cap and tears nothing.
    """
    names = list(levels)
    top, low = levels[names[0]].centre, levels[names[1]].centre
    is_limb = (sewn.mesh.vertices - top) @ (low - top) > 0
    is_held = np.zeros(len(is_limb), dtype=bool)
    is_held[sewn.mesh.faces[sewn.faces_of("armhole base")]] = True
    values = np.where(is_limb & ~is_held, 1.0, 0.0)
    return spread_between(sewn.mesh.faces, values, is_limb | is_held)


def _ways(levels: list[Level]) -> FloatArray:
    """Return the directions to be brought together: from level to level, and across each."""
    centres = np.array([level.centre for level in levels])
    # Across the arm only the direction counts: sections may be round or oval.
    across = np.array([level.across / np.linalg.norm(level.across) for level in levels])
    return np.concatenate([np.diff(centres, axis=0), ACROSS_MM * across])


def _pivot(here: list[Level], there: list[Level], undo: FloatArray, height: float) -> FloatArray:
    """Return the point (0, 0, z) of the armhole about which `undo` fits the centres best."""
    left = np.mean([b.centre - undo @ a.centre for a, b in zip(here, there, strict=True)], axis=0)
    reach = (np.eye(3) - undo)[:, 2]
    size = float(reach @ reach)
    z = float(reach @ left) / size if size > 1e-12 else 0.0
    return np.array([0.0, 0.0, np.clip(z, -height, 0.0)])


def _twist_deg(turn: FloatArray, axis: FloatArray) -> float:
    """Return the part of a rotation about `axis`, degrees."""
    quaternion = Rotation.from_matrix(turn).as_quat()
    return float(np.degrees(2 * np.arctan2(quaternion[:3] @ axis, quaternion[3])))


def _angle(across: float, down: float) -> float:
    """Return the angle away from straight down, degrees."""
    return float(np.degrees(np.arctan2(across, down)))


NEEDED = ("front seam", "back seam", "cap seam", "outer wrist", "inner wrist")


def fit_of(sewn: Sewn, target: ArmMesh) -> Fit:
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
    off = {end: _off(levels, asked, end) for end in ("elbow", "wrist")}
    height = -float(target.stations["underarm"].origin[2])
    swing = swing_between(levels, asked, side=target.side, armhole_height=height)
    turned = swing.undone(sewn.mesh.vertices, swing_shares(sewn, levels))
    cap = _cap(sewn, target, turned)
    distances = np.full(len(turned), np.nan)
    distances[cap.vertices] = cap.distances
    outer = sewn.mesh.faces[sewn.faces_of("outer")]
    asked_outer = target.mesh.faces[target.panel_faces["outer"]]
    return Fit(
        source=sewn.source,
        arm=sewn.arm,
        swing_deg=swing.swing_deg,
        wrist_mm=swing.wrist_mm,
        elbow_mm=float(np.linalg.norm(off["elbow"])),
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
        elbow_off=off["elbow"],
        wrist_off=off["wrist"],
    )


def cap_apart(arm: ArmMesh, other: ArmMesh) -> tuple[float, float]:
    """Return mean and 95th percentile of the distance between two arms over the cap, mm.

    Parameters
    ----------
    arm : ArmMesh
        Whose cap is looked at.
    other : ArmMesh
        To whose side surface the distance is taken.
    """
    points = arm.mesh.vertices
    cap = _cap_of(points, arm.mesh.faces, arm.panel_faces["outer"], other)
    away = np.abs(cap.distances)
    return float(np.average(away, weights=cap.areas)), area_percentile(away, cap.areas, 95.0)


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
    return _cap_of(turned, sewn.mesh.faces, sewn.faces_of("outer"), target)


def _cap_of(turned: FloatArray, all_faces: IntArray, faces: IntArray, target: ArmMesh) -> _Cap:
    corners = all_faces[faces]
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
        SewnGirth(name, target.stations[name].girth, level.girth, level.line)
        for name, level in levels.items()
    )


def _off(levels: Mapping[str, Level], asked: Mapping[str, Level], name: str) -> FloatArray:
    """Return where a level's centre lies from where it should, (3,) mm; 0 where there is none."""
    if name not in levels or name not in asked:
        return np.zeros(3)
    return np.asarray(levels[name].centre - asked[name].centre)


def _length(levels: Mapping[str, Level]) -> float:
    """Return the way from the shoulder point over the elbow's centre to the wrist's, mm."""
    places = [np.zeros(3), *(levels[name].centre for name in ("elbow", "wrist") if name in levels)]
    return polylines.length(np.array(places))


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
