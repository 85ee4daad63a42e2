"""The commands, as a maker types them: files whole, faults in plain lines, nothing half-written."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from tests.coarse import coarsely
from unroll import arm_job, cli, job, terminal
from unroll.batch import making
from unroll.disk import outputs, previewing, print_files
from unroll.errors import UnrollError
from unroll.progress import Progress

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


def report_of(out: Path) -> dict:
    return json.loads((out / "report.json").read_text("utf8"))


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """The whole job of the demo sheet, as it is typed."""
    out = tmp_path_factory.mktemp("made") / "out"
    answer = run("make", str(DEMO), "--out", str(out))
    assert answer.exit_code == 0, answer.output
    return out, answer.output


@pytest.fixture
def unseen(monkeypatch) -> None:
    """Leave out SVG, DXF and guide of the pieces, which the whole job shows to be written."""
    for module in (making, print_files):
        monkeypatch.setattr(module, "piece_files", lambda _ready: {})
        monkeypatch.setattr(module, "guide_files", lambda _ready: {})


@pytest.fixture
def asked(monkeypatch) -> list[tuple[str, dict]]:
    """Note what is asked of the job, and with which settings, and end there."""
    seen: list[tuple[str, dict]] = []

    def made(given, **how):
        def end(name):
            def asking(*_args, **_kwargs):
                seen.append((name, how))
                raise UnrollError("ended")

            return asking

        names = ("shapes", "filled", "everything", "redrafts", "refitted")
        return SimpleNamespace(
            sheet=given, arms=(), progress=Progress(), **{name: end(name) for name in names}
        )

    monkeypatch.setattr(job, "Job", made)
    return seen


# ---- the main job


def test_make_writes_everything(made):
    out, _ = made
    for name in (
        "report.html", "report.json", "pieces.svg", "arm.obj", "arm.glb", "pattern.pdf",
        "sewing_guide.pdf", "cut_pieces.svg", "cut_pieces.dxf", "pictures/arm.png",
    ):  # fmt: skip
        assert (out / name).stat().st_size > 1000, name


def test_make_tells_what_was_corrected_in_numbers(made):
    report = report_of(made[0])
    (row,) = report["corrections"]
    assert row["before"]["swing_deg"] > 3.0 > row["after"]["swing_deg"]
    assert sum(one["kept"] for one in report["rounds"]) == 1
    assert [layout["proposed"] for layout in report["layouts"]][0] is True


def test_make_says_how_far_its_figures_can_be_trusted(made):
    names = [row["name"] for row in report_of(made[0])["certainty"]]
    assert names[0] == "as assumed" and names[-1] == "on a finer mesh"
    # a cutting whose legs happen to cross cannot be sewn, and is left out
    assert len({name.partition(" (")[0] for name in names}) == 11 and len(names) in (12, 13)


def test_in_a_hurry_nothing_is_corrected_and_the_limits_that_are_missed_are_told(
    tmp_path, monkeypatch, coarse_run, unseen
):
    hurried = coarse_run.job.for_sheet(coarse_run.job.sheet, corrects=False)
    hurried._kept = dict(hurried._kept)  # what it works out takes no place of the coarse run's
    monkeypatch.setattr(job, "Job", lambda *_args, **_how: hurried)
    out = tmp_path / "out"
    with coarsely():
        answer = run("make", str(DEMO), "--quick", "--out", str(out))
    assert answer.exit_code == cli.OUTSIDE, answer.output
    report = report_of(out)
    assert not report["corrections"] and not report["certainty"]
    assert (out / "pattern.pdf").exists()
    assert answer.output.splitlines()[-1].startswith(f"written to {out}: open ")


@pytest.mark.parametrize(
    ("words", "name", "corrects", "search"),
    [
        (["make"], "everything", True, arm_job.FINE),
        (["make", "--quick"], "everything", False, arm_job.COARSE),
        (["preview"], "shapes", False, arm_job.LOOK),
        (["sew"], "filled", True, arm_job.FINE),
        (["sew", "--quick"], "filled", False, arm_job.COARSE),
        (["print"], "shapes", True, arm_job.FINE),
        (["print", "--pieces", "unrolled"], "shapes", False, arm_job.COARSE),
        (["print", "--pieces", "drafted-ease"], "filled", False, arm_job.COARSE),
        (["refit"], "refitted", True, arm_job.FINE),
        (["draft", "--correct"], "redrafts", True, arm_job.FINE),
    ],
)
def test_each_command_asks_for_no_more_than_it_shows(
    words, name, corrects, search, asked, tmp_path, monkeypatch
):
    monkeypatch.setattr(outputs, "draft_files", lambda *_args: {})
    answer = run(words[0], str(DEMO), *words[1:], "--out", str(tmp_path / "out"))
    assert answer.exit_code == cli.BAD_SHEET and answer.output.strip() == "ended"
    ((called, how),) = asked
    assert (called, how["corrects"], how["search"]) == (name, corrects, search)
    assert not list(tmp_path.iterdir())


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
    assert "flat draft with ease: cap seam: wrong" in answer.output
    assert (tmp_path / "draft" / "drafted-darts.svg").exists()


@pytest.mark.parametrize("source", ["corrected", "unrolled", "drafted-darts"])
def test_print_takes_paper_and_pieces(tmp_path, at_once, coarse_run, unseen, source):
    out = tmp_path / "paper"
    answer = run("print", str(DEMO), "--paper", "a4", "--pieces", source, "--out", str(out))
    is_met = all(verdict.is_met for verdict in coarse_run.result.arms[0].verdicts)
    assert answer.exit_code == (0 if is_met else cli.OUTSIDE), answer.output
    assert "pages; print" in answer.output and (out / "pattern.pdf").exists()


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


def test_a_failing_run_leaves_no_folder(tmp_path, at_once, monkeypatch):
    def fail(*_args, **_kwargs):
        raise UnrollError("the disk is full")

    monkeypatch.setattr(previewing, "preview_files", fail)
    answer = run("preview", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == cli.BAD_SHEET
    assert answer.output.strip() == "the disk is full"
    assert not list(tmp_path.iterdir())


def test_a_fault_of_the_program_is_one_line_and_shows_its_place_when_asked(
    tmp_path, at_once, monkeypatch
):
    def fail(*_args, **_kwargs):
        raise FloatingPointError("a pivot\nof nought")

    monkeypatch.setattr(previewing, "preview_files", fail)
    words = ("preview", str(DEMO), "--out", str(tmp_path / "out"))
    answer = run(*words)
    assert answer.exit_code == terminal.FAILED
    (line,) = answer.output.replace("\n", " ").strip().splitlines()
    assert "by a fault of its own (FloatingPointError: a pivot" in line and terminal.TRACE in line
    assert not list(tmp_path.iterdir())
    monkeypatch.setenv(terminal.TRACE, "1")
    assert isinstance(run(*words).exception, FloatingPointError)


def test_where_a_seam_is_wrong_the_report_comes_without_a_pattern(
    tmp_path, at_once, coarse_run, monkeypatch
):
    def wrong(*_args, **_kwargs):
        raise UnrollError("nothing is printed while a seam is wrong:\nfront seam: 9 mm too long")

    monkeypatch.setattr(type(coarse_run.job), "ready", wrong)
    answer = run("make", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == cli.OUTSIDE, answer.output
    assert "front seam: 9 mm too long" in answer.output
    assert (tmp_path / "out" / "report.html").exists()
    assert not (tmp_path / "out" / "pattern.pdf").exists()


@pytest.mark.parametrize(
    ("verdicts", "faults", "truing", "code"),
    [
        ((True, True), (), (), 0),
        ((True, False), (), (), cli.OUTSIDE),
        ((True,), ("dart 1 takes in 120 mm",), (), cli.OUTSIDE),
        ((True,), (), ("front seam: 9 mm too long",), cli.OUTSIDE),
        ((), (), None, cli.OUTSIDE),
    ],
)
def test_the_exit_code_tells_whether_all_is_within_its_limits(verdicts, faults, truing, code):
    arm = SimpleNamespace(
        verdicts=[SimpleNamespace(is_met=is_met) for is_met in verdicts], faults=faults
    )
    ready = None if truing is None else SimpleNamespace(faults=truing)
    try:
        cli._leave(SimpleNamespace(arms=[arm]), ready)
        left = 0
    except cli.typer.Exit as leaving:
        left = leaving.exit_code
    assert left == code


# ---- the others


def test_a_piped_run_shows_no_progress(made):
    assert "lofting the arm" not in made[1]


def test_refit_without_a_trial_is_one_line(tmp_path):
    answer = run("refit", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == cli.BAD_SHEET
    assert answer.output.strip().startswith("the sheet has no table [trial]")
    assert not (tmp_path / "out").exists()


def test_refit_of_two_unlike_arms_is_one_line(tmp_path):
    sheet = tmp_path / "two.toml"
    two = (ROOT / "meshes" / "two_arms.toml").read_text("utf8")
    sheet.write_text(f"{two}\n[trial]\nelbow_girth = 29\n")
    answer = run("refit", str(sheet), "--out", str(tmp_path / "out"))
    assert answer.exit_code == cli.BAD_SHEET
    assert "two unlike arms and one trial" in answer.output


def test_sew_draws_where_the_cap_leaves_the_arm(tmp_path, at_once):
    answer = run("sew", str(DEMO), "--out", str(tmp_path / "sewn"))
    assert answer.exit_code == 0, answer.output
    assert len(answer.output.splitlines()) == 6  # four sets of pieces, the nearest, where it lies
    assert {"sewn-profile.png", "sewn-cap.png", "sewn-hang.png"} <= {
        path.name for path in (tmp_path / "sewn").iterdir()
    }
