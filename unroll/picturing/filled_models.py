"""The sewn and filled arm as a coloured model, to be turned beside the arm it should be."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from unroll.geometry.averages import vertex_normals
from unroll.picturing.colours import (
    OTHER_PIECE,
    PIECE_COLOURS,
    SIGNED_RAMP,
    hex_of,
    ramp_colours,
    rgb_of,
)
from unroll.types import FloatArray, IntArray, Sewn, StandOff
from unroll.types.shown import Legend, Look, Model, ModelLine

_NICE_SPANS = (2.0, 4.0, 6.0, 8.0, 10.0, 16.0, 20.0, 30.0, 40.0, 60.0)


def filled_model(name: str, sewn: Sewn, standoff: StandOff, *, span: float) -> Model:
    """Return a filled shape as it hangs: its pieces and seams, and how far its cap stands off.

    Parameters
    ----------
    name : str
        Words on its button.
    sewn : Sewn
    standoff : StandOff
        Of the same shape.
    span : float
        Distance at either end of the colour scale, mm; see `gap_span`.
    """
    normals = _smooth_normals(sewn)
    blocks = [_piece_block(sewn, piece, normals) for piece in sewn.piece_names]
    starts = np.concatenate([[0], np.cumsum([len(used) for used, _, _ in blocks])])
    ends = np.concatenate([[0], np.cumsum([len(faces) for _, faces, _ in blocks])])
    used = np.concatenate([block[0] for block in blocks])
    names = [_plate_name(piece) for piece in sewn.piece_names]
    plain = [
        np.tile(rgb_of(PIECE_COLOURS.get(piece, OTHER_PIECE)), (len(block[0]), 1))
        for piece, block in zip(names, blocks, strict=True)
    ]
    looks = (
        Look("pieces and seams", np.concatenate(plain)),
        Look("stand-off", _gap_colours(standoff.distances[used], span), gap_legend(span)),
    )
    return Model(
        name=name,
        side=sewn.arm,
        vertices=sewn.mesh.vertices[used],
        normals=np.concatenate([block[2] for block in blocks]),
        faces=np.concatenate(
            [faces + start for (_, faces, _), start in zip(blocks, starts, strict=False)]
        ),
        groups={p: np.arange(ends[k], ends[k + 1]) for k, p in enumerate(names)},
        looks=looks,
        lines=_seam_lines(sewn, normals),
    )


def gap_span(standoffs: Iterable[StandOff]) -> float:
    """Return a round distance, mm, that holds 99 % of the distances of all the given caps."""
    largest = 0.0
    for off in standoffs:
        known = np.abs(off.distances[np.isfinite(off.distances)])
        if len(known):
            largest = max(largest, float(np.quantile(known, 0.99)))
    return next((span for span in _NICE_SPANS if span >= largest), _NICE_SPANS[-1])


def gap_legend(span: float) -> Legend:
    """Return the legend of distances from the measured arm, from -span to span, mm."""
    ticks = tuple(
        (0.25 * k, f"{value:+g}".replace("-", "\u2212").replace("+0", "0"))
        for k, value in enumerate(np.linspace(-span, span, 5).tolist())
    )
    stops = tuple(hex_of(SIGNED_RAMP[16 * k]) for k in range(17))
    return Legend("mm from the measured arm: blue lies too low, red stands proud", stops, ticks)


def _gap_colours(distances: FloatArray, span: float) -> FloatArray:
    """Colours by distance; grey where the distance was not measured."""
    known = np.isfinite(distances)
    colours = np.tile(rgb_of(OTHER_PIECE), (len(distances), 1))
    colours[known] = ramp_colours(distances[known], -span, span, SIGNED_RAMP)
    return colours


def _plate_name(piece: str) -> str:
    """A base sewn in is the plate that it covers."""
    return {"armhole base": "armhole plate", "wrist base": "wrist plate"}.get(piece, piece)


def _smooth_normals(sewn: Sewn) -> FloatArray:
    """Normals of the shell without its ends, whose edges stay crisp."""
    is_end = np.array([_plate_name(piece).endswith("plate") for piece in sewn.piece_names])
    return vertex_normals(sewn.mesh.vertices, sewn.mesh.faces[~is_end[sewn.face_pieces]])


def _piece_block(
    sewn: Sewn, piece: str, normals: FloatArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """A piece's vertices, its faces renumbered, and the normals of its vertices."""
    faces = sewn.mesh.faces[sewn.faces_of(piece)]
    used, renumbered = np.unique(faces.ravel(), return_inverse=True)
    own_faces = renumbered.reshape(-1, 3)
    if _plate_name(piece).endswith("plate"):
        return used, own_faces, vertex_normals(sewn.mesh.vertices[used], own_faces)
    return used, own_faces, normals[used]


def _seam_lines(sewn: Sewn, normals: FloatArray) -> tuple[ModelLine, ...]:
    points = sewn.mesh.vertices
    return tuple(
        ModelLine(seam, "dart" if seam.startswith("dart") else "seam", points[path], normals[path])
        for seam, path in sewn.seam_paths.items()
        if len(path) > 1
    )
