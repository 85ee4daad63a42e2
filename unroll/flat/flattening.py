"""The flattening of a panel from start to finish, step by step."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from itertools import islice
from typing import Literal

import numpy as np
import scipy.sparse as sparse

from unroll.errors import NotConverged, UnrollError
from unroll.flat.descent import descent_steps
from unroll.flat.newton import newton_steps
from unroll.flat.rims import Rim, rim_of
from unroll.flat.starting import boundary_first, convex_start, local_global_steps
from unroll.flat.task import Chord, State, Task
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.energies import Energy, EvenEnergy, WovenEnergy
from unroll.maths.mesh_checks import check_disk, overlap_area
from unroll.maths.sparse import pinned_factor
from unroll.maths.triangles import ComplexArray, is_unfolded, triangles_of
from unroll.nouns import Flattening, Panel

END = 0.1
"""Share of a panel's length that counts as its end."""


def grain_chord(panel: Panel, loop: IntArray) -> Chord:
    """Return the two ends of the panel's grain line as weighted vertices.

    Without a grain line it is the longest way across the panel, from the middle of the rim at one
    end to the middle at the other; the end that is higher on the body up.
    """
    trace = panel.traces.get("grain")
    if trace is not None and len(trace.faces) > 1:
        ends = trace.on(panel.mesh.vertices, panel.mesh.faces)[[0, -1]]
        if np.linalg.norm(ends[0] - ends[1]) > 0:
            corners = panel.mesh.faces[trace.faces[[0, -1]]]
            weights = np.concatenate([trace.weights[0], -trace.weights[-1]])
            return Chord(corners.ravel(), weights)
    rim = panel.mesh.vertices[loop]
    spread = rim - rim.mean(axis=0)
    axis = np.linalg.svd(spread, full_matrices=False)[2][0]
    at = spread @ axis
    tips = [loop[at >= at.max() - END * np.ptp(at)], loop[at <= at.min() + END * np.ptp(at)]]
    upper, lower = sorted(tips, key=lambda end: -panel.mesh.vertices[end, 2].mean())
    shares = [np.full(len(upper), 1 / len(upper)), np.full(len(lower), -1 / len(lower))]
    return Chord(np.concatenate([upper, lower]), np.concatenate(shares))


def relaid(flattening: Flattening) -> Flattening:
    """Return a flattening whose points have moved, laid grain upright again."""
    panel = flattening.panel
    loop = np.concatenate([side.path[:-1] for side in panel.sides])
    points: ComplexArray = flattening.points @ np.array([1, 1j])
    return replace(flattening, points=lay(points, grain_chord(panel, loop)))


def lay(points: ComplexArray, chord: Chord) -> FloatArray:
    """Return the points, (n, 2), chord upright and its upper end at the origin."""
    turned = chord.upright(points)
    upper = np.maximum(chord.weights, 0)
    placed = turned - np.sum(upper * turned[chord.vertices])
    return np.stack([placed.real, placed.imag], axis=1)


EnergyName = Literal["even", "woven"]
STALLED = 1e-4
"""Share of the distortion still to be gained above which a descent has not settled."""
RELAXED = 1e-3
"""The same, below which a start is good enough."""
LOCAL_GLOBAL_STEPS = 6
"""Local/global steps from a convex start; more gained nothing."""
NEXT_TO_FOLDED = 1e-6
"""A triangle that a start squashes to this share outweighs all others, and their digits cancel."""
HELD_WITHIN = 1e-5
"""Largest relative error of a held edge that is let pass: 0.005 mm on the longest seam."""
LEFT_OVER = 1e-2
"""Share of the distortion that may be left over: no cloth could tell."""
MOST_STEPS = 160
"""Some full arms in one piece go down a long and nearly level valley; others need some twenty."""
OVERLAP = 1e-6
"""Share of the area that may lie double: what rounding leaves at a closed dart."""
ENERGIES: dict[str, Energy] = {"even": EvenEnergy(), "woven": WovenEnergy()}


def flatten(
    panel: Panel,
    *,
    energy: EnergyName = "woven",
    held: Collection[str] | None = None,
    lengths: Mapping[str, float] | None = None,
    mouths: Mapping[str, float] | None = None,
    start: FloatArray | None = None,
) -> Flattening:
    """Lay a panel flat, every seam edge by edge as long as it is on the body.

    Parameters
    ----------
    panel : Panel
    energy : {"woven", "even"}
        What counts as distortion: the stretch of the threads, shear being cheap; or stretch in
        any direction alike.
    held : collection of str, optional
        Seams whose edges keep their length; all sides of the panel when left out.
    lengths : mapping of str to float, optional
        Total length wanted for a seam, mm, where it is to differ from the body's: each edge of it
        is scaled alike (a cap seam with ease). A dart's is the length of one leg.
    mouths : mapping of str to float, optional
        Width of a dart's open mouth, mm, where the maker fixes its intake; it opens as the surface
        asks otherwise.
    start : (n, 2) float, optional
        Flat positions of a like panel with the same faces, to start from.

    Raises
    ------
    UnrollError
        When the panel is not a disk of sound triangles, its sides do not run along its boundary,
        a seam name is unknown, or a length is not positive.
    NotConverged
        When the descent stalls or folds; it carries the best flattening as `best`.

    Notes
    -----
    Cloth is sewn edge to edge: left free, the seams of a flattened panel come out several percent
    wrong, and two panels disagree about the seam they share. So lengths are equations here, solved
    to 1e-9, and the distortion goes where the cloth can take it.
    """
    steps = flatten_steps(
        panel, energy=energy, held=held, lengths=lengths, mouths=mouths, start=start
    )
    return _last(steps)


def flatten_free(
    panel: Panel, *, energy: EnergyName = "even", start: FloatArray | None = None
) -> Flattening:
    """Lay a panel flat with the least distortion, its boundary free to change length."""
    return _last(flatten_steps(panel, energy=energy, held=(), start=start))


def _last(steps: Iterator[Flattening]) -> Flattening:
    for step in steps:
        last = step
    return last


def flatten_steps(
    panel: Panel,
    *,
    energy: EnergyName = "woven",
    held: Collection[str] | None = None,
    lengths: Mapping[str, float] | None = None,
    mouths: Mapping[str, float] | None = None,
    start: FloatArray | None = None,
) -> Iterator[Flattening]:
    """Yield the flattening after each step; the last one is the answer of `flatten`."""
    if energy not in ENERGIES:
        raise UnrollError(f'energy is "{energy}"; expected {" or ".join(sorted(ENERGIES))}')
    check_disk(panel.mesh.vertices, panel.mesh.faces, panel.name)
    rim = rim_of(panel, held, lengths, mouths)
    task = _task(panel, rim, ENERGIES[energy])
    laplacian = task.triangles.cotangent_laplacian()
    points = _given(panel, task, start)
    if points is None:
        points = _start(task, rim, laplacian)
    states = _descend(task, task.chord.upright(points), laplacian)
    for count, state in enumerate(states):
        flattening = Flattening(
            panel, lay(state.points, task.chord), energy, count, state.seam_error
        )
        yield flattening
    _check_finished(flattening, state, task, rim)


def _task(panel: Panel, rim: Rim, energy: Energy) -> Task:
    """Gather what is to be solved."""
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    bends = rim.bends(triangles, energy.stiffness)
    chord = grain_chord(panel, rim.loop)
    area = float(np.sum(triangles.areas))
    return Task(triangles, energy, rim.held_edges(), bends, chord, area)


def _given(panel: Panel, task: Task, start: FloatArray | None) -> ComplexArray | None:
    """Return the start that was given, unless it folds or comes so near that digits cancel."""
    if start is None:
        return None
    if start.shape != (task.triangles.count, 2) or not np.isfinite(start).all():
        raise UnrollError(
            f"{panel.name}: the start has shape {start.shape}; expected "
            f"({task.triangles.count}, 2) numbers, one row a vertex of this panel"
        )
    points: ComplexArray = start @ np.array([1, 1j])
    return points if is_unfolded(task.triangles, points, least=NEXT_TO_FOLDED) else None


def _start(task: Task, rim: Rim, laplacian: sparse.csc_array) -> ComplexArray:
    """Return a map without folds that is near the answer.

    On coarse, badly shaped triangles the boundary-first map can fold. Then a convex map, which
    cannot, is taken on its way by local/global steps, as far as they do not fold it, and relaxed
    with a free rim until it looks like the panel.
    """
    triangles = task.triangles
    points = boundary_first(triangles, laplacian, rim.loop, rim.curved, rim.wanted)
    if is_unfolded(triangles, points):
        return points
    points = convex_start(triangles, rim.loop, rim.wanted)
    factor = pinned_factor(laplacian)
    for better in islice(local_global_steps(triangles, points, factor), LOCAL_GLOBAL_STEPS):
        if is_unfolded(triangles, better):
            points = better
    relaxed = replace(task, energy=EvenEnergy())
    for state in descent_steps(relaxed, points, factor, enough=RELAXED):
        points = state.points
    return points


def _descend(task: Task, points: ComplexArray, laplacian: sparse.csc_array) -> Iterator[State]:
    """Yield the states of the descent that suits the task.

    With a free boundary and the even energy quasi-Newton steps do, and cost a tenth of a Newton
    step each; should they stall, and for all else, Newton.
    """
    if len(task.held.lengths) == 0 and task.energy.turns_freely:
        for state in descent_steps(task, points, pinned_factor(laplacian)):
            yield state
        if state.decrease < STALLED:
            return
        points = task.chord.upright(state.points)
    yield from newton_steps(task, points, most=MOST_STEPS)


def _check_finished(flattening: Flattening, state: State, task: Task, rim: Rim) -> None:
    """Refuse a result that folds, has not settled, or covers the same cloth twice."""
    name = flattening.panel.name
    if not is_unfolded(task.triangles, flattening.points @ np.array([1, 1j])):
        raise NotConverged(f"{name}: the flat piece folds over itself", flattening)
    if state.seam_error > HELD_WITHIN or state.decrease > LEFT_OVER:
        raise NotConverged(
            f"{name}: after {flattening.steps} steps a seam edge is still "
            f"{100 * state.seam_error:.2g} % off and the distortion could fall by "
            f"{100 * state.decrease:.2g} % (too curved for one piece: add darts or a seam)",
            flattening,
        )
    overlap = overlap_area(flattening.points[rim.loop])
    if overlap > OVERLAP * task.area:
        raise NotConverged(
            f"{name}: the flat piece covers {overlap:.0f} mm² of cloth twice "
            "(a dart or a hollow there opens the wrong way): move the dart or add a seam",
            flattening,
        )
