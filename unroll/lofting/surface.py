"""The arm's side surface above the elbow as one function of chart coordinates."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from unroll.geometry.ellipses import angle_at_arc_fraction, ellipse_half_depth
from unroll.lofting.limb import Limb
from unroll.types import FloatArray


@dataclass(frozen=True, eq=False)
class ArmSurface:
    """The surface above the elbow's bend, by chart.

    Attributes
    ----------
    limb : Limb
        With its cap.

    Notes
    -----
    The chart lays each level out straight: its vertical coordinate `down` is the distance over the
    outside from the shoulder point, its horizontal coordinate `across` the distance along the
    level from the outermost line, positive to the front (the sinusoidal map projection, taken from
    the globe to the arm). It is close to what cloth does, and has an inverse in closed form.
    """

    limb: Limb

    @cached_property
    def _cap_table(self) -> tuple[FloatArray, FloatArray]:
        angle = np.linspace(0.0, np.pi, 2001)
        profile = self.limb.cap.profile(np.maximum(angle, 1e-9))
        profile[0] = 0.0
        down = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(profile, axis=0), axis=1))])
        return angle, down

    @cached_property
    def cap_length(self) -> float:
        """Distance over the outside from the shoulder point to the underarm's level, mm."""
        return float(self._cap_table[1][-1])

    @cached_property
    def _angle_at(self) -> PchipInterpolator:
        angle, down = self._cap_table
        return PchipInterpolator(down, angle)

    def plate_angle(self, down: FloatArray) -> FloatArray:
        """Return the plate's angle θ at chart levels at or above the underarm."""
        return np.asarray(self._angle_at(np.clip(down, 0.0, self.cap_length)))

    def down_at_angle(self, angle: FloatArray) -> FloatArray:
        """Return the chart level of a plate angle."""
        return np.asarray(np.interp(angle, *self._cap_table))

    def level_length(self, down: FloatArray) -> FloatArray:
        """Return the length of the level: plate edge to plate edge, or the girth, mm."""
        down = np.asarray(down, dtype=float)
        cap = self.limb.cap.arc(np.minimum(self.plate_angle(down), np.pi - 1e-7))
        return np.where(down < self.cap_length, cap, self.limb.girth(down - self.cap_length))

    def height(self, down: FloatArray) -> FloatArray:
        """Return z at chart levels above the bend, mm."""
        cap = self.limb.cap.plate.level(self.plate_angle(down))
        return np.asarray(cap - np.maximum(np.asarray(down) - self.cap_length, 0.0))

    def points(self, across: FloatArray, down: FloatArray) -> FloatArray:
        """Return the points at chart positions, (..., 3), mm; levels must lie above the bend."""
        across, down = np.broadcast_arrays(np.asarray(across, float), np.asarray(down, float))
        cap, limb = self.limb.cap, self.limb
        angle = np.maximum(self.plate_angle(down), 1e-9)
        below = down >= self.cap_length
        along = np.maximum(down - self.cap_length, 0.0)
        opening = np.where(below, 0.0, np.clip(cap.opening(angle), 0.0, np.pi))
        ratio = np.where(below, cap.underarm_ratio, cap.ratio(angle))
        girth_depth = ellipse_half_depth(limb.girth(along), ratio)
        depth = np.where(below, girth_depth, cap.half_depth(angle))
        out = np.where(below, limb.centre(along)[..., 1], depth * np.cos(opening))
        length = np.maximum(self.level_length(down), 1e-9)
        fraction = np.clip(0.5 - across / length, 0.0, 1.0)
        turn = angle_at_arc_fraction(fraction, opening, ratio)
        x = cap.plate.middle(angle) + ratio * depth * np.cos(turn)
        y = out + depth * np.sin(turn)
        return np.stack([x, np.where(below, y, np.maximum(y, 0.0)), self.height(down)], axis=-1)
