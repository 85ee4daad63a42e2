"""Boundary edges that must keep their length, and a line that must stay upright."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.geometry.triangles import ComplexArray, FloatArray, IntArray


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
        at = np.concatenate([self.heads, self.tails])
        values = np.concatenate([pull, -pull])
        return np.bincount(at, values.real, count) + 1j * np.bincount(at, values.imag, count)

    def change(self, step: ComplexArray, move: ComplexArray) -> FloatArray:
        """Return the first-order change of g under a move of the vertices, (k,)."""
        along = (move[self.heads] - move[self.tails]) / self.lengths
        out: FloatArray = (step.conj() * along).real
        return out


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
