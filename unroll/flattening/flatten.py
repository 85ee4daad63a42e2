"""The flattening of a panel from start to finish, step by step."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from unroll.errors import NotConverged, UnrollError
from unroll.flattening.held_seams import Chord, HeldEdges
from unroll.flattening.laying import grain_chord, lay
from unroll.flattening.newton import NewtonState, newton_steps
from unroll.flattening.start import boundary_first, convex_start, is_unfolded
from unroll.geometry.energies import Energy, EvenEnergy, WovenEnergy
from unroll.geometry.mesh_checks import boundary_loop, check_disk
from unroll.geometry.triangles import ComplexArray, IntArray, Triangles, triangles_of
from unroll.types import Flattening, FloatArray, Panel

EnergyName = Literal["even", "woven"]
ENERGIES: dict[str, Energy] = {"even": EvenEnergy(), "woven": WovenEnergy()}


def flatten(
    panel: Panel,
    *,
    energy: EnergyName = "woven",
    held: Collection[str] | None = None,
    lengths: Mapping[str, float] | None = None,
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
    return _last(flatten_steps(panel, energy=energy, held=held, lengths=lengths, start=start))


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
    start: FloatArray | None = None,
) -> Iterator[Flattening]:
    """Yield the flattening after each step; the last one is the answer of `flatten`."""
    check_disk(panel.mesh.vertices, panel.mesh.faces, panel.name)
    problem = _problem(panel, held, lengths)
    first = _first(problem, panel, start)
    count = 0
    state: NewtonState | None = None
    for state in newton_steps(
        problem.triangles,
        problem.chord.upright(first),
        ENERGIES[energy],
        problem.held,
        problem.chord,
    ):
        yield _flattening(problem, panel, state, energy, count)
        count += 1
    assert state is not None
    _check_finished(problem, panel, state, energy, count)


@dataclass(frozen=True, eq=False)
class _Problem:
    triangles: Triangles
    loop: IntArray
    curved: FloatArray
    wanted: FloatArray
    held: HeldEdges
    chord: Chord


def _problem(
    panel: Panel, held: Collection[str] | None, lengths: Mapping[str, float] | None
) -> _Problem:
    vertices, faces = panel.mesh.vertices, panel.mesh.faces
    triangles = triangles_of(vertices, faces)
    loop = boundary_loop(faces, len(vertices))
    following = np.roll(loop, -1)
    curved = np.linalg.norm(vertices[following] - vertices[loop], axis=1)
    names, total = _side_of_edges(panel, loop, curved)
    wanted_names = set(names) if held is None else set(held)
    for name in wanted_names | set(lengths or {}):
        if name not in names:
            raise UnrollError(
                f'{panel.name}: there is no side "{name}" to hold; '
                f"it has {', '.join(sorted(set(names)))}"
            )
    factor = {}
    for name, length in (lengths or {}).items():
        if not (np.isfinite(length) and length > 0):
            raise UnrollError(f"{panel.name}: {name} is to be {length} mm long; expected above 0")
        factor[name] = length / total[name]
    wanted = curved * np.array([factor.get(name, 1.0) for name in names])
    is_held = np.array([name in wanted_names for name in names])
    edges = HeldEdges(loop[is_held], following[is_held], wanted[is_held])
    return _Problem(triangles, loop, curved, wanted, edges, grain_chord(panel, loop))


def _side_of_edges(
    panel: Panel, loop: IntArray, curved: FloatArray
) -> tuple[list[str], dict[str, float]]:
    """Return the seam of each boundary edge, and each seam's length (one leg for a dart)."""
    at = {int(v): k for k, v in enumerate(loop)}
    names = [""] * len(loop)
    for side in panel.sides:
        for a, b in zip(side.path[:-1].tolist(), side.path[1:].tolist(), strict=True):
            k = at.get(a)
            if k is None or loop[(k + 1) % len(loop)] != b:
                raise UnrollError(
                    f"{panel.name}: side {side.seam} leaves the boundary at vertex {a}; "
                    "sides must run anticlockwise along it"
                )
            names[k] = side.seam
    if "" in names:
        raise UnrollError(
            f"{panel.name}: the boundary edge at vertex {loop[names.index('')]} has no seam name"
        )
    total: dict[str, float] = {}
    for name, length in zip(names, curved.tolist(), strict=True):
        share = 0.5 if name.startswith("dart ") else 1.0
        total[name] = total.get(name, 0.0) + share * length
    return names, total


def _first(problem: _Problem, panel: Panel, start: FloatArray | None) -> ComplexArray:
    """Return a map without folds to start from: the one given, if it has none."""
    if start is not None:
        given = np.array(start, dtype=float)
        if given.shape != (problem.triangles.count, 2):
            raise UnrollError(
                f"{panel.name}: the start has shape {given.shape}; "
                f"expected {(problem.triangles.count, 2)}"
            )
        points = given[:, 0] + 1j * given[:, 1]
        if np.isfinite(given).all() and is_unfolded(problem.triangles, points):
            return points
    laplacian = problem.triangles.cotangent_laplacian()
    points = boundary_first(
        problem.triangles, laplacian, problem.loop, problem.curved, problem.wanted
    )
    if is_unfolded(problem.triangles, points):
        return points
    return convex_start(problem.triangles, problem.loop, problem.wanted)


def _flattening(
    problem: _Problem, panel: Panel, state: NewtonState, energy: str, count: int
) -> Flattening:
    return Flattening(panel, lay(state.points, problem.chord), energy, count, state.seam_error)


def _check_finished(
    problem: _Problem, panel: Panel, state: NewtonState, energy: str, count: int
) -> None:
    best = _flattening(problem, panel, state, energy, count)
    if not is_unfolded(problem.triangles, state.points):
        raise NotConverged(f"{panel.name}: the flattening folds over itself", best)
    if state.seam_error > 1e-6:
        raise NotConverged(
            f"{panel.name}: a seam's edge is still {100 * state.seam_error:.2g} % off after "
            f"{count} steps; expected 0.0001 % (too much curvature for one piece: add darts)",
            best,
        )
