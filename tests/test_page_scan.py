"""A scan on the page: handed over as a file, kept beside the sheet, its landmarks moved."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.arm_files import MESHES
from tests.page_desk import KEY
from unroll.disk import scans
from unroll.disk.scans import load_scanned_sheet, read_scan
from unroll.disk.sheets import load_sheet
from unroll.nouns import Mesh
from unroll.nouns.values import fingerprint
from unroll.page import web
from unroll.page.scan_view import MOST_SHOWN, ScanView, stand_of
from unroll.scans.measuring import measure_scan
from unroll.scans.mending import thinned
from unroll.sheets.reading import scan_hints

ARM = MESHES / "arm_p50.obj"
BARE = 'unit = "cm"\n\n[arm]\n'


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(BARE, "utf8")
    return path


def send(page, raw: bytes, kind: str = "obj"):
    return page.post(f"/{KEY}/scan/{kind}", content=raw,
                     headers={"Content-Type": "application/octet-stream"})  # fmt: skip


def beside(sheet: Path) -> set[str]:
    return {one.name for one in sheet.parent.iterdir()} - {sheet.name}


def edit(page, name: str, value: str):
    return page.post(f"/{KEY}/do/edit", json={"path": ["scan", name], "value": value}).json()


def test_a_scan_is_kept_beside_the_sheet_which_then_makes_the_arm_without_the_page(
    page, desk, sheet
) -> None:
    told = send(page, ARM.read_bytes()).json()
    assert told["is_ready"] and told["entries"]["scan.file"] == "scan.obj"
    assert (sheet.parent / "scan.obj").read_bytes() == ARM.read_bytes()
    assert told["estimates"]["arm.wrist_girth"][1] == "from the scan"
    assert told["estimates"]["scan.wrist"] == ["483.6; 87.0; 111.0", "found on the scan"]
    moved = edit(page, "elbow_point", "340; 240; -10")
    assert moved["estimates"]["scan.elbow_point"][0] != told["estimates"]["scan.elbow_point"][0]
    # the same by the file alone, and by the file with the scan named on the command line
    here = fingerprint(desk.session.sheet.arms)
    assert fingerprint(load_sheet(sheet).arms) == here
    assert fingerprint(load_scanned_sheet(sheet, ARM).arms) == here
    assert tomllib.loads(sheet.read_text("utf8"))["scan"]["elbow_point"] == [340, 240, -10]


def test_another_scan_takes_no_ones_place_and_leaves_the_old_ones_landmarks(
    page, desk, sheet
) -> None:
    send(page, ARM.read_bytes())
    edit(page, "wrist", "480; 90; 110")
    edit(page, "bend", "20")
    told = send(page, (MESHES / "arm_boy.obj").read_bytes()).json()
    assert told["entries"]["scan.file"] == "scan-2.obj" and told["entries"]["scan.bend"] == "20"
    assert "scan.wrist" not in told["entries"]
    desk.session.undo()
    assert desk.session.entries["scan.wrist"] == "480; 90; 110"
    told = page.post(f"/{KEY}/do/unscan", json={}).json()
    assert "scan.file" not in told["entries"] and not told["is_ready"]
    assert beside(sheet) == {"scan.obj", "scan-2.obj"}


@pytest.mark.parametrize(
    ("raw", "kind", "said"),
    [
        (b"", "obj", 'scan file "scan.obj" is empty; expected a scan'),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "obj", "holds 1 triangles; expected a surface"),
        (b"glTF no more", "glb", "cannot be read as GLB"),
        (b"#!/bin/sh", "sh", "the file is no scan; expected one that ends in obj, ply, stl, glb"),
    ],
)
def test_what_is_no_scan_is_told_in_the_readers_words(page, sheet, raw, kind, said) -> None:
    answer = send(page, raw, kind)
    assert answer.status_code == 422 and said in answer.json()["trouble"]
    assert sheet.read_text("utf8") == BARE and beside(sheet) == set()


def test_a_scan_is_bounded_and_no_name_of_the_browsers_is_used(page, sheet, monkeypatch) -> None:
    monkeypatch.setitem(web.MOST_SENT, "scan", 1000)
    assert send(page, b"v" * 1001).status_code == 403
    assert send(page, b"v", "..%2fobj").status_code in (404, 422) and beside(sheet) == set()
    assert "not an entry" in edit(page, "file", "/etc/passwd")["trouble"]
    foreign = page.post(f"/{KEY}/scan/obj", content=b"v", headers={
        "Content-Type": "application/octet-stream", "Origin": "http://evil.example"})  # fmt: skip
    assert foreign.status_code == 403
    assert page.post(f"/{KEY}/scan/obj", content=b"v").status_code == 415


def test_a_fault_stands_at_its_landmark_while_the_scan_stays_in_sight(page, desk) -> None:
    send(page, ARM.read_bytes())
    view = ScanView()
    first = view.told(desk.session.sheet, desk.session.entries)
    assert view.told(desk.session.sheet, desk.session.entries) is None  # nothing new
    told = edit(page, "elbow_point", "900; 240; -10")
    assert told["faults"][0][0] == "scan.elbow_point"
    assert "off its surface; expected at most 80" in told["faults"][0][1]
    then = view.told(None, desk.session.entries)
    assert then["models"][0]["positions"] == first["models"][0]["positions"]
    marks = {mark["name"]: mark for mark in then["marks"]}
    assert marks["elbow_point"]["is_given"] and not marks["wrist"]["is_given"]
    at = np.array(then["origin"]) + np.array(marks["elbow_point"]["at"]) @ np.array(then["axes"])
    assert at == pytest.approx([900.0, 240.0, -10.0], abs=0.01)
    typed = edit(page, "wrist", "-0.0110; 0,5; \u22122")["entries"]["scan.wrist"]
    assert typed == "-0.0110; 0.5; -2"
    told = edit(page, "elbow_point", "12 l; 3")
    faults = dict(told["faults"])  # beside its own field, whatever the wrist is
    assert "expected a place on the scan, three numbers" in faults["scan.elbow_point"]
    assert "off its surface" in faults["scan.wrist"]


def test_a_scan_is_read_once_and_mended_once_for_all_its_landmarks(page, desk, monkeypatch) -> None:
    asked: list[str] = []
    for name in ("read_scan", "mend", "measure_mended"):
        real = getattr(scans, name)
        monkeypatch.setattr(scans, name, lambda *a, real=real, told=name, **k: (
            asked.append(told) or real(*a, **k)))  # fmt: skip
    send(page, ARM.read_bytes())
    for value in ("340; 240; -10", "336; 242; -10"):
        edit(page, "elbow_point", value)
    desk.session.edit(("owner",), "Mara")
    desk.session.edit(("scan", "bend"), "20")
    desk.session.undo()
    assert sorted(asked) == ["measure_mended"] * 3 + ["mend", "read_scan"]


@pytest.mark.parametrize("flip", [1.0, -1.0])
def test_a_scan_stands_upright_in_the_view_whichever_arm_it_is(flip) -> None:
    mesh = read_scan(ARM)
    faces = mesh.faces if flip > 0 else mesh.faces[:, ::-1]
    scan = measure_scan(Mesh(mesh.vertices * [flip, 1.0, 1.0], faces), scan_hints('unit = "cm"'))
    stand = stand_of(scan)
    assert np.linalg.det(stand.turn) == pytest.approx(1.0)
    at = {name: stand.seen(scan.in_file(point)) for name, point in scan.landmarks.items()}
    assert at["shoulder"][2] > at["underarm"][2] > at["elbow_point"][2] > at["wrist"][2]
    assert at["elbow_crease"][0] > at["elbow_point"][0] + 20.0  # in front
    assert flip * (at["wrist"][1] - at["shoulder"][1]) > 50.0  # it stands away from the body


def test_a_thinned_scan_lies_on_the_scan() -> None:
    mesh = read_scan(MESHES / "arm_and_body.obj")
    few = thinned(mesh, 1500)
    assert 700 < len(few.vertices) <= 1900 < len(mesh.vertices) < MOST_SHOWN
    assert {tuple(at) for at in few.vertices} <= {tuple(at) for at in mesh.vertices}
    assert thinned(mesh, MOST_SHOWN) is mesh
