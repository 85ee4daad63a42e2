"""Projected Newton steps on a flat map, with boundary edges held to their length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from unroll.flattening.held_seams import Chord, HeldEdges
from unroll.flattening.hessians import HessianPattern
from unroll.geometry.energies import Energy
from unroll.geometry.sparse import SymmetricFactor
from unroll.geometry.triangles import (
    ComplexArray,
    FloatArray,
    Triangles,
    largest_unfolded_step,
)

STIFFNESS = 1e3
"""Weight of a held edge's error in the Newton matrix, times the energy of a like strain there."""


@dataclass(frozen=True, eq=False)
class NewtonState:
    """Where the descent stands after a step.

    Attributes
    ----------
    points : (n,) complex
    cost : float
        Area-weighted mean of the energy.
    decrease : float
        Relative decrease of the energy that the next step could still promise; inf at the start.
    seam_error : float
        Largest relative error of a held edge.
    """

    points: ComplexArray
    cost: float
    decrease: float
    seam_error: float


def newton_steps(
    triangles: Triangles,
    points: ComplexArray,
    energy: Energy,
    held: HeldEdges,
    chord: Chord,
    *,
    most: int = 60,
    enough: float = 1e-9,
) -> Iterator[NewtonState]:
    """Yield the state after each step, until the energy and the held edges have settled.

    Parameters
    ----------
    triangles : Triangles
    points : (n,) complex
        A map without folds, with its chord upright.
    energy : Energy
    held : HeldEdges
    chord : Chord
        Kept upright throughout.
    most : int
        Most steps taken.
    enough : float
        Stop when a step would lower the energy by less than this share.

    Notes
    -----
    Equality-constrained Newton in the augmented form: the held edges' errors enter the matrix with
    a large weight, which leaves its sparsity as it is (an edge's ends are neighbours already);
    refining the multipliers with the same factors gives the exact constrained step. The augmented
    Lagrangian at the new multipliers falls along that step (Nocedal & Wright 2006, ch. 17, 18),
    so that it serves the line search, which also stops short of the first fold.
    """
    solver = _Newton(triangles, energy, held, chord)
    multipliers = np.zeros(len(held.lengths))
    yield solver.state(points, float("inf"))
    for _ in range(most):
        step = solver.direction(points, multipliers)
        multipliers = step.multipliers
        points, moved = solver.search(points, step)
        state = solver.state(points, step.promise / max(solver.total(points), solver.floor))
        yield state
        if not moved or (state.decrease < enough and state.seam_error < 1e-10):
            return


@dataclass(frozen=True, eq=False)
class _Step:
    move: ComplexArray
    multipliers: FloatArray
    slope: float
    promise: float


class _Newton:
    """The pieces of one Newton step, over fixed triangles, energy and constraints."""

    def __init__(self, triangles: Triangles, energy: Energy, held: HeldEdges, chord: Chord) -> None:
        self.triangles, self.energy, self.held, self.chord = triangles, energy, held, chord
        self.area = float(np.sum(triangles.areas))
        self.floor = 1e-18 * self.area
        self.weights = STIFFNESS * held.lengths**2
        pinned = int(chord.vertices[np.argmax(chord.weights)])
        self.pattern = HessianPattern(triangles, held, pinned)
        row = np.zeros(triangles.count, dtype=complex)
        np.add.at(row, chord.vertices, chord.weights)
        self.row = row

    def total(self, points: ComplexArray) -> float:
        """Return the energy summed over the area."""
        values = self.energy.value(*self.triangles.differentials(points))
        return float(np.dot(self.triangles.areas, values))

    def merit(self, points: ComplexArray, multipliers: FloatArray) -> float:
        """Return the augmented Lagrangian."""
        error = self.held.errors(points)
        return self.total(points) + float(np.dot(multipliers + 0.5 * self.weights * error, error))

    def state(self, points: ComplexArray, decrease: float) -> NewtonState:
        """Gather what a watcher may want to know."""
        cost = self.total(points) / self.area
        return NewtonState(points, cost, decrease, self.held.relative_error(points))

    def direction(self, points: ComplexArray, multipliers: FloatArray) -> _Step:
        """Return the constrained Newton step from `points`."""
        alpha, beta = self.triangles.differentials(points)
        by_alpha, by_beta = self.energy.slope(alpha, beta)
        areas = self.triangles.areas
        gradient = self.triangles.gather(areas * by_alpha, areas * by_beta)
        modes = self.energy.modes(alpha, beta)
        along = self.held.steps(points)
        errors = self.held.errors(points)
        for tension in (multipliers, np.maximum(multipliers, 0)):
            factor = self._factor(modes, along, tension)
            step = self._constrained(factor, points, gradient, along, errors, multipliers)
            if step.slope < 0:
                break
        return step

    def _factor(self, modes: list, along: ComplexArray, tension: FloatArray) -> SymmetricFactor:  # type: ignore[type-arg]
        square = self.held.lengths**2
        weight = self.weights / square
        x, y = along.real, along.imag
        outer = np.stack([weight * x * x, weight * x * y, weight * y * y])
        matrix = self.pattern.matrix(modes, tension / square, outer, 4.0)
        if self.energy.turns_freely:
            low = int(self.chord.vertices[np.argmin(self.chord.weights)])
            matrix[2 * low, 2 * low] += 1e-3
        return SymmetricFactor(matrix)

    def _constrained(
        self,
        factor: SymmetricFactor,
        points: ComplexArray,
        gradient: ComplexArray,
        along: ComplexArray,
        errors: FloatArray,
        multipliers: FloatArray,
    ) -> _Step:
        """Solve for the step that meets the held edges and the chord to first order."""
        lean = self.chord.vector(points).real
        upright = factor.solve(self.row.view(float))
        across = float(np.dot(self.row.view(float), upright))
        count = self.triangles.count
        now = multipliers
        for _ in range(4):
            pull = self.held.gather(along, now + self.weights * errors, count)
            free = factor.solve(-(gradient + pull).view(float))
            tilt = (float(np.dot(self.row.view(float), free)) + lean) / across
            move = (free - tilt * upright).view(complex)
            left = errors + self.held.change(along, move)
            now = now + self.weights * left
            if np.max(np.abs(left), initial=0.0) <= 1e-3 * np.max(np.abs(errors), initial=0.0):
                break
        pull = self.held.gather(along, now + self.weights * errors, count)
        slope = float(np.dot((gradient + pull).view(float), move.view(float)))
        plain = gradient + self.held.gather(along, now, count)
        promise = abs(float(np.dot(plain.view(float), move.view(float))))
        return _Step(move, now, slope, promise)

    def search(self, points: ComplexArray, step: _Step) -> tuple[ComplexArray, bool]:
        """Return the points after the longest good step, and whether they moved."""
        here = self.triangles.differentials(points)
        there = self.triangles.differentials(step.move)
        size = min(1.0, 0.9 * largest_unfolded_step(*here, *there))
        merit = self.merit(points, step.multipliers)
        noise = 1e-14 * abs(merit) + self.floor
        for _ in range(30):
            trial = points + size * step.move
            if self.merit(trial, step.multipliers) <= merit + 1e-4 * size * step.slope + noise:
                return trial, True
            size *= 0.5
        return points, False
