"""A flat map to be found: what it costs, what it must keep, and where a descent stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.flattening.held_seams import Chord, HeldEdges, SeamBends
from unroll.geometry.energies import Energy
from unroll.geometry.triangles import ComplexArray, Triangles

NOISE = 1e-18
"""Mean energy below which nothing is left but rounding: strains of 1e-9."""


@dataclass(frozen=True, eq=False)
class State:
    """Where the descent stands after a step.

    Attributes
    ----------
    points : (n,) complex
    cost : float
        Area-weighted mean of the energy.
    decrease : float
        Share of the energy that the last step's model promised; inf at the start.
    seam_error : float
        Largest relative error of a held edge.
    """

    points: ComplexArray
    cost: float
    decrease: float
    seam_error: float


@dataclass(frozen=True, eq=False)
class Task:
    """A flat map to be found: what it costs, and what it must keep."""

    triangles: Triangles
    energy: Energy
    held: HeldEdges
    bends: SeamBends
    chord: Chord
    area: float

    def total(self, points: ComplexArray) -> float:
        """Return the energy summed over the area."""
        values = self.energy.value(*self.triangles.differentials(points))
        return float(np.dot(self.triangles.areas, values))

    def gradient(self, points: ComplexArray) -> ComplexArray:
        """Return the gradient of the summed energy at the vertices, (n,)."""
        areas = self.triangles.areas
        by_alpha, by_beta = self.energy.slope(*self.triangles.differentials(points))
        return self.triangles.gather(areas * by_alpha, areas * by_beta)

    def state(self, points: ComplexArray, total: float, promise: float) -> State:
        """Gather what a watcher may want to know."""
        decrease = promise / max(total, NOISE * self.area)
        error = self.held.relative_error(points)
        return State(points, total / self.area, decrease, error)


def dot(one: ComplexArray, two: ComplexArray) -> float:
    """Return the real inner product of vectors written as complex numbers."""
    return float(np.dot(one.view(float), two.view(float)))
