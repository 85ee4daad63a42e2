"""The arm as 3D files: OBJ in millimetres, GLB in metres."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.triangles import vertex_normals
from unroll.nouns import ArmMesh
from unroll.nouns.shown import Model, ModelLine
from unroll.show.colours import DART, INK, rgb_of, srgb_to_linear

_FLOAT, _UINT, _USHORT = 5126, 5125, 5123
_VERTEX_BUFFER, _INDEX_BUFFER = 34962, 34963
_SEAM_RADIUS = 0.9


def arm_obj(arm: ArmMesh) -> str:
    """Return the arm as Wavefront OBJ text in millimetres, z up.

    Each panel and plate is a group of faces ("outer", "armhole_plate"), each seam and dart a
    group with one line element ("front_seam"). Vertices are shared, so the surface stays closed.
    """
    lines = [
        "# The arm in millimetres: x forward, y to the wearer's left, z up, origin at the shoulder",
        f"o {arm.side}_arm",
        *(f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in arm.mesh.vertices.tolist()),
    ]
    for name, faces in arm.panel_faces.items():
        lines.append(f"g {_word(name)}")
        lines += [f"f {a} {b} {c}" for a, b, c in (arm.mesh.faces[faces] + 1).tolist()]
    for name, path in arm.paths.items():
        lines.append(f"g {_word(name)}")
        lines.append("l " + " ".join(str(k) for k in (path + 1).tolist()))
    return "\n".join(lines) + "\n"


def _word(name: str) -> str:
    """OBJ reads a space in a group name as a second group."""
    return name.replace(" ", "_")


def arm_glb(model: Model, *, look_index: int = 0) -> bytes:
    """Return a model as binary glTF 2.0 in metres, y up, coloured, seams drawn as thin cords.

    Parameters
    ----------
    model : Model
        From `arm_model`.
    look_index : int
        Which of its looks gives the colours.

    Notes
    -----
    Cords instead of line primitives, because many viewers draw no lines. Vertex colours are
    linear light, as the format asks (Khronos, glTF 2.0, section 3.7.2.1). metallicFactor is 0:
    its default of 1 makes a model look black where nothing is there to be mirrored.
    """
    build = _Buffers()
    colours = srgb_to_linear(model.looks[look_index].colours)
    nodes = [
        build.node(name, *_group(model, faces, colours)) for name, faces in model.groups.items()
    ]
    for kind, ink in (("seam", INK), ("dart", DART)):
        lines = [line for line in model.lines if line.kind == kind]
        if lines:
            vertices, faces = _cords(lines)
            colour = np.tile(srgb_to_linear(rgb_of(ink)), (len(vertices), 1))
            normals = vertex_normals(vertices, faces)
            nodes.append(build.node(f"{kind}s", vertices, normals, colour, faces))
    return build.container(model.name, nodes)


def _group(
    model: Model, faces: IntArray, colours: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, IntArray]:
    used, renumbered = np.unique(model.faces[faces].ravel(), return_inverse=True)
    return model.vertices[used], model.normals[used], colours[used], renumbered.reshape(-1, 3)


def _cords(lines: list[ModelLine]) -> tuple[FloatArray, IntArray]:
    """Six-sided cords along the lines, closed at both ends."""
    all_vertices, all_faces, start = [], [], 0
    for line in lines:
        vertices, faces = _cord(line)
        all_vertices.append(vertices)
        all_faces.append(faces + start)
        start += len(vertices)
    return np.concatenate(all_vertices), np.concatenate(all_faces)


def _cord(line: ModelLine, sides: int = 6) -> tuple[FloatArray, IntArray]:
    tangent = np.gradient(line.points, axis=0)
    across = np.cross(tangent, line.normals)
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)
    angle = np.arange(sides) * 2 * np.pi / sides
    ring = (
        np.cos(angle)[None, :, None] * across[:, None]
        + np.sin(angle)[None, :, None] * line.normals[:, None]
    )
    vertices = (line.points[:, None] + _SEAM_RADIUS * ring).reshape(-1, 3)
    i, j = np.divmod(np.arange((len(line.points) - 1) * sides), sides)
    k = (j + 1) % sides
    a, b, c, d = i * sides + j, i * sides + k, (i + 1) * sides + k, (i + 1) * sides + j
    body = np.stack([np.stack([a, d, c], 1), np.stack([a, c, b], 1)], 1).reshape(-1, 3)
    fan = np.array([[0, m, m + 1] for m in range(1, sides - 1)])
    return vertices, np.concatenate([body, fan, fan[:, ::-1] + len(vertices) - sides])


class _Buffers:
    """Collects arrays into one glTF buffer, and the JSON that describes them."""

    def __init__(self) -> None:
        self._blob = bytearray()
        self._views: list[dict[str, Any]] = []
        self._accessors: list[dict[str, Any]] = []
        self._meshes: list[dict[str, Any]] = []
        self._nodes: list[dict[str, Any]] = []

    def node(
        self,
        name: str,
        vertices: FloatArray,
        normals: FloatArray,
        colours: FloatArray,
        faces: IntArray,
    ) -> int:
        """Add a named mesh of millimetres, z up; return its node's index."""
        # (x forward, y left, z up) becomes (x left, y up, z forward), the format's own frame.
        turned = (vertices[:, [1, 2, 0]] / 1000.0).astype("<f4")
        lit = normals[:, [1, 2, 0]].astype("<f4")
        lit /= np.linalg.norm(lit, axis=1, keepdims=True)
        light = np.concatenate([colours, np.ones((len(colours), 1))], axis=1)
        attributes = {
            "POSITION": self._accessor(turned, "VEC3", _FLOAT, _VERTEX_BUFFER, bounds=True),
            "NORMAL": self._accessor(lit, "VEC3", _FLOAT, _VERTEX_BUFFER),
            "COLOR_0": self._accessor(
                np.rint(light * 65535).astype("<u2"),
                "VEC4",
                _USHORT,
                _VERTEX_BUFFER,
                normalized=True,
            ),
        }
        indices = self._accessor(faces.astype("<u4").ravel(), "SCALAR", _UINT, _INDEX_BUFFER)
        primitive = {"attributes": attributes, "indices": indices, "material": 0}
        self._meshes.append({"name": name, "primitives": [primitive]})
        self._nodes.append({"name": name, "mesh": len(self._meshes) - 1})
        return len(self._nodes) - 1

    def _accessor(
        self,
        array: Any,
        kind: str,
        component: int,
        target: int,
        *,
        bounds: bool = False,
        normalized: bool = False,
    ) -> int:
        data = array.tobytes()
        self._views.append(
            {"buffer": 0, "byteOffset": len(self._blob), "byteLength": len(data), "target": target}
        )
        self._blob += data + b"\0" * (-len(data) % 4)
        entry: dict[str, Any] = {
            "bufferView": len(self._views) - 1,
            "componentType": component,
            "count": len(array),
            "type": kind,
        }
        if bounds:
            entry |= {"min": array.min(axis=0).tolist(), "max": array.max(axis=0).tolist()}
        if normalized:
            entry["normalized"] = True
        self._accessors.append(entry)
        return len(self._accessors) - 1

    def container(self, name: str, nodes: list[int]) -> bytes:
        """Return the whole file: header, JSON chunk, binary chunk."""
        self._nodes.append({"name": name, "children": nodes})
        material = {
            "name": "cloth",
            "doubleSided": True,
            "pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": 0.9},
        }
        tree = {
            "asset": {"version": "2.0", "generator": "unroll"},
            "scene": 0,
            "scenes": [{"name": name, "nodes": [len(self._nodes) - 1]}],
            "nodes": self._nodes,
            "meshes": self._meshes,
            "materials": [material],
            "accessors": self._accessors,
            "bufferViews": self._views,
            "buffers": [{"byteLength": len(self._blob)}],
        }
        text = json.dumps(tree, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        total = 12 + 8 + len(text) + 8 + len(self._blob)
        return (
            struct.pack("<4sII", b"glTF", 2, total)
            + struct.pack("<I4s", len(text), b"JSON")
            + text
            + struct.pack("<I4s", len(self._blob), b"BIN\0")
            + bytes(self._blob)
        )
