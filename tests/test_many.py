"""Many sheets at once: each whole or told, the rest made all the same, a stopped run continued."""

from __future__ import annotations

import csv
import io
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from lxml import html
from typer.testing import CliRunner

from tests.many_jobs import (
    TABLE,
    end_bea,
    make_ada_alone,
    make_outside,
    make_slowly,
    make_squares,
    refuse,
    write_table,
)
from unroll import cli
from unroll.batch import making, running
from unroll.batch.making import Settings, Task, kept, make_one, settings_for
from unroll.batch.orders import orders_in
from unroll.batch.running import make_all, write_overview
from unroll.batch.spreading import one_each
from unroll.disk.outputs import page_files
from unroll.errors import UnrollError
from unroll.nouns import FIGURES, Made
from unroll.progress import Cancelled, Progress
from unroll.show.overview import many_lines, overview_csv, overview_html
from unroll.workers import _kept

ROOT = Path(__file__).parent.parent
NAMES = ("ada", "bea", "carl", "dora")
QUICK = Settings(corrects=False)


def here(function, items):
    """Run tasks one by one in this process."""
    return ((place, _kept(function, (item,))) for place, item in enumerate(items))


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*")) if path.is_file()
    }  # fmt: skip


@pytest.fixture(scope="module")
def class_of_four(tmp_path_factory):
    """A table of four, one of them at fault, made in processes of their own."""
    place = tmp_path_factory.mktemp("class")
    told = []
    made = make_all(
        orders_in(write_table(place)), place / "out", QUICK, each=partial(one_each, count=2),
        progress=Progress(lambda step, _share: told.append(step)), make=make_squares,
    )  # fmt: skip
    plans = write_overview(made, place / "out", title="Made from class.csv")
    return place / "out", made, plans, told


# ---- made


def test_one_failing_sheet_stops_no_other_and_stands_in_the_overview_with_its_line(class_of_four):
    out, made, _, _ = class_of_four
    assert [one.name for one in made] == list(NAMES)
    assert [one.state for one in made] == ["within", "within", "not made", "within"]
    assert [(out / name).is_dir() for name in NAMES] == [True, True, False, True]
    page = html.fromstring((out / "overview.html").read_text("utf8"))
    told = page.xpath("//tr[@class='not-made']")[0].text_content().replace("\xa0", " ")
    assert "class.csv, line 4" in told
    assert "upper_arm_girth is 3100.0 cm; expected 6.0 to 120.0 cm" in told


def test_progress_tells_what_is_left(class_of_four):
    told = class_of_four[3]
    assert told[0] == "1 of 4 sheets done, 3 left"
    assert [step.split(", about")[0].split(", under")[0] for step in told[1:]] == [
        f"{done} of 4 sheets done, {4 - done} left" for done in (2, 3, 4)
    ]


def test_a_process_that_is_killed_takes_no_other_sheet_along(tmp_path):
    made = make_all(
        orders_in(write_table(tmp_path)), tmp_path / "out", QUICK, make=end_bea,
        each=partial(one_each, count=2),
    )  # fmt: skip
    assert [one.state for one in made] == ["within", "not made", "not made", "within"]
    assert "the process that made it ended before it was done (BrokenProcessPool" in (
        made[1].faults[0]
    )


def test_whatever_goes_wrong_with_one_sheet_is_its_fault_alone(tmp_path, monkeypatch):
    order = orders_in(write_table(tmp_path))[0]
    task = Task(order, QUICK, str(tmp_path / "ada"))
    monkeypatch.setattr(making, "Job", lambda *_args, **_how: 1 / 0)
    assert make_one(task).faults == (
        "the program failed on it: ZeroDivisionError: division by zero",
    )
    old = replace(task, version="9.9")
    assert make_one(old).faults[0].startswith(f"this worker has version {making.VERSION}; expec")
    unread = replace(task, order=replace(order, sheet=None, faults=("line 3: no",)))
    assert make_one(unread).faults == ("line 3: no",)


def test_a_folder_that_no_machine_shares_is_told(tmp_path):
    def elsewhere(task: Task) -> Made:
        return Made(task.order.name, "")

    made = make_all(orders_in(write_table(tmp_path)), tmp_path / "out", QUICK, each=here,
                    make=elsewhere)  # fmt: skip
    assert "is not here, though a worker wrote it; expected a folder that all" in made[0].faults[0]


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    with pytest.raises(UnrollError, match="cannot be made: .*is the folder around it missing"):
        make_all((), tmp_path / "a" / "b", QUICK)


def test_an_unknown_paper_is_told_before_any_work():
    assert settings_for(quick=True) == Settings(1, False)
    with pytest.raises(UnrollError, match='paper is "b7"; expected one of a4'):
        settings_for(paper="b7")


def test_a_run_that_is_cancelled_ends_those_at_work(tmp_path):
    """The run learns of it when ada is done; the others would take a minute each."""
    progress = Progress(lambda _step, _share: progress.cancel())
    orders = orders_in(write_table(tmp_path))
    with pytest.raises(Cancelled):
        make_all(orders, tmp_path / "out", QUICK, each=partial(one_each, count=3),
                 progress=progress, make=make_ada_alone)  # fmt: skip
    assert not multiprocessing.active_children()
    assert os.listdir(tmp_path / "out") == ["ada"]


# ---- continued


def test_a_second_run_makes_nothing_anew_and_says_the_same(class_of_four, tmp_path):
    out, made, _, _ = class_of_four
    before = files_in(out)
    again = make_all(orders_in(write_table(tmp_path)), out, QUICK, each=here, make=refuse)
    assert again == made
    write_overview(again, out, title="Made from class.csv")
    pdf = {"cut_plan.pdf", ".unroll-written"}  # tells its time
    assert {n: b for n, b in files_in(out).items() if n not in pdf} == {
        n: b for n, b in before.items() if n not in pdf
    }


@pytest.fixture
def one_made(tmp_path):
    table = write_table(tmp_path, "\n".join(TABLE.splitlines()[:2]))
    make_all(orders_in(table), tmp_path / "out", QUICK, each=here, make=make_squares)
    return table, tmp_path / "out"


def test_another_sheet_or_other_settings_replace_a_folder_only_where_asked(one_made):
    table, out = one_made
    before = files_in(out)
    changed = write_table(table.parent, table.read_text("utf8").replace("15.8", "16.0"))
    for settings, orders in ((QUICK, orders_in(changed)), (Settings(), orders_in(table))):
        (told,) = make_all(orders, out, settings, each=here, make=make_or_tell)
        assert "exists already; choose another folder, or replace it with --ov" in told.faults[0]
    assert files_in(out) == before
    (done,) = make_all(
        orders_in(changed), out, QUICK, each=here, make=make_squares, overwrites=True
    )
    assert done.state == "within" and files_in(out) != before


def make_or_tell(task: Task) -> Made:
    try:
        return make_squares(task)
    except UnrollError as error:
        return task.failed(str(error))


def test_a_folder_with_a_changed_or_missing_file_is_not_taken_for_whole(one_made):
    table, out = one_made
    task = Task(orders_in(table)[0], QUICK, str(out / "ada"))
    assert kept(task) is not None
    page = out / "ada" / "report.html"
    page.write_text("mine", "utf8")
    assert kept(task) is None
    page.unlink()
    assert kept(task) is None
    (out / "ada" / "summary.json").write_text("{}", "utf8")
    assert kept(task) is None


def test_an_overview_that_was_changed_by_hand_is_not_replaced(class_of_four, tmp_path):
    _, made, _, _ = class_of_four
    bare = [replace(one, faults=("no",)) for one in made]
    write_overview(bare, tmp_path, title="x")
    write_overview(bare, tmp_path, title="y")  # the program's own is
    (tmp_path / "overview.csv").write_text("mine", "utf8")
    with pytest.raises(UnrollError, match=r"overview\.csv is not replaced: this program did not"):
        running.check_overview(tmp_path)


SCRIPT = """
import sys
from functools import partial
from pathlib import Path
from tests.many_jobs import make_slowly
from tests.test_many import QUICK
from unroll.batch.orders import orders_in
from unroll.batch.running import make_all
from unroll.progress import Cancelled, Progress
from unroll.batch.spreading import one_each

if __name__ == "__main__":
    make_all(orders_in(Path(sys.argv[1])), Path(sys.argv[2]), QUICK, make=make_slowly,
             each=partial(one_each, count=1),
             progress=Progress(lambda step, _: print(step, flush=True)))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="ends processes by signals")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGINT])
def test_a_run_that_is_ended_half_way_leaves_no_half_folder_and_goes_on(tmp_path, number):
    table = write_table(tmp_path)
    out, whole = tmp_path / "out", tmp_path / "whole"
    script = tmp_path / "run.py"
    script.write_text(SCRIPT)
    words = [sys.executable, str(script), str(table), str(out)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # or the child ignores it
    ended = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                             env=environment)  # fmt: skip
    signal.signal(signal.SIGINT, before)
    while not ended.stdout.readline().startswith("2 of 4"):
        assert ended.poll() is None
    ended.send_signal(number)
    ended.wait(60)
    ended.stdout.close()
    time.sleep(0.5)  # its last worker ends with it
    folders = [path.name for path in out.iterdir()]
    assert "ada" in folders and "dora" not in folders
    assert not [name for name in folders if name.endswith(".part")]
    orders = orders_in(table)
    continued = make_all(orders, out, QUICK, each=here, make=make_squares)
    assert continued == make_all(orders, whole, QUICK, each=here, make=make_squares)
    assert files_in(out) == files_in(whole)


def test_slow_is_the_same_as_quick(tmp_path):
    """What the test before ends half-way writes what it is compared with."""
    order = orders_in(write_table(tmp_path))[0]
    one, two = (Task(order, QUICK, str(tmp_path / name)) for name in ("one", "two"))
    assert make_slowly(one) == make_squares(two)
    assert files_in(tmp_path / "one") == files_in(tmp_path / "two")


# ---- the overview


def test_the_csv_has_a_row_a_sheet_and_nothing_that_a_spreadsheet_would_run(class_of_four):
    out, made, _, _ = class_of_four
    rows = list(csv.DictReader(io.StringIO((out / "overview.csv").read_text("utf8"))))
    assert [row["sheet"] for row in rows] == list(NAMES)
    assert [row["state"] for row in rows] == [one.state for one in made]
    for figure in FIGURES:
        assert float(rows[0][figure.key]) == made[0].figures[figure.key]
    assert rows[0]["report"] == "ada/report.html" and rows[2]["report"] == ""
    assert (rows[0]["pages"], rows[0]["cloth_width_mm"]) == ("7", "1400.0")
    odd = replace(made[0], owner="=1+1", source="-3.5")
    (row,) = csv.DictReader(io.StringIO(overview_csv([odd])))
    assert (row["owner"], row["source"]) == ("'=1+1", "-3.5")


def test_the_page_shows_every_figure_against_its_limit_and_links_to_each_report(class_of_four):
    out = class_of_four[0]
    page = html.fromstring((out / "overview.html").read_text("utf8"))
    table = page.xpath("//table[contains(@class, 'sheets')]")[0]
    heads = [head.text_content() for head in table.xpath("thead//th")]
    for figure, head in zip(FIGURES, heads[2:], strict=False):
        assert figure.heading in head and "let pass" in head
    links = [link.get("href") for link in table.xpath("tbody//a")]
    assert links == [f"{name}/report.html" for name in ("ada", "bea", "dora")]
    assert all((out / link).exists() for link in links)
    cells = table.xpath("tbody/tr[1]/*")
    assert len(cells) == len(heads) == 5 + len(FIGURES)
    assert all(cell.get("data-sort") for cell in cells)
    assert not table.xpath("tbody/tr[1]//b")[0].text_content().endswith("!")
    assert len(table.xpath(".//*[local-name() = 'path']")) == 3


def test_a_figure_beyond_its_limit_is_marked_without_colour(class_of_four, tmp_path):
    made = make_outside(Task(orders_in(write_table(tmp_path))[0], QUICK, str(tmp_path / "x")))
    page = html.fromstring(overview_html([made], title="t", files=page_files()))
    marked = [b.text_content() for b in page.xpath("//td[@class='number']//b")]
    assert marked == ["0.6\xa0% !"]


def test_what_a_sheet_says_is_never_markup_and_the_page_may_fetch_nothing(class_of_four):
    text = (class_of_four[0] / "overview.html").read_text("utf8")
    assert "Bea &lt;b&gt;" in text and "Bea <b>" not in text
    assert "default-src &#39;none&#39;" in text or "default-src 'none'" in text
    assert "http" not in text.replace("http-equiv", "")


def test_each_kind_of_cloth_has_a_plan_of_its_own(class_of_four):
    out, made, plans, _ = class_of_four
    assert [(plan.cloth, plan.width) for plan in plans] == [("canvas", 1400.0), ("silk", 900.0)]
    assert {"cut_plan.pdf", "cut_plan_1.svg", "cut_plan_2.svg"} <= set(os.listdir(out))
    lines = many_lines(made, plans)
    assert lines[0] == "3 within limits, 1 not made"
    assert lines[1].startswith("carl (class.csv, line 4): upper_arm_girth is 3100.0 cm")
    assert lines[2].startswith("canvas, 140 cm wide: ") and "for 2 sheets, " in lines[2]


def test_a_great_many_faults_are_counted():
    made = [Made(str(k), "", faults=("no",)) for k in range(20)]
    assert many_lines(made, [])[-1] == "and 8 more; the overview has them all"


# ---- as it is typed


@pytest.mark.parametrize(
    ("rows", "make", "code"),
    [((2,), make_squares, 0), ((2,), make_outside, 2), ((2, 4), make_outside, 1)],
)
def test_the_exit_code_is_that_of_the_worst_sheet(tmp_path, monkeypatch, rows, make, code):
    lines = TABLE.splitlines()
    table = write_table(tmp_path, "\n".join([lines[0], *(lines[k - 1] for k in rows)]))
    monkeypatch.setattr(running, "one_each", lambda _function, items, count: here(make, items))
    out = tmp_path / "out"
    answer = CliRunner().invoke(cli.app, ["many", str(table), "--out", str(out), "--quick"])
    assert answer.exit_code == code, answer.output
    assert answer.output.splitlines()[-1] == (
        f"written to {out}: open {out / 'overview.html'} in a browser"
    )


def test_a_fault_before_any_work_is_one_plain_line(tmp_path):
    answer = CliRunner().invoke(cli.app, ["many", str(tmp_path), "--out", str(tmp_path / "out")])
    assert answer.exit_code == cli.BAD_SHEET
    assert answer.output.splitlines() == [
        f"{tmp_path} holds 0 sheets (.toml); expected 1 to 1000"
    ]
