"""How a run speaks to a terminal: its progress, its plain lines, its exit codes."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import typer
from rich.console import Console
from rich.markup import escape
from rich.status import Status

from unroll.errors import UnrollError, one_line
from unroll.progress import Cancelled, Progress
from unroll.undocumented import undocumented

console = Console(stderr=True, highlight=False, soft_wrap=True, emoji=False)

BAD_SHEET, OUTSIDE, FAILED = 1, 2, 3  # exit codes; 0 where all is within its limits
TRACE = "UNROLL_TRACE"  # set, a fault of the program itself shows where it lies


@contextmanager
def shown() -> Iterator[Progress]:
    """Give a progress that is shown on a terminal, and not at all when piped."""
    if not console.is_terminal:
        with _stopping(Progress()) as progress:
            yield progress
        return
    with (
        Status("reading the sheet", console=console) as status,
        _stopping(
            Progress(lambda step, share: status.update(f"{share:4.0%} {escape(step)}"))
        ) as progress,
    ):
        yield progress


@contextmanager
def _stopping(progress: Progress) -> Iterator[Progress]:
    """Have Ctrl-C cancel the run too: a library that is being loaded may swallow the exception.

    Where whoever started this process had it ignored, it stays ignored.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        yield progress
        return

    def stop(*_: object) -> None:
        progress.cancel()
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield progress
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def plainly(stopped: str = "stopped; nothing was written") -> Iterator[None]:
    """Turn a fault into its plain lines and its exit code.

    What is loaded meanwhile is loaded without its documentation.
    """
    try:
        with undocumented():
            yield
    except UnrollError as error:
        say(str(error).splitlines())
        raise typer.Exit(BAD_SHEET) from None
    except (KeyboardInterrupt, Cancelled):
        say([stopped])
        raise typer.Exit(130) from None
    except (typer.Exit, typer.Abort, typer.BadParameter):
        raise
    except Exception as error:  # the program's own: a line to a maker, the way there to its makers
        if TRACE in os.environ:
            raise
        what = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        say([f"the program failed on this, by a fault of its own ({what}); nothing was written. "
             f"With {TRACE}=1 set it shows where: please tell its makers"])
        raise typer.Exit(FAILED) from None


def say(lines: Iterable[str]) -> None:
    """Print lines, each on one line whatever stands in it."""
    for line in lines:
        console.print(escape(one_line(line)))


def write_out(out: Path, files: Mapping[str, bytes | str], overwrite: bool) -> None:
    """Write the folder, and say what of the old one could not be taken away."""
    from unroll.disk.atomic import write_folder

    left = write_folder(out, files, overwrite=overwrite)
    say([left] if left else [])


def say_written(out: Path, hint: str) -> None:
    """Say where a run wrote, and what to do with it."""
    say([f"written to {out}: {hint}"])
