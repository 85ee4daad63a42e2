"""Preconditioned descent on a flat map with a free boundary: cheap steps, one factorisation."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

import numpy as np

from unroll.flat.task import NOISE, Map, State, Task, dot
from unroll.maths.sparse import SymmetricFactor
from unroll.maths.triangles import ComplexArray, largest_unfolded_step

REMEMBERED = 8
"""Steps that the quasi-Newton model remembers; 5 to 15 took the same number of steps."""


def descent_steps(
    task: Task,
    points: ComplexArray,
    factor: SymmetricFactor,
    *,
    most: int = 300,
    enough: float = 1e-8,
) -> Iterator[State]:
    """Yield the state after each step, until the energy has settled or no step helps.

    Parameters
    ----------
    task : Task
        Nothing held: lengths are not looked at.
    points : (n,) complex
        A map without folds.
    factor : SymmetricFactor
        Of the surface's cotangent Laplacian, one vertex pinned.
    most : int
        Most steps taken.
    enough : float
        Stop when a step's model promises less than this share of the energy.

    Notes
    -----
    L-BFGS (Nocedal & Wright 2006, algorithm 7.4) whose first guess of the inverse Hessian is the
    inverse Laplacian over half the energy's stiffness: near an isometry the second derivative
    lies between 0 and twice that. The line search stops short of the first fold (Smith &
    Schaefer 2015, doi 10.1145/2766947).
    """
    memory: deque[tuple[ComplexArray, ComplexArray, float]] = deque(maxlen=REMEMBERED)
    map_now = task.triangles.differentials(points)
    gradient, total = task.gradient(*map_now), task.total(*map_now)
    yield task.state(points, total, float("inf"))
    for _ in range(most):
        move = _direction(gradient, memory, factor, task.energy.stiffness)
        slope = dot(gradient, move)
        found = _search(task, map_now, total, move, slope)
        if found is None:
            return
        size, map_now, total = found
        after = task.gradient(*map_now)
        step, change = size * move, after - gradient
        if dot(step, change) > 1e-12 * abs(slope):
            memory.append((step, change, 1 / dot(step, change)))
        points, gradient = points + step, after
        state = task.state(points, total, -slope)
        yield state
        if state.decrease < enough or state.cost < NOISE:
            return


def _direction(
    gradient: ComplexArray,
    memory: deque[tuple[ComplexArray, ComplexArray, float]],
    factor: SymmetricFactor,
    stiffness: float,
) -> ComplexArray:
    """Return the quasi-Newton step by the two-loop recursion."""
    left = gradient.copy()
    shares = []
    for step, change, weight in reversed(memory):
        share = weight * dot(step, left)
        left -= share * change
        shares.append(share)
    out = factor.solve_complex(left) * (2 / stiffness)
    for (step, change, weight), share in zip(memory, reversed(shares), strict=True):
        out += (share - weight * dot(change, out)) * step
    return -out


def _search(
    task: Task, map_now: Map, total: float, move: ComplexArray, slope: float
) -> tuple[float, Map, float] | None:
    """Return the longest good share of `move`, with the map and its energy after it.

    Differentials are linear in the points, so that those of the move serve every trial.
    """
    (alpha, beta), there = map_now, task.triangles.differentials(move)
    size = min(1.0, 0.9 * largest_unfolded_step(alpha, beta, *there))
    for _ in range(30):
        trial = alpha + size * there[0], beta + size * there[1]
        value = task.total(*trial)
        if np.isfinite(value) and value <= total + 1e-4 * size * slope:
            return size, trial, value
        size *= 0.5
    return None
