"""A flat map to be found: what it costs, what it must keep, and where a descent stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.flattening.held_seams import Chord, HeldEdges, SeamBends
from unroll.geometry.energies import Energy
from unroll.geometry.triangles import ComplexArray, FloatArray, Triangles

Map = tuple[ComplexArray, ComplexArray]
"""Differentials of a map: alpha and beta of every triangle."""
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

    def total(self, alpha: ComplexArray, beta: ComplexArray) -> float:
        """Return the energy summed over the area, of a map with these differentials."""
        return sum_of_products(self.triangles.areas, self.energy.value(alpha, beta))

    def gradient(self, alpha: ComplexArray, beta: ComplexArray) -> ComplexArray:
        """Return the gradient of the summed energy at the vertices, (n,)."""
        areas = self.triangles.areas
        by_alpha, by_beta = self.energy.slope(alpha, beta)
        return self.triangles.gather(areas * by_alpha, areas * by_beta)

    def state(self, points: ComplexArray, total: float, promise: float) -> State:
        """Gather what a watcher may want to know."""
        decrease = promise / max(total, NOISE * self.area)
        error = self.held.relative_error(points)
        return State(points, total / self.area, decrease, error)


def dot(one: ComplexArray, two: ComplexArray) -> float:
    """Return the real inner product of vectors written as complex numbers."""
    return sum_of_products(one.view(float), two.view(float))


def sum_of_products(one: FloatArray, two: FloatArray) -> float:
    """Return the inner product of two vectors.

    Not by `np.dot`, whose threads took 60 times longer than one on a busy two-core machine.
    """
    return float(np.einsum("i,i->", one, two))
