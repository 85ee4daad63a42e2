"""The sewn and filled arm as a coloured model, to be turned beside the arm it should be."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.triangles import corner_means, face_normals, vertex_normals
from unroll.nouns import ArmMesh, Distortion, Fit, Sewn, TapeRow
from unroll.nouns.shown import Legend, Look, Model, ModelLine, ModelTape
from unroll.show.colours import (
    GIVE_RAMP,
    OTHER_PIECE,
    PIECE_COLOURS,
    SIGNED_RAMP,
    give_at_vertices,
    give_percent,
    heat_legend,
    heat_top,
    hex_of,
    ramp_colours,
    rgb_of,
)
from unroll.show.phrases import length, measure_name
from unroll.units import Unit, format_length


@dataclass(frozen=True, eq=False)
class _Part:
    name: str
    vertices: FloatArray
    normals: FloatArray
    faces: IntArray


def arm_model(
    arm: ArmMesh,
    distortions: Mapping[str, Distortion],
    *,
    name: str = "",
    gives_percent: float | None = 3.0,
    tapes: Sequence[ModelTape] = (),
) -> Model:
    """Return the arm as a model with two looks: its pieces and seams, and the heat map.

    Parameters
    ----------
    arm : ArmMesh
    distortions : mapping of str to Distortion
        By panel name; where empty, the model has no heat map.
    name : str
        Words on its button; the arm's side by default.
    gives_percent : float or None
        What the cloth gives; marked on the legend. None for no heat map.
    tapes : sequence of ModelTape
        That lie on it; see `tapes_of`.
    """
    parts = [_part(arm, name, distortions) for name in arm.panel_faces]
    counts = [len(part.vertices) for part in parts]
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    faces = [part.faces + start for part, start in zip(parts, starts, strict=False)]
    face_starts = np.concatenate([[0], np.cumsum([len(f) for f in faces])])
    looks = [Look("pieces and seams", np.concatenate([_plain(part) for part in parts]))]
    if distortions and gives_percent is not None:
        looks.append(_heat_look(parts, distortions, gives_percent))
    return Model(
        name=name or f"{arm.side} arm",
        side=arm.side,
        vertices=np.concatenate([part.vertices for part in parts]),
        normals=np.concatenate([part.normals for part in parts]),
        faces=np.concatenate(faces),
        groups={p.name: np.arange(face_starts[k], face_starts[k + 1]) for k, p in enumerate(parts)},
        looks=tuple(looks),
        lines=(*_seam_lines(arm), *_reference_lines(distortions)),
        tapes=tuple(tapes),
    )


def tapes_of(rows: Sequence[TapeRow], unit: Unit) -> list[ModelTape]:
    """Return the tapes of an arm's measures, as they lie on it."""
    return [
        ModelTape(row.name, measure_name(row.name, unit), length(row.asked_mm, unit),
                  length(row.got_mm, unit), row.line)
        for row in rows if row.line is not None
    ]  # fmt: skip


def _side_normals(arm: ArmMesh) -> FloatArray:
    """Normals of the side surface alone, so that the plates' edges stay crisp."""
    sides = [faces for name, faces in arm.panel_faces.items() if "plate" not in name]
    return vertex_normals(arm.mesh.vertices, arm.mesh.faces[np.concatenate(sides)])


def _part(arm: ArmMesh, name: str, distortions: Mapping[str, Distortion]) -> _Part:
    """One group's own vertices; a panel that was cut keeps its slits."""
    if name in distortions:
        panel = distortions[name].flattening.panel
        normals = _side_normals(arm)[panel.arm_vertices]
        return _Part(name, panel.mesh.vertices, normals, panel.mesh.faces)
    faces = arm.mesh.faces[arm.panel_faces[name]]
    used, renumbered = np.unique(faces.ravel(), return_inverse=True)
    faces = renumbered.reshape(-1, 3)
    vertices = arm.mesh.vertices[used]
    normals = vertex_normals(vertices, faces) if "plate" in name else _side_normals(arm)[used]
    return _Part(name, vertices, normals, faces)


def _plain(part: _Part) -> FloatArray:
    return np.tile(rgb_of(PIECE_COLOURS.get(part.name, OTHER_PIECE)), (len(part.vertices), 1))


def _heat_look(
    parts: list[_Part], distortions: Mapping[str, Distortion], gives_percent: float
) -> Look:
    top = heat_top(distortions.values(), gives_percent)
    blocks = []
    for part in parts:
        if part.name in distortions:
            heat = give_at_vertices(distortions[part.name])
            blocks.append(ramp_colours(heat, 0.0, top, GIVE_RAMP))
        else:
            blocks.append(_plain(part))
    legend: Legend = heat_legend(top, gives_percent)
    return Look("heat map", np.concatenate(blocks), legend)


_PLATE_OF = {
    "cap seam": "armhole plate",
    "underarm seam": "armhole plate",
    "outer wrist": "wrist plate",
    "inner wrist": "wrist plate",
}


def _seam_lines(arm: ArmMesh) -> list[ModelLine]:
    """The lines that are sewn; the panels' middles are mesh lines too, but nothing is cut there."""
    normals = _side_normals(arm)
    sewn = [(name, path) for name, path in arm.paths.items() if not name.endswith("middle")]
    return [
        ModelLine(
            name,
            "dart" if name.startswith("dart") else "seam",
            arm.mesh.vertices[path],
            normals[path],
            _plate_normals(arm, name, len(path)),
        )
        for name, path in sewn
    ]


def _plate_normals(arm: ArmMesh, seam: str, count: int) -> FloatArray | None:
    """The plate's normal along a seam that lies on its edge; None for any other seam."""
    if seam not in _PLATE_OF:
        return None
    faces = arm.mesh.faces[arm.panel_faces[_PLATE_OF[seam]]]
    normal = face_normals(arm.mesh.vertices, faces).sum(axis=0)
    return np.tile(normal / np.linalg.norm(normal), (count, 1))


def _reference_lines(distortions: Mapping[str, Distortion]) -> list[ModelLine]:
    lines = []
    for distortion in distortions.values():
        panel = distortion.flattening.panel
        normals = vertex_normals(panel.mesh.vertices, panel.mesh.faces)
        for name, trace in panel.traces.items():
            points = trace.on(panel.mesh.vertices, panel.mesh.faces)
            lines.append(ModelLine(name, "reference", points, trace.on(normals, panel.mesh.faces)))
    return lines


_NICE_SPANS = (2.0, 4.0, 6.0, 8.0, 10.0, 16.0, 20.0, 30.0, 40.0, 60.0)
_NICE_INCHES = tuple(25.4 * inches for inches in (0.125, 0.25, 0.5, 1.0, 2.0))  # halves are drawn


def filled_model(
    name: str,
    sewn: Sewn,
    standoff: Fit,
    *,
    span: float,
    asked: Mapping[str, Distortion] | None = None,
    gives_percent: float = 3.0,
    unit: Unit = "mm",
) -> Model:
    """Return a filled shape as it hangs: its pieces and seams, and how far off its cap lies.

    Parameters
    ----------
    name : str
        Words on its button.
    sewn : Sewn
    standoff : Fit
        Of the same shape.
    span : float
        Distance at either end of the colour scale, mm; see `gap_span`.
    asked : mapping of str to Distortion, optional
        What each piece asks of the cloth, from `sewn_distortion`: the model then has a heat map.
    gives_percent : float
        What the cloth gives; marked on the heat map's legend.
    unit : {"in", "cm", "mm"}
        Of the legend of distances, and of the tapes.
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
    looks = [
        Look("pieces and seams", np.concatenate(plain)),
        Look("distance", _gap_colours(standoff.distances[used], span), gap_legend(span, unit)),
    ]
    if asked:
        top = heat_top(asked.values(), gives_percent)
        heat = [
            _sewn_heat(asked[piece], block, top) if piece in asked else colours
            for piece, block, colours in zip(sewn.piece_names, blocks, plain, strict=True)
        ]
        legend = heat_legend(top, gives_percent)
        looks.insert(1, Look("heat map", np.concatenate(heat), legend))
    return Model(
        name=name,
        side=sewn.arm,
        vertices=sewn.mesh.vertices[used],
        normals=np.concatenate([block[2] for block in blocks]),
        faces=np.concatenate(
            [faces + start for (_, faces, _), start in zip(blocks, starts, strict=False)]
        ),
        groups={p: np.arange(ends[k], ends[k + 1]) for k, p in enumerate(names)},
        looks=tuple(looks),
        lines=_filled_seam_lines(sewn, normals),
        tapes=tuple(tapes_of(_rows_of(standoff), unit)),
    )


def _rows_of(fit: Fit) -> list[TapeRow]:
    """Return the sewn girths as rows of a tape."""
    return [
        TapeRow(f"{girth.name}_girth", girth.asked_mm, girth.sewn_mm, line=girth.line)
        for girth in fit.girths
    ]


def _sewn_heat(
    asked: Distortion, block: tuple[IntArray, IntArray, FloatArray], top: float
) -> FloatArray:
    """Colours of a sewn piece's vertices; its faces are those of `asked`, in the same order."""
    used, faces, _ = block
    heat = corner_means(give_percent(asked), asked.weights, faces, len(used))
    return ramp_colours(heat, 0.0, top, GIVE_RAMP)


def gap_span(standoffs: Iterable[Fit], unit: Unit = "mm") -> float:
    """Return a distance, round in the maker's unit, that holds 99 % of all caps' distances, mm."""
    largest = 0.0
    for off in standoffs:
        known = np.abs(off.distances[np.isfinite(off.distances)])
        if len(known):
            largest = max(largest, float(np.quantile(known, 0.99)))
    spans = _NICE_INCHES if unit == "in" else _NICE_SPANS
    return next((span for span in spans if span >= largest), spans[-1])


def gap_legend(span: float, unit: Unit = "mm") -> Legend:
    """Return the legend of distances from the measured arm, from -span to span, mm."""
    ticks = tuple(
        (0.25 * k, _signed(value, unit)) for k, value in enumerate(np.linspace(-span, span, 5))
    )
    what = "inches" if unit == "in" else "mm"
    stops = tuple(hex_of(SIGNED_RAMP[16 * k]) for k in range(17))
    title = f"{what} from the wanted arm: blue lies too low, red stands out"
    return Legend(title, stops, ticks, is_signed=True)


def _signed(mm: float, unit: Unit) -> str:
    """Return a tick's label: a minus sign as wide as the plus, and a bare nought."""
    if abs(mm) < 1e-9:
        return "0"
    size = format_length(abs(mm), "in").removesuffix(" in") if unit == "in" else f"{abs(mm):g}"
    return f"{'+' if mm > 0 else chr(0x2212)}{size}"


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


def _filled_seam_lines(sewn: Sewn, normals: FloatArray) -> tuple[ModelLine, ...]:
    points = sewn.mesh.vertices
    return tuple(
        ModelLine(seam, "dart" if seam.startswith("dart") else "seam", points[path], normals[path])
        for seam, path in sewn.seam_paths.items()
        if len(path) > 1
    )


# ---- models on a page

# Seam lines float this far above the surface, so that the page's depth test does not swallow them.
LIFT_MM = 0.4


def packed_models(models: Sequence[Model]) -> Markup:
    """Return models as JSON that can stand in a page: no name in it can end its script."""
    text = json.dumps([packed(model) for model in models], separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c"))


def packed(model: Model) -> dict[str, Any]:
    """Return a model as plain values and text, as the viewer of the pages takes it."""
    low, high = model.vertices.min(axis=0), model.vertices.max(axis=0)
    place = (model.vertices - low) / np.maximum(high - low, 1e-9)
    wide = len(model.vertices) > 65535
    return {
        "name": model.name,
        "side": model.side,
        "low": low.tolist(),
        "high": high.tolist(),
        "positions": _base64(np.rint(place * 65535).astype("<u2")),
        "normals": _base64(np.rint(model.normals * 127).astype("i1")),
        "faces": _base64(model.faces.astype("<u4" if wide else "<u2")),
        "wide": wide,
        "looks": [_packed_look(look) for look in model.looks],
        "lines": [_packed_line(line) for line in model.lines],
        "tapes": [_packed_tape(tape) for tape in model.tapes],
    }


def _packed_look(look: Look) -> dict[str, Any]:
    colours = np.rint(np.clip(look.colours, 0.0, 1.0) * 255).astype("u1")
    return {"name": look.name, "colours": _base64(colours), "legend": _packed_legend(look.legend)}


def _packed_legend(legend: Legend | None) -> dict[str, Any] | None:
    if legend is None:
        return None
    return {"title": legend.title, "stops": legend.stops, "ticks": legend.ticks,
            "signed": legend.is_signed}  # fmt: skip


def _packed_tape(tape: ModelTape) -> dict[str, Any]:
    middle = tape.points.mean(axis=0) if tape.is_girth else tape.points
    away = tape.points - middle
    lifted = tape.points + 2 * LIFT_MM * away / np.maximum(
        np.linalg.norm(away, axis=1, keepdims=True), 1e-9
    )
    return {"name": tape.name, "label": tape.label, "asked": tape.asked, "got": tape.got,
            "girth": tape.is_girth, "points": _base64(lifted.astype("<f4"))}  # fmt: skip


def _packed_line(line: ModelLine) -> dict[str, Any]:
    lifted = (line.points + LIFT_MM * line.normals).astype("<f4")
    return {"kind": line.kind, "points": _base64(lifted)}


def _base64(array: Any) -> str:
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode()
