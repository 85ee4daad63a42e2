"""An arm's own mesh filled: its rest shape is the curved faces themselves, or faces laid flat."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.membrane import unfolded
from unroll.maths.membrane_system import Problem, settle_steps
from unroll.maths.sections import trace_level
from unroll.nouns import ArmMesh, Cloth, Flattening, Sewn, Trace
from unroll.sewn.filling import (
    MOST_STEPS,
    NEAR_DAMPING,
    WELL_BALANCED,
    check_cloth,
    fill_steps,
    finished,
    problem_of,
)
from unroll.sewn.shells import Shell

LOFTED_DAMPING = 0.1  # set by trial: an eighth fewer steps from an arm as lofted than with 1
PLATES = {"armhole base": "armhole plate", "wrist base": "wrist plate"}
LINES = {
    "upper arm line": "upper_arm",
    "elbow line": "elbow",
    "forearm line": "forearm",
}
SEAMS = ("front seam", "back seam", "cap seam", "underarm seam", "outer wrist", "inner wrist")


def fill_rest_mesh(
    arm: ArmMesh,
    rest: FloatArray | None = None,
    *,
    cloth: Cloth,
    start: FloatArray | None = None,
    source: str = "loft",
    up: FloatArray | None = None,
) -> Sewn:
    """Return the shape that an arm's mesh takes when its faces are cloth and it is filled.

    Parameters
    ----------
    arm : ArmMesh
        The armhole plate is held; with card-backed ends the wrist plate is a stiff body.
    rest : (m, 3, 2) float, optional
        Flat corners of every face of the mesh, mm, plates too; by default the faces as they are,
        each laid flat by itself, so that nothing is flattened. See `rest_of_flattenings`.
    cloth : Cloth
        With a `rest` of one's own, threads run along its x and y; without, the cloth gives alike in
        all directions.
    start : (n, 3) float, optional
        Where to start from; the arm itself by default.
    source : str
        Source of the result.
    up : (3,) float, optional
        Unit vector away from the ground; nothing weighs anything where it is left out.

    Raises
    ------
    UnrollError
        When the pressure or a stretch is not above 0, or `rest` has a face without area.
    """
    *_, last = fill_rest_mesh_steps(arm, rest, cloth=cloth, start=start, source=source, up=up)
    return finished(last)


def fill_rest_mesh_steps(
    arm: ArmMesh,
    rest: FloatArray | None = None,
    *,
    cloth: Cloth,
    start: FloatArray | None = None,
    source: str = "loft",
    up: FloatArray | None = None,
) -> Iterator[Sewn]:
    """Yield the shapes on the way; see `fill_rest_mesh`. Crossings are not looked for.

    Raises
    ------
    UnrollError
        As `fill_rest_mesh`.
    """
    shell, problem = _posed(arm, rest, cloth, source, up)
    points = _start(arm, problem, start)
    is_near = start is not None
    yield from fill_steps(shell, problem, points, cloth, within=WELL_BALANCED, is_near=is_near)


def settled_rest_mesh(
    arm: ArmMesh,
    rest: FloatArray,
    *,
    cloth: Cloth,
    start: FloatArray | None = None,
    up: FloatArray | None = None,
) -> tuple[FloatArray, Problem]:
    """Return where the vertices come to lie, (n, 3) mm, and the problem that was solved.

    Quicker than `fill_rest_mesh`; the problem's skin has the cloth's faces only.

    Raises
    ------
    UnrollError
        As `fill_rest_mesh`.
    """
    _, problem = _posed(arm, rest, cloth, "", up)
    points = _start(arm, problem, start)
    damping = LOFTED_DAMPING if start is None else NEAR_DAMPING
    steps = settle_steps(problem, points, within=WELL_BALANCED, most=MOST_STEPS, damping=damping)
    *_, last = steps
    return last.points, problem


def _start(arm: ArmMesh, problem: Problem, start: FloatArray | None) -> FloatArray:
    points = np.array(arm.mesh.vertices if start is None else start)
    points[problem.held] = arm.mesh.vertices[problem.held]
    return points


def _posed(
    arm: ArmMesh, rest: FloatArray | None, cloth: Cloth, source: str, up: FloatArray | None
) -> tuple[Shell, Problem]:
    check_cloth(cloth)
    shell = _shell(arm, rest, cloth, source)
    held = np.unique(arm.mesh.faces[arm.panel_faces["armhole plate"]])
    bodies = []
    if cloth.ends == "card":
        bodies.append(np.unique(arm.mesh.faces[arm.panel_faces["wrist plate"]]))
    used = cloth if rest is not None else _even(cloth)
    return shell, problem_of(shell, used, held=held, bodies=bodies, up=up)


def rest_of_flattenings(arm: ArmMesh, flattenings: Iterable[Flattening]) -> FloatArray:
    """Return the flat corners of every face of the arm's mesh, (m, 3, 2) mm.

    Panels take them from their flattening; the plates are flat already.
    """
    rest = unfolded(arm.mesh.vertices[arm.mesh.faces])
    for flattening in flattenings:
        faces = arm.panel_faces[flattening.panel.name]
        rest[faces] = flattening.points[flattening.panel.mesh.faces]
    return rest


def _even(cloth: Cloth) -> Cloth:
    """Return the cloth with its threads' stretch in all directions."""
    return replace(cloth, bias_stretch_percent=cloth.stretch_percent)


def _shell(arm: ArmMesh, rest: FloatArray | None, cloth: Cloth, source: str) -> Shell:
    """Return the arm's mesh as a shell."""
    names = ("outer", "inner", *PLATES)
    face_pieces = np.zeros(len(arm.mesh.faces), dtype=np.int64)
    is_card = np.zeros(len(arm.mesh.faces), dtype=bool)
    for index, name in enumerate(names):
        faces = arm.panel_faces[PLATES.get(name, name)]
        face_pieces[faces] = index
        is_card[faces] = cloth.ends == "card" and name in PLATES
    # The armhole plate is held whatever it is made of.
    is_card[arm.panel_faces["armhole plate"]] = True
    flat = unfolded(arm.mesh.vertices[arm.mesh.faces]) if rest is None else np.asarray(rest)
    _check_rest(flat, len(arm.mesh.faces))
    return Shell(
        source=source,
        arm=arm.side,
        faces=arm.mesh.faces,
        rest=flat,
        piece_names=names,
        face_pieces=face_pieces,
        is_card=is_card,
        seam_paths={n: p for n, p in arm.paths.items() if n in SEAMS or n.startswith("dart ")},
        lines=_station_lines(arm),
    )


def _check_rest(rest: FloatArray, count: int) -> None:
    """Refuse a rest shape that does not fit the mesh."""
    if rest.shape != (count, 3, 2):
        raise UnrollError(
            f"the rest shape has {len(rest)} faces; expected {count}, as the mesh has"
        )
    one, two = rest[:, 1] - rest[:, 0], rest[:, 2] - rest[:, 0]
    turned = int(np.count_nonzero(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] <= 0))
    if turned:
        raise UnrollError(
            f"{turned} faces of the rest shape have no area or are turned over; expected none "
            "(did a flattening fold over?)"
        )


def _station_lines(arm: ArmMesh) -> dict[str, tuple[Trace, ...]]:
    """Return the level lines at the stations, one trace a panel."""
    out: dict[str, tuple[Trace, ...]] = {}
    for line, name in LINES.items():
        if name not in arm.stations:
            continue
        station = arm.stations[name]
        heights = (arm.mesh.vertices - station.origin) @ station.normal
        for panel in ("outer", "inner"):
            faces = arm.panel_faces[panel]
            found = trace_level(arm.mesh.faces[faces], heights)
            if found is not None:
                out[line] = (*out.get(line, ()), Trace(faces[found[0]], found[1]))
    return out
