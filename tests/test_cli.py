"""The commands, as a maker types them: files whole, faults in plain lines, nothing half-written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from unroll import cli
from unroll.errors import UnrollError
from unroll.job import PREVIEW, make_result

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "meshes" / "demo.toml"
SMALL = """
unit = "cm"
[arm]
shoulder_to_elbow = 33.8
shoulder_to_inner_elbow = 31.9
inner_elbow_to_wrist = 23.6
upper_arm_girth = 28.6
wrist_girth = 15.8
"""


def run(*words: str):
    return CliRunner().invoke(cli.app, list(words))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    out = tmp_path_factory.mktemp("made") / "out"
    answer = run("make", str(DEMO), "--out", str(out))
    assert answer.exit_code == 0, answer.output
    return out, answer.output


def test_make_writes_everything(made):
    out, _ = made
    for name in (
        "report.html", "report.json", "pieces.svg", "arm.obj", "arm.glb", "pattern.pdf",
        "sewing_guide.pdf", "cut_pieces.svg", "cut_pieces.dxf", "pictures/arm.png",
    ):  # fmt: skip
        assert (out / name).stat().st_size > 1000, name


def test_make_says_first_what_the_ease_does(made):
    _, said = made
    assert "of cap ease is" in said.splitlines()[0]
    assert "the cap stands" in said


def test_make_says_how_far_its_figures_can_be_trusted(made):
    out, said = made
    assert sum(line.startswith("How sure that is: ") for line in said.splitlines()) == 1
    report = json.loads((out / "report.json").read_text("utf8"))
    names = [row["name"] for row in report["certainty"]]
    assert names[0] == "as assumed" and names[-1] == "meshed finer" and len(names) == 9
    assert any("no pattern can remove" in row["text"] for row in report["certainty_words"])
    page = (out / "report.html").read_text("utf8")
    assert 'id="certainty"' in page and "How far to trust these figures" in page


def test_make_tells_what_was_corrected_in_numbers(made):
    report = json.loads((made[0] / "report.json").read_text("utf8"))
    (row,) = report["corrections"]
    assert row["before"]["swing_deg"] > 3.0 > row["after"]["swing_deg"]
    assert sum(one["kept"] for one in report["rounds"]) == 1
    assert [layout["proposed"] for layout in report["layouts"]][0] is True


@pytest.mark.parametrize(
    ("words", "is_certain"),
    [(["make"], True), (["make", "--quick"], False), (["sew"], False), (["print"], False)],
)
def test_only_the_whole_job_sews_again_to_see_how_sure_it_is(
    words, is_certain, tmp_path, monkeypatch
):
    seen = []

    def stop(_sheet, *, scope, **_):
        seen.append(scope)
        raise UnrollError("stopped")

    monkeypatch.setattr(cli, "make_result", stop)
    answer = run(words[0], str(DEMO), *words[1:], "--out", str(tmp_path / "out"))
    assert answer.exit_code == 1 and answer.output.strip() == "stopped"
    assert [scope.certain for scope in seen] == [is_certain]


def test_the_report_has_its_documented_keys(made):
    report = json.loads((made[0] / "report.json").read_text("utf8"))
    assert {"name", "asked_mm", "got_mm", "arm"} <= report["tape"][0].keys()
    assert {"name", "source", "outline_mm", "area_mm2", "flips", "arm"} <= report["pieces"][
        0
    ].keys()
    assert {"name", "source", "lengths_mm", "mismatch_mm", "ease_percent"} <= (
        report["seams"][0].keys()
    )
    sources = {row["source"] for row in report["standoff"]}
    assert {"unrolled", "drafted-ease", "drafted-darts"} <= sources
    assert {"cap_bulge_max_mm", "cap_bulge_mean_mm", "swing_deg", "girths"} <= (
        report["standoff"][0].keys()
    )
    assert {"piece", "area_difference_percent", "outline_distance_max_mm"} <= (
        report["comparison"][0].keys()
    )
    assert all(piece.get("flips", 0) in (0, None) for piece in report["pieces"])


def test_a_second_run_refuses_to_overwrite_and_leaves_the_first(made):
    out, _ = made
    before = (out / "report.json").read_bytes()
    answer = run("preview", str(DEMO), "--out", str(out))
    assert answer.exit_code == 1
    assert "--overwrite" in answer.output
    assert (out / "report.json").read_bytes() == before


def test_preview_writes_pictures_and_the_3d_file(tmp_path):
    sheet = tmp_path / "small.toml"
    sheet.write_text(SMALL)
    answer = run("preview", str(sheet), "--out", str(tmp_path / "seen"))
    assert answer.exit_code == 0, answer.output
    names = {p.name for p in (tmp_path / "seen").rglob("*") if p.is_file()}
    assert {"arm.glb", "arm.obj", "arm.png"} <= names
    assert "report.html" not in names


def test_a_blank_sheet_and_its_guide_are_written_and_never_over_another(tmp_path):
    out = tmp_path / "mine.toml"
    assert run("sheet", "--unit", "in", "--out", str(out)).exit_code == 0
    assert 'unit = "in"' in out.read_text("utf8")
    assert (tmp_path / "mine-guide.pdf").read_bytes().startswith(b"%PDF")
    again = run("sheet", "--out", str(out))
    assert again.exit_code == 1
    assert "is there already" in again.output


def test_draft_walks_both_manners(tmp_path):
    answer = run("draft", str(DEMO), "--out", str(tmp_path / "draft"))
    assert answer.exit_code == 0, answer.output
    assert "drafted-ease, cap seam: wrong" in answer.output
    assert (tmp_path / "draft" / "drafted-darts.svg").exists()


def test_print_takes_paper_and_pieces(tmp_path):
    answer = run("print", str(DEMO), "--paper", "a4", "--pieces", "unrolled", "--out",
                 str(tmp_path / "paper"))  # fmt: skip
    assert answer.exit_code == 0, answer.output
    assert "pages; print" in answer.output


def test_an_unknown_paper_is_one_line_and_leaves_nothing(tmp_path):
    answer = run("print", str(DEMO), "--paper", "a17", "--out", str(tmp_path / "paper"))
    assert answer.exit_code == 1
    assert "a17" in answer.output
    assert not list(tmp_path.iterdir())


def test_all_faults_of_a_sheet_come_at_once_a_line_each(tmp_path):
    sheet = tmp_path / "bad.toml"
    sheet.write_text(SMALL.replace("15.8", "1.7").replace("shoulder_to_inner", "sholder_to_inner"))
    answer = run("make", str(sheet), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 1
    lines = answer.output.strip().splitlines()
    assert sum("wrist_girth" in line for line in lines) == 1
    assert any(
        "sholder_to_inner_elbow" in line and "shoulder_to_inner_elbow" in line for line in lines
    )
    assert not (tmp_path / "out").exists()


def test_a_missing_sheet_is_one_line():
    answer = run("make", "nowhere.toml")
    assert answer.exit_code == 1
    assert len(answer.output.strip().splitlines()) == 1


def test_a_failing_run_leaves_no_folder(tmp_path, monkeypatch):
    def fail(*_args, **_kwargs):
        raise UnrollError("the disk is full")

    monkeypatch.setattr(cli, "preview_files", fail)
    answer = run("preview", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 1
    assert "the disk is full" in answer.output
    assert not list(tmp_path.iterdir())


def test_where_a_seam_is_wrong_the_report_comes_without_a_pattern(tmp_path, monkeypatch):
    def wrong(*_args, **_kwargs):
        raise UnrollError("nothing is printed while a seam is wrong:\nfront seam: 9 mm too long")

    monkeypatch.setattr(cli, "get_ready", wrong)
    monkeypatch.setattr(cli, "make_result", lambda sheet, **_: _small_result(sheet))
    answer = run("make", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 0, answer.output
    assert "front seam: 9 mm too long" in answer.output
    assert (tmp_path / "out" / "report.html").exists()
    assert not (tmp_path / "out" / "pattern.pdf").exists()


def _small_result(sheet):
    return make_result(sheet, scope=PREVIEW)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_a_killed_run_leaves_no_folder(tmp_path, how):
    command = [sys.executable, "-m", "unroll", "make", str(DEMO), "--out", str(tmp_path / "out")]
    process = subprocess.Popen(command, cwd=ROOT, stderr=subprocess.DEVNULL, env=os.environ.copy())
    time.sleep(2.5)  # well within the run, before anything is written
    process.send_signal(how)
    process.wait()
    assert not (tmp_path / "out").exists()


def test_a_piped_run_shows_no_progress(made):
    assert "lofting the arm" not in made[1]


def test_refit_without_a_trial_is_one_line(tmp_path):
    answer = run("refit", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 1
    assert "the sheet has no table [trial]" in answer.output
    assert not (tmp_path / "out").exists()


def test_refit_of_two_unlike_arms_is_one_line(tmp_path):
    sheet = tmp_path / "two.toml"
    two = (ROOT / "meshes" / "two_arms.toml").read_text("utf8")
    sheet.write_text(f"{two}\n[trial]\nelbow_girth = 29\n")
    answer = run("refit", str(sheet), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 1
    assert "two unlike arms and one trial" in answer.output


def test_sew_draws_where_the_cap_stands_off(tmp_path):
    answer = run("sew", str(DEMO), "--quick", "--out", str(tmp_path / "sewn"))
    assert answer.exit_code == 0, answer.output
    assert "the cap stands" in answer.output
    assert {"sewn-profile.png", "sewn-standoff.png"} <= {
        path.name for path in (tmp_path / "sewn").iterdir()
    }
