"""Every order made, in a process of its own or on a cluster; and what they come to together."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from concurrent.futures import Future
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

from unroll.batch.making import Settings, Task, kept, make_one
from unroll.batch.orders import Order
from unroll.batch.spreading import on_cluster, one_each
from unroll.disk.atomic import check_beside, write_beside
from unroll.disk.cut_shapes import CUT_SHAPES, shapes_of
from unroll.disk.outputs import Files, page_files
from unroll.disk.pattern_dxf import page_dxf
from unroll.disk.pattern_svg import page_svg
from unroll.disk.print_files import pdf_bytes
from unroll.disk.reading import bounded_bytes
from unroll.errors import UnrollError, one_line
from unroll.finish.cut_plan import cloth_plans
from unroll.finish.grading import graded, nests_of
from unroll.nouns import ClothPlan, FinishedPiece, GradedMeasure, Made
from unroll.paper.cloth_pages import cloth_page, lay_pages
from unroll.paper.nest_page import nest_page, styles_of
from unroll.progress import Progress
from unroll.show.overview import grading_csv, overview_csv, overview_html

TOGETHER = ("overview.html", "overview.csv", "cut_plan.pdf", "cut_plan.svg", "grading.csv")
LARGEST_SHAPES = 20_000_000  # bytes; two arms have some 300 000
Each = Callable[
    [Callable[[Any], Any], Iterable[Any]], Generator[tuple[int, Future[Any]], None, None]
]


def each_on(count: int | None = None, address: str | None = None) -> Each:
    """Return what runs tasks: `count` processes of this machine, or the cluster at an address."""
    if address is not None:
        return partial(on_cluster, address=address)
    return partial(one_each, count=count)


def make_all(
    orders: Sequence[Order],
    out: Path,
    settings: Settings,
    *,
    overwrites: bool = False,
    each: Each = one_each,
    progress: Progress | None = None,
    make: Callable[[Task], Made] = make_one,
) -> tuple[Made, ...]:
    """Make every order into a folder of its own; return what became of each, in their order.

    Parameters
    ----------
    orders : sequence of Order
    out : Path
        The folder that holds theirs; made where it is missing.
    settings : Settings
    overwrites : bool
        Whether a folder made from another sheet, other settings or another version is replaced.
    each : callable
        Runs `make` on tasks: `one_each`, or `on_cluster` with an address.
    progress : Progress, optional
    make : callable
        Makes one task.

    Raises
    ------
    UnrollError
        When the folder cannot be made. Whatever goes wrong with one order is told in its answer.

    Notes
    -----
    What an earlier run made of the same sheet is kept, so that a run that was stopped goes on.
    """
    progress = progress or Progress()
    try:
        out.mkdir(exist_ok=True)
    except OSError as error:
        raise UnrollError(
            f"{one_line(out)} cannot be made: {error.strerror} (is the folder around it missing?)"
        ) from None
    tasks = [
        Task(order, settings, str((out / order.name).absolute()), overwrites=overwrites)
        for order in orders
    ]
    answers: dict[int, Made] = {}
    for place, task in enumerate(tasks):
        done = task.failed(*task.order.faults) if task.order.sheet is None else kept(task)
        if done is not None:
            answers[place] = done
    left = [place for place in range(len(tasks)) if place not in answers]
    started = time.monotonic()
    progress(_told(len(answers), len(tasks), ""))
    with closing(each(make, [tasks[p] for p in left])) as done_ones:
        for count, (which, future) in enumerate(done_ones, start=1):
            place = left[which]
            answers[place] = _answer(tasks[place], future)
            progress.reached(0.95 * len(answers) / len(tasks))
            rest = (len(left) - count) * (time.monotonic() - started) / count
            progress(_told(len(answers), len(tasks), _about(rest)))
    return tuple(answers[place] for place in range(len(tasks)))


def _told(done: int, of: int, rest: str) -> str:
    return f"{done} of {of} sheets done, {of - done} left{rest}"


def _about(seconds: float) -> str:
    minutes = round(seconds / 60)
    return "" if not seconds else f", about {minutes} min" if minutes else ", under a minute"


def _answer(task: Task, future: Future[Any]) -> Made:
    """Return what a task came to, where its process lived to tell and its folder is here."""
    try:
        made: Made = future.result()
    except Exception as error:  # of whatever runs it: a broken pool, a lost worker
        return task.failed(f"the process that made it ended before it was done "
                           f"({type(error).__name__}; out of memory?)")  # fmt: skip
    if not made.faults and not Path(task.folder).is_dir():
        return task.failed(f"{task.folder} is not here, though a worker wrote it; expected a "
                           "folder that all machines share")  # fmt: skip
    return made


def check_overview(out: Path) -> None:
    """Refuse, before any work, a folder whose overview could not be written afterwards."""
    check_beside(out, TOGETHER)


def write_overview(
    made: Sequence[Made], out: Path, *, title: str, sizes: Sequence[str] = ()
) -> tuple[ClothPlan, ...]:
    """Write the overview of all that was made, its cut plan, and the nests of sizes.

    Parameters
    ----------
    made : sequence of Made
    out : Path
        The folder that holds theirs.
    title : str
    sizes : sequence of str
        Names of those that are sizes of one sheet.

    Returns
    -------
    tuple of ClothPlan
        One for each kind of cloth.
    """
    files, plans = _together(made, out)
    found = {one.name: _finished(out / one.name) for one in made if one.name in sizes}
    sized = {name: pieces for name, pieces in found.items() if pieces}
    nested, rows = _nested(sized) if len(sized) > 1 else ({}, ())
    files |= nested
    files["overview.csv"] = overview_csv(made)
    files["overview.html"] = overview_html(
        made, title=title, plans=plans, files=page_files(), links=sorted(files),
        sizes=tuple(sized), grading=rows,
    )  # fmt: skip
    write_beside(out, files)
    return plans


def _finished(folder: Path) -> tuple[FinishedPiece, ...]:
    try:
        return shapes_of(bounded_bytes(folder / CUT_SHAPES, most=LARGEST_SHAPES).decode())
    except (UnrollError, ValueError):  # nothing of it can be cut
        return ()


def _together(made: Sequence[Made], out: Path) -> tuple[Files, tuple[ClothPlan, ...]]:
    """Return the plans that lay all pieces on cloth, and their files."""
    sets = [
        (one.name, one.cloth, one.cloth_width, _finished(out / one.name))
        for one in made if not one.faults
    ]  # fmt: skip
    plans = cloth_plans([one for one in sets if one[3]])
    if not plans:
        return {}, ()
    pages = [page for plan in plans for page in lay_pages(plan)]
    files: Files = {"cut_plan.pdf": pdf_bytes(pages, title="Cut plan of many arms")}
    for number, plan in enumerate(plans, start=1):
        name = "cut_plan.svg" if len(plans) == 1 else f"cut_plan_{number}.svg"
        files[name] = page_svg(cloth_page(plan))
    return files, plans


def _nested(
    sets: Mapping[str, Sequence[FinishedPiece]],
) -> tuple[Files, tuple[GradedMeasure, ...]]:
    nests, files, styles = nests_of(sets), Files(), styles_of(tuple(sets))
    layers = {style: size for size, style in styles.items()}
    pages = [nest_page(nest, styles) for nest in nests]
    for nest, page in zip(nests, pages, strict=True):
        arm = "" if nest.arm == "both" else f"_{nest.arm}"
        name = f"nest_{nest.title.replace(', ', '_').replace(' ', '_')}{arm}"
        files[f"{name}.svg"] = page_svg(page)
        files[f"{name}.dxf"] = page_dxf(page, layers=layers)
    files["nests.pdf"] = pdf_bytes(pages, title="Every piece in every size")
    rows = graded(nests)
    files["grading.csv"] = grading_csv(rows, tuple(sets))
    return files, rows
