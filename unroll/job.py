"""The main job, as a maker would tell it: loft, dart, lay flat, correct, draft, sew, print."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, TypeVar

from unroll import arm_results
from unroll.arm_job import FINE, ArmJob
from unroll.correct.refit import refit
from unroll.errors import UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.truing import check_truing
from unroll.maths.membrane import enclosed_volume
from unroll.nouns import (
    ArmResult,
    FinishedPiece,
    MakeResult,
    OwnDraft,
    PrintFacts,
    Ready,
    Sheet,
)
from unroll.nouns.corrected import DraftCorrection, Refit
from unroll.nouns.sources import OWN
from unroll.nouns.values import fingerprint
from unroll.paper.pages import pages
from unroll.paper.sewing_guide import sewing_guide
from unroll.progress import Progress
from unroll.show.phrases import fit_sentence, measure_name
from unroll.show.words import headline_of
from unroll.units import inches_first
from unroll.version import VERSION
from unroll.workers import Alone

EDGE_MM = 5.0  # of the measured arm's mesh; smaller is finer
MM3_PER_LITRE = 1e6
MOST_KEPT = 100  # results; a sheet asks for some twelve an arm

T = TypeVar("T")


class Job:
    """A sheet and whatever has been asked of it: each result is worked out once, when first asked.

    Parameters
    ----------
    sheet : Sheet
    corrects : bool
        Whether the pieces to cut are corrected until the filled arm is the measured one.
    search : {LOOK, COARSE, FINE}
        How far the search for the dart layout goes.
    edge : float
        Edge length of the measured arm's mesh, mm.
    progress : Progress, optional
        Is told each step, and cancels.
    workers : Alone, optional
        Other cores to work on; see `unroll.workers.workers`.
    own : OwnDraft, optional
        The maker's own draft of one of the arms; see `unroll.read_pieces`.

    Notes
    -----
    Results are kept by the values that they depend on, so that a job `for_sheet` a changed one
    takes over whatever the change does not touch.
    """

    def __init__(
        self,
        sheet: Sheet,
        *,
        corrects: bool = True,
        search: int = FINE,
        edge: float = EDGE_MM,
        progress: Progress | None = None,
        workers: Alone | None = None,
        own: OwnDraft | None = None,
    ) -> None:
        self.own = own
        self.sheet, self.corrects, self.search, self.edge = sheet, corrects, search, edge
        self.progress = progress or Progress()
        self.progress.unit = sheet.unit
        self.workers = workers or Alone()
        self._kept: dict[str, object] = {}
        self.arms = tuple(ArmJob(self, measures) for measures in sheet.arms)

    def for_sheet(self, sheet: Sheet, **other: Any) -> Job:
        """Return the job of another sheet, with every result that its changes leave valid.

        Parameters
        ----------
        sheet : Sheet
        **other
            What else is to be otherwise: `corrects`, `search`, `edge`, `progress`, `workers` or
            `own`.
        """
        same = {
            name: getattr(self, name)
            for name in ("corrects", "search", "edge", "progress", "workers", "own")
        }
        job = Job(sheet, **{**same, **other})
        job._kept = self._kept
        return job

    def once(self, name: str, work: Callable[[], T], *on: object) -> T:
        """Return the result of some work, done only where nothing with the same key was before.

        Parameters
        ----------
        name : str
        work : callable
        *on
            All values that the result depends on.
        """
        key = f"{name} {fingerprint(on)}"
        if key not in self._kept:
            with self._in_her_unit():
                self._kept[key] = work()
        self._kept[key] = found = self._kept.pop(key)  # the latest used stand last
        while len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]
        return found  # type: ignore[return-value]

    @contextmanager
    def _in_her_unit(self) -> Iterator[None]:
        """Say a fault's lengths in the sheet's unit: the stages that find it know no sheet."""
        try:
            yield
        except UnrollError as error:
            error.args = (inches_first(str(error), self.sheet.unit),)
            raise

    def shapes(self) -> MakeResult:
        """Return the arms and the pieces to cut, laid flat; nothing drafted, nothing compared."""
        return MakeResult(self.sheet, tuple(arm_results.shown(arm) for arm in self.arms), VERSION)

    def filled(self) -> MakeResult:
        """Return the arms with every set of pieces sewn and filled."""
        arms = tuple(arm_results.compared(arm) for arm in self.arms)
        return MakeResult(self.sheet, arms, VERSION)

    def everything(self) -> MakeResult:
        """Return all there is to know."""
        arms = [arm.begun() for arm in self.arms]
        return MakeResult(self.sheet, tuple(arm_results.everything(arm) for arm in arms), VERSION)

    def checked(self) -> MakeResult:
        """Return the maker's own draft judged, on the arm that it is for.

        Raises
        ------
        UnrollError
            When the job has no draft of her own.
        """
        arms = tuple(arm_results.checked(arm) for arm in self.arms if arm.own)
        if not arms:
            raise UnrollError("the job has no draft of your own to check; expected own=read_pieces")
        return MakeResult(self.sheet, arms, VERSION)

    def ready_change(self, result: MakeResult) -> Ready | None:
        """Return the maker's own draft with the least change, finished and on pages.

        None where there is no change.

        Raises
        ------
        UnrollError
            As `ready`.
        """
        arms = tuple(
            replace(arm, pieces={OWN.name: change.pieces}, fits={OWN.name: change.after},
                    verdicts=change.verdicts)
            for arm in result.arms for change in [arm.own.change if arm.own else None]
            if change is not None
        )  # fmt: skip
        return self.ready(replace(result, arms=arms)) if arms else None

    def redrafts(self) -> tuple[DraftCorrection, ...]:
        """Return each arm's flat draft with its numbers corrected, in the sheet's manner.

        Raises
        ------
        UnrollError
            When the draft cannot be drawn or sewn.
        """
        return tuple(arm.redraft for arm in self.arms)

    def refitted(self) -> tuple[Job, Refit]:
        """Return the job with the cloth that explains the sheet's trial, and how it was explained.

        Raises
        ------
        UnrollError
            When the sheet has no trial, or the trial too few measures; or two unlike arms.
        """
        sheet = self.sheet
        if sheet.trial is None:
            raise UnrollError(
                "the sheet has no table [trial]; expected what was measured on the trial"
            )
        if len(self.arms) > 1:
            raise UnrollError(
                "the sheet has two unlike arms and one trial; expected [arm] alone, or a sheet "
                "for each arm"
            )
        arm = self.arms[0]
        with self._in_her_unit():
            found = refit(
                arm.shape, sheet.make, sheet.cloth, arm.correction.after, sheet.trial,
                tell=self.progress, unit=sheet.unit,
            )  # fmt: skip
        job = self.for_sheet(replace(sheet, cloth=found.cloth))
        job.arms[0].given, job.arms[0].given_layouts = found.correction, arm.layouts
        return job, found

    def ready(
        self, result: MakeResult, *, paper: str | None = None, source: str | None = None
    ) -> Ready:
        """Return the pieces of every arm finished, laid on cloth and on pages.

        Parameters
        ----------
        result : MakeResult
        paper : str, optional
            The sheet's paper by default.
        source : str, optional
            Of the pieces; those to cut by default.

        Raises
        ------
        UnrollError
            When no piece can be cut, the paper is unknown, or the cloth is too narrow.
        """
        self.progress("laying the pieces on cloth and paper")
        with self._in_her_unit():
            return self._ready(result, paper, source)

    def _ready(self, result: MakeResult, paper: str | None, source: str | None) -> Ready:
        """Return what `ready` does."""
        sheet = self.sheet
        finished = tuple(
            piece for arm in result.arms for piece in self._finished(result, arm, source)
        )
        truing = check_truing(finished, sheet)
        finished = tuple(piece for piece in finished if piece.crossing is None)
        if not finished:
            raise UnrollError("no piece can be cut:\n" + "\n".join(truing.faults))
        layout_faults = [
            f"{arm.measures.side} arm, {fault}" if len(result.arms) > 1 else fault
            for arm in result.arms for fault in arm.faults
        ]  # fmt: skip
        outside = (*truing.faults, *layout_faults, *truing.verdicts)
        facts = PrintFacts(
            version=result.version,
            filling_litres=_litres(result),
            faults=outside,
            cautions=(*truing.cautions, *_cautions(result)),
            verdict=" ".join(_verdict_of(result, arm, source) for arm in result.arms).strip(),
        )
        plan = cut_plan(finished, sheet.cloth.width)
        size = paper or sheet.make.paper
        return Ready(
            finished, plan, pages(finished, plan, sheet, paper=size, facts=facts),
            sewing_guide(finished, sheet, facts=facts, paper=size), facts, outside,
        )  # fmt: skip

    def _finished(
        self, result: MakeResult, arm: ArmResult, source: str | None
    ) -> tuple[FinishedPiece, ...]:
        side = arm.measures.side
        job = next(one for one in self.arms if one.measures.side == side)
        whose = "both" if len(result.arms) == 1 else side
        promise = job.finished(arm.pieces, source or arm.source, whose)
        found: tuple[FinishedPiece, ...] = self.workers.kept(promise)
        return found


def _verdict_of(result: MakeResult, arm: ArmResult, source: str | None) -> str:
    """Return what becomes of the pieces that are printed; "" where they were not sewn."""
    if source in (None, arm.source):
        return headline_of(result, arm)
    fit = arm.fits.get(source or "")
    return "" if fit is None else fit_sentence(fit, result.sheet.unit)


def _litres(result: MakeResult) -> float:
    """Return the room inside one arm, litres."""
    mesh = result.arms[0].arm.mesh
    return abs(enclosed_volume(mesh.vertices, mesh.faces)) / MM3_PER_LITRE


def _cautions(result: MakeResult) -> tuple[str, ...]:
    fights = (notice.text for notice in result.sheet.notices if notice.fights)
    unit = result.sheet.unit
    notes = (
        f"{measure_name(row.name, unit)}: {row.note}"
        for arm in result.arms for row in arm.tape if row.note
    )  # fmt: skip
    return (*fights, *notes)
