"""The next correction from what the last one missed: damped Gauss–Newton with secant updates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from unroll.types import FloatArray
from unroll.types.corrected import GIRTH_LEVELS, Correction, Miss

NUMBERS = ("outward_rad", "forward_rad", "bend_rad", "twist_rad", "reach", "upper", "lower", "cap")
# By how much a number is changed to see what it does, and a change that counts as large.
PROBES = np.array([0.02, 0.02, 0.03, 0.03, 3.0, 2.0, 2.0, 2.0])
LARGE = np.array([0.1, 0.1, 0.1, 0.1, 10.0, 10.0, 10.0, 4.0, *[0.05] * GIRTH_LEVELS])
DAMPING = 0.05
# What is let pass, in each figure's own unit; smaller than what the maker is promised, since
# several add up.
GIRTH_PASSES = 0.001
TURN_PASSES_RAD = np.radians(0.11)
TWIST_PASSES_RAD = np.radians(0.5)
WRIST_PASSES_MM = 0.7
ELBOW_PASSES_MM = 4.0
CAP_PASSES_MM = 1.0


def numbers_of(correction: Correction) -> FloatArray:
    """Return a correction as an array, (15,)."""
    return np.array([*[getattr(correction, name) for name in NUMBERS], *correction.girths])


def correction_of(numbers: FloatArray) -> Correction:
    """Return the correction of an array, (15,)."""
    count = len(NUMBERS)
    named = dict(zip(NUMBERS, numbers[:count].tolist(), strict=True))
    return Correction(**named, girths=numbers[count:])


def weigh(miss: Miss) -> FloatArray:
    """Return the misses, each over what is let pass, (27,).

    The elbow counts along the arm and to the front only: how far out it lies follows from hang and
    wrist, which cannot all be had (see the limits in the documentation).
    """
    return np.concatenate(
        [
            miss.girths / GIRTH_PASSES,
            np.array([miss.outward_rad, miss.forward_rad]) / TURN_PASSES_RAD,
            np.array([miss.twist_rad]) / TWIST_PASSES_RAD,
            miss.wrist / WRIST_PASSES_MM,
            miss.elbow[[0, 2]] / ELBOW_PASSES_MM,
            miss.cap / CAP_PASSES_MM,
        ]
    )


def cost(miss: Miss) -> float:
    """Return the sum of squares of the weighed misses."""
    weighed = weigh(miss)
    return float(weighed @ weighed)


@dataclass(frozen=True, eq=False)
class Slopes:
    """How the weighed misses follow the numbers of a correction.

    Attributes
    ----------
    matrix : (27, 15) float
    """

    matrix: FloatArray


def probes(correction: Correction) -> tuple[tuple[tuple[Correction, float], ...], ...]:
    """Return the corrections to try for `slopes`, one number at a time, the girths left out.

    Returns
    -------
    tuple of tuple of (Correction, float)
        For each number, tries and their steps in order of preference, for where one folds.
    """
    base = numbers_of(correction)

    def stepped(index: int, step: float) -> tuple[Correction, float]:
        tried = base.copy()
        tried[index] += step
        return correction_of(tried), step

    return tuple(
        tuple(stepped(index, share * step) for share in (1.0, -1.0, 0.4, -0.4))
        for index, step in enumerate(PROBES.tolist())
    )


def slopes(here: Miss, tried: Sequence[tuple[Miss, float] | None]) -> Slopes:
    """Return the slopes from the misses of the `probes`; each girth is taken to follow itself.

    Parameters
    ----------
    tried : sequence of (Miss, float) or None
        For each number the miss and the step; None where every try folded: it then stays as it is.
    """
    base = weigh(here)
    columns = [
        np.zeros(len(base)) if found is None else (weigh(found[0]) - base) / found[1]
        for found in tried
    ]
    girths = np.zeros((len(base), GIRTH_LEVELS))
    girths[:GIRTH_LEVELS] = np.eye(GIRTH_LEVELS) / GIRTH_PASSES
    return Slopes(np.column_stack([*columns, girths]))


def improved(correction: Correction, miss: Miss, known: Slopes) -> Correction:
    """Return the next correction: the least change that, by the slopes, leaves the least miss."""
    weights = np.diag(DAMPING / LARGE**2)
    square = known.matrix.T @ known.matrix + weights
    step = np.linalg.solve(square, -known.matrix.T @ weigh(miss))
    return correction_of(numbers_of(correction) + step)


def learnt(
    known: Slopes, before: tuple[Correction, Miss], after: tuple[Correction, Miss]
) -> Slopes:
    """Return the slopes corrected by what a step really did.

    Notes
    -----
    The least change of the matrix that explains the step, numbers counted in units of a large
    change (C. G. Broyden 1965, "A class of methods for solving nonlinear simultaneous equations",
    doi 10.1090/S0025-5718-1965-0198670-6).
    """
    step = (numbers_of(after[0]) - numbers_of(before[0])) / LARGE
    gained = weigh(after[1]) - weigh(before[1])
    scaled = known.matrix * LARGE
    size = float(step @ step)
    if size < 1e-16:
        return known
    scaled = scaled + np.outer(gained - scaled @ step, step) / size
    return Slopes(scaled / LARGE)


def halfway(one: Correction, other: Correction) -> Correction:
    """Return the correction midway between two."""
    return correction_of(0.5 * (numbers_of(one) + numbers_of(other)))


def least_change(slopes: FloatArray, miss: FloatArray, large: FloatArray) -> FloatArray:
    """Return the step that leaves the least miss, large steps counting as a miss of their own.

    Parameters
    ----------
    slopes : (m, k) float
        Of the weighed misses by the numbers.
    miss : (m,) float
    large : (k,) float
        A step of each number that counts as much as a miss of a third of what is let pass.
    """
    square = slopes.T @ slopes + np.diag(DAMPING * 2.0 / large**2)
    return np.asarray(np.linalg.solve(square, -slopes.T @ miss))
