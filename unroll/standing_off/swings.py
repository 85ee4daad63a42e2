"""How far the whole sewn arm is turned about the armhole, and the turn that undoes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from unroll.geometry.harmonic import spread_between
from unroll.geometry.placing import angle_between, fit_turn
from unroll.standing_off.levels import Level
from unroll.types import FloatArray
from unroll.types.sewn import Sewn

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
