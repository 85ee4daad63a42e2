"""The armhole plate's edge, by an angle that runs from the shoulder to the underarm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from unroll.geometry.ellipses import superellipse_exponent
from unroll.types import Armhole, FloatArray


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


def plate_of(armhole: Armhole, *, count: int = 4001) -> Plate:
    """Return the plate of an armhole: an oval of its three measures, or its traced outline."""
    angles = np.linspace(0.0, np.pi, count)
    if armhole.outline is not None:
        levels, middles = _traced_chords(armhole.outline, angles)
    else:
        levels, middles = _oval_chords(armhole, angles), np.zeros(count)
    return Plate(armhole.width, armhole.height, angles, levels, middles)


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
