"""3D files: read back by a library that knows nothing of the writer."""

from __future__ import annotations

import io
import json
import struct

import numpy as np
import pytest
import trimesh

from tests.made_arms import made_arm_result
from unroll.disk.meshes import arm_glb, arm_obj
from unroll.show.colours import PIECE_COLOURS, rgb_of
from unroll.show.models import arm_model

RESULT = made_arm_result(rings=16)
MODEL = arm_model(RESULT.arm, RESULT.distortions)
GLB = arm_glb(MODEL)


def _scene(content: bytes = GLB) -> trimesh.Scene:
    return trimesh.load(io.BytesIO(content), file_type="glb", process=False)


def _tree(content: bytes = GLB) -> dict:
    length = struct.unpack("<I", content[12:16])[0]
    return json.loads(content[20 : 20 + length])


def test_the_obj_holds_the_closed_arm_in_millimetres() -> None:
    read = trimesh.load(io.StringIO(arm_obj(RESULT.arm)), file_type="obj", process=False)
    mesh = RESULT.arm.mesh
    assert read.is_watertight and read.is_winding_consistent
    # Six decimals of a millimetre are written.
    assert np.allclose(read.vertices, mesh.vertices, atol=5e-7)
    whole = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert read.volume == pytest.approx(whole.volume, rel=1e-6) and read.volume > 0


def test_the_obj_names_every_panel_and_seam() -> None:
    groups: dict[str, list[str]] = {}
    for line in arm_obj(RESULT.arm).splitlines():
        if line.startswith("g "):
            name = line[2:]
            groups[name] = []
        elif line[:2] in ("f ", "l "):
            groups[name].append(line)
    assert len(groups["outer"]) == len(RESULT.arm.panel_faces["outer"])
    assert len(groups["armhole_plate"]) == len(RESULT.arm.panel_faces["armhole plate"])
    for seam, path in RESULT.arm.paths.items():
        (line,) = groups[seam.replace(" ", "_")]
        assert [int(k) - 1 for k in line[2:].split()] == path.tolist()


def test_the_glb_is_in_metres_with_y_up_and_the_outside_where_the_format_puts_left() -> None:
    scene = _scene()
    parts = [scene.geometry[name] for name in MODEL.groups]
    read = np.concatenate([part.vertices for part in parts])
    # glTF: y up, z forward, x to the left of what faces forward; metres.
    low, high = MODEL.vertices.min(axis=0), MODEL.vertices.max(axis=0)
    assert np.allclose(read.min(axis=0), low[[1, 2, 0]] / 1000, atol=1e-6)
    assert np.allclose(read.max(axis=0), high[[1, 2, 0]] / 1000, atol=1e-6)


def test_the_glb_surface_is_closed_and_keeps_its_volume() -> None:
    scene = _scene()
    whole = trimesh.util.concatenate(
        [trimesh.Trimesh(scene.geometry[n].vertices, scene.geometry[n].faces) for n in MODEL.groups]
    )
    whole.merge_vertices()
    mesh = RESULT.arm.mesh
    expected = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).volume
    assert whole.volume * 1e9 == pytest.approx(expected, rel=1e-5)


def test_the_glb_shows_every_panel_seams_and_darts_by_name() -> None:
    assert set(_scene().geometry) == {*MODEL.groups, "seams", "darts"}


def test_the_seams_are_closed_cords_along_the_seam_lines() -> None:
    cords = _scene().geometry["seams"]
    assert cords.is_watertight and cords.volume > 0
    points = np.concatenate([li.points for li in MODEL.lines if li.kind == "seam"])[:, [1, 2, 0]]
    distance = np.linalg.norm(cords.vertices[:, None] - points[None] / 1000, axis=2).min(axis=1)
    assert distance.max() < 0.0009 + 1e-6


def test_the_glb_colours_are_linear_light() -> None:
    colours = _scene().geometry["outer"].visual.vertex_attributes["color"]
    srgb = rgb_of(PIECE_COLOURS["outer"])
    # IEC 61966-2-1, upper branch: all of this colour's channels are above 0.04045.
    linear = ((srgb + 0.055) / 1.055) ** 2.4
    assert np.allclose(np.asarray(colours)[:, :3] / 65535, linear, atol=1e-5)


def test_the_heat_look_can_be_chosen() -> None:
    plain, hot = _scene(), _scene(arm_glb(MODEL, look_index=1))
    name = "outer"
    assert not np.array_equal(
        plain.geometry[name].visual.vertex_attributes["color"],
        hot.geometry[name].visual.vertex_attributes["color"],
    )


def test_no_viewer_needs_surroundings_to_mirror() -> None:
    (material,) = _tree()["materials"]
    assert material["pbrMetallicRoughness"]["metallicFactor"] == 0.0


def test_the_container_follows_the_format() -> None:
    # Khronos, glTF 2.0, sections 4.4 (container) and 3.6.2.4 (alignment).
    magic, version, total = struct.unpack("<4sII", GLB[:12])
    assert (magic, version, total) == (b"glTF", 2, len(GLB))
    length, kind = struct.unpack("<I4s", GLB[12:20])
    assert kind == b"JSON" and length % 4 == 0
    size, kind = struct.unpack("<I4s", GLB[20 + length : 28 + length])
    assert kind == b"BIN\0" and size % 4 == 0 and 28 + length + size == total
    tree = _tree()
    assert tree["buffers"] == [{"byteLength": size}]
    assert all(view["byteOffset"] % 4 == 0 for view in tree["bufferViews"])
    assert "http" not in json.dumps(tree)


def test_every_normal_in_the_glb_has_unit_length() -> None:
    for part in _scene().geometry.values():
        assert np.allclose(np.linalg.norm(part.vertex_normals, axis=1), 1.0, atol=1e-5)


def test_the_files_repeat_byte_for_byte() -> None:
    again = made_arm_result(rings=16)
    assert arm_glb(arm_model(again.arm, again.distortions)) == GLB
    assert arm_obj(again.arm) == arm_obj(RESULT.arm)
