"""The commands: words to values and back. The only module that prints."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape
from rich.status import Status

from unroll.correct.unrolling import Tell
from unroll.disk.atomic import write_blank, write_folder
from unroll.disk.outputs import draft_files, job_files, preview_files, redraft_files, sewn_files
from unroll.disk.print_files import Files, guide_section, print_files
from unroll.disk.sheets import load_sheet
from unroll.errors import UnrollError
from unroll.job import (
    FINE_EDGE_MM,
    PREVIEW,
    Scope,
    draft_arm,
    get_ready,
    make_result,
    redraft_arm,
    refit_sheet,
)
from unroll.nouns import Drafted, Filled, MakeResult, Ready
from unroll.paper.layouts import paper_called
from unroll.paper.measuring_guide import guide_figure
from unroll.sheets.blank import blank_sheet
from unroll.show.redrawn import redrawn_lines
from unroll.show.stage_sections import stage_sections

app = typer.Typer(
    help="See an arm before cloth is cut: from a sheet of measures to flat pieces.",
    no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False,
)  # fmt: skip
console = Console(stderr=True, highlight=False, soft_wrap=True)

SheetFile = Annotated[Path, typer.Argument(help="Your sheet of measures.", metavar="SHEET")]
Out = Annotated[Path, typer.Option("--out", help="The folder to write; made new.")]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="Replace a folder that an earlier run wrote.")
]
Edge = Annotated[
    float,
    typer.Option("--edge", help="Edge of the 3D mesh, mm; smaller is finer.", min=2, max=30),
]
Paper = Annotated[
    str | None,
    typer.Option("--paper", help="a4, a3, letter, tabloid, a0 or roll; else the sheet's."),
]
Source = Annotated[
    str | None,
    typer.Option("--pieces", help="corrected, unrolled, drafted-ease or drafted-darts."),
]
Quick = Annotated[
    bool,
    typer.Option(
        "--quick", help="Do not search darts or correct the pieces: seconds, not half a minute."
    ),
]
Correct = Annotated[
    bool,
    typer.Option(
        "--correct",
        help="Also change its numbers until the arm sewn from it comes nearest; some ten seconds.",
    ),
]


@app.command()
def make(
    sheet_file: SheetFile, out: Out = Path("out"), overwrite: Overwrite = False,
    edge: Edge = FINE_EDGE_MM,
    quick: Quick = False,
) -> None:  # fmt: skip
    """Make everything: the 3D arm, the pieces to print, the pictures and the report."""
    with _progress() as tell, ProcessPoolExecutor(max_workers=1) as other:
        scope = Scope(edge=edge, correct=not quick, certain=not quick)
        result = make_result(load_sheet(sheet_file), scope=scope, tell=tell, beside=other.submit)
        tell("laying the pieces on cloth and paper, drawing and writing")
        files, untrue = _all_files(result, other)
        write_folder(out, files, overwrite=overwrite)
        _say(result)
        _lines(untrue)
        hint = f"; print {out / 'pattern.pdf'}" if "pattern.pdf" in files else ""
        _written(out, f"open {out / 'report.html'} in a browser{hint}")


@app.command()
def preview(
    sheet_file: SheetFile, out: Out = Path("preview"), overwrite: Overwrite = False
) -> None:
    """Draw the arm and its pieces in a few seconds: pictures and the 3D file alone."""
    with _progress() as tell:
        result = make_result(load_sheet(sheet_file), scope=PREVIEW, tell=tell)
        tell("drawing and writing")
        write_folder(out, preview_files(result), overwrite=overwrite)
        _written(out, f"look at {out / 'pictures'}")


@app.command()
def sheet(
    out: Annotated[Path, typer.Option("--out", help="The sheet's file.")] = Path("my_arm.toml"),
    unit: Annotated[str, typer.Option("--unit", help="in, cm or mm.")] = "cm",
) -> None:
    """Write a blank sheet to fill in, and a page that shows where each tape goes."""
    with _progress():
        blank, guide = write_blank(out, blank_sheet(unit), guide_figure())
        console.print(escape(f"print {guide}, then fill in {blank}"))


@app.command()
def draft(
    sheet_file: SheetFile, out: Out = Path("draft"), overwrite: Overwrite = False,
    correct: Correct = False,
) -> None:  # fmt: skip
    """Draft the arm by the flat rules alone, and walk its seams."""
    with _progress() as tell:
        given = load_sheet(sheet_file)
        make, cloth = given.make, given.cloth
        tell("drafting by the flat rules")
        drafts = [draft_arm(measures, make, cloth) for measures in given.arms]
        files = draft_files(given, drafts)
        redrawn = []
        if correct:
            redrawn = [redraft_arm(arm, make, cloth, tell=tell) for arm in given.arms]
            tell("drawing and writing")
            files |= redraft_files(given, redrawn)
        write_folder(out, files, overwrite=overwrite)
        for drafted in drafts:
            _draft_lines(drafted)
        for arm, found in zip(given.arms, redrawn, strict=False):
            side = arm.side if len(given.arms) > 1 else ""
            _lines(redrawn_lines(found, given.unit, side=side))
        _written(out, f"look at {out / 'corrected_draft.html' if correct else out}")


@app.command()
def sew(
    sheet_file: SheetFile,
    out: Out = Path("sewn"),
    overwrite: Overwrite = False,
    quick: Quick = False,
) -> None:
    """Sew and fill the pieces numerically: where does the cap stand off the shoulder?"""
    with _progress() as tell:
        scope = Scope(correct=not quick, certain=False)
        result = make_result(load_sheet(sheet_file), scope=scope, tell=tell)
        tell("drawing and writing")
        write_folder(out, sewn_files(result), overwrite=overwrite)
        _lines([_words(arm.filled) for arm in result.arms])
        _written(out, f"look at {out}")


@app.command(name="refit")
def refit_command(
    sheet_file: SheetFile, out: Out = Path("refitted"), overwrite: Overwrite = False
) -> None:
    """Explain a sewn trial from its measures, and make pieces corrected for your own cloth."""
    with _progress() as tell, ProcessPoolExecutor(max_workers=1) as other:
        given, found = refit_sheet(load_sheet(sheet_file), tell=tell)
        _lines(found.lines)
        # Drawn smaller by what is sewn outside the lines, they meet the ends only once sewn.
        scope = Scope(certain=False)
        result = make_result(given, scope=scope, closings=(found.closing,), tell=tell)
        tell("laying the pieces on cloth and paper, drawing and writing")
        files, untrue = _all_files(result, other)
        write_folder(out, files, overwrite=overwrite)
        _lines(untrue)
        _written(out, f"open {out / 'report.html'} in a browser")


@app.command(name="print")
def print_command(
    sheet_file: SheetFile, paper: Paper = None, source: Source = None,
    out: Out = Path("print"), overwrite: Overwrite = False,
) -> None:  # fmt: skip
    """Print the pieces ready to cut, at true scale, for your printer's paper."""
    with _progress() as tell:
        given = load_sheet(sheet_file)
        paper_called(paper or given.make.paper)  # an unknown name is told before the work
        corrects = source in (None, "corrected")
        scope = Scope(correct=corrects, fill=False, certain=False)
        result = make_result(given, scope=scope, tell=tell)
        tell("laying the pieces on cloth and paper")
        ready = get_ready(result, paper=paper, source=source)
        files = print_files(ready)
        write_folder(out, files, overwrite=overwrite)
        _lines((*ready.faults, *ready.facts.cautions))
        _written(out, f"{len(ready.pattern)} pages; print {out / 'pattern.pdf'} at 100 %")


@contextmanager
def _progress() -> Iterator[Tell]:
    """Show each step on a terminal, nothing when piped; a fault becomes its plain lines."""
    try:
        if not console.is_terminal:
            yield lambda _message: None
            return
        with Status("reading the sheet", console=console) as status:
            yield status.update
    except UnrollError as error:
        _lines(str(error).splitlines())
        raise typer.Exit(1) from None


def _ready(result: MakeResult) -> tuple[Ready | None, list[str]]:
    """Return what is to be printed, or the reason why not: the report is worth having without."""
    try:
        ready = get_ready(result)
        return ready, list(ready.faults)
    except UnrollError as error:
        return None, str(error).splitlines()


def _all_files(
    result: MakeResult, other: Executor
) -> tuple[Files, list[str]]:
    """Return every file of the main job, and why nothing is printed where a seam is wrong.

    A second core draws the report's figures while the pieces are laid out, then the pages.
    """
    sections = other.submit(stage_sections, result)
    ready, untrue = _ready(result)
    if ready is None:
        return job_files(result, sections=sections.result()), untrue
    pages = other.submit(print_files, ready)
    guide = guide_section(ready, result.sheet)
    files = job_files(result, sections=(*sections.result(), guide))
    return files | pages.result(), untrue


def _say(result: MakeResult) -> None:
    """Print what the maker must know before she opens the report."""
    for arm in result.arms:
        _lines(arm.advice.values())
        _lines([_words(arm.filled)])
        _lines([f"note: {row.name} {row.note}" for row in arm.tape if row.note])
    _lines([f"note: {notice.text}" for notice in result.sheet.notices])


def _draft_lines(drafted: Drafted) -> None:
    _lines([drafted.advice] if drafted.advice else [])
    _lines(notice.text for notice in drafted.notices)
    for source, seams in drafted.walked.items():
        _lines(f"{source}, {seam.name}: {seam.text}" for seam in seams)


def _words(filled: Filled | None) -> str:
    return filled.words if filled else ""


def _lines(lines: Iterable[str]) -> None:
    for line in lines:
        console.print(escape(line))


def _written(out: Path, hint: str) -> None:
    console.print(escape(f"written to {out}: {hint}"))


def main() -> None:
    """Run the commands; a polite request to stop cleans up like any other end."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    sys.exit(app())
