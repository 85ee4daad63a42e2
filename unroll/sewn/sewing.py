"""Pieces in, filled shape out: coarse first, then fine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray, first_largest
from unroll.maths.flat_meshing import locate
from unroll.maths.membrane import enclosed_volume
from unroll.maths.membrane_system import Problem
from unroll.maths.placing import fit_motion
from unroll.maths.triangles import edge_within
from unroll.nouns import Cloth, Mesh, Piece, Seam, Sewn
from unroll.sewn.filling import (
    BALANCED,
    WELL_BALANCED,
    check_cloth,
    fill,
    fill_steps,
    finished,
    problem_of,
)
from unroll.sewn.joining import Joined, join
from unroll.sewn.seams import check_seams, usual_seams
from unroll.sewn.shells import Shell

LANDMARKS = 48
ALIKE_MM, ALIKE = 1e-4, 1e-9  # distances, and shares of a direction, that differ by less are one


def crude_start(joined: Joined, held: dict[int, FloatArray]) -> FloatArray:
    """Return a place for every sewn vertex, (n, 3) mm, from distances over the cloth.

    Parameters
    ----------
    joined : Joined
    held : dict of int to (n, 3) float
        Places of the vertices of pieces that are held, by piece index.

    Notes
    -----
    Distances along the mesh from some vertices far apart, then the three-dimensional arrangement
    whose straight distances come closest (V. de Silva, J. B. Tenenbaum, "Sparse multidimensional
    scaling using landmark points", 2004), turned right side out. It knows nothing of arms.
    """
    points = _arranged(joined.shell)
    if enclosed_volume(points, joined.shell.faces) < 0:
        points = points * np.array([1.0, 1.0, -1.0])
    for piece, places in held.items():
        turn, shift = fit_motion(points[joined.sewn[piece]], places)
        points = points @ turn.T + shift
    return points


def start_from(joined: Joined, sewn: Sewn) -> FloatArray:
    """Return the places of `joined`'s vertices on an earlier filled shape of the same pieces.

    Where the mesh is the same one, they are its vertices. Otherwise card is stiff: the places
    inside it follow from its edge, and are nan here.
    """
    if np.array_equal(joined.shell.faces, sewn.mesh.faces):
        return sewn.mesh.vertices.copy()
    count = joined.shell.count
    total, weight = np.zeros((count, 3)), np.zeros(count)
    for piece, flat, vertices in zip(joined.pieces, joined.flat, joined.sewn, strict=True):
        faces = sewn.faces_of(piece.name)
        if sewn.is_card[faces].all():
            continue
        index, weights = locate(flat, sewn.rest[faces])
        corners = sewn.mesh.vertices[sewn.mesh.faces[faces[index]]]
        places = np.einsum("kc,kcx->kx", weights, corners)
        np.add.at(total, vertices, places)
        np.add.at(weight, vertices, 1.0)
    with np.errstate(invalid="ignore"):
        return np.asarray(total / weight[:, None])


def _arranged(shell: Shell) -> FloatArray:
    """Return the landmark arrangement of the sewn vertices."""
    marks, distances = _distances(shell)
    squares = distances**2
    among = squares[:, marks]
    mean = among.mean(axis=0)
    centred = -0.5 * (among - mean[None] - mean[:, None] + among.mean())
    values, vectors = np.linalg.eigh(centred)
    values, vectors = values[::-1][:3], vectors[:, ::-1][:, :3]
    signs = np.array([np.sign(v[first_largest(np.abs(v), ALIKE)]) for v in vectors.T])
    scale = signs / np.sqrt(np.maximum(values, 1e-9 * values[0]))
    return np.asarray(-0.5 * (squares.T - mean[None]) @ (vectors * scale))


def _distances(shell: Shell) -> tuple[IntArray, FloatArray]:
    """Return vertices picked one after another, each farthest from the rest, and distances.

    Returns
    -------
    (k,) int
    (k, n) float
        Distance over the mesh from each of them to every vertex, mm.
    """
    ends = np.stack([shell.faces.ravel(), np.roll(shell.faces, -1, axis=1).ravel()])
    lengths = np.linalg.norm(shell.rest - np.roll(shell.rest, -1, axis=1), axis=2).ravel()
    size = shell.count
    key, first = np.unique(ends.min(axis=0) * size + ends.max(axis=0), return_index=True)
    graph = coo_matrix((lengths[first], (key // size, key % size)), shape=(size, size)).tocsr()
    marks, rows, nearest = [0], [], np.full(size, np.inf)
    for _ in range(min(LANDMARKS, size)):
        row = dijkstra(graph, directed=False, indices=marks[-1])
        rows.append(row)
        nearest = np.minimum(nearest, row)
        marks.append(first_largest(nearest, ALIKE_MM))
    return np.array(marks[:-1]), np.array(rows)


COARSE_FACES = 1000
COARSE_BALANCE = 0.3
ENDS = ("armhole base", "wrist base")


def sew(
    pieces: Sequence[Piece],
    *,
    cloth: Cloth,
    seams: Sequence[Seam] | None = None,
    spacing: float = 8.0,
    start: Sewn | None = None,
    up: FloatArray | None = None,
) -> Sewn:
    """Return the shape that the pieces take once sewn and filled.

    Parameters
    ----------
    pieces : sequence of Piece
        With the ends; stitching lines, without allowance.
    cloth : Cloth
        Stiffness, filling pressure, and whether the ends are backed with card: then the piece
        "armhole base" is held in the plane y = 0 with its shoulder point at the origin, and "wrist
        base" moves as a stiff plate. Otherwise nothing is held, and the shape is moved afterwards
        so that the armhole's edge lies there as well as it can.
    seams : sequence of Seam, optional
        What is sewn to what; `usual_seams` otherwise.
    spacing : float
        Edge length of the mesh, mm: 8 gives about 5 000 triangles for an arm, 16 about 1 300.
    start : Sewn, optional
        An earlier shape of nearly the same pieces to start from; spares the coarse round.
    up : (3,) float, optional
        Unit vector away from the ground, in the armhole's frame (`ArmMesh.up`): cloth and filling
        then weigh what the cloth says, and hang from the armhole base. Nothing weighs anything
        where it is left out, or where nothing is held.

    Raises
    ------
    UnrollError
        When the pieces cannot be sewn to a closed shape, or the pressure or stretch is not above 0.

    Notes
    -----
    A membrane that folds without effort (A. C. Pipkin, "The relaxed energy density for isotropic
    elastic membranes", IMA Journal of Applied Mathematics 36, 1986, doi 10.1093/imamat/36.1.85)
    under pressure, by damped Newton steps on a coarse mesh and then on the fine one. The solver
    does not raise when it stops early: `converged` and `limits` say so.
    """
    *_, last = _sewing(pieces, cloth, seams, spacing, start, up, _fill_at_once)
    return last


def sew_steps(
    pieces: Sequence[Piece],
    *,
    cloth: Cloth,
    seams: Sequence[Seam] | None = None,
    spacing: float = 8.0,
    start: Sewn | None = None,
    up: FloatArray | None = None,
) -> Iterator[Sewn]:
    """Yield the shapes on the way to `sew`'s answer, which comes last; see `sew`.

    Raises
    ------
    UnrollError
        As `sew`.
    """
    return _sewing(pieces, cloth, seams, spacing, start, up, fill_steps)


def as_joined(sewn: Sewn, pieces: Sequence[Piece]) -> Joined:
    """Return the mesh of a sewn shape as it was put together, for `refilled` to fill again.

    Parameters
    ----------
    sewn : Sewn
    pieces : sequence of Piece
        What it was sewn from, in the order of its `piece_names`.
    """
    flat: list[FloatArray] = []
    labels: list[IntArray] = []
    for name in sewn.piece_names:
        faces = sewn.faces_of(name)
        corners = sewn.mesh.faces[faces].reshape(-1, 1), sewn.rest[faces].reshape(-1, 2)
        found = np.unique(np.concatenate(corners, axis=1, dtype=float), axis=0)
        flat.append(np.asarray(found[:, 1:]))
        labels.append(found[:, 0].astype(np.int64))
    shell = Shell(
        sewn.source, sewn.arm, sewn.mesh.faces, sewn.rest, sewn.piece_names, sewn.face_pieces,
        sewn.is_card, sewn.seam_paths, sewn.lines,
    )  # fmt: skip
    return Joined(shell, tuple(pieces), tuple(flat), tuple(labels))


def joined_again(pieces: Sequence[Piece], *, cloth: Cloth, spacing: float) -> Joined:
    """Return the mesh that `sew` would fill, for `refilled`; edges of about `spacing` mm.

    Raises
    ------
    UnrollError
        When the pieces cannot be sewn to a closed shape.
    """
    pieces = tuple(pieces)
    spacing = edge_within(spacing, sum(piece.area for piece in pieces))
    seams = usual_seams(pieces)
    check_seams(pieces, seams)
    return join(pieces, seams, spacing=spacing, card=_card_ends(cloth))


def refilled(
    joined: Joined, *, cloth: Cloth, start: Sewn, up: FloatArray | None = None
) -> Sewn:
    """Return the shape of a mesh in some cloth; see `sew`. Crossings are not looked for.

    Raises
    ------
    UnrollError
        When the pressure or stretch is not above 0.
    """
    check_cloth(cloth)
    problem, points = _set_up(joined, cloth, start, up)
    found = fill(joined.shell, problem, points, cloth, within=WELL_BALANCED, is_near=True)
    return _put_in_place(joined, found)


def _card_ends(cloth: Cloth) -> tuple[str, ...]:
    return ENDS if cloth.ends == "card" else ()


def _fill_at_once(*problem: Any, **how: Any) -> Iterator[Sewn]:
    yield fill(*problem, **how)


def _sewing(
    pieces: Sequence[Piece],
    cloth: Cloth,
    seams: Sequence[Seam] | None,
    spacing: float,
    start: Sewn | None,
    up: FloatArray | None,
    filling: Callable[..., Iterator[Sewn]],
) -> Iterator[Sewn]:
    """Yield the shapes that `filling` yields at each mesh size, and the finished one last."""
    check_cloth(cloth)
    pieces = tuple(pieces)
    spacing = edge_within(spacing, sum(piece.area for piece in pieces))
    seams = usual_seams(pieces) if seams is None else tuple(seams)
    check_seams(pieces, seams)
    before, steps = start, 0
    for size in _sizes(pieces, spacing) if start is None else (spacing,):
        is_last = size == spacing
        try:
            joined = join(pieces, seams, spacing=size, card=_card_ends(cloth))
        except UnrollError:
            # A thin dart may not survive the coarse mesh; the next one then starts from scratch.
            if is_last:
                raise
            continue
        problem, points = _set_up(joined, cloth, before, up)
        near = start is not None
        within = WELL_BALANCED if near else BALANCED if is_last else COARSE_BALANCE
        for sewn in filling(joined.shell, problem, points, cloth, within=within, is_near=near):
            before = replace(sewn, steps=steps + sewn.steps)
            yield before
        steps += sewn.steps
    if before is not None:
        yield finished(_put_in_place(joined, before))


def _sizes(pieces: Sequence[Piece], spacing: float) -> list[float]:
    """Return the mesh sizes to solve at, coarse first."""
    sizes, area = [spacing], sum(piece.area for piece in pieces)
    while area / (0.433 * sizes[-1] ** 2) > 2 * COARSE_FACES:
        sizes.append(2 * sizes[-1])
    return sizes[::-1]


def _set_up(
    joined: Joined, cloth: Cloth, before: Sewn | None, up: FloatArray | None
) -> tuple[Problem, FloatArray]:
    """Return the problem, and a start in which card lies flat and the armhole base in its place."""
    held, bodies = {}, []
    for index, piece in enumerate(joined.pieces):
        if cloth.ends == "card" and piece.name == "armhole base":
            held[index] = armhole_place(piece, joined.flat[index])
        elif cloth.ends == "card" and piece.name in ENDS:
            bodies.append(index)
    points = crude_start(joined, held) if before is None else start_from(joined, before)
    for index, places in held.items():
        points[joined.sewn[index]] = places
    for index in bodies:
        places, found = _flat_place(joined.flat[index]), points[joined.sewn[index]]
        is_known = np.isfinite(found[:, 0])
        turn, shift = fit_motion(places[is_known], found[is_known])
        points[joined.sewn[index]] = places @ turn.T + shift
    fixed = [joined.sewn[index] for index in held]
    problem = problem_of(
        joined.shell,
        cloth,
        held=np.concatenate([np.zeros(0, dtype=np.int64), *fixed]),
        bodies=[joined.sewn[index] for index in bodies],
        up=up if held else None,
    )
    return problem, points


def armhole_place(piece: Piece, flat: FloatArray) -> FloatArray:
    """Return where the armhole base's flat points (k, 2) are held, (k, 3) mm.

    In the plane y = 0, x forward, z up, the shoulder point (its notch, else its top) at the origin.
    """
    marks = [piece.notch_point(notch) for notch in piece.notches if notch.name == "shoulder"]
    top = piece.outline[np.argmax(piece.outline[:, 1])]
    offset = flat - (marks[0] if marks else top)
    forward = offset[:, 0] * (1.0 if piece.arm == "left" else -1.0)
    return np.stack([forward, np.zeros(len(flat)), offset[:, 1]], axis=1)


def _flat_place(flat: FloatArray) -> FloatArray:
    """Return flat points (k, 2) in the plane z = 0, (k, 3)."""
    return np.concatenate([flat, np.zeros((len(flat), 1))], axis=1)


def _put_in_place(joined: Joined, sewn: Sewn) -> Sewn:
    """Return a shape that nothing held with its armhole's edge as near its place as it goes."""
    if sewn.cloth.ends == "card":
        return sewn
    for piece, flat, vertices in zip(joined.pieces, joined.flat, joined.sewn, strict=True):
        if piece.name == "armhole base":
            edge = np.concatenate([sewn.seam_paths[side.seam] for side in piece.sides])
            is_edge = np.isin(vertices, edge)
            place = armhole_place(piece, flat[is_edge])
            turn, shift = fit_motion(sewn.mesh.vertices[vertices[is_edge]], place)
            return replace(sewn, mesh=Mesh(sewn.mesh.vertices @ turn.T + shift, sewn.mesh.faces))
    return sewn
