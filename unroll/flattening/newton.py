"""Newton steps on a flat map, with boundary edges held to their length and the grain upright."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse

from unroll.flattening.hessians import HessianPattern, outer_blocks
from unroll.flattening.task import NOISE, Map, State, Task, dot, sum_of_products
from unroll.geometry.sparse import SingularMatrix, SymmetricFactor
from unroll.geometry.triangles import (
    ComplexArray,
    FloatArray,
    largest_unfolded_step,
)

HOLD = 1e3
"""Weight of a held edge's error in the Newton matrix, as mm² of cloth per mm² of edge."""


SETTLED = 1e-11
"""Relative error of the held edges' lengths at which they count as met."""
DAMPINGS = (0.0, 1e-9, 1e-6, 1e-3)
"""Shares of its diagonal added to a matrix, one after another, until it can be factored."""


def newton_steps(
    task: Task, points: ComplexArray, *, most: int = 80, enough: float = 1e-9
) -> Iterator[State]:
    """Yield the state after each step, until the energy and the held edges have settled.

    It also ends where no step can be worked out; the last state then says how far it came.

    Parameters
    ----------
    task : Task
    points : (n,) complex
        A map without folds, its chord upright; the chord stays so.
    most : int
        Most steps taken.
    enough : float
        Stop when a step's model promises less than this share of the energy.

    Notes
    -----
    Equality-constrained Newton in the augmented form: the held edges' errors enter the matrix with
    a large weight, which leaves its sparsity as it is (an edge's ends are neighbours already);
    refining the multipliers with the same factors gives the exact constrained step. The augmented
    Lagrangian at the new multipliers falls along that step (Nocedal & Wright 2006, ch. 17, 18),
    so that it serves the line search, which also stops short of the first fold. Far out, negative
    curvature is cut off triangle by triangle; near the end the exact second derivatives give
    quadratic convergence, as long as they lead downhill. Where a triangle is next to folded, or one
    held edge weighs 1e16 times as much as another, pivots cancel; the matrix is damped then.
    """
    solver = _Newton(task)
    multipliers = np.zeros(len(task.held.lengths))
    exact = False
    here = task.triangles.differentials(points)
    yield task.state(points, task.total(*here), float("inf"))
    for _ in range(most):
        step = solver.step(points, here, multipliers, exact=exact)
        if exact and (step is None or step.slope >= 0):
            step = solver.step(points, here, multipliers, exact=False)
        if step is None:
            return
        size, points, here = solver.search(points, here, step)
        multipliers = step.multipliers
        state = task.state(points, task.total(*here), step.promise)
        yield state
        exact = size == 1 and state.decrease < 0.5
        if size == 0 or (state.decrease < enough and state.seam_error < SETTLED):
            return


@dataclass(frozen=True, eq=False)
class _Step:
    move: ComplexArray
    multipliers: FloatArray
    slope: float
    promise: float


class _Newton:
    """The pieces of one Newton step for a fixed task."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.weights = HOLD * task.energy.stiffness * task.held.lengths**2
        chord = task.chord
        pinned = int(chord.vertices[np.argmax(chord.weights)])
        self.low = int(chord.vertices[np.argmin(chord.weights)])
        self.pattern = HessianPattern(task.triangles, task.held, task.bends, pinned)
        self.row = np.zeros(task.triangles.count, dtype=complex)
        np.add.at(self.row, chord.vertices, chord.weights)

    def merit(self, points: ComplexArray, here: Map, multipliers: FloatArray) -> float:
        """Return the augmented Lagrangian."""
        task = self.task
        error = task.held.errors(points)
        held = sum_of_products(multipliers + 0.5 * self.weights * error, error)
        return task.total(*here) + task.bends.value(points) + held

    def step(
        self, points: ComplexArray, here: Map, multipliers: FloatArray, *, exact: bool
    ) -> _Step | None:
        """Return the constrained Newton step from `points`; None where the matrix is singular."""
        task = self.task
        gradient = task.gradient(*here) + task.bends.gather(points)
        factor = _factored(self._matrix(points, here, multipliers, exact=exact))
        return None if factor is None else self._constrained(factor, points, gradient, multipliers)

    def _matrix(
        self, points: ComplexArray, here: Map, multipliers: FloatArray, *, exact: bool
    ) -> sparse.csc_matrix:
        """Return the second derivatives of the augmented Lagrangian, or a definite stand-in."""
        task, square = self.task, self.task.held.lengths**2
        along = task.held.steps(points)
        tension = (multipliers if exact else np.maximum(multipliers, 0)) / square
        weight = self.weights / square
        skew = weight * along.real * along.imag
        edge = (tension + weight * along.real**2, skew, skew, tension + weight * along.imag**2)
        bends = outer_blocks(task.bends.directions(points), task.bends.weights)
        curvature = task.energy.curvature(*here, exact=exact)
        matrix = self.pattern.matrix(curvature, edge, bends, task.energy.stiffness)
        if task.energy.turns_freely:
            matrix[2 * self.low, 2 * self.low] += 1e-3
        return matrix

    def _constrained(
        self,
        factor: SymmetricFactor,
        points: ComplexArray,
        gradient: ComplexArray,
        multipliers: FloatArray,
    ) -> _Step:
        """Solve for the step that meets the held edges and the chord to first order."""
        held, count = self.task.held, self.task.triangles.count
        along, errors = held.steps(points), held.errors(points)
        lean = self.task.chord.vector(points).real
        row = self.row.view(float)
        upright = factor.solve(row)
        across = sum_of_products(row, upright)
        now = multipliers
        for _ in range(5):
            pull = gradient + held.gather(along, now + self.weights * errors, count)
            free = factor.solve(-pull.view(float))
            tilt = (sum_of_products(row, free) + lean) / across
            move = (free - tilt * upright).view(complex)
            left = errors + held.change(along, move)
            now = now + self.weights * left
            if np.max(np.abs(left), initial=0.0) <= 1e-4 * np.max(np.abs(errors), initial=0.0):
                break
        slope = dot(gradient + held.gather(along, now + self.weights * errors, count), move)
        promise = abs(dot(gradient + held.gather(along, now, count), move))
        return _Step(move, now, slope, promise)

    def search(
        self, points: ComplexArray, here: Map, step: _Step
    ) -> tuple[float, ComplexArray, Map]:
        """Return the longest good share of the step, with points and map after it."""
        (alpha, beta), there = here, self.task.triangles.differentials(step.move)
        size = min(1.0, 0.9 * largest_unfolded_step(alpha, beta, *there))
        merit = self.merit(points, here, step.multipliers)
        noise = 1e-14 * abs(merit) + NOISE * self.task.area
        for _ in range(30):
            moved = points + size * step.move
            trial = alpha + size * there[0], beta + size * there[1]
            value = self.merit(moved, trial, step.multipliers)
            if value <= merit + 1e-4 * size * step.slope + noise:
                return size, moved, trial
            size *= 0.5
        return 0.0, points, here


def _factored(matrix: sparse.csc_matrix) -> SymmetricFactor | None:
    """Return the factors of a matrix, damped as little as it takes, or None."""
    for damping in DAMPINGS:
        extra = sparse.diags_array(damping * matrix.diagonal()) if damping else 0.0
        try:
            return SymmetricFactor(matrix + extra)
        except SingularMatrix:
            continue
    return None
