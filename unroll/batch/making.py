"""One sheet made whole: its files, what they come to, and its folder among many."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import shapely
from pydantic import TypeAdapter, ValidationError

from unroll.arm_job import COARSE, FINE
from unroll.batch.orders import Order
from unroll.disk.atomic import check_out, is_whole, write_folder
from unroll.disk.cut_shapes import CUT_SHAPES, shapes_json
from unroll.disk.outputs import PARTS, Files, job_files, job_pictures
from unroll.disk.print_files import guide_files, pattern_files, piece_files
from unroll.disk.reading import bounded_bytes
from unroll.errors import UnrollError, one_line
from unroll.job import Job
from unroll.nouns import FIGURES, ArmResult, Made, MakeResult, Piece, Ready
from unroll.nouns.batch import Outline
from unroll.nouns.values import fingerprint
from unroll.paper.layouts import paper_called
from unroll.show.numbers import plain
from unroll.show.words import headline_of, layout_caution
from unroll.version import VERSION

SUMMARY = "summary.json"
LARGEST_SUMMARY = 1_000_000  # bytes; some 4000
COARSELY = 1.0  # mm that a small picture's outline may stray
T = TypeVar("T")
_MADE = TypeAdapter(Made)
# Drawing is not made for several threads of one process, which a cluster's worker may have.
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, eq=False)
class Whole:
    """All that the main job writes, and what it comes to.

    Attributes
    ----------
    result : MakeResult
    ready : Ready or None
        None where nothing can be printed.
    withheld : tuple of str
        Why nothing can be printed.
    files : mapping of str to bytes or str
    """

    result: MakeResult
    ready: Ready | None
    withheld: tuple[str, ...]
    files: Files

    @property
    def is_within(self) -> bool:
        """Whether all is within its limits."""
        return all_within(self.result, self.ready)


@dataclass(frozen=True)
class Settings:
    """How every sheet of many is made.

    Attributes
    ----------
    search : {LOOK, COARSE, FINE}
    corrects : bool
    edge : float
        As for `Job`.
    paper : str or None
        Instead of the sheets' own.
    """

    search: int = FINE
    corrects: bool = True
    edge: float = 5.0
    paper: str | None = None



def settings_for(*, quick: bool = False, paper: str | None = None) -> Settings:
    """Return the settings that a command's words ask for.

    Raises
    ------
    UnrollError
        When the paper is unknown.
    """
    if paper is not None:
        paper_called(paper)
    return Settings(COARSE if quick else FINE, not quick, paper=paper)


@dataclass(frozen=True, eq=False)
class Task:
    """One order with all that it takes to make it anywhere.

    Attributes
    ----------
    order : Order
    settings : Settings
    folder : str
        To be written.
    version : str
        Of the program that asks for it.
    overwrites : bool
        Whether a folder made from another sheet may be replaced.
    """

    order: Order
    settings: Settings
    folder: str
    version: str = VERSION
    overwrites: bool = False

    @property
    def key(self) -> str:
        """What tells this sheet, these settings and this version from any other."""
        return fingerprint(self.order.sheet, self.settings, self.version)

    def failed(self, *lines: str) -> Made:
        """Return the order as not made, for the reasons given."""
        return Made(self.order.name, self.order.source, faults=tuple(map(one_line, lines)))


def whole(job: Job, result: MakeResult, *, paper: str | None = None) -> Whole:
    """Return every file of the main job.

    Other cores draw pictures and pages while this one lays the pieces out and writes the report.
    """
    beside, kept = partial(job.workers.beside, _draw), job.workers.kept
    ready, withheld = None, []
    pictures = [beside(job_pictures, result, part) for part in PARTS]
    try:
        ready = job.ready(result, paper=paper)
    except UnrollError as error:
        withheld = str(error).splitlines()
    job.progress.reached(0.8)
    job.progress("drawing and writing")
    files: Files = {}
    printed = []
    if ready is not None:
        printed = [beside(of, ready) for of in (pattern_files, guide_files)]  # the longer first
        files = piece_files(ready)
    arms, sewn = (kept(promise) for promise in pictures)
    drawn = {side: arms[side] | sewn[side] for side in arms}
    files |= job_files(result, ready=ready, pictures=drawn)
    for promise in printed:
        files |= kept(promise)
    return Whole(result, ready, tuple(withheld), files)


def _draw(of: Callable[..., T], *given: Any) -> T:
    """Draw: whoever waits for something drawn may take on whatever is to be drawn."""
    return of(*given)


def all_within(result: MakeResult, ready: Ready | None) -> bool:
    """Tell whether all is within its limits, and all of it printed."""
    verdicts = [verdict for arm in result.arms for verdict in arm.verdicts]
    faults = [fault for arm in result.arms for fault in arm.faults]
    return bool(ready and not ready.faults and not faults and all(v.is_met for v in verdicts))


def make_one(task: Task) -> Made:
    """Make one sheet and write its folder; whatever goes wrong is told, and stops nothing else.

    A folder that holds the same already is left as it is.
    """
    with _ONE_AT_A_TIME:
        try:
            return kept(task) or _make(task)
        except UnrollError as error:
            return task.failed(*str(error).splitlines())
        except Exception as error:  # the others are to be made whatever is wrong with this one
            return task.failed(f"the program failed on it: {type(error).__name__}: {error}")


def kept(task: Task) -> Made | None:
    """Return what an earlier run made of the same sheet, where its folder is whole; else None."""
    folder = Path(task.folder)
    try:
        text = bounded_bytes(folder / SUMMARY, most=LARGEST_SUMMARY)
        made = _MADE.validate_json(text)
    except (UnrollError, ValidationError):
        return None
    if made.key != task.key or not is_whole(folder):
        return None
    return replace(made, name=task.order.name, source=task.order.source)


def _make(task: Task) -> Made:
    order, settings = task.order, task.settings
    if order.sheet is None:
        return task.failed(*order.faults)
    if task.version != VERSION:
        return task.failed(f"this worker has version {VERSION}; expected {task.version} (install "
                           "the same on every machine)")  # fmt: skip
    check_out(Path(task.folder), overwrite=task.overwrites)
    job = Job(
        order.sheet, corrects=settings.corrects, search=settings.search, edge=settings.edge
    )
    found = whole(job, job.everything(), paper=settings.paper)
    made = _summary(task, found)
    files = dict(found.files)
    if found.ready is not None:
        files[CUT_SHAPES] = shapes_json(found.ready.finished)
    return write_made(task, made, files)


def write_made(task: Task, made: Made, files: Files) -> Made:
    """Write a task's folder, with what it came to as `summary.json`; return that.

    Raises
    ------
    UnrollError
        When the disk refuses, or something lies there that is not to be replaced.
    """
    summary = json.dumps(asdict(made), ensure_ascii=False) + "\n"
    files = {**files, SUMMARY: summary}
    left = write_folder(Path(task.folder), files, overwrite=task.overwrites)
    return replace(made, warnings=(*made.warnings, left)) if left else made


def _summary(task: Task, found: Whole) -> Made:
    result, ready, sheet = found.result, found.ready, found.result.sheet
    fits = [arm.fit for arm in result.arms if arm.fit is not None]
    return Made(
        task.order.name,
        task.order.source,
        key=task.key,
        owner=sheet.owner,
        unit=sheet.unit,
        verdict=" ".join(headline_of(result, arm) for arm in result.arms),
        is_within=found.is_within,
        figures={
            figure.key: plain(max(figure.of(fit) for fit in fits)) for figure in FIGURES if fits
        },
        cloth=sheet.cloth.name,
        cloth_width=float(sheet.cloth.width),
        cloth_length=0.0 if ready is None else float(ready.plan.length),
        pages=0 if ready is None else len(ready.pattern),
        warnings=tuple(dict.fromkeys(_warnings(found))),
        outlines=tuple(_coarse(piece) for arm in result.arms for piece in arm.to_cut),
    )  # fmt: skip


def _warnings(found: Whole) -> Iterator[str]:
    """Yield what is worth a second look, what is outside its limits first."""
    yield from found.withheld
    if found.ready is not None:
        yield from found.ready.faults
    for arm in found.result.arms:
        yield from filter(None, [_caution(found, arm)])
        yield from (f"{row.name}: {row.note}" for row in arm.tape if row.note)
    yield from (notice.text for notice in found.result.sheet.notices)


def _caution(found: Whole, arm: ArmResult) -> str:
    return layout_caution(arm, found.result.sheet.make, found.result.sheet.unit)


def _coarse(piece: Piece) -> Outline:
    line = shapely.Polygon(piece.outline).exterior.simplify(COARSELY)
    points = np.round(shapely.get_coordinates(line)[:-1], 1)
    return tuple((float(x), float(y)) for x, y in points)
