"""The cap: levels that are ellipses cut off by the armhole plate, fitted to the tape."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial

import numpy as np
from scipy.optimize import least_squares

from unroll.arms.plate import Plate, lean_of
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.ellipses import ellipse_perimeter, truncated_arc
from unroll.nouns import ArmMeasures

EXACT = 1e-10  # relative
ROUGH = 1e-5  # from here on a fit is a quick one
# Of slopes, relative: where what a step leaves out is as little as what rounding takes.
STEP, CENTRAL_STEP = np.finfo(float).eps ** 0.5, np.finfo(float).eps ** (1.0 / 3.0)

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
    coefficients : (..., k) float
        Of the opening angle α(θ) = Σ cₖ cos((k + ½) θ).
    fullness : (..., 2) float
        Change of width : depth over the cap, d₁ cos²(θ/2) + d₂ sin²θ.

    While it is fitted, many like caps are worked out at once: leading axes of both numbers lead
    whatever is asked of them.

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
        cos = np.cos(angle)
        first, second = self._of_each(self.fullness, cos.ndim)
        change = 0.5 * first * (1.0 + cos) + second * (1.0 - cos * cos)
        return np.asarray(self.underarm_ratio * (1.0 + change))

    def opening(self, angle: FloatArray) -> FloatArray:
        """Return α at plate angles θ, radians."""
        angle = np.asarray(angle, dtype=float)
        cosines = _cosines(angle.tobytes(), self.coefficients.shape[-1])
        opening = self.coefficients @ cosines.T
        return np.asarray(opening.reshape(self.coefficients.shape[:-1] + angle.shape))

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
        """Return (y, z) of the outermost point of each level, (..., 2), mm."""
        y = self.half_depth(angle) * (1.0 + np.cos(self.opening(angle)))
        return np.stack([y, np.broadcast_to(self.plate.level(angle), y.shape)], axis=-1)

    @property
    def underarm_half_depth(self) -> FloatArray:
        """Half-depth of the closed ellipse at the underarm, (...), mm."""
        return self.half_depth(np.array(np.pi))

    @property
    def underarm_girth(self) -> FloatArray:
        """Girth of the closed ellipse at the underarm, (...), mm."""
        b = self.underarm_half_depth
        return ellipse_perimeter(self.underarm_ratio * b, b)

    @property
    def height(self) -> FloatArray:
        """Length over the outside from the shoulder point to the underarm's level, (...), mm."""
        if self._is_upright:
            return polylines.lengths(self.profile(np.linspace(1e-6, np.pi, 400)))
        above, foot = self._down_to(0.0)
        middle = foot.shape[-2] // 2
        # below the level the line stays at its foot, which adds nothing
        is_above = np.arange(LEVELS + 1) < above[..., middle, None]
        line, last = self._rows[0][..., middle, :], foot[..., None, middle, :]
        return polylines.lengths(
            np.concatenate([np.where(is_above[..., None], line, last), last], axis=-2)
        )

    def taped_arcs(self, ups: FloatArray) -> FloatArray:
        """Return lengths over the outside at levels above the underarm, (..., k), mm.

        Parameters
        ----------
        ups : (k,) float
            Straight up in the room, mm.
        """
        if self._is_upright:
            return self.arc(self.plate.angle_at_level(ups - self.plate.height))
        return np.stack([polylines.lengths(self._down_to(up)[1]) for up in ups], axis=-1)

    @property
    def _is_upright(self) -> bool:
        return bool(self.plate.up[2] > 1.0 - 1e-12)

    @cached_property
    def _rows(self) -> tuple[FloatArray, FloatArray]:
        """Points of the plate's levels, front to back edge, (..., n, k, 3), and how high they lie.

        Heights are the room's, above the underarm; below the last level the arm is taken to hang
        straight down.
        """
        angle = np.linspace(1e-6, np.pi - 1e-6, LEVELS)[:, None]
        opening, depth = self.opening(angle), self.half_depth(angle)
        turn = opening - 0.5 * np.pi + np.linspace(0.0, 2.0, AROUND) * (np.pi - opening)
        x = self.plate.middle(angle) + self.ratio(angle) * depth * np.cos(turn)
        y = depth * (np.cos(opening) + np.sin(turn))
        rows = np.stack([x, y, np.broadcast_to(self.plate.level(angle), x.shape)], axis=-1)
        below = rows[..., -1:, :, :] - self.plate.height * self.plate.up
        rows = np.concatenate([rows, below], axis=-3)
        return rows, (rows - self.plate.underarm) @ self.plate.up

    def _down_to(self, up: float) -> tuple[IntArray, FloatArray]:
        """Return how many points of each line down the arm lie above a level, and its place there.

        The level is the room's; (..., k) and (..., k, 3), mm.
        """
        rows, heights = self._rows
        above = np.clip(np.sum(heights > up, axis=-2), 1, LEVELS)
        around = np.stack([above - 1, above], axis=-2)
        high, low = np.moveaxis(np.take_along_axis(heights, around, axis=-2), -2, 0)
        share = ((high - up) / (high - low))[..., None]
        before, after = np.moveaxis(np.take_along_axis(rows, around[..., None], axis=-3), -3, 0)
        return above, (1.0 - share) * before + share * after

    @staticmethod
    def _of_each(numbers: FloatArray, count: int) -> FloatArray:
        """Return the numbers, the last axis first, with `count` axes of length 1 behind."""
        first = np.moveaxis(numbers, -1, 0)
        return first.reshape(first.shape + (1,) * count)


@lru_cache(maxsize=16)
def _cosines(angles: bytes, count: int) -> FloatArray:
    """Return cos((k + ½) θ), (n, count): a fit asks for the same angles hundreds of times."""
    return np.asarray(np.cos(np.multiply.outer(np.frombuffer(angles), np.arange(count) + 0.5)))


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
            parts.append((cap.height[..., None] - measures.cap_height) / height_error)
        parts.append((cap.underarm_girth[..., None] - asked) / girth_error)
        return np.concatenate(parts, axis=-1)

    begin = np.concatenate([[1.5, -0.1], np.zeros(TERMS)]) if start is None else np.array(start)
    # To the last digit: what is left of an early stop differs from one processor to another, and
    # a correction makes fifty times as much of it.
    most = 60 if without else 200  # a fit without a measure only ranks what it fights
    fit = partial(least_squares, residuals, x_scale="jac", max_nfev=most, ftol=None, gtol=None)
    # slopes good to six digits cost half of exact ones, and lead as near
    found = fit(begin, jac=partial(_slopes, residuals), xtol=max(exact, ROUGH)).x
    if exact < ROUGH:
        found = fit(found, jac=partial(_central_slopes, residuals), xtol=exact).x
    return _cap_of(measures, plate, found)


def _cap_of(measures: ArmMeasures, plate: Plate, unknowns: FloatArray) -> Cap:
    numbers, fullness = unknowns[..., :TERMS], unknowns[..., TERMS:]
    return Cap(plate, measures.upper_arm_ratio, numbers, fullness)


def _slopes(function: Callable[[FloatArray], FloatArray], at: FloatArray) -> FloatArray:
    """Return the slopes of (n,) by (k,), (n, k), from steps forwards, all of them at once."""
    steps = np.diag(STEP * np.maximum(np.abs(at), 1.0))
    found = function(np.concatenate([at[None], at + steps]))
    return np.asarray((found[1:] - found[0]).T / np.diag(steps))


def _central_slopes(function: Callable[[FloatArray], FloatArray], at: FloatArray) -> FloatArray:
    """Return the slopes from steps both ways: some ten digits of them, not seven."""
    steps = np.diag(CENTRAL_STEP * np.maximum(np.abs(at), 1.0))
    found = function(np.concatenate([at + steps, at - steps]))
    return np.asarray((found[: len(at)] - found[len(at) :]).T / (2.0 * np.diag(steps)))


def _shape_pull(unknowns: FloatArray) -> FloatArray:
    """Return the weak pull towards few terms and an even width : depth."""
    order = np.arange(1, TERMS)
    terms = 0.02 * order**2.5 * unknowns[..., 1:TERMS]
    return np.concatenate([terms, unknowns[..., TERMS:] / RATIO_ERROR], axis=-1)


def _smoothness(cap: Cap) -> FloatArray:
    """Return what departs from an arm that runs on smoothly from cap to upper arm.

    Three parts: the half-width neither widens nor narrows just above the underarm; the outer
    profile hangs straight down in the room; and α stays within (0, π), where the formulas hold.
    """
    angle = np.array([np.pi - 0.3, np.pi])
    profile = cap.profile(angle)
    widths = cap.ratio(angle) * cap.half_depth(angle)
    out, up = np.moveaxis(profile[..., 0, :] - profile[..., 1, :], -1, 0)
    slopes = np.stack([widths[..., 0] - widths[..., 1], out], axis=-1) / up[..., None]
    slopes[..., 1] += lean_of(cap.plate)
    opening = cap.opening(np.linspace(1e-6, np.pi - 0.2, 40))
    outside = 50.0 * (np.minimum(opening - 0.1, 0.0) + np.maximum(opening - 2.9, 0.0))
    return np.concatenate([slopes / SLOPE_ERROR, outside], axis=-1)


def _error(measures: ArmMeasures, name: str) -> float:
    return ESTIMATE_ERROR_MM if measures.is_estimated(name) else TAPE_ERROR_MM
