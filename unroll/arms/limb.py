"""The arm's side surface above the elbow as one function of chart coordinates."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from unroll.arms.cap import Cap
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import (
    angle_at_arc_fraction,
    ellipse_half_depth,
    superellipse_exponent,
    superellipse_loop,
    superellipse_perimeter,
)
from unroll.nouns import ArmMeasures

DRIFT_LENGTH_MM = 40.0  # over which the axis turns from the cap's slope to hanging straight


@dataclass(frozen=True)
class Layout:
    """Distances along the limb's axis from the underarm, mm, and the elbow's bend.

    Attributes
    ----------
    upper_arm, elbow, forearm, wrist : float
        Stations.
    bend_rad : float
        Turn of the forearm against the upper arm, forward.
    bend_length : float
        Length of axis above the elbow over which the turn is made.
    """

    upper_arm: float
    elbow: float
    forearm: float
    wrist: float
    bend_rad: float
    bend_length: float


@dataclass(frozen=True, eq=False)
class Limb:
    """Closed sections along an axis that hangs from the underarm's centre.

    Notes
    -----
    Girths and width : depth ratios are interpolated by monotone cubics (Fritsch & Carlson 1980,
    doi 10.1137/0717021), which are smooth and never overshoot a measured girth. The axis turns at
    a constant rate over `bend_length` and is straight elsewhere, and every section is square to it.
    """

    measures: ArmMeasures
    cap: Cap
    layout: Layout

    @cached_property
    def _girths(self) -> CubicHermiteSpline:
        at, girth = self._stations(
            self.cap.underarm_girth,
            self.measures.upper_arm_girth,
            self.measures.elbow_girth,
            self.measures.forearm_girth,
            self.measures.wrist_girth,
        )
        slopes = PchipInterpolator(at, girth).derivative()(at)
        return CubicHermiteSpline(at, girth, slopes)

    @cached_property
    def _ratios(self) -> PchipInterpolator:
        m = self.measures
        at, ratio = self._stations(
            m.upper_arm_ratio,
            m.upper_arm_ratio,
            m.elbow_ratio,
            m.forearm_ratio,
            m.wrist_width / m.wrist_depth,
        )
        return PchipInterpolator(at, ratio)

    @cached_property
    def _underarm_half_depth(self) -> float:
        return self.cap.underarm_half_depth

    def _stations(self, *values: float) -> tuple[FloatArray, FloatArray]:
        layout = self.layout
        at = np.array([0.0, layout.upper_arm, layout.elbow, layout.forearm, layout.wrist])
        return at, np.array(values)

    def girth(self, along: FloatArray | float) -> FloatArray:
        """Return the girth at distances along the axis, mm."""
        return np.asarray(self._girths(along))

    @cached_property
    def _wrist_exponent(self) -> float:
        m = self.measures
        return superellipse_exponent(0.5 * m.wrist_width, 0.5 * m.wrist_depth, m.wrist_girth)

    def exponent(self, along: FloatArray | float) -> FloatArray:
        """Return the superellipse exponent: 2 to the forearm, the wrist's own at the wrist."""
        span = max(self.layout.wrist - self.layout.forearm, 1.0)
        share = np.clip((np.asarray(along) - self.layout.forearm) / span, 0.0, 1.0)
        return np.asarray(2.0 + (self._wrist_exponent - 2.0) * share**2 * (3.0 - 2.0 * share))

    def half_axes(self, along: float) -> tuple[float, float, float]:
        """Return half-width (front to back), half-depth and exponent at one distance."""
        girth, ratio = float(self.girth(along)), float(self._ratios(along))
        exponent = float(self.exponent(along))
        if abs(exponent - 2.0) < 1e-9:
            depth = float(ellipse_half_depth(girth, ratio))
        else:
            depth = girth / superellipse_perimeter(ratio, 1.0, exponent)
        return ratio * depth, depth, exponent

    def turn(self, along: FloatArray | float) -> FloatArray:
        """Return the axis's forward turn at distances along it, radians."""
        start = self.layout.elbow - self.layout.bend_length
        share = np.clip((np.asarray(along) - start) / self.layout.bend_length, 0.0, 1.0)
        return np.asarray(self.layout.bend_rad * share)

    def centre(self, along: FloatArray | float) -> FloatArray:
        """Return the axis's points, (..., 3), mm."""
        s = np.asarray(along, dtype=float)
        start = self.layout.elbow - self.layout.bend_length
        turn = self.turn(s)
        radius = self.layout.bend_length / max(abs(self.layout.bend_rad), 1e-9)
        sign = 1.0 if self.layout.bend_rad >= 0 else -1.0
        past = np.maximum(s - self.layout.elbow, 0.0)
        straight = np.minimum(s, start)
        x = sign * radius * (1.0 - np.cos(turn)) + past * np.sin(turn)
        drop = straight + radius * np.abs(np.sin(turn)) + past * np.cos(turn)
        y = self._underarm_half_depth + self._drift(s)
        middle = float(self.cap.plate.middles[-1])
        return np.stack([x + middle, y, -self.cap.plate.height - drop], axis=-1)

    @cached_property
    def _drift_slope(self) -> float:
        step = 1e-2
        angle = np.array([np.pi - 2 * step, np.pi - step])
        profile = self.cap.profile(angle)
        cap_slope = float(np.diff(profile[:, 0])[0] / -np.diff(profile[:, 1])[0])
        b = [self.half_axes(s)[1] for s in (0.0, 1.0)]
        return float(np.clip(cap_slope - (b[1] - b[0]), -0.25, 0.25))

    def _drift(self, along: FloatArray) -> FloatArray:
        """Return how far the axis moves out below the underarm, continuing the cap's slope."""
        faded = 1.0 - np.exp(-along / DRIFT_LENGTH_MM)
        return np.asarray(self._drift_slope * DRIFT_LENGTH_MM * faded)

    def frame(self, along: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return a section's centre, its forward unit vector, and the axis towards the shoulder."""
        turn = float(self.turn(along))
        forward = np.array([np.cos(turn), 0.0, np.sin(turn)])
        up = np.array([-np.sin(turn), 0.0, np.cos(turn)])
        return self.centre(along), forward, up

    def ring(self, along: float, fraction: FloatArray, *, exact: bool = True) -> FloatArray:
        """Return a section's points at fractions of its girth, (k, 3), mm.

        Fractions run from the innermost point over the front and the outside to the back. With
        `exact`, the closed polygon through the points is scaled to the girth itself.
        """
        width, depth, exponent = self.half_axes(along)
        flat = superellipse_loop(fraction, width, depth, exponent)
        if exact:
            walked = np.linalg.norm(np.diff(flat, axis=0, append=flat[:1]), axis=1).sum()
            flat = flat * (float(self.girth(along)) / walked)
        centre, forward, _ = self.frame(along)
        return np.asarray(centre + np.outer(flat[:, 0], forward) + np.outer(flat[:, 1], [0, 1, 0]))


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
        down = polylines.lengths_along(profile)
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
