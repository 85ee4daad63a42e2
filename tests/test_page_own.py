"""Her own draft on the page: handed over as files, judged, drawn, sewn in 3D."""

from __future__ import annotations

import pytest

from tests.page_browser import ROOT
from tests.page_desk import KEY
from unroll.disk.drawings import pieces_svg
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.page import live, session

DEMO = ROOT / "meshes" / "demo.toml"
SHEET = load_sheet(DEMO)
DRAWN = pieces_svg(draft(SHEET.arms[0], SHEET.make, manner="darts")[:4])


def send(page, raw: str, number: str = "1"):
    return page.post(f"/{KEY}/draft/{number}", content=raw.encode(),
                     headers={"Content-Type": "application/octet-stream"})  # fmt: skip


def test_files_come_one_after_the_other_and_the_first_puts_the_old_away(
    page, desk, monkeypatch
) -> None:
    before = desk.session.text
    for number in "12":
        assert send(page, DRAWN, number).status_code == 200
    assert [name for name, _ in desk.session.draft] == ["file 1.svg", "file 2.svg"]
    assert "expected one after the other, at most 20" in send(page, DRAWN, "7").json()["trouble"]
    assert send(page, DRAWN, "..%2fa").status_code in (404, 422)
    send(page, "0\nSECTION")
    assert [name for name, _ in desk.session.draft] == ["file 1.dxf"]
    assert "neither a drawing nor a photograph" in send(page, "PK", "2").json()["trouble"]
    monkeypatch.setattr(session, "LARGEST_DRAFT", 1000)
    assert "MB together" in send(page, DRAWN, "2").json()["trouble"]
    assert desk.session.text == before  # the sheet does not name them
    assert {one.name for one in desk.session.file.path.parent.iterdir()} == {"mine.toml"}


def test_what_is_no_draft_is_told_in_the_commands_words(desk, monkeypatch) -> None:
    told: list[dict] = []
    monkeypatch.setattr(desk.live, "_tell", told.append)
    change = live.Change(SHEET, 0)
    for files, said in (
        ((), "the draft is 0 files; expected 1 to 20"),
        ((("file 1.svg", b"<svg/>"),), "file 1.svg"),
    ):
        desk.live._do((live.Task("own", change, files=files), live.Progress()))
        assert told[-1]["task"] == "own" and said in told[-1]["trouble"]


def test_the_answer_is_there_once_the_draft_is_judged(page) -> None:
    for name in ("check.html", "own_outlines.png", "changed.pdf", "changed.svg"):
        answer = page.get(f"/{KEY}/out/{name}")
        assert answer.status_code == 404 and "press Judge my draft first" in answer.text


def test_numbers_of_the_draft_are_written_as_the_sheet_reads_them(page, desk) -> None:
    for name, value in (("outer", "2"), ("outer_corners", "1; 6; 7; 10"), ("turned_over", "true"),
                        ("closes_within", "1/16"), ("square", "4")):  # fmt: skip
        told = page.post(f"/{KEY}/do/edit", json={"path": ["draft", name], "value": value}).json()
        assert told["faults"] == [] and told["entries"][f"draft.{name}"] == value
    table = desk.session.sheet.draft
    assert table.pieces == {"outer": 2} and table.corners == {"outer": (1, 6, 7, 10)}
    assert table.turned_over and table.closes_within == pytest.approx(25.4 / 16)
