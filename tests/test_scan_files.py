"""Scans as files: every kind, and what is no scan, is damaged, or is no arm."""

from __future__ import annotations

import io
import zipfile

import numpy as np
import pytest
import trimesh
from typer.testing import CliRunner

from tests import made_scans
from tests.arm_files import MESHES
from tests.test_scans import SHEET
from unroll.cli import app
from unroll.disk.scans import read_scan
from unroll.errors import UnrollError
from unroll.nouns import Mesh
from unroll.nouns.scan import ScanHints
from unroll.scans.measuring import measure_scan
from unroll.sheets.reading import read_sheet


def written(kind: str) -> bytes:
    base = made_scans.tube(edge=16.0)
    raw = trimesh.Trimesh(base.vertices, base.faces, process=False).export(file_type=kind)
    return raw if isinstance(raw, bytes) else raw.encode()


@pytest.mark.parametrize("kind", ["obj", "ply", "stl", "glb", "off"])
def test_every_kind_of_file_reads_to_the_same_surface(tmp_path, kind):
    path = tmp_path / f"arm.{kind}"
    path.write_bytes(written(kind))
    mesh, base = read_scan(path), made_scans.tube(edge=16.0)
    assert len(mesh.faces) == len(base.faces)
    assert np.ptp(mesh.vertices, axis=0) == pytest.approx(np.ptp(base.vertices, axis=0), rel=1e-5)


def zipped() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("arm.obj", b"v 0 0 0\n" * 2_000_000)
    return stream.getvalue()


BAD = {
    "empty": (b"", "is empty; expected a scan"),
    "text": (b"Dear diary, today I scanned my arm.\n" * 50, ""),
    "zip": (zipped(), ""),
    "zeros": (b"\0" * 5000, ""),
    "not a number": (b"v nan nan nan\n" * 30 + b"f 1 2 3\n" * 30, ""),
}


@pytest.mark.parametrize("kind", ["obj", "ply", "stl", "glb", "off"])
@pytest.mark.parametrize("what", BAD)
def test_a_file_that_is_no_scan_is_told_in_one_line(tmp_path, kind, what):
    raw, said = BAD[what]
    path = tmp_path / f"arm.{kind}"
    path.write_bytes(raw)
    with pytest.raises(UnrollError) as caught:
        measure_scan(read_scan(path), ScanHints())
    assert said in str(caught.value) and len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("name", "raw", "said"),
    [
        ("a.txt", b"x", "is no scan; expected a file that ends in obj, ply, stl, glb or off"),
        ("a.stl", b"\1" * 80 + b"\xff\xff\xff\x7f" + b"0" * 500, "promises 2147483647 points"),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 99999999\nend_header\n", "promises 9999"),
        ("a.off", b"OFF\n888888888 3 0\n0 0 0\n", "promises 888888891 points"),
        ("a.glb", b"glTF\2\0\0\0\0\0\0\0\4\0\0\0JSON{[[[", "its head is damaged"),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "holds 1 triangles; expected a surface"),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n" + b"f 1 2 3\n" * 40, "has 1 triangles that are"),
    ],
)  # fmt: skip
def test_a_damaged_file_is_refused_with_what_is_wrong(tmp_path, name, raw, said):
    path = tmp_path / name
    path.write_bytes(raw)
    with pytest.raises(UnrollError) as caught:
        measure_scan(read_scan(path), ScanHints())
    assert said in str(caught.value)


@pytest.mark.parametrize("kind", ["obj", "ply", "stl", "glb", "off"])
def test_whatever_is_cut_off_or_scrambled_becomes_a_scan_or_one_line(tmp_path, kind):
    """Fuzzing, seeded: no other error, no warning turned error, no hang."""
    random, whole = np.random.default_rng(7), written(kind)
    path = tmp_path / f"arm.{kind}"
    for trial in range(12):
        raw = bytearray(whole[: int(random.integers(len(whole)))] if trial % 2 else whole)
        for place in random.integers(0, max(len(raw), 1), 20 if trial % 3 else 0):
            if raw:
                raw[place % len(raw)] = int(random.integers(256))
        path.write_bytes(bytes(raw))
        try:
            read_scan(path)
        except UnrollError as error:
            assert len(str(error).splitlines()) == 1


@pytest.mark.parametrize(
    ("mesh", "said"),
    [
        (lambda: trimesh.creation.icosphere(radius=300.0), ""),
        (lambda: trimesh.creation.box((300, 300, 300)).subdivide(), ""),
        (lambda: trimesh.creation.cylinder(radius=90.0, height=110.0, sections=60), ""),
        (lambda: trimesh.creation.annulus(100, 260, 4, sections=60), ""),
        (lambda: trimesh.creation.icosphere(radius=4e4), "no arm's size in m, cm, mm or inches"),
        (lambda: trimesh.creation.icosphere(radius=60.0), "expected an arm at least 0.7 times"),
    ],
)
def test_a_surface_that_is_no_arm_is_refused_in_one_line(mesh, said):
    made = mesh()
    with pytest.raises(UnrollError) as caught:
        measure_scan(Mesh(made.vertices, made.faces), ScanHints())
    assert said in str(caught.value) and len(str(caught.value).splitlines()) == 1


def test_the_command_refuses_a_bad_scan_and_writes_nothing(tmp_path):
    sheet, scan = tmp_path / "sheet.toml", tmp_path / "arm.obj"
    sheet.write_text(SHEET)
    scan.write_bytes(b"no arm")
    out = tmp_path / "out"
    found = CliRunner().invoke(app, ["make", str(sheet), "--arm", str(scan), "--out", str(out)])
    assert found.exit_code == 1 and not out.exists()


def test_a_preview_of_a_scan_holds_its_pictures_and_the_filled_in_sheet(tmp_path):
    sheet, out = tmp_path / "sheet.toml", tmp_path / "out"
    sheet.write_text(SHEET)
    arm = str(MESHES / "arm_boy.obj")
    found = CliRunner().invoke(app, ["preview", str(sheet), "--arm", arm, "--out", str(out)])
    assert found.exit_code == 0, found.output
    assert {"scan.png", "scan-levels.png"} <= {p.name for p in (out / "pictures").iterdir()}
    assert read_sheet((out / "measured_sheet.toml").read_text()).arms
