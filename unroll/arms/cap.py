"""The cap: levels that are ellipses cut off by the armhole plate, fitted to the tape."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.ellipses import ellipse_perimeter, superellipse_exponent, truncated_arc
from unroll.nouns import Armhole, ArmMeasures, Stance

UPRIGHT = Stance()

EXACT = 1e-10  # relative
ROUGH = 1e-5  # from here on a fit is a quick one


@dataclass(frozen=True, eq=False)
class Plate:
    """The plate's chords: at the angle θ its half-width is half the width times sin θ.

    Attributes
    ----------
    width, height : float
        Full width and height, mm.
    angles, levels, middles : (k,) float
        Table: angle θ from 0 (shoulder) to π (underarm), level z (0 to -height), and the x of
        the chord's middle, mm.
    stands : (3, 3) float
        How the plate stands on the double: turns the arm's frame, in which the plate is upright
        and faces straight out, to the room's.

    Notes
    -----
    Taking the half-width itself as the sine of the parameter makes every oval, superellipse or
    traced outline look like an ellipse to the cap, so that one formula serves all.
    """

    width: float
    height: float
    angles: FloatArray
    levels: FloatArray
    middles: FloatArray
    stands: FloatArray = field(default_factory=lambda: np.eye(3))

    @property
    def up(self) -> FloatArray:
        """Straight up in the room, as the arm's frame has it, (3,)."""
        return np.asarray(self.stands[2])

    @property
    def underarm(self) -> FloatArray:
        """The plate's lowest point, (3,), mm."""
        return np.array([self.middles[-1], 0.0, -self.height])

    def half_width(self, angle: FloatArray) -> FloatArray:
        """Return the half-width of the chord, mm."""
        return np.asarray(0.5 * self.width * np.sin(angle))

    def level(self, angle: FloatArray) -> FloatArray:
        """Return the level z of the chord, mm (0 at the shoulder, negative below)."""
        return np.asarray(np.interp(angle, self.angles, self.levels))

    def middle(self, angle: FloatArray) -> FloatArray:
        """Return the x of the chord's middle, mm."""
        return np.asarray(np.interp(angle, self.angles, self.middles))

    def angle_at_level(self, level: FloatArray | float) -> FloatArray:
        """Return the angle of the chord at level z."""
        return np.asarray(np.interp(-np.asarray(level), -self.levels, self.angles))


def plate_of(armhole: Armhole, stance: Stance = UPRIGHT, *, count: int = 4001) -> Plate:
    """Return the plate of an armhole: an oval of its three measures, or its traced outline.

    Raises
    ------
    UnrollError
        When the plate cannot stand as measured.
    """
    angles = np.linspace(0.0, np.pi, count)
    if armhole.outline is not None:
        levels, middles = _traced_chords(armhole.outline, angles)
    else:
        levels, middles = _oval_chords(armhole, angles), np.zeros(count)
    plate = Plate(armhole.width, armhole.height, angles, levels, middles)
    return replace(plate, stands=_stands(plate, stance))


def _stands(plate: Plate, stance: Stance) -> FloatArray:
    """Return the turn of the plate that brings its underarm and its edges to where they lie.

    Where nothing was measured, the underarm lies as the outline has it, and the edges alike.
    """
    underarm = plate.underarm
    inside, front = stance.underarm_inside or 0.0, stance.front_inside or 0.0
    forward = underarm[0] if stance.underarm_behind is None else -stance.underarm_behind
    width = 2.0 * float(plate.half_width(plate.angle_at_level(-0.5 * plate.height)))
    fall = float(underarm @ underarm) - forward**2 - inside**2
    hung = np.array([forward, -inside, -np.sqrt(np.maximum(fall, 0.0))])
    # the way from back edge to front edge, x: its slope inwards is known, and its angle with `hung`
    slope, flat = -front / width, float(np.hypot(hung[0], hung[2]))
    along = (underarm[0] - slope * hung[1]) / max(flat, 1e-9)
    left = 1.0 - slope**2 - along**2
    if fall <= 0.0 or left <= 0.0:
        raise UnrollError(
            f"underarm_inside {inside:.0f} mm, underarm_behind {-forward:.0f} mm and front_inside "
            f"{front:.0f} mm turn an armhole {plate.width:.0f} by {plate.height:.0f} mm over; "
            "expected less than its size (wrong unit?)"
        )
    down = hung[[0, 2]] / flat
    x, z = along * down + np.sqrt(left) * np.array([-down[1], down[0]])
    ahead = np.array([x, slope, z])
    up = (underarm[0] * ahead - hung) / plate.height
    return np.stack([ahead, np.cross(up, ahead), up], axis=1)


def _oval_chords(armhole: Armhole, angles: FloatArray) -> FloatArray:
    half = 0.5 * armhole.height
    n = superellipse_exponent(0.5 * armhole.width, half, armhole.girth)
    if abs(n - 2.0) < 1e-3:
        return np.asarray(-half * (1.0 - np.cos(angles)))
    rise = np.clip(1.0 - np.sin(angles) ** n, 0.0, 1.0) ** (1.0 / n)
    return np.asarray(-half * (1.0 - np.sign(np.cos(angles)) * rise))


def _traced_chords(outline: FloatArray, angles: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return levels and chord middles of a traced outline, whose chords widen, then narrow."""
    levels = np.linspace(outline[:, 1].max(), outline[:, 1].min(), 2001)
    top, bottom = int(np.argmax(outline[:, 1])), int(np.argmin(outline[:, 1]))
    ring = np.roll(outline, -top, axis=0)
    bottom = (bottom - top) % len(ring)
    back, front = ring[: bottom + 1], np.vstack([ring[bottom:], ring[:1]])[::-1]
    x_back, x_front = (np.interp(-levels, -side[:, 1], side[:, 0]) for side in (back, front))
    half = 0.5 * np.abs(x_front - x_back)
    widest = int(np.argmax(half))
    ratio = np.clip(half / half[widest], 0.0, 1.0)
    angle = np.where(np.arange(len(levels)) <= widest, np.arcsin(ratio), np.pi - np.arcsin(ratio))
    angle = np.maximum.accumulate(angle)
    keep = np.concatenate([[True], np.diff(angle) > 1e-9])
    to_level = PchipInterpolator(angle[keep], levels[keep])
    to_middle = PchipInterpolator(angle[keep], 0.5 * (x_back + x_front)[keep])
    inside = np.clip(angles, angle[keep][0], angle[keep][-1])
    return np.asarray(to_level(inside)), np.asarray(to_middle(inside))


TERMS = 6
LEVELS, AROUND = 100, 61  # of the cap, and points along each, where a level of the room cuts them
TAPE_ERROR_MM = 1.0  # how far two tapes of one arc differ; common practice, no source
ESTIMATE_ERROR_MM = 12.0
UNDERARM_GIRTH_ERROR_MM = 12.0
SLOPE_ERROR = 0.2  # slopes at the underarm that still look smooth, mm a mm
RATIO_ERROR = 0.2  # how far the cap's width : depth may leave the upper arm's
# Mean over both surveys' women of arm girth at the axilla over upper-arm girth taken a hand lower
# is 1.02 to 1.04 (tables of the 1988 survey, ARM_CIRC-AXILLARY and ARMCIRCBCPS_FLEX).
UNDERARM_TO_UPPER_ARM = 1.03


@dataclass(frozen=True, eq=False)
class Cap:
    """The fitted cap.

    Attributes
    ----------
    plate : Plate
    underarm_ratio : float
        Width : depth of the closed ellipse at the underarm.
    coefficients : (k,) float
        Of the opening angle α(θ) = Σ cₖ cos((k + ½) θ).
    fullness : (2,) float
        Change of width : depth over the cap, d₁ cos²(θ/2) + d₂ sin²θ.

    Notes
    -----
    At the plate's angle θ the section is the ellipse with half-axes r·b and b whose centre lies
    b·cos α out from the plate; the plate cuts it in a chord of half-width r·b·sin α. The chord
    being the plate's, the half-width w / sin α follows from α(θ) alone, and the depth from r(θ).
    The cosines make α even about the shoulder, where the levels shrink to a point, and odd about
    the underarm, where the ellipse closes (α = 0), and r even about both: with these symmetries
    the surface is smooth at both ends.
    """

    plate: Plate
    underarm_ratio: float
    coefficients: FloatArray
    fullness: FloatArray

    @property
    def numbers(self) -> tuple[float, ...]:
        """All that is fitted, to begin another fit with."""
        return tuple(np.concatenate([self.coefficients, self.fullness]).tolist())

    def ratio(self, angle: FloatArray) -> FloatArray:
        """Return width : depth at plate angles θ."""
        first, second = self.fullness
        change = first * np.cos(0.5 * np.asarray(angle)) ** 2 + second * np.sin(angle) ** 2
        return np.asarray(self.underarm_ratio * (1.0 + change))

    def opening(self, angle: FloatArray) -> FloatArray:
        """Return α at plate angles θ, radians."""
        k = np.arange(len(self.coefficients)) + 0.5
        return np.asarray(np.cos(np.multiply.outer(angle, k)) @ self.coefficients)

    def half_depth(self, angle: FloatArray) -> FloatArray:
        """Return b at plate angles θ, mm (by its limit at the underarm)."""
        angle = np.asarray(angle, dtype=float)
        near_end = np.minimum(angle, np.pi - 1e-6)
        half_width = self.plate.half_width(near_end) / np.sin(self.opening(near_end))
        return np.asarray(half_width / self.ratio(near_end))

    def arc(self, angle: FloatArray) -> FloatArray:
        """Return the length over the outside, plate edge to plate edge, mm."""
        return np.asarray(
            self.half_depth(angle) * truncated_arc(self.opening(angle), self.ratio(angle))
        )

    def profile(self, angle: FloatArray) -> FloatArray:
        """Return (y, z) of the outermost point of each level, shape (..., 2), mm."""
        y = self.half_depth(angle) * (1.0 + np.cos(self.opening(angle)))
        return np.stack([y, self.plate.level(angle)], axis=-1)

    @property
    def underarm_half_depth(self) -> float:
        """Half-depth of the closed ellipse at the underarm, mm."""
        return float(self.half_depth(np.array(np.pi)))

    @property
    def underarm_girth(self) -> float:
        """Girth of the closed ellipse at the underarm, mm."""
        b = self.underarm_half_depth
        return float(ellipse_perimeter(self.underarm_ratio * b, b))

    @property
    def height(self) -> float:
        """Length over the outside from the shoulder point to the underarm's level, mm."""
        if self._is_upright:
            return polylines.length(self.profile(np.linspace(1e-6, np.pi, 400)))
        above, foot = self._down_to(0.0)
        middle = len(foot) // 2
        line = self._rows[0][: above[middle], middle]
        return polylines.length(np.concatenate([line, foot[middle : middle + 1]]))

    def taped_arcs(self, ups: FloatArray) -> FloatArray:
        """Return lengths over the outside at levels straight up above the underarm, (k,), mm."""
        if self._is_upright:
            return self.arc(self.plate.angle_at_level(ups - self.plate.height))
        return np.array([polylines.length(self._down_to(up)[1]) for up in ups])

    @property
    def _is_upright(self) -> bool:
        return bool(self.plate.up[2] > 1.0 - 1e-12)

    @cached_property
    def _rows(self) -> tuple[FloatArray, FloatArray]:
        """Points of the plate's levels, front edge to back edge, (n, k, 3), and how high they lie.

        Heights are the room's, above the underarm; below the last level the arm is taken to hang
        straight down.
        """
        angle = np.linspace(1e-6, np.pi - 1e-6, LEVELS)[:, None]
        opening, depth = self.opening(angle), self.half_depth(angle)
        turn = opening - 0.5 * np.pi + np.linspace(0.0, 2.0, AROUND) * (np.pi - opening)
        x = self.plate.middle(angle) + self.ratio(angle) * depth * np.cos(turn)
        y = depth * (np.cos(opening) + np.sin(turn))
        rows = np.stack([x, y, np.broadcast_to(self.plate.level(angle), x.shape)], axis=-1)
        rows = np.concatenate([rows, rows[-1:] - self.plate.height * self.plate.up])
        return rows, (rows - self.plate.underarm) @ self.plate.up

    def _down_to(self, up: float) -> tuple[IntArray, FloatArray]:
        """Return how many points of each line down the arm lie above a level, and its place there.

        The level is the room's; (k,) and (k, 3), mm.
        """
        rows, heights = self._rows
        above = np.clip(np.sum(heights > up, axis=0), 1, len(rows) - 1)
        k = np.arange(rows.shape[1])
        high, low = heights[above - 1, k], heights[above, k]
        share = ((high - up) / (high - low))[:, None]
        return above, (1.0 - share) * rows[above - 1, k] + share * rows[above, k]


def fit_cap(
    measures: ArmMeasures,
    plate: Plate,
    *,
    underarm_girth: tuple[float, float] | None = None,
    without: Collection[str] = (),
    exact: float = EXACT,
    start: Sequence[float] | None = None,
) -> Cap:
    """Fit the cap to cap arcs, cap height and upper-arm girth.

    Parameters
    ----------
    measures : ArmMeasures
    plate : Plate
    underarm_girth : (girth, error), optional
        Girth at the underarm's level, mm; else it follows from the upper arm's.
    without : collection of str
        Measures to leave out ("cap_arc 1", "cap_height", "upper_arm_girth"), to see which of
        them fight each other.
    exact : float
        Share by which its numbers may still change when the fit ends.
    start : sequence of float, optional
        Numbers of a like cap, to begin with.

    Notes
    -----
    Least squares of each measure's error over what a tape errs, with a weak pull towards few
    terms, so that measures in harmony come back and measures that contradict each other share
    the error.
    """
    arcs = [
        arc for k, arc in enumerate(measures.cap_arcs, start=1) if f"cap_arc {k}" not in without
    ]
    ups = np.array([arc.up for arc in arcs])
    lengths = np.array([arc.length for arc in arcs])
    arc_error = _error(measures, "cap_arcs")
    height_error = _error(measures, "cap_height")
    asked, girth_error = UNDERARM_TO_UPPER_ARM * measures.upper_arm_girth, UNDERARM_GIRTH_ERROR_MM
    if underarm_girth is not None:
        asked, girth_error = underarm_girth
    girth_error *= 20.0 if "upper_arm_girth" in without else 1.0

    def residuals(unknowns: FloatArray) -> FloatArray:
        cap = _cap_of(measures, plate, unknowns)
        parts = [_shape_pull(unknowns), _smoothness(cap)]
        if arcs:
            parts.append((cap.taped_arcs(ups) - lengths) / arc_error)
        if "cap_height" not in without:
            parts.append(np.atleast_1d((cap.height - measures.cap_height) / height_error))
        parts.append(np.atleast_1d((cap.underarm_girth - asked) / girth_error))
        return np.concatenate(parts)

    begin = np.concatenate([[1.5, -0.1], np.zeros(TERMS)]) if start is None else np.array(start)
    # To the last digit: what is left of an early stop differs from one processor to another, and
    # a correction makes fifty times as much of it.
    most = 60 if without else 200  # a fit without a measure only ranks what it fights
    slopes = "3-point" if exact < ROUGH else "2-point"  # twice as quick, and good to six digits
    best = least_squares(
        residuals, begin, jac=slopes, x_scale="jac", max_nfev=most,
        ftol=None, xtol=exact, gtol=None,
    )  # fmt: skip
    return _cap_of(measures, plate, best.x)


def _cap_of(measures: ArmMeasures, plate: Plate, unknowns: FloatArray) -> Cap:
    return Cap(plate, measures.upper_arm_ratio, unknowns[:TERMS], unknowns[TERMS:])


def _shape_pull(unknowns: FloatArray) -> FloatArray:
    """Return the weak pull towards few terms and an even width : depth."""
    order = np.arange(1, TERMS)
    terms = 0.02 * order**2.5 * unknowns[1:TERMS]
    return np.concatenate([terms, unknowns[TERMS:] / RATIO_ERROR])


def _smoothness(cap: Cap) -> FloatArray:
    """Return what departs from an arm that runs on smoothly from cap to upper arm.

    Three parts: the half-width neither widens nor narrows just above the underarm; the outer
    profile hangs straight down in the room; and α stays within (0, π), where the formulas hold.
    """
    angle = np.array([np.pi - 0.3, np.pi])
    profile = cap.profile(angle)
    widths = cap.ratio(angle) * cap.half_depth(angle)
    rise = profile[0, 1] - profile[1, 1]
    slopes = np.array([widths[0] - widths[1], profile[0, 0] - profile[1, 0]]) / rise
    slopes[1] += lean_of(cap.plate)
    opening = cap.opening(np.linspace(1e-6, np.pi - 0.2, 40))
    outside = 50.0 * (np.minimum(opening - 0.1, 0.0) + np.maximum(opening - 2.9, 0.0))
    return np.concatenate([slopes / SLOPE_ERROR, outside])


def lean_of(plate: Plate) -> float:
    """Return how far straight down leads out from the plate, mm a mm."""
    return float(-plate.up[1] / plate.up[2])


def _error(measures: ArmMeasures, name: str) -> float:
    return ESTIMATE_ERROR_MM if measures.is_estimated(name) else TAPE_ERROR_MM
