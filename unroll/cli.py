"""The commands: words to values and back."""

from __future__ import annotations

import gc
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, cast

import typer

from unroll.errors import UnrollError
from unroll.garbage import look_seldom
from unroll.terminal import BAD_SHEET, OUTSIDE, plainly, say, say_written, shown, write_out

# What computes and draws is loaded by the command that needs it, so that --help answers at once.
if TYPE_CHECKING:
    from unroll.job import Job
    from unroll.nouns import MakeResult, Ready
    from unroll.units import Unit

app = typer.Typer(
    help="See an arm before cloth is cut: from a sheet of measures to flat pieces.",
    no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False,
)  # fmt: skip

BESIDE = 4  # niceness of the workers: this process has the longest way to go

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
SourceName = Annotated[
    str | None,
    typer.Option(
        "--pieces", help="corrected, unrolled, with-darts, drafted-ease or drafted-darts."
    ),
]
OverwriteFile = Annotated[bool, typer.Option("--overwrite", help="Replace the file.")]
Draft = Annotated[
    list[Path] | None,
    typer.Option("--draft", help="Drawings and photographs of your pieces; one or more."),
]
DraftFiles = Annotated[
    list[Path] | None, typer.Argument(help="More of them.", metavar="[FILE]...")
]
ArmFile = Annotated[
    Path | None,
    typer.Option(
        "--arm", metavar="FILE",
        help="A scan of the arm (obj, ply, stl, glb, off) in place of the tape.",
    ),
]
Quick = Annotated[
    bool,
    typer.Option(
        "--quick", help="End the search for darts early and do not correct the pieces: seconds."
    ),
]
Correct = Annotated[
    bool,
    typer.Option(
        "--correct",
        help="Also change its numbers until the arm sewn from it comes nearest; some ten seconds.",
    ),
]


@app.command(name="open")
def open_command(
    sheet_file: Annotated[
        Path | None,
        typer.Argument(help="Your sheet; my_arm.toml here if left out.", metavar="SHEET"),
    ] = None,
    port: Annotated[
        int, typer.Option("--port", help="0 for any that is free.", min=0, max=65535)
    ] = 0,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address alone.")
    ] = False,
) -> None:
    """Open the page: type measures, and see the arm and its pieces change."""
    with plainly():
        from unroll.page.serving import serve
        from unroll.page.session import opened

        session = opened(sheet_file, Path.cwd())
        serve(session, port=port, say=lambda address: print(address, flush=True),
              browse=not no_browser)  # fmt: skip


@app.command()
def make(
    sheet_file: SheetFile, out: Out = Path("out"), overwrite: Overwrite = False,
    edge: Edge = 5.0, quick: Quick = False, arm: ArmFile = None,
) -> None:  # fmt: skip
    """Make everything: the 3D arm, the pieces to print, the pictures and the report."""
    with _job(
        sheet_file, out, overwrite, edge=edge, quick=quick, scan=arm, drawn="beside"
    ) as job:
        result = job.everything()
        _write_all(job, result, out, overwrite)


@app.command()
def preview(
    sheet_file: SheetFile, out: Out = Path("preview"), overwrite: Overwrite = False,
    arm: ArmFile = None,
) -> None:  # fmt: skip
    """Draw the arm and its pieces in a few seconds: pictures and the 3D file alone."""
    with _job(
        sheet_file, out, overwrite, edge=12.0, quick=True, look=True, scan=arm,
        drawn="beside",
    ) as job:  # fmt: skip
        result = job.shapes()
        job.progress("drawing and writing")
        from unroll.disk.previewing import preview_files

        write_out(out, preview_files(result, each=job.workers.each), overwrite)
        say(f"note: {notice.text}" for notice in job.sheet.notices)
        say_written(out, f"look at {out / 'pictures'}")


@app.command()
def sheet(
    out: Annotated[Path, typer.Option("--out", help="The sheet's file.")] = Path("my_arm.toml"),
    unit: Annotated[str, typer.Option("--unit", help="in, cm or mm.")] = "cm",
    paper: Annotated[str, typer.Option("--paper", help="Of the guide: a4, letter, ...")] = "a4",
) -> None:
    """Write a blank sheet to fill in, and pages that show where each tape goes."""
    with plainly():
        from unroll.disk.atomic import write_blank
        from unroll.paper.measuring_guide import guide_pages
        from unroll.sheets.blank import blank_sheet

        text = blank_sheet(unit)
        blank, guide = write_blank(out, text, guide_pages(paper, cast("Unit", unit)))
        say([f"print {guide}, then fill in {blank}"])


@app.command()
def draft(
    sheet_file: SheetFile, out: Out = Path("draft"), overwrite: Overwrite = False,
    correct: Correct = False,
) -> None:  # fmt: skip
    """Draft the arm by the flat rules alone, and walk its seams."""
    with _job(sheet_file, out, overwrite) as job:
        from unroll.disk.outputs import draft_files, redraft_files
        from unroll.show.draft_steps import draft_lines, draft_steps
        from unroll.show.redrawn import redrawn_lines

        given, drafts = job.sheet, [arm.drafted for arm in job.arms]
        files, redrawn = draft_files(given, drafts), job.redrafts() if correct else ()
        if redrawn:
            job.progress("drawing and writing")
            files |= redraft_files(given, redrawn)
        write_out(out, files, overwrite)
        for drafted in drafts:
            say([drafted.advice] if drafted.advice else [])
            say(notice.text for notice in drafted.notices)
            say(draft_lines(drafted))
        for arm, found in zip(given.arms, redrawn, strict=False):
            side = arm.side if len(given.arms) > 1 else ""
            steps = draft_steps(found, arm, given.make, given.unit)
            say(redrawn_lines(found, given.unit, steps=steps, side=side))
        say_written(out, f"look at {out / 'corrected_draft.html' if correct else out}")


@app.command()
def check(
    sheet_file: SheetFile, more: DraftFiles = None, draft: Draft = None,
    out: Out = Path("checked"), overwrite: Overwrite = False,
) -> None:  # fmt: skip
    """Judge your own draft: drawings (SVG, DXF) or photographs (JPEG, PNG) of its pieces."""
    own = [*(draft or ()), *(more or ())]
    with _job(sheet_file, out, overwrite, quick=True, look=True, own=own) as job:
        from unroll.disk.outputs import check_files
        from unroll.show.own import own_lines

        result, ready, withheld = job.checked(), None, []
        try:
            ready = job.ready_change(result)
        except UnrollError as error:
            withheld = str(error).splitlines()
        job.progress("drawing and writing")
        write_out(out, check_files(result, ready, withheld), overwrite)
        for arm in result.arms:
            say(own_lines(arm, job.sheet.unit))
        say(withheld)
        say_written(out, f"open {out / 'check.html'} in a browser")
        bad = [seam for arm in result.arms if arm.own for seam in arm.own.walked
               if seam.verdict == "wrong"]  # fmt: skip
        met = all(arm.verdicts and all(v.is_met for v in arm.verdicts) for arm in result.arms)
        if bad or not met:
            raise typer.Exit(OUTSIDE)


@app.command()
def cards(
    paper: Paper = None, out: Annotated[
        Path, typer.Option("--out", help="The PDF to write.")
    ] = Path("cards.pdf"), overwrite: OverwriteFile = False,
) -> None:  # fmt: skip
    """Print the corner cards that give a photograph of paper pieces its scale."""
    with plainly():
        from unroll.disk.atomic import check_file, write_file
        from unroll.disk.print_files import pdf_bytes
        from unroll.paper.corner_cards import card_page

        check_file(out, overwrite=overwrite)
        write_file(out, pdf_bytes([card_page(paper or "a4")], title="Corner cards"))
        say([f"print {out} at 100 %, measure its square, and cut the cards out"])


@app.command()
def sew(
    sheet_file: SheetFile,
    out: Out = Path("sewn"),
    overwrite: Overwrite = False,
    quick: Quick = False,
    arm: ArmFile = None,
) -> None:
    """Sew and fill the pieces numerically: where does the cap lie off the shoulder?"""
    with _job(sheet_file, out, overwrite, quick=quick, scan=arm) as job:
        result = job.filled()
        job.progress("drawing and writing")
        from unroll.disk.outputs import sewn_files
        from unroll.show.words import fit_lines

        write_out(out, sewn_files(result), overwrite)
        for one in result.arms:
            say(fit_lines(one, job.sheet.unit))
        say_written(out, f"look at {out}")


@app.command(name="refit")
def refit_command(
    sheet_file: SheetFile, out: Out = Path("refitted"), overwrite: Overwrite = False
) -> None:
    """Explain a sewn trial from its measures, and make pieces corrected for your own cloth."""
    with _job(sheet_file, out, overwrite) as job:
        refitted, found = job.refitted()
        say(found.lines)
        _write_all(refitted, refitted.filled(), out, overwrite)


@app.command(name="print")
def print_command(
    sheet_file: SheetFile, paper: Paper = None, source: SourceName = None,
    out: Out = Path("print"), overwrite: Overwrite = False, arm: ArmFile = None,
) -> None:  # fmt: skip
    """Print the pieces ready to cut, at true scale, for your printer's paper."""
    is_corrected = source in (None, "corrected", "with-darts")
    with _job(sheet_file, out, overwrite, quick=not is_corrected, scan=arm) as job:
        from unroll.disk.outputs import sheet_file as written_sheet
        from unroll.disk.print_files import print_files
        from unroll.paper.layouts import paper_called

        paper_called(paper or job.sheet.make.paper)  # an unknown name is told before the work
        is_usual = source in (None, "corrected", "unrolled")
        result = job.shapes() if is_usual else job.filled()
        ready = job.ready(result, paper=paper, source=source)
        write_out(out, {**print_files(ready), **written_sheet(job.sheet)}, overwrite)
        say(ready.facts.cautions)
        say_written(out, f"{len(ready.pattern)} pages; print {out / 'pattern.pdf'} at 100 %")
        _leave(result, ready)


@app.command()
def many(
    given: Annotated[Path, typer.Argument(
        help="A folder of sheets, a table with a row for each, or one sheet with sizes.",
        metavar="FOLDER_OR_TABLE",
    )],
    out: Out = Path("many"),
    quick: Quick = False,
    jobs: Annotated[int | None, typer.Option(
        "--jobs", help="How many at once; else as many as this machine has cores.", min=1, max=512,
    )] = None,
    scheduler: Annotated[str | None, typer.Option(
        "--scheduler", help="Work on a Dask cluster: its scheduler, such as tcp://workroom:8786.",
    )] = None,
    paper: Paper = None,
    sizes: Annotated[Path | None, typer.Option(
        "--sizes", help="A table of sizes for one sheet, which may list its own instead.",
    )] = None,
    overwrite: Overwrite = False,
) -> None:  # fmt: skip
    """Make many sheets, each in a folder of its own, and one overview; start again to go on."""
    with plainly("stopped; what was done is kept, and the same command goes on from there"):
        from unroll.batch.making import settings_for
        from unroll.batch.orders import orders_for
        from unroll.batch.running import check_overview, each_on, make_all, write_overview
        from unroll.show.overview import many_lines

        settings = settings_for(quick=quick, paper=paper)
        check_overview(out)
        with shown() as progress:
            orders = orders_for(given, sizes, search=settings.search, progress=progress)
            made = make_all(
                orders.each, out, settings, overwrites=overwrite,
                each=each_on(jobs, scheduler), progress=progress,
            )  # fmt: skip
            progress("laying all pieces on cloth, drawing the overview")
            title = f"Made from {given.resolve().name}"
            plans = write_overview(made, out, title=title, sizes=orders.sizes)
        say(many_lines(made, plans))
        say_written(out, f"open {out / 'overview.html'} in a browser")
        states = {one.state for one in made}
        if code := BAD_SHEET if "not made" in states else OUTSIDE if "outside" in states else 0:
            raise typer.Exit(code)


def _write_all(job: Job, result: MakeResult, out: Path, overwrite: bool) -> None:
    """Write every file of the main job, say what matters, and end with what it comes to."""
    from unroll.batch.making import whole
    from unroll.show.words import terminal_lines

    made = whole(job, result)
    write_out(out, made.files, overwrite)
    say(terminal_lines(result, made.ready))
    say(made.withheld)
    hint = f"; print {out / 'pattern.pdf'}" if "pattern.pdf" in made.files else ""
    say_written(out, f"open {out / 'report.html'} in a browser{hint}")
    _leave(result, made.ready)


def _leave(result: MakeResult, ready: Ready | None) -> None:
    """End with the exit code that tells whether all is within its limits."""
    from unroll.batch.making import all_within

    if not all_within(result, ready):
        raise typer.Exit(OUTSIDE)


@contextmanager
def _job(
    sheet_file: Path, out: Path, overwrite: bool, *,
    edge: float = 5.0, quick: bool = False, look: bool = False, scan: Path | None = None,
    own: Sequence[Path] | None = None, drawn: Literal["here", "beside"] = "here",
) -> Iterator[Job]:  # fmt: skip
    """Give the job of a sheet, once its folder can be written; a fault becomes its plain lines.

    What draws is loaded in time, here or by the other cores.
    """
    with plainly():
        from unroll.disk.atomic import check_out
        from unroll.workers import load_drawing, loading, workers

        check_out(out, overwrite=overwrite)
        with loading(), shown() as progress:
            from unroll.disk.sheets import load_sheet

            if scan is None:
                given = load_sheet(sheet_file, tell=progress)
            else:
                from unroll.disk.scans import load_scanned_sheet

                given = load_scanned_sheet(sheet_file, scan, tell=progress)
            pieces = None
            if own is not None:
                from unroll.disk.own_pieces import read_pieces

                pieces = read_pieces(given, own)
            with workers(niceness=BESIDE, shared=True) as others:
                # the workers load the same meanwhile
                from unroll.arm_job import COARSE, FINE, LOOK
                from unroll.job import Job

                if drawn == "beside":
                    others.load_drawing()
                else:
                    others.meanwhile(load_drawing)
                search = LOOK if look else COARSE if quick else FINE
                yield Job(
                    given, corrects=not quick, search=search, edge=edge, progress=progress,
                    workers=others, own=pieces,
                )  # fmt: skip


def main() -> None:
    """Run the commands; a polite request to stop cleans up like any other end."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    look_seldom()
    try:
        sys.exit(app())
    finally:
        gc.freeze()  # Python would look through all that is loaded once more before it ends
