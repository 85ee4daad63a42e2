"""The armhole's base: a plate whose chords run from front edge to back edge, and how it stands."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import superellipse_exponent
from unroll.nouns import Armhole, Stance

UPRIGHT = Stance()
# Of a traced outline; angles in radians. Smoothing more brings the caps of modelled arms nearer and
# takes the base further from its tracing, which it leaves by 2 mm (`python -m tests.study_caps`).
LEVELS_OVER, MIDDLES_OVER = 0.2, 0.3
END_SINE, MIDDLE_SINE = 0.75, 0.95  # levels are evened in full above the one, not below the other


@dataclass(frozen=True, eq=False)
class Plate:
    """The plate's chords: at the angle θ the half-width is half the width times sin θ, or near it.

    Attributes
    ----------
    width, height : float
        Full width and height, mm.
    angles, levels, middles, swells : (k,) float
        Table: angle θ from 0 (shoulder) to π (underarm), level z (0 to -height) and the x of the
        chord's middle, mm, and the chord's length over width times sin θ.
    stands : (3, 3) float
        How the plate stands on the double: turns the arm's frame, in which the plate is upright
        and faces straight out, to the room's.

    Notes
    -----
    Taking the half-width itself as the sine of the parameter makes every oval or superellipse
    look like an ellipse to the cap, so that one formula serves all. Of a traced outline it is so
    at both ends; between them θ runs evenly down the plate.
    """

    width: float
    height: float
    angles: FloatArray
    levels: FloatArray
    middles: FloatArray
    swells: FloatArray
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
        swell = np.interp(angle, self.angles, self.swells)
        return np.asarray(0.5 * self.width * np.sin(angle) * swell)

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
        levels, middles, swells = _traced_chords(armhole.outline, angles)
    else:
        levels, middles, swells = _oval_chords(armhole, angles), np.zeros(count), np.ones(count)
    plate = Plate(armhole.width, armhole.height, angles, levels, middles, swells)
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


def _traced_chords(
    outline: FloatArray, angles: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return levels, middles and swells of a traced outline, whose chords widen, then narrow."""
    down = np.linspace(outline[:, 1].max(), outline[:, 1].min(), 2001)
    top, bottom = int(np.argmax(outline[:, 1])), int(np.argmin(outline[:, 1]))
    ring = np.roll(outline, -top, axis=0)
    bottom = (bottom - top) % len(ring)
    back, front = ring[: bottom + 1], np.vstack([ring[bottom:], ring[:1]])[::-1]
    x_back, x_front = (np.interp(-down, -side[:, 1], side[:, 0]) for side in (back, front))
    half = 0.5 * np.abs(x_front - x_back)
    widest = int(np.argmax(half))
    ratio = np.clip(half / half[widest], 0.0, 1.0)
    angle = np.where(np.arange(len(down)) <= widest, np.arcsin(ratio), np.pi - np.arcsin(ratio))
    angle = np.maximum.accumulate(angle)
    keep = np.concatenate([[True], np.diff(angle) > 1e-9])
    inside = np.clip(angles, angle[keep][0], angle[keep][-1])
    levels = _evened(PchipInterpolator(angle[keep], down[keep])(inside), angles)
    swells = np.interp(-levels, -down, ratio) / np.maximum(np.sin(angles), 1e-9)
    middles = _settled(np.interp(-levels, -down, 0.5 * (x_back + x_front)), angles)
    return levels, middles, np.where(_share_evened(angles) > 0.0, swells, 1.0)


def _evened(levels: FloatArray, angles: FloatArray) -> FloatArray:
    """Return levels that θ runs down evenly, but near both ends as they were, (k,), mm.

    Where a side runs straight or has a corner, the chord's sine passes levels at a leap or tarries;
    whatever is smooth in θ would have a step there.
    """
    smooth = _smoothed(levels, angles, LEVELS_OVER)
    return np.minimum.accumulate(levels + _share_evened(angles) * (smooth - levels))


def _share_evened(angles: FloatArray) -> FloatArray:
    rise = np.clip((np.sin(angles) - END_SINE) / (MIDDLE_SINE - END_SINE), 0.0, 1.0)
    return np.asarray(rise**2 * (3.0 - 2.0 * rise))


def _settled(middles: FloatArray, angles: FloatArray) -> FloatArray:
    """Return middles that do not run off to one side at the underarm, (k,), mm.

    Where the outline is nearly flat below, its lowest point says little of where the arm's middle
    lies; the chords just above say more.
    """
    smooth = _smoothed(middles, angles, MIDDLES_OVER)
    return middles + np.maximum(-np.cos(angles), 0.0) * (smooth - middles)


def _smoothed(values: FloatArray, angles: FloatArray, over: float) -> FloatArray:
    """Return values smoothed over an angle; they go on beyond both ends as in a mirror."""
    return np.asarray(gaussian_filter1d(values, over / (angles[1] - angles[0]), mode="reflect"))


def lean_of(plate: Plate) -> float:
    """Return how far straight down leads out from the plate, mm a mm."""
    return float(-plate.up[1] / plate.up[2])
