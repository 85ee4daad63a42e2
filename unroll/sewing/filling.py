"""A shell filled: the problem put to the solver, and its answer as a value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.errors import UnrollError
from unroll.geometry.crossings import crossing_faces
from unroll.geometry.hinges import hinge_rows
from unroll.geometry.membrane import Skin, corner_gradients, enclosed_volume
from unroll.geometry.membrane_settling import Rest, settle_steps
from unroll.geometry.membrane_system import Problem
from unroll.sewing.judging import cloth_state, edge_lengths, limits_of, seam_takes
from unroll.sewing.shells import Shell
from unroll.types import Cloth, FloatArray, IntArray, Mesh
from unroll.types.sewn import SeamTake, Sewn

# Bending stiffness of a firm cotton, N mm: between shirting (0.01) and canvas (0.2); from memory.
# Girths hardly feel it; it keeps slack cloth from folding at the size of one triangle.
BENDING = 0.1
BALANCED = 3e-3
MOST_STEPS = 500
# From a start that is nearly in balance the last steps are quick, and small differences matter.
NEAR_DAMPING, WELL_BALANCED = 1e-3, 5e-4


@dataclass(frozen=True)
class Stiffness:
    """A cloth's stiffness, N/mm: what all directions share, and what threads add."""

    even: float
    thread: float


def stiffness_of(cloth: Cloth) -> Stiffness:
    """Split the stretch along the thread and on the bias, at 1 N/cm each, into stiffnesses.

    On the bias the threads shear freely, so only the even part holds.

    Examples
    --------
    >>> stiffness_of(Cloth(stretch_percent=0.4, bias_stretch_percent=0.4))
    Stiffness(even=25.0, thread=0.0)
    """
    along = 10.0 / cloth.stretch_percent
    bias = 10.0 / max(cloth.bias_stretch_percent, cloth.stretch_percent)
    return Stiffness(bias, along - bias)


def check_cloth(cloth: Cloth) -> None:
    """Refuse a cloth that cannot hold a shape.

    Raises
    ------
    UnrollError
        When the pressure or a stretch is not above 0.
    """
    for name in ("pressure_kpa", "stretch_percent", "bias_stretch_percent"):
        if not getattr(cloth, name) > 0:
            raise UnrollError(
                f"{name} is {getattr(cloth, name):g}; expected more than 0 "
                "(an arm that is not filled has no shape, and every cloth gives a little)"
            )


def problem_of(
    shell: Shell, cloth: Cloth, *, held: IntArray, bodies: Sequence[IntArray] = ()
) -> Problem:
    """Return the problem whose solution is the filled shape.

    Parameters
    ----------
    held : (k,) int
        Vertices that stay where they are.
    bodies : sequence of (k,) int
        Vertices that move as one stiff plate.
    """
    is_cloth = ~shell.is_card
    faces, rest = shell.faces[is_cloth], shell.rest[is_cloth]
    gradients, areas = corner_gradients(rest)
    stiffness = stiffness_of(cloth)
    skin = Skin(
        faces=faces,
        gradients=gradients,
        areas=areas,
        even=stiffness.even,
        thread=stiffness.thread,
        closing=shell.faces[shell.is_card],
        pressure=1e-3 * cloth.pressure_kpa,
    )
    hinges, rows = hinge_rows(faces, rest, shell.face_pieces[is_cloth], shell.seam_edges)
    is_held = np.zeros(shell.count, dtype=bool)
    is_held[held] = True
    return Problem(skin, hinges, rows * np.sqrt(BENDING), is_held, tuple(bodies))


def fill_steps(
    shell: Shell,
    problem: Problem,
    start: FloatArray,
    cloth: Cloth,
    *,
    within: float = BALANCED,
    is_near: bool = False,
) -> Iterator[Sewn]:
    """Yield the shapes from `start` (n, 3) to balance, their crossings not yet looked for.

    With `is_near` the start is taken to be nearly in balance, and the first steps are bolder.
    """
    lengths = edge_lengths(shell.faces, shell.rest)
    damping = NEAR_DAMPING if is_near else 1.0
    steps = settle_steps(problem, start, within=within, most=MOST_STEPS, damping=damping)
    for rest in steps:
        takes = seam_takes(rest.points, shell.seam_paths, lengths, cloth)
        yield _sewn(shell, problem, cloth, rest, within, takes)


def finished(sewn: Sewn) -> Sewn:
    """Return the shape with its crossings counted and its limits stated."""
    crossings = len(crossing_faces(sewn.mesh.vertices, sewn.mesh.faces))
    limits = limits_of(
        converged=sewn.converged,
        residual=sewn.residual,
        crossings=crossings,
        slack_share=sewn.slack_share,
    )
    return replace(sewn, crossings=crossings, limits=limits)


def _sewn(
    shell: Shell,
    problem: Problem,
    cloth: Cloth,
    rest: Rest,
    within: float,
    takes: tuple[SeamTake, ...],
) -> Sewn:
    """Return a state of the solver as a value."""
    state = cloth_state(problem.skin, rest.points)
    is_cloth = ~shell.is_card

    def spread(values: FloatArray, on_card: float) -> FloatArray:
        out = np.full(len(shell.faces), on_card)
        out[is_cloth] = values
        return out

    return Sewn(
        source=shell.source,
        arm=shell.arm,
        mesh=Mesh(rest.points, shell.faces),
        rest=shell.rest,
        piece_names=shell.piece_names,
        face_pieces=shell.face_pieces,
        is_card=shell.is_card,
        stretch_high=spread(state.stretch_high, 1.0),
        stretch_low=spread(state.stretch_low, 1.0),
        tension=spread(state.tension, 0.0),
        lines=shell.lines,
        seam_paths=shell.seam_paths,
        seams=takes,
        volume=enclosed_volume(rest.points, shell.faces),
        slack_share=state.slack_share,
        tension_p99=state.tension_p99,
        crossings=None,
        residual=rest.residual,
        steps=rest.steps,
        converged=rest.residual <= within,
        cloth=cloth,
    )
