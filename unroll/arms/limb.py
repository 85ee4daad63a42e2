"""The limb below the underarm: any number of sections along an axis; and the arm's chart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from unroll.arms.axis import Bend, Layout, Polyline
from unroll.arms.cap import Cap
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import (
    angle_at_arc_fraction,
    ellipse_half_depth,
    superellipse_loops,
    superellipse_perimeters,
)
from unroll.nouns import Level

OUTLINE_POINTS = 256  # round a section that has a shape of its own


@dataclass(frozen=True, eq=False)
class Limb:
    """Closed sections along an axis that hangs from the underarm's centre.

    Attributes
    ----------
    levels : tuple of Level
        Downwards, from the underarm (along = 0) to the wrist; these two give every value.
    cap : Cap
    layout : Layout
    axis : Bend or Polyline

    Notes
    -----
    Girths and width : depth ratios are interpolated by monotone cubics (Fritsch & Carlson 1980,
    doi 10.1137/0717021), which are smooth and never overshoot a level's girth.
    """

    levels: tuple[Level, ...]
    cap: Cap
    layout: Layout
    axis: Bend | Polyline

    @cached_property
    def _girths(self) -> CubicHermiteSpline:
        return monotone_girths(self.levels)

    @cached_property
    def _ratios(self) -> PchipInterpolator:
        given = [(x.along, x.ratio) for x in self.levels if x.ratio is not None]
        return PchipInterpolator(*np.array(given).T)

    @cached_property
    def _exponents(self) -> CubicHermiteSpline:
        given = np.array([(x.along, x.exponent) for x in self.levels if x.exponent is not None])
        return CubicHermiteSpline(given[:, 0], given[:, 1], np.zeros(len(given)))

    @cached_property
    def _outlines(self) -> PchipInterpolator | None:
        """Sections of girth 1 at even fractions of it, where any level has a shape of its own."""
        if all(level.outline is None for level in self.levels):
            return None
        fraction = np.arange(OUTLINE_POINTS) / OUTLINE_POINTS
        loops = [
            self._oval(level.along, fraction)
            if level.outline is None
            else _even_loop(level.outline, fraction)
            for level in self.levels
        ]
        return PchipInterpolator([level.along for level in self.levels], np.array(loops))

    def girth(self, along: FloatArray | float) -> FloatArray:
        """Return the girth at distances along the axis, mm."""
        return np.asarray(self._girths(along))

    def ratio(self, along: FloatArray | float) -> FloatArray:
        """Return width : depth at distances along the axis."""
        return np.asarray(self._ratios(along))

    def exponent(self, along: FloatArray | float) -> FloatArray:
        """Return the superellipse exponent at distances along the axis."""
        return np.asarray(self._exponents(along))

    def half_axes(self, along: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return half-widths (front to back), half-depths and exponents at distances (n,)."""
        girth, ratio, exponent = self.girth(along), self.ratio(along), self.exponent(along)
        is_ellipse = np.abs(exponent - 2.0) < 1e-9
        unit = superellipse_perimeters(ratio, np.ones_like(ratio), exponent)
        depth = np.where(is_ellipse, ellipse_half_depth(girth, ratio), girth / unit)
        return ratio * depth, depth, exponent

    def _oval(self, along: float, fraction: FloatArray) -> FloatArray:
        """Return the oval of girth 1, (k, 2)."""
        at = np.array([along])
        return np.asarray(superellipse_loops(fraction, *self.half_axes(at))[0] / self.girth(along))

    def section(self, along: float, fraction: FloatArray) -> FloatArray:
        """Return a section's points at fractions of its girth, (k, 2): forward and outward, mm."""
        return np.asarray(self.sections(np.array([along]), fraction)[0])

    def sections(self, along: FloatArray, fraction: FloatArray) -> FloatArray:
        """Return the sections' points at distances (n,) and fractions of girth (k,), (n, k, 2)."""
        if self._outlines is None:
            return superellipse_loops(fraction, *self.half_axes(along))
        every = np.repeat(along, len(fraction)), np.tile(fraction, len(along))
        return self.shaped(*every).reshape(len(along), len(fraction), 2)

    @property
    def has_outlines(self) -> bool:
        """Tell whether any level has a shape of its own."""
        return self._outlines is not None

    def shaped(self, along: FloatArray, fraction: FloatArray) -> FloatArray:
        """Return points of sections with outlines, (n, 2): one at each distance and fraction."""
        if self._outlines is None:
            raise UnrollError("no level has an outline; expected one (was the scan rounded?)")
        places, where = np.unique(along, return_inverse=True)
        loops = self._outlines(places)
        sizes = np.linalg.norm(np.roll(loops, -1, axis=1) - loops, axis=2).sum(axis=1)
        loops *= (self.girth(places) / sizes)[:, None, None]
        at = (np.asarray(fraction) % 1.0) * OUTLINE_POINTS
        low = np.floor(at).astype(int) % OUTLINE_POINTS
        share = (at - np.floor(at))[:, None]
        return np.asarray(
            (1.0 - share) * loops[where, low] + share * loops[where, (low + 1) % OUTLINE_POINTS]
        )

    def centre(self, along: FloatArray | float) -> FloatArray:
        """Return the axis's points, (..., 3), mm."""
        return self.axis.centre(along)

    def frame(self, along: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return a section's centre, its forward unit vector, and the axis towards the shoulder."""
        forward, up = self.axis.frames(np.array([along]))
        return np.asarray(self.centre(along)), forward[0], up[0]

    def ring(self, along: float, fraction: FloatArray, *, exact: bool = True) -> FloatArray:
        """Return a section's points at fractions of its girth, (k, 3), mm; see `rings`."""
        return np.asarray(self.rings(np.array([along]), fraction, exact=exact)[0])

    def rings(self, along: FloatArray, fraction: FloatArray, *, exact: bool = True) -> FloatArray:
        """Return the points of sections at fractions of their girths, (n, k, 3), mm.

        Fractions run from the innermost point over the front and the outside to the back. With
        `exact`, the closed polygon through the points is scaled to the girth itself.
        """
        flat = self.sections(along, fraction)
        if exact:
            steps = np.diff(flat, axis=1, append=flat[:, :1])
            walked = np.linalg.norm(steps, axis=2).sum(axis=1)
            flat = flat * (self.girth(along) / walked)[:, None, None]
        forward, up = self.axis.frames(along)
        ways = np.stack([forward, np.cross(up, forward)], axis=1)
        return np.asarray(self.centre(along)[:, None] + flat @ ways)


def monotone_girths(levels: Sequence[Level]) -> CubicHermiteSpline:
    """Return the girth along a limb as a curve through its levels that never overshoots them."""
    at, girth = np.array([(level.along, level.girth) for level in levels]).T
    return CubicHermiteSpline(at, girth, PchipInterpolator(at, girth).derivative()(at))


def _even_loop(loop: FloatArray, fraction: FloatArray) -> FloatArray:
    """Return a closed loop's points at fractions of its length, (k, 2), for a length of 1."""
    closed = np.concatenate([loop, loop[:1]])
    walked = np.concatenate(
        [[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))]
    )
    at = np.asarray(fraction) % 1.0 * walked[-1]
    even = np.column_stack([np.interp(at, walked, closed[:, k]) for k in (0, 1)])
    return np.asarray(even / walked[-1])


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
        """Return the chart's z above the bend, mm: where the plate is upright, the height."""
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
        ratio = np.where(below, limb.ratio(along), cap.ratio(angle))
        girth_depth = ellipse_half_depth(limb.girth(along), ratio)
        depth = np.where(below, girth_depth, cap.half_depth(angle))
        centre = limb.centre(along)
        out = np.where(below, 0.0, depth * np.cos(opening))
        length = np.maximum(self.level_length(down), 1e-9)
        fraction = np.clip(0.5 - across / length, 0.0, 1.0)
        turn = angle_at_arc_fraction(fraction, opening, ratio)
        middle = np.where(below, 0.0, cap.plate.middle(angle))
        x = middle + ratio * depth * np.cos(turn)
        y = out + depth * np.sin(turn)
        if limb.has_outlines and below.any():
            x[below], y[below] = limb.shaped(along[below], fraction[below]).T
        level = np.stack([x, np.maximum(y, 0.0), self.height(down)], axis=-1)
        turned = limb.axis.turned(along[below])
        own = np.einsum("nij,nj->ni", turned[:, :, :2], np.stack([x[below], y[below]], axis=-1))
        level[below] = centre[below] + own
        return level
