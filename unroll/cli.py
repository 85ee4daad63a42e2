"""The commands: words to values and back. The only module that prints."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.status import Status

from unroll.errors import UnrollError
from unroll.files.atomic import write_folder
from unroll.files.outputs import job_files, preview_files
from unroll.files.sheets import load_sheet
from unroll.pipeline.making import FINE_EDGE_MM, PREVIEW_EDGE_MM, make_result
from unroll.pipeline.unrolling import Tell
from unroll.types import MakeResult

app = typer.Typer(
    help="See an arm before cloth is cut: from a sheet of measures to flat pieces.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
console = Console(stderr=True, highlight=False)

SheetFile = Annotated[Path, typer.Argument(help="Your sheet of measures.", metavar="SHEET")]
OutFolder = Annotated[Path, typer.Option("--out", help="The folder to write; made new.")]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="Replace a folder that an earlier run wrote.")
]
Edge = Annotated[
    float,
    typer.Option(
        "--edge", help="Edge length of the 3D mesh in mm; smaller is finer.", min=2.0, max=30.0
    ),
]


@app.command()
def make(
    sheet_file: SheetFile,
    out: OutFolder = Path("out"),
    overwrite: Overwrite = False,
    edge: Edge = FINE_EDGE_MM,
) -> None:
    """Make the pieces, the 3D arm, the pictures and the report."""
    with _progress() as tell:
        sheet = load_sheet(sheet_file)
        result = make_result(sheet, edge=edge, tell=tell)
        tell("drawing and writing")
        write_folder(out, job_files(result), overwrite=overwrite)
    _say(result)
    console.print(f"written to {out}: open {out / 'report.html'} in a browser")


@app.command()
def preview(
    sheet_file: SheetFile, out: OutFolder = Path("preview"), overwrite: Overwrite = False
) -> None:
    """Draw the arm and its pieces in a few seconds: pictures and 3D file alone."""
    with _progress() as tell:
        result = make_result(load_sheet(sheet_file), edge=PREVIEW_EDGE_MM, tell=tell)
        tell("drawing and writing")
        write_folder(out, preview_files(result), overwrite=overwrite)
    console.print(f"written to {out}")


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
        for line in str(error).splitlines():
            console.print(line, markup=False, soft_wrap=True)
        raise typer.Exit(1) from None


def _say(result: MakeResult) -> None:
    """Print what the maker must know before she opens the report."""
    for notice in result.sheet.notices:
        console.print(f"note: {notice.text}", markup=False, soft_wrap=True)
    for arm in result.arms:
        for row in arm.tape:
            if row.note:
                console.print(f"note: {row.name} {row.note}", markup=False, soft_wrap=True)
        for sentence in arm.advice.values():
            console.print(sentence, markup=False, soft_wrap=True)


def main() -> None:
    """Run the commands."""
    sys.exit(app())
