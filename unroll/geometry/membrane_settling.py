"""The shape in which a filled skin rests, by damped Newton steps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from unroll.geometry.banded import solve_band
from unroll.geometry.membrane_system import Problem, System
from unroll.types.arrays import FloatArray

LEAST_DAMPING, MOST_DAMPING = 1e-9, 1e9


@dataclass(frozen=True, eq=False)
class Rest:
    """Where the skin is after some steps.

    Attributes
    ----------
    points : (n, 3) float
    residual : float
        Largest out-of-balance force on a vertex, over the pressure's force on a mean vertex.
    steps : int
        Newton systems solved so far.
    energy : float
        N mm.
    """

    points: FloatArray
    residual: float
    steps: int
    energy: float


def settle_steps(
    problem: Problem, points: FloatArray, *, within: float, most: int, damping: float = 1.0
) -> Iterator[Rest]:
    """Yield the states from `points` (n, 3) to balance: residual below `within`, or `most` steps.

    `damping` is the first step's: small where the points are nearly in balance.

    Notes
    -----
    Levenberg–Marquardt: (H + μ(L + k/100)) d = −g, with L the stiffness-weighted Laplacian of the
    rest shape, so that a step is smooth where the energy has little to say; μ grows fourfold where
    a step gains too little (or the matrix is not positive) and shrinks fivefold where it gains what
    it promised. Stiff bodies take six unknowns each and turn exactly.
    """
    system = System(problem, points)
    state = _evaluated(system, points, 0)
    yield state.rest
    while state.rest.residual > within and state.rest.steps < most:
        state, damping = _step(system, state, damping, most)
        yield state.rest


@dataclass(frozen=True, eq=False)
class _State:
    rest: Rest
    gradient: FloatArray


def _evaluated(system: System, points: FloatArray, steps: int) -> _State:
    energy, gradient = system.energy_and_gradient(points)
    return _State(Rest(points, system.residual(points, gradient), steps, energy), gradient)


def _step(system: System, state: _State, damping: float, most: int) -> tuple[_State, float]:
    """Return the next state and damping; the same state, its steps used up, when none is better."""
    points, energy, steps = state.rest.points, state.rest.energy, state.rest.steps
    band, right = system.newton_system(points, state.gradient)
    damper = system.damper(points)
    while steps < most and damping < MOST_DAMPING:
        steps += 1
        move = solve_band(band + damping * damper, system.depth, right)
        if move is not None:
            tried = _evaluated(system, system.moved(points, move), steps)
            promised = system.promised(points, move, right, damping)
            saved = energy - tried.rest.energy
            # Close to balance the energy's last digits drown what a step saves.
            is_small = promised < 1e-10 * abs(energy) and saved > -1e-12 * abs(energy)
            gain = 1.0 if is_small else saved / promised
            if gain > 0.1:
                factor = 0.2 if gain > 0.6 else 4.0 if gain < 0.25 else 1.0
                return tried, max(damping * factor, LEAST_DAMPING)
        damping *= 4
    return replace(state, rest=replace(state.rest, steps=most)), damping
