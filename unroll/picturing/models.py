"""The arm as a coloured model with its seams drawn on, for pictures, 3D files and the report."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from unroll.geometry.averages import face_normals, vertex_normals
from unroll.picturing.colours import GIVE_RAMP, OTHER_PIECE, PIECE_COLOURS, ramp_colours, rgb_of
from unroll.picturing.heat import give_at_vertices, heat_legend, heat_top
from unroll.types import ArmMesh, Distortion, FloatArray, IntArray
from unroll.types.shown import Legend, Look, Model, ModelLine


@dataclass(frozen=True, eq=False)
class _Part:
    name: str
    vertices: FloatArray
    normals: FloatArray
    faces: IntArray


def arm_model(
    arm: ArmMesh, distortions: Mapping[str, Distortion], *, gives_percent: float = 3.0
) -> Model:
    """Return the arm as a model with two looks: its pieces and seams, and the heat map.

    Parameters
    ----------
    arm : ArmMesh
    distortions : mapping of str to Distortion
        By panel name; where empty, the model has no heat map.
    gives_percent : float
        What the cloth gives; marked on the legend.
    """
    parts = [_part(arm, name, distortions) for name in arm.panel_faces]
    counts = [len(part.vertices) for part in parts]
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    faces = [part.faces + start for part, start in zip(parts, starts, strict=False)]
    face_starts = np.concatenate([[0], np.cumsum([len(f) for f in faces])])
    looks = [Look("pieces and seams", np.concatenate([_plain(part) for part in parts]))]
    if distortions:
        looks.append(_heat_look(parts, distortions, gives_percent))
    return Model(
        name=f"{arm.side} arm",
        side=arm.side,
        vertices=np.concatenate([part.vertices for part in parts]),
        normals=np.concatenate([part.normals for part in parts]),
        faces=np.concatenate(faces),
        groups={p.name: np.arange(face_starts[k], face_starts[k + 1]) for k, p in enumerate(parts)},
        looks=tuple(looks),
        lines=(*_seam_lines(arm), *_reference_lines(distortions)),
    )


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
