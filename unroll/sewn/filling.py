"""A shell filled: the problem put to the solver, and its answer as a value."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.membrane import (
    Skin,
    corner_gradients,
    deformation,
    enclosed_volume,
    hinge_rows,
    stresses,
    stretches,
)
from unroll.maths.membrane_system import Problem, Rest, settle_steps
from unroll.maths.mesh_checks import crossing_faces
from unroll.maths.triangles import area_percentile
from unroll.nouns import Cloth, Mesh, SeamTake, Sewn
from unroll.sewn.shells import Shell

GATHER_MM = 40.0
# A face whose lesser tension is below this share of the mean is said to be slack: the solver stops
# at a residual of about that size.
SLACK_SHARE = 0.01


@dataclass(frozen=True, eq=False)
class ClothState:
    """Stretches and tensions of every cloth face; see `Sewn`."""

    stretch_high: FloatArray
    stretch_low: FloatArray
    tension: FloatArray
    slack_share: float
    tension_p99: float


def cloth_state(skin: Skin, points: FloatArray) -> ClothState:
    """Return the stretches and principal tensions of the cloth."""
    placed = deformation(skin, points)
    state = stretches(placed)
    tension = stretches(stresses(skin, placed, state))
    weights = skin.areas
    mean = float(np.average(tension.high, weights=weights))
    is_slack = tension.low < SLACK_SHARE * mean
    return ClothState(
        state.high,
        state.low,
        tension.high,
        float(weights[is_slack].sum() / weights.sum()),
        area_percentile(tension.high, weights, 99.0),
    )


def seam_takes(
    points: FloatArray,
    paths: Mapping[str, IntArray],
    lengths: Mapping[tuple[int, int], float],
    cloth: Cloth,
) -> tuple[SeamTake, ...]:
    """Return how each seam lies in the filled shape; `lengths` are flat, of directed edges."""
    return tuple(_seam_take(name, points, path, lengths, cloth) for name, path in paths.items())


def limits_of(
    *,
    is_weighed: bool,
    converged: bool,
    residual: float,
    crossings: int | None,
    slack_share: float,
) -> tuple[str, ...]:
    """Return what the figures do not say, one plain line each."""
    weight = "The filling presses and weighs as a liquid would" if is_weighed else (
        "An even pressure stands for the filling, and nothing weighs anything"
    )
    lines = [
        f"{weight}: how fibre packs and resists is not modelled.",
        "Seam allowances, friction and cloth lying on cloth are not modelled.",
        "Nothing here was compared with an arm sewn from real cloth.",
    ]
    if converged:
        lines.append(f"The shape is in balance: forces agree to {100 * residual:.1g} %.")
    else:
        lines.append(
            f"The shape is not in balance: a force of {100 * residual:.0f} % of the filling's on "
            "one place is left over; take the figures as a rough guide."
        )
    if crossings:
        lines.append(
            f"The cloth runs through itself at {crossings} places: the real shape differs there."
        )
    if slack_share > 0.25:
        lines.append(
            f"{100 * slack_share:.0f} % of the cloth is slack: its wrinkles can lie otherwise too."
        )
    return tuple(lines)


def edge_lengths(faces: IntArray, rest: FloatArray) -> dict[tuple[int, int], float]:
    """Return the flat length of every directed edge."""
    ends = np.roll(faces, -1, axis=1).ravel()
    lengths = np.linalg.norm(rest - np.roll(rest, -1, axis=1), axis=2).ravel()
    return dict(
        zip(zip(faces.ravel().tolist(), ends.tolist(), strict=True), lengths.tolist(), strict=True)
    )


def _seam_take(
    name: str,
    points: FloatArray,
    path: IntArray,
    lengths: Mapping[tuple[int, int], float],
    cloth: Cloth,
) -> SeamTake:
    pairs = list(zip(path[:-1].tolist(), path[1:].tolist(), strict=True))
    one = np.array([lengths[a, b] for a, b in pairs])
    two = np.array([lengths[b, a] for a, b in pairs])
    placed = np.linalg.norm(points[path[1:]] - points[path[:-1]], axis=1)
    gathered = max(_most_gathered(side, placed) for side in (one, two))
    long, short = max(one.sum(), two.sum()), min(one.sum(), two.sum())
    return SeamTake(
        name,
        (float(one.sum()), float(two.sum())),
        float(100 * (long / short - 1)),
        100 * gathered,
        bool(100 * gathered > cloth.eases_percent[0]),
    )


def _most_gathered(flat: FloatArray, placed: FloatArray) -> float:
    """Return the greatest share by which a window of GATHER_MM of a side lies shortened."""
    at = np.concatenate([[0.0], np.cumsum(flat)])
    reached = np.concatenate([[0.0], np.cumsum(placed)])
    window = min(GATHER_MM, float(at[-1]))
    starts = at[at <= at[-1] - window + 1e-9]
    over = np.interp(starts + window, at, reached) - np.interp(starts, at, reached)
    return max(float(1 - over.min() / window), 0.0)


# Bending stiffness of a firm cotton, N mm: between shirting (0.01) and canvas (0.2); from memory.
# Girths hardly feel it; it keeps slack cloth from folding at the size of one triangle.
BENDING = 0.1
GRAVITY = 9.80665  # N/kg, standard
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
    shell: Shell,
    cloth: Cloth,
    *,
    held: IntArray,
    bodies: Sequence[IntArray] = (),
    up: FloatArray | None = None,
) -> Problem:
    """Return the problem whose solution is the filled shape.

    Parameters
    ----------
    held : (k,) int
        Vertices that stay where they are.
    bodies : sequence of (k,) int
        Vertices that move as one stiff plate.
    up : (3,) float, optional
        Unit vector away from the ground; nothing weighs anything where it is left out, or where
        ends of cloth leave nothing to hang from.
    """
    is_cloth = ~shell.is_card
    faces, rest = shell.faces[is_cloth], shell.rest[is_cloth]
    gradients, areas = corner_gradients(rest)
    stiffness = stiffness_of(cloth)
    is_hung = up is not None and cloth.ends == "card"
    way = np.asarray(up, dtype=float) if is_hung else np.zeros(3)
    skin = Skin(
        faces=faces,
        gradients=gradients,
        areas=areas,
        even=stiffness.even,
        thread=stiffness.thread,
        closing=shell.faces[shell.is_card],
        pressure=1e-3 * cloth.pressure_kpa,
        filling_weight=1e-9 * GRAVITY * cloth.filling_g_per_litre * way,
        cloth_weight=1e-9 * GRAVITY * cloth.weighs_g_per_m2 * way,
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
    for rest in _settling(problem, start, within, is_near):
        yield _sewn(shell, problem, cloth, rest, within, lengths)


def fill(
    shell: Shell,
    problem: Problem,
    start: FloatArray,
    cloth: Cloth,
    *,
    within: float = BALANCED,
    is_near: bool = False,
) -> Sewn:
    """Return the last of `fill_steps`: quicker, as what a shape tells is worked out once."""
    *_, rest = _settling(problem, start, within, is_near)
    lengths = edge_lengths(shell.faces, shell.rest)
    return _sewn(shell, problem, cloth, rest, within, lengths)


def _settling(
    problem: Problem, start: FloatArray, within: float, is_near: bool
) -> Iterator[Rest]:
    damping = NEAR_DAMPING if is_near else 1.0
    return settle_steps(problem, start, within=within, most=MOST_STEPS, damping=damping)


def finished(sewn: Sewn) -> Sewn:
    """Return the shape with its crossings counted and its limits stated."""
    crossings = len(crossing_faces(sewn.mesh.vertices, sewn.mesh.faces))
    limits = limits_of(
        is_weighed=sewn.is_weighed,
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
    lengths: Mapping[tuple[int, int], float],
) -> Sewn:
    """Return a state of the solver as a value."""
    takes = seam_takes(rest.points, shell.seam_paths, lengths, cloth)
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
        is_weighed=bool(np.any(problem.skin.filling_weight)),
    )
