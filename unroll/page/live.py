"""Works beside the page: a first look at each change, more at rest, and what she asks for."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from unroll.arm_job import FINE, LOOK
from unroll.arms.levels import Start
from unroll.disk.own_pieces import read_sent
from unroll.errors import UnrollError, one_line
from unroll.job import Job
from unroll.nouns import ArmMeasures, Cloth, DartChoice, Make, MakeResult, Ready, Sheet
from unroll.nouns.values import fingerprint
from unroll.page.showing import Told, arm_told, own_told, trial_told, words_told
from unroll.page.sketching import (
    Layout,
    better_pieces,
    sketched_arm,
    sketched_pieces,
)
from unroll.progress import Cancelled, Progress
from unroll.workers import Alone, Promise, each_kept

REST_S = 1.0  # without a change, before the slower work begins
WAIT_S = 0.02  # between looks whether work that is waited for was given up
EDGE_MM = 8.0  # of the measured arm's mesh, once she rests

Tell = Callable[[Told], None]


class Latest:
    """A thread that works on the newest thing it was given; what came between is dropped.

    Parameters
    ----------
    work : callable
        Is given each thing.
    """

    def __init__(self, work: Callable[[Any], None]) -> None:
        self._work = work
        self._change = threading.Condition()
        self._next: tuple[Any, ...] = ()
        self._ends = self._is_at_work = False
        threading.Thread(target=self._run, daemon=True).start()

    def give(self, thing: Any) -> None:
        """Have this worked on next, whatever waited."""
        with self._change:
            self._next = (thing,)
            self._change.notify()

    @property
    def is_busy(self) -> bool:
        """Whether something is worked on, or waits."""
        with self._change:
            return self._is_at_work or bool(self._next)

    def end(self) -> None:
        """End after what is being done."""
        with self._change:
            self._ends, self._next = True, ()
            self._change.notify()

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._next or self._ends)
                if self._ends:
                    return
                (thing,), self._next = self._next, ()
                self._is_at_work = True
            self._work(thing)
            with self._change:
                self._is_at_work = False


class Givable(Alone):
    """Other cores whose answers are waited for until the run is cancelled, and no longer.

    Parameters
    ----------
    others : Alone
    progress : Progress
    """

    def __init__(self, others: Alone, progress: Progress) -> None:
        self._others, self._progress = others, progress

    def each(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """Return the function's answer to each item, in order.

        Raises
        ------
        Cancelled
            When the run was; what is at work then ends by itself.
        """
        return each_kept(self, function, items)

    def beside(self, function: Callable[..., Any], *given: Any) -> Promise:
        """Return the promise of an answer."""
        return self._others.beside(function, *given)

    def kept(self, promise: Promise) -> Any:
        """Return what a promise comes to."""
        while not promise.done():
            self._progress.pause(WAIT_S)
        return promise.result()


@dataclass(frozen=True)
class Change:
    """A sheet as it was at some revision."""

    sheet: Sheet
    revision: int


@dataclass(frozen=True)
class Task:
    """Slower work on a change.

    Attributes
    ----------
    name : str
        "rest", "correct", "print", "trial" or "own".
    change : Change
    paper : str
        To print on; "" for the sheet's.
    files : tuple of (str, bytes)
        Of her own draft.
    """

    name: str
    change: Change
    paper: str = ""
    files: tuple[tuple[str, bytes], ...] = ()


@dataclass(frozen=True, eq=False)
class Found:
    """What was worked out in full; `withheld` says why pages could not be made."""

    revision: int
    job: Job
    result: MakeResult
    ready: Ready | None = None
    withheld: tuple[str, ...] = ()


class Live:
    """Keeps what the page shows in step with the sheet.

    Parameters
    ----------
    tell : callable
        Is given plain values to show; from any thread.
    quick, others : Alone
        Other cores, for the first look and for the slower work.

    Attributes
    ----------
    found : Found or None
        What was corrected last.
    own : Found or None
        Her own draft as it was judged last.
    """

    def __init__(self, tell: Tell, quick: Alone, others: Alone) -> None:
        self._tell, self._quick, self._others = tell, quick, others
        self._change: Change | None = None
        self._progress = Progress()
        self._job: Job | None = None
        self._layouts: dict[str, Layout] = {}
        self._seen: dict[str, str] = {}
        self._starts: dict[str, Start | None] = {}  # where the next loft of each may start
        self.found: Found | None = None
        self.own: Found | None = None
        self._arms = Latest(self._sketch_arms)
        self._pieces = Latest(self._sketch_pieces)
        self._tasks = Latest(self._do)

    def show(self, sheet: Sheet | None, revision: int) -> None:
        """Show another state of the sheet; older work on it ends."""
        self._progress.cancel()
        if sheet is None:
            self._change = None
            self._seen.clear()  # once it is mended, all is shown again
            self._tell({"kind": "waiting", "revision": revision})
            return
        change = self._change = Change(sheet, revision)
        sketched = Change(replace(sheet, scanned=None), revision)  # the scan itself is large
        self._arms.give(sketched)
        self._begin(Task("rest", change))

    def ask(
        self, name: str, paper: str = "", files: tuple[tuple[str, bytes], ...] = ()
    ) -> None:
        """Begin a task: "correct", "print", "trial" or "own".

        Raises
        ------
        UnrollError
            While the sheet has faults.
        """
        if self._change is None:
            raise UnrollError("the sheet has faults; mend what is marked first")
        self._begin(Task(name, self._change, paper, files))

    def cancel(self) -> None:
        """Give up what is being worked out."""
        self._progress.cancel()

    def end(self) -> None:
        """End all work."""
        self._progress.cancel()
        for one in (self._arms, self._pieces, self._tasks):
            one.end()

    # ---- the first look

    def _sketch_arms(self, change: Change) -> None:
        promised = [
            self._quick.beside(sketched_arm, change.sheet, index, self._start("arm", arm))
            for index, arm in enumerate(change.sheet.arms)
            if self._is_new("arm", arm.side, arm, change.sheet.make.inner_share, change.sheet.unit,
                            len(change.sheet.arms))
        ]  # fmt: skip
        for one in promised:
            self._tell_kept(change, "arm", one.result)
        self._pieces.give(change)  # not before: it would take a core from what is seen first

    def _sketch_pieces(self, change: Change) -> None:
        sheet = change.sheet
        promised = [
            self._quick.beside(
                sketched_pieces, sheet, index, self._layout(sheet, index),
                self._start("pieces", arm),
            )
            for index, arm in enumerate(sheet.arms)
            if self._is_new("pieces", arm.side, arm, *_on_pieces(sheet))
        ]  # fmt: skip
        for one in promised:
            self._tell_kept(change, "pieces", one.result)

    def _is_new(self, kind: str, side: str, *on: Any) -> bool:
        key = fingerprint(on)
        is_new = self._seen.get(f"{kind} {side}") != key
        self._seen[f"{kind} {side}"] = key
        return is_new

    def _start(self, kind: str, arm: ArmMeasures) -> Start | None:
        return self._starts.get(f"{kind} {arm.side}")

    def _tell_kept(
        self, change: Change, kind: str, work: Callable[[], tuple[Told, Start | None]]
    ) -> None:
        """Tell what some work gives; what cannot be worked out is told in its words."""
        try:
            told, start = work()
            self._starts[f"{kind} {told['side']}"] = start
        except Exception as error:
            self._seen.clear()
            told = {"trouble": _in_words(error)}
        self._tell({"kind": kind, "revision": change.revision, **told})

    def _layout(self, sheet: Sheet, index: int) -> Layout | None:
        """Return the darts that were found last for such a make; None where there are none yet."""
        return self._layouts.get(_layout_key(sheet, index))

    # ---- slower work

    def _begin(self, task: Task) -> None:
        self._progress.cancel()
        self._progress = progress = Progress(
            lambda step, share: self._tell(
                {"kind": "progress", "task": task.name, "step": step, "share": share}
            )
        )
        self._tasks.give((task, progress))

    def _do(self, given: tuple[Task, Progress]) -> None:
        task, progress = given
        trouble = ""
        try:
            if task.name == "rest":
                progress.pause(REST_S)
                while self._arms.is_busy or self._pieces.is_busy:
                    progress.pause(WAIT_S)
            progress(_FIRST[task.name])
            getattr(self, f"_{task.name}")(task, progress)
        except Cancelled:
            pass
        except Exception as error:
            trouble = _in_words(error)
        self._tell({"kind": "done", "task": task.name, "trouble": trouble})

    def _job_for(self, task: Task, progress: Progress, **how: Any) -> Job:
        sheet = task.change.sheet
        if self._job is None:
            self._job = Job(sheet, edge=EDGE_MM)
        others = Givable(self._others, progress)
        how = {"own": None, **how}
        self._job = self._job.for_sheet(sheet, progress=progress, workers=others, **how)
        return self._job

    def _rest(self, task: Task, progress: Progress) -> None:
        """Look for the darts, foretell better, then sew what the pieces are compared with."""
        sheet, change = task.change.sheet, task.change
        job = self._job_for(task, progress, corrects=False, search=LOOK)
        for index, arm in enumerate(job.arms):
            taken = arm.layouts[0]
            layout = self._layouts[_layout_key(sheet, index)] = (taken.darts, taken.ease)
            progress("foretelling the corrected pieces")
            others = Givable(self._others, progress)
            light = replace(sheet, scanned=None)
            better, _ = others.kept(others.beside(better_pieces, light, index, layout))
            self._tell({"kind": "pieces", "revision": change.revision, **better})
        result = job.filled()
        told = [arm_told(result, arm) for arm in result.arms]
        progress.pause(0.0)
        for one in told:
            self._tell({"kind": "layers", "revision": change.revision, "side": one["side"],
                        "models": one["models"], "tape": one["tape"]})  # fmt: skip

    def _correct(self, task: Task, progress: Progress) -> Found:
        """Correct the pieces in full, as the whole job does."""
        job = self._job_for(task, progress, corrects=True, search=FINE)
        result = job.filled()
        for index, arm in enumerate(result.arms):
            taken = arm.layouts[0]
            self._layouts[_layout_key(task.change.sheet, index)] = (taken.darts, taken.ease)
        return self._show_found(Found(task.change.revision, job, result))

    def _show_found(self, found: Found) -> Found:
        self.found = found
        for arm in found.result.arms:
            self._tell({"kind": "corrected", "revision": found.revision,
                        **arm_told(found.result, arm)})  # fmt: skip
        self._tell({"kind": "words", "revision": found.revision,
                    "lines": words_told(found.result)})  # fmt: skip
        return found

    def _print(self, task: Task, progress: Progress) -> None:
        """Lay the corrected pieces on pages."""
        found = self.found
        if found is None or found.revision != task.change.revision:
            found = self._correct(task, progress)
        ready = found.job.ready(found.result, paper=task.paper or None)
        self.found = replace(found, ready=ready)
        self._tell({
            "kind": "ready", "revision": found.revision,
            "paper": task.paper or task.change.sheet.make.paper,
            "pages": [page.name for page in ready.pattern],
            "sizes": [[page.width, page.height] for page in ready.pattern],
            "faults": list(ready.faults), "cautions": list(ready.facts.cautions),
        })  # fmt: skip

    def _trial(self, task: Task, progress: Progress) -> None:
        """Explain a sewn trial, and correct the pieces for it."""
        job = self._job_for(task, progress, corrects=True, search=FINE)
        refitted, found = job.refitted()
        self._tell({"kind": "trial", "revision": task.change.revision,
                    **trial_told(found.rows, found.lines, task.change.sheet.unit)})  # fmt: skip
        self._show_found(Found(task.change.revision, refitted, refitted.filled()))

    def _own(self, task: Task, progress: Progress) -> None:
        """Judge her own draft, as the command does."""
        draft = read_sent(task.change.sheet, task.files)
        progress.pause(0.0)
        job = self._job_for(task, progress, corrects=False, search=LOOK, own=draft)
        own = Found(task.change.revision, job, job.checked())
        try:
            self.own = replace(own, ready=job.ready_change(own.result))
        except UnrollError as error:
            self.own = replace(own, withheld=tuple(str(error).splitlines()))
        result = own.result
        for arm in result.arms:
            self._tell({"kind": "own", "revision": task.change.revision, **own_told(result, arm)})


_FIRST = {
    "rest": "looking closer",
    "correct": "correcting the pieces",
    "print": "getting the pages ready",
    "trial": "explaining the trial",
    "own": "reading your draft",
}


def _in_words(error: Exception) -> str:
    """Return what went wrong, in one line; a fault that is not the maker's says so."""
    if isinstance(error, UnrollError):
        return one_line(" ".join(str(error).splitlines()))
    return one_line(f"this went wrong inside the program: {type(error).__name__}: {error}")


def _on_pieces(sheet: Sheet) -> tuple[Any, ...]:
    """Return what sketched pieces depend on beside the arm's measures."""
    make = replace(sheet.make, paper="", seam_allowance=0.0, seam_allowances={}, round_to=None)
    cloth = replace(sheet.cloth, name="", width=Cloth().width)
    return make, cloth, sheet.unit, len(sheet.arms)


def _layout_key(sheet: Sheet, index: int) -> str:
    """Return a word that changes with what the sheet says of darts."""
    make: Make = sheet.make
    darts: tuple[DartChoice, ...] = make.darts
    return fingerprint(
        sheet.arms[index].side, make.cap, make.cap_ease, make.dart_count, darts, make.widest_dart,
        make.narrowest_tongue, make.widest_point_deg, make.most_darts,
    )
