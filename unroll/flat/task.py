"""A flat map to be found: what it costs, what it must keep, and where a descent stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.energies import Energy
from unroll.maths.triangles import ComplexArray, Triangles


def scatter(at: IntArray, values: ComplexArray, count: int) -> ComplexArray:
    """Return the sums of complex `values` by index, (count,)."""
    real = np.bincount(at.ravel(), values.real.ravel(), count)
    return real + 1j * np.bincount(at.ravel(), values.imag.ravel(), count)


@dataclass(frozen=True, eq=False)
class HeldEdges:
    """Edges with a wanted length, as equations g = (l^2 / L^2 - 1) / 2 = 0.

    Attributes
    ----------
    tails, heads : (k,) int
        Vertices of each edge.
    lengths : (k,) float
        Wanted length of each edge.

    Notes
    -----
    The squared form has a constant second derivative, and near zero g is the relative error.
    """

    tails: IntArray
    heads: IntArray
    lengths: FloatArray

    def steps(self, points: ComplexArray) -> ComplexArray:
        """Return the vector along each edge over its wanted length, (k,)."""
        out: ComplexArray = (points[self.heads] - points[self.tails]) / self.lengths
        return out

    def errors(self, points: ComplexArray) -> FloatArray:
        """Return g of each edge, (k,)."""
        step = self.steps(points)
        out: FloatArray = 0.5 * (step.real**2 + step.imag**2 - 1)
        return out

    def relative_error(self, points: ComplexArray) -> float:
        """Return the largest |l / L - 1|, 0 when no edge is held."""
        return float(np.max(np.abs(np.abs(self.steps(points)) - 1), initial=0.0))

    def gather(self, step: ComplexArray, weights: FloatArray, count: int) -> ComplexArray:
        """Return the sum of weights times the gradient of g, at each vertex, (n,)."""
        pull = weights * step / self.lengths
        return scatter(np.stack([self.heads, self.tails]), np.stack([pull, -pull]), count)

    def change(self, step: ComplexArray, move: ComplexArray) -> FloatArray:
        """Return the first-order change of g under a move of the vertices, (k,)."""
        out: FloatArray = (step.conj() * self.steps(move)).real
        return out


@dataclass(frozen=True, eq=False)
class SeamBends:
    """A slight stiffness of the seam lines against turning otherwise than they do on the body.

    Attributes
    ----------
    corners : (3, k) int
        Three vertices in a row along a held seam.
    turns : (k,) float
        How far the line turns at the middle one on the surface, radians.
    weights : (k,) float
        Energy per radian squared, times two.

    Notes
    -----
    A line that must keep its length while the cloth beside it would rather be shorter buckles into
    a zigzag, at any load and the finer the mesh the sooner; nobody can sew that. A beam of
    stiffness EI on a half-plane of stiffness E under a push N stays straight when
    EI > N^3 / (27 E^2), so a small EI is enough. It asks nothing of a developable panel.
    """

    corners: IntArray
    turns: FloatArray
    weights: FloatArray

    def excess(self, points: ComplexArray) -> FloatArray:
        """Return how much further the line turns than on the surface, (k,) radians."""
        before, at, after = points[self.corners]
        out: FloatArray = np.angle((after - at) * (at - before).conj() * np.exp(-1j * self.turns))
        return out

    def directions(self, points: ComplexArray) -> ComplexArray:
        """Return the gradient of each turn by its three vertices, (3, k)."""
        before, at, after = points[self.corners]
        first, second = 1j / (at - before).conj(), 1j / (after - at).conj()
        return np.stack([first, -first - second, second])

    def value(self, points: ComplexArray) -> float:
        """Return the energy of all bends."""
        return 0.5 * float(np.sum(self.weights * self.excess(points) ** 2))

    def gather(self, points: ComplexArray) -> ComplexArray:
        """Return the gradient of the energy at each vertex, (n,)."""
        pull = self.weights * self.excess(points) * self.directions(points)
        return scatter(self.corners, pull, len(points))


@dataclass(frozen=True, eq=False)
class Chord:
    """Two points of the piece, each a weighted mean of vertices, that stay one above the other.

    Attributes
    ----------
    vertices : (k,) int
    weights : (k,) float
        The lower point's weights are negative: the weighted sum is the vector from low to high.
    """

    vertices: IntArray
    weights: FloatArray

    def vector(self, points: ComplexArray) -> complex:
        """Return the vector from the lower to the upper point."""
        return complex(np.sum(self.weights * points[self.vertices]))

    def upright(self, points: ComplexArray) -> ComplexArray:
        """Return the points turned so that the chord points up."""
        vector = self.vector(points)
        return points * (1j * abs(vector) / vector)


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
