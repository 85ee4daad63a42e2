"""A sampled line that a curve is to follow: at its samples, and how far off between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, PPoly

from unroll.maths.arrays import FloatArray, IntArray, first_largest, numbered
from unroll.maths.polylines import lengths_along

Ends = tuple[FloatArray | None, FloatArray | None]

LONGEST_SAGITTA = 0.05  # a chord this straight belongs to the line; a rounder one only samples it
BULGE = 2.0  # a curve may stand off a chord by this many sagittas of an arc that turns as the line
LOOKED_EVERY, NEIGHBOURS = 1.0, 3  # mm between points of a curve that are looked at; chords about
ALIKE = 1e-7  # mm; misses that differ by less are one
BETWEEN_EVERY, MOST_PARTS = 3.0, 8  # mm between places on a chord, and its parts at most


@dataclass(frozen=True, eq=False)
class SampledLine:
    """A run to fit: samples that the curve has to meet, and how far it may stand off their chords.

    Attributes
    ----------
    samples : (k, 2) float
    limit : float
        Largest distance from a sample, mm.
    bulges : (k - 1,) float
        Largest distance from each chord, mm.
    chords : (m,) int
        Chord of each place between samples.
    parts : (m,) float
        Where on its chord, 0 to 1.
    between : (m, 2) float
        About where the line runs there.
    """

    samples: FloatArray
    limit: float
    bulges: FloatArray
    chords: IntArray
    parts: FloatArray
    between: FloatArray

    @property
    def at(self) -> FloatArray:
        """Distance from the start to each sample, (k,), mm."""
        return lengths_along(self.samples)

    def parameters(self, u: FloatArray) -> FloatArray:
        """Return the curve's parameters at samples and places between, for samples at `u` (k,)."""
        return np.concatenate([u, u[self.chords] + self.parts * np.diff(u)[self.chords]])

    def worst(self, curve: BSpline | PPoly, u: FloatArray) -> tuple[float, float]:
        """Return the parameter at which the curve is farthest beyond its limit, and by how much.

        It is looked at all along: between samples a curve can leave the line and come back.
        """
        knots = np.unique(curve.t if isinstance(curve, BSpline) else curve.x)
        spans = knots[:-1] + np.multiply.outer([0.2, 0.5, 0.8], np.diff(knots))
        along = np.linspace(u[0], u[-1], int(self.at[-1] / LOOKED_EVERY) + 2)
        along = np.sort(np.concatenate([along, spans.ravel()]))
        at_samples = np.linalg.norm(curve(u) - self.samples, axis=1) - self.limit
        excess = np.concatenate([at_samples, self._beyond_chords(curve(along), u, along)])
        # of places that are equally bad, as on a curve alike from both ends, always the first
        index = first_largest(excess, ALIKE)
        return float(np.concatenate([u, along])[index]), float(excess[index])

    def _beyond_chords(self, points: FloatArray, u: FloatArray, along: FloatArray) -> FloatArray:
        """Return by how much each point of the curve, (n,), is farther than chords near it let."""
        here = np.searchsorted(u, along)[:, None] - 1
        chord = np.clip(here + np.arange(-NEIGHBOURS, NEIGHBOURS + 1), 0, len(u) - 2)
        start, step = self.samples[chord], np.diff(self.samples, axis=0)[chord]
        gap = points[:, None] - start
        share = np.einsum("nji,nji->nj", gap, step) / np.einsum("nji,nji->nj", step, step)
        off = np.linalg.norm(gap - np.clip(share, 0.0, 1.0)[..., None] * step, axis=2)
        out: FloatArray = np.min(off - self.bulges[chord], axis=1)
        return out


def sampled_line(samples: FloatArray, limit: float, ends: Ends) -> SampledLine:
    """Return a line to fit: samples to be met within `limit`, and places on chords that are long.

    Parameters
    ----------
    samples : (k, 2) float
    limit : float
        Largest distance from a sample, mm.
    ends : pair of (2,) float or None
        Unit directions of travel at the ends, where they are known.
    """
    length, turn = _chords(samples)
    counts = np.clip(np.ceil(length / BETWEEN_EVERY), 1, MOST_PARTS).astype(int) - 1
    chords, number = numbered(counts)
    parts = (number + 1) / (counts[chords] + 1)
    between = evaluate(parabolic(samples, ends)[chords].transpose(1, 0, 2), parts[:, None])[0]
    bulges = limit + BULGE * length * turn / 8
    return SampledLine(samples, limit, bulges, chords, parts, between)


def with_straight_middles(points: FloatArray) -> FloatArray:
    """Add points along chords that are straight, so that the curve cannot belly between them."""
    step = np.diff(points, axis=0)
    chord, around = _chords(points)
    # a chord far longer than its neighbours was drawn as a straight line, not sampled
    beside = np.maximum(np.r_[chord[1:], 0.0], np.r_[0.0, chord[:-1]])
    is_straight = (chord * around / 8 < LONGEST_SAGITTA) | (chord > 3 * beside)
    # four on a short chord, but none where there are samples enough
    enough = np.clip(np.ceil(chord / 5.0), np.minimum(4, np.ceil(chord / 1.25)), 40)
    middles = np.where(is_straight, enough, 1).astype(int)
    index, number = numbered(middles)
    parts = points[index] + step[index] * (number / middles[index])[:, None]
    return np.concatenate([parts, points[-1:]])


def _chords(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the length of each chord, mm, and the greater turn at its ends, radians."""
    step = np.diff(points, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(heading) + np.pi) % (2 * np.pi) - np.pi)
    # the end chords know one neighbour only
    return np.linalg.norm(step, axis=1), np.maximum(np.r_[turn, 0.0], np.r_[0.0, turn])


def parabolic(points: FloatArray, ends: Ends) -> FloatArray:
    """Return a cubic for each chord, with the tangents of parabolas through three points each.

    Such a cubic stays near its chord, whatever lies beyond the next points.
    """
    step = np.diff(points, axis=0)
    length = np.linalg.norm(step, axis=1)[:, None]
    unit = step / length
    inner = unit[:-1] * length[1:] + unit[1:] * length[:-1]
    inner /= np.linalg.norm(inner, axis=1, keepdims=True)
    first, last = (inner[0], inner[-1]) if len(inner) else (unit[0], unit[0])
    # without a tangent of its own an end turns as an arc does
    first = 2 * (unit[0] @ first) * unit[0] - first if ends[0] is None else ends[0]
    last = 2 * (unit[-1] @ last) * unit[-1] - last if ends[1] is None else ends[1]
    tangents = np.concatenate([first[None], inner, last[None]])
    return np.stack(
        [
            points[:-1],
            points[:-1] + length * tangents[:-1] / 3,
            points[1:] - length * tangents[1:] / 3,
            points[1:],
        ],
        axis=1,
    )


def evaluate(control: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return points and derivatives of Bézier segments at `t` (k, 1).

    Parameters
    ----------
    control : (4, 2) or (4, k, 2) float
        Of one segment, or of one for each `t`.
    t : (k, 1) float
    """
    s = 1 - t
    point = (
        s**3 * control[0]
        + 3 * s * s * t * control[1]
        + 3 * s * t * t * control[2]
        + t**3 * control[3]
    )
    step = np.diff(control, axis=0)
    return point, 3 * (s * s * step[0] + 2 * s * t * step[1] + t * t * step[2])
