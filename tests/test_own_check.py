"""A maker's own draft judged: what is changed, what is told, what is written."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from unroll import arm_job, arm_results
from unroll.arm_job import LOOK
from unroll.cli import app
from unroll.correct import draft_loop
from unroll.correct.own_draft import CAP, INTAKE, changed
from unroll.disk.atomic import check_file
from unroll.disk.drawings import pieces_svg
from unroll.disk.outputs import check_files
from unroll.disk.own_pieces import read_pieces
from unroll.disk.sheets import load_sheet
from unroll.drafts.comparing import cap_height
from unroll.drafts.drafting import draft
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.job import Job
from unroll.nouns import source_called
from unroll.nouns.own import OwnDraft
from unroll.paper.corner_cards import card_page
from unroll.show.numbers import report_dict
from unroll.show.own import own_lines, seams_sentence

SHEET = load_sheet(Path("meshes/demo.toml"))
MEASURES = SHEET.arms[0]
PIECES = {m: draft(MEASURES, SHEET.make, manner=m)[:4] for m in ("ease", "darts")}
RUN = CliRunner()


def named(pieces):
    return {piece.name: piece for piece in pieces}


def lengths(pieces, name: str) -> dict[str, list[float]]:
    out: dict[str, list[float]] = {}
    for side in named(pieces)[name].sides:
        out.setdefault(side.seam, []).append(side.length)
    return out


# ---- what a change does to the outline


@pytest.mark.parametrize("manner", ["ease", "darts"])
def test_a_higher_cap_is_higher_by_so_much_and_leaves_the_side_seams(manner) -> None:
    before, after = PIECES[manner], changed(PIECES[manner], {CAP: 7.0})
    outers = [named(pieces)["outer"] for pieces in (before, after)]
    assert cap_height(outers[1]) - cap_height(outers[0]) == pytest.approx(7.0)
    was, now = lengths(before, "outer"), lengths(after, "outer")
    for seam in was:
        if seam != "cap seam":
            assert now[seam] == pytest.approx(was[seam], abs=1e-9), seam
    assert sum(now["cap seam"]) > sum(was["cap seam"])


@pytest.mark.parametrize("by", [8.0, -8.0])
def test_darts_take_in_more_with_legs_as_alike_as_before(by) -> None:
    was = lengths(PIECES["darts"], "outer")
    now = lengths(changed(PIECES["darts"], {INTAKE: by}), "outer")
    assert sum(now["cap seam"]) == pytest.approx(sum(was["cap seam"]) - by, abs=1e-6)
    for seam in ("dart 1", "dart 2"):
        assert now[seam][0] - now[seam][1] == pytest.approx(was[seam][0] - was[seam][1], abs=1e-3)


@pytest.mark.parametrize("name", ["upper_arm_girth", "elbow_girth", "forearm_girth"])
def test_a_girth_grows_by_so_much_on_paper_and_the_others_stay(name) -> None:
    before = {r.name: r.got_mm for r in tape_draft(PIECES["ease"], MEASURES)}
    pieces = changed(PIECES["ease"], {name: 6.0})
    for row in tape_draft(pieces, MEASURES):
        if row.name.endswith("girth"):
            # slanted lines lie partly above and below the level where the whole of it is given
            wanted = before[row.name] + (6.0 if row.name == name else 0.0)
            assert row.got_mm == pytest.approx(wanted, abs=1.2), row.name


def test_a_wedge_lengthens_both_back_seams_and_neither_front() -> None:
    before, after = PIECES["ease"], changed(PIECES["ease"], {"elbow wedge": 5.0})
    for name in ("outer", "inner"):
        was, now = lengths(before, name), lengths(after, name)
        assert now["back seam"][0] - was["back seam"][0] == pytest.approx(5.0, abs=0.7)
        assert now["front seam"][0] == pytest.approx(was["front seam"][0], abs=0.5)


def test_no_change_changes_nothing_and_too_much_is_refused() -> None:
    for one, other in zip(changed(PIECES["darts"], {}), PIECES["darts"]):
        assert np.allclose(one.outline, other.outline)
    with pytest.raises(UnrollError, match="leave no cap seam between them"):
        changed(PIECES["darts"], {INTAKE: 300.0})


# ---- the whole answer


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "draft.svg"
    path.write_text(pieces_svg(PIECES["darts"]))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(draft_loop, "ROUNDS", 1)
        for name in ("SPACING_MM", "HURRIED_MM"):
            patch.setattr(arm_job, name, 17.0)
        job = Job(SHEET, corrects=False, search=LOOK, edge=14.0, own=read_pieces(SHEET, [path]))
        found = job.checked()
        return found, job.ready_change(found)


def test_own_pieces_are_a_source_like_any_other(result) -> None:
    found, _ = result
    rows = report_dict(found)
    assert rows["arms"][0]["to_cut"] == "own"
    assert {row["source"] for row in rows["standoff"]} == {"own", "unrolled"}
    assert {row["name"] for row in rows["seams"] if row["variant"] == "own"} >= {
        "cap seam", "front seam", "back seam", "dart 1"}
    assert [row["name"] for row in rows["pieces"] if row["source"] == "own"] == [
        "outer", "inner", "armhole base", "wrist base"]
    assert rows["own_tape"] and rows["own_draft"] and rows["own_change"][0]["numbers"]
    assert rows["comparison"][0]["drafted"] == "own"
    assert source_called("own").label == "pieces of your draft"


def test_the_change_brings_it_nearer(result) -> None:
    change = result[0].arms[0].own.change
    girths = [max(abs(g.off_percent) for g in fit.girths) for fit in (change.before, change.after)]
    assert girths[1] < girths[0] or change.after.wrist_mm < change.before.wrist_mm


def test_everything_is_told_in_the_order_that_matters_and_written(result) -> None:
    found, ready = result
    lines = own_lines(found.arms[0], "mm")
    places = [next(i for i, line in enumerate(lines) if start in line) for start in (
        "outer: outline 1", "go together as drawn", "shoulder to elbow",
        "The pieces of your draft: the cap", "The least change", "cap height:")]
    assert places == sorted(places)
    files = check_files(found, ready)
    assert {"check.html", "report.json", "own.svg", "changed.svg", "changed.pdf",
            "pictures/outlines.png", "pictures/changed.png"} <= set(files)
    assert json.loads(files["report.json"])["own_draft"]
    assert "Will the seams go together?" in files["check.html"]
    assert "http" not in files["check.html"].split("</style>")[1]


def test_a_draft_that_cannot_be_sewn_is_walked_and_told(result, monkeypatch) -> None:
    job = Job(SHEET, corrects=False, search=LOOK, edge=14.0,
              own=OwnDraft(PIECES["ease"], ("a",)))

    def refuse(*_args, **_more):
        raise UnrollError("they do not close")

    monkeypatch.setattr(arm_job, "correct_own", refuse)
    arm = job.arms[0]
    monkeypatch.setattr(arm_results, "shown", lambda _arm: result[0].arms[0])
    found = arm_results.checked(arm)
    assert found.own.unsewn == "they do not close" and found.own.walked
    assert any("cannot be sewn as it is" in line for line in own_lines(found, "mm"))
    assert seams_sentence(found.own).startswith("The cap seam")


def test_a_job_without_a_draft_says_so(monkeypatch) -> None:
    with pytest.raises(UnrollError, match="has no draft of your own to check"):
        Job(SHEET).checked()
    with pytest.raises(UnrollError, match="for this arm"):
        monkeypatch.setattr(arm_results, "shown", lambda _arm: None)
        arm_results.checked(Job(SHEET).arms[0])


# ---- commands


def test_a_bad_file_is_told_in_one_line_and_nothing_is_written(tmp_path) -> None:
    (tmp_path / "bad.svg").write_text("<svg><script/></svg>")
    said = RUN.invoke(app, ["check", "meshes/demo.toml", "--draft", str(tmp_path / "bad.svg"),
                            "--out", str(tmp_path / "out")])
    assert said.exit_code == 1 and os.listdir(tmp_path) == ["bad.svg"]


def test_cards_are_printed_true_to_size_on_every_sheet(tmp_path) -> None:
    for paper in ("a4", "letter", "a3", "tabloid"):
        page = card_page(paper)
        inside = np.vstack([stroke.points for stroke in page.strokes])
        assert inside.min() >= 4.0 and (inside.max(axis=0) <= [page.width, page.height]).all()
        black = np.vstack([patch.points for patch in page.patches[:1]])
        assert np.ptp(black[:, 0]) == pytest.approx(60.0)  # the uppermost row of a card is black
    with pytest.raises(UnrollError, match='paper is "roll"'):
        card_page("roll")
    path = tmp_path / "cards.pdf"
    assert RUN.invoke(app, ["cards", "--out", str(path)]).exit_code == 0
    assert path.read_bytes().startswith(b"%PDF")
    assert RUN.invoke(app, ["cards", "--out", str(path)]).exit_code == 1
    with pytest.raises(UnrollError, match="is there already"):
        check_file(path)
    with pytest.raises(UnrollError, match="is a folder"):
        check_file(tmp_path)


def test_a_right_arm_is_judged_on_its_own_side(tmp_path) -> None:
    path = tmp_path / "draft.svg"
    path.write_text(pieces_svg(PIECES["ease"]))
    right = replace(SHEET, arms=(replace(MEASURES, side="right"),))
    pieces = read_pieces(right, [path]).pieces
    assert {piece.arm for piece in pieces} == {"right"}
