"""The main job, as a maker would tell it: loft, dart, lay flat, correct, draft, sew, print."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Future
from dataclasses import replace
from functools import partial
from itertools import islice
from typing import Any, Literal, TypeVar

from unroll.arms.lofting import ArmShape, mesh_arm, shape_arm, way_up
from unroll.arms.taping import tape
from unroll.correct.certainty import certainty_of
from unroll.correct.draft_loop import correct_draft
from unroll.correct.layouts import FAULT_HELP, faults_of, layout_steps, limits_of
from unroll.correct.loop import OnBench, correct, lay_on_bench
from unroll.correct.own_draft import correct_own
from unroll.correct.refit import refit
from unroll.correct.slips import slips_of
from unroll.drafts.advising import draft_notices, ease_advice
from unroll.drafts.comparing import compare
from unroll.drafts.drafting import draft
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import best_pieces, finish
from unroll.finish.notching import place_notches
from unroll.finish.truing import check_truing
from unroll.finish.walking import walk
from unroll.flat.cutting import cut_panel
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten
from unroll.maths.arrays import FloatArray
from unroll.maths.membrane import enclosed_volume
from unroll.nouns import (
    ArmMeasures,
    ArmMesh,
    ArmResult,
    Certainty,
    Cloth,
    Comparison,
    Correction,
    Distortion,
    Drafted,
    FinishedPiece,
    Fit,
    Laid,
    LayoutTrial,
    Make,
    MakeResult,
    Notice,
    OwnCheck,
    OwnDraft,
    Piece,
    PrintFacts,
    Ready,
    SeamRow,
    Sewn,
    Sheet,
    TapeRow,
    Verdict,
    WalkedSeam,
    verdicts_of,
)
from unroll.nouns.certainty import Slip
from unroll.nouns.corrected import DraftCorrection, Refit
from unroll.nouns.fit import worst_share
from unroll.nouns.mirroring import (
    mirrored_arm,
    mirrored_distortion,
    mirrored_fit,
    mirrored_piece,
    mirrored_sewn,
)
from unroll.nouns.scan import ScanFit
from unroll.nouns.sources import OWN, WITH_DARTS
from unroll.nouns.values import fingerprint
from unroll.paper.pages import pages
from unroll.paper.sewing_guide import sewing_guide
from unroll.progress import Progress
from unroll.scans.comparing import scan_fit
from unroll.scans.surface import surface_panels
from unroll.sewn.fitting import fit_of
from unroll.sewn.round_both import taped_round_both
from unroll.sewn.sewing import sew
from unroll.show.phrases import fit_sentence
from unroll.show.words import headline_of
from unroll.units import Unit
from unroll.version import VERSION
from unroll.workers import Alone

EDGE_MM = 5.0  # of the measured arm's mesh; smaller is finer
SPACING_MM = 11.0  # of the sewn flat draft: girths within 0.3 mm of a mesh twice as fine
UNDARTED_EDGE_MM = 13.0
SEWN_TOGETHER = ("outer", "inner", "armhole base", "wrist base")
MANNERS: tuple[Literal["ease", "darts"], ...] = ("ease", "darts")
# How far the search for a dart layout goes: a first look, coarse, fine.
LOOK, COARSE, FINE = 0, 1, 2
# A first look is drawn, not measured: edges of the mesh laid flat and of the sewn one, mm.
LOOK_SIZES = {"edge": 13.0, "spacing": 13.0}
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
            self._kept[key] = work()
        self._kept[key] = found = self._kept.pop(key)  # the latest used stand last
        while len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]
        return found  # type: ignore[return-value]

    def shapes(self) -> MakeResult:
        """Return the arms and the pieces to cut, laid flat; nothing drafted, nothing compared."""
        return MakeResult(self.sheet, tuple(arm.shown() for arm in self.arms), VERSION)

    def filled(self) -> MakeResult:
        """Return the arms with every set of pieces sewn and filled."""
        return MakeResult(self.sheet, tuple(arm.compared() for arm in self.arms), VERSION)

    def everything(self) -> MakeResult:
        """Return all there is to know."""
        arms = [arm.begun() for arm in self.arms]
        return MakeResult(self.sheet, tuple(arm.everything() for arm in arms), VERSION)

    def checked(self) -> MakeResult:
        """Return the maker's own draft judged, on the arm that it is for.

        Raises
        ------
        UnrollError
            When the job has no draft of her own.
        """
        arms = tuple(arm.checked() for arm in self.arms if arm.own)
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
        found = refit(
            arm.shape, sheet.make, sheet.cloth, arm.correction.after, sheet.trial,
            tell=self.progress,
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
        sheet = self.sheet
        self.progress("laying the pieces on cloth and paper")
        finished = tuple(
            piece for arm in result.arms for piece in self._finished(result, arm, source)
        )
        truing = check_truing(finished, sheet)
        finished = tuple(piece for piece in finished if piece.crossing is None)
        if not finished:
            raise UnrollError("no piece can be cut:\n" + "\n".join(truing.faults))
        layout_faults = [fault for arm in result.arms for fault in arm.faults]
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
        pieces = best_pieces(arm.pieces, cap=self.sheet.make.cap, source=source or arm.source)
        side = "both" if len(result.arms) == 1 else arm.measures.side
        return finish(pieces, self.sheet, arm=side, version=result.version)


class ArmJob:
    """One arm of a job. Everything is worked out on the left arm; a right one is its mirror."""

    def __init__(self, job: Job, measures: ArmMeasures, make: Make | None = None) -> None:
        self.job, self.measures = job, measures
        self.left = replace(measures, side="left")
        self.cloth, self.make = _mechanics(job.sheet.cloth), _shaping(make or job.sheet.make)
        self.given: Correction | None = None  # for a trial, of the layout chosen before it
        self.given_layouts: tuple[LayoutTrial, ...] = ()
        self._drafts: dict[str, Future[Sewn]] = {}

    @property
    def shape(self) -> ArmShape:
        """The left arm, lofted from the measures."""
        self.job.progress("lofting the arm from the measures")
        return self.job.once("shape", lambda: shape_arm(self.left), self.left)

    @property
    def scan_fit(self) -> ScanFit | None:
        """How near the loft comes to the scan; None for an arm that was taped."""
        scanned = self.job.sheet.scanned
        if scanned is None or self.left.scan is None:
            return None
        self.job.progress("holding the loft against the scan")
        return self.job.once(
            "scan fit", lambda: scan_fit(scanned, self.left), self.left, scanned.name
        )

    @property
    def true_surface(self) -> Mapping[str, Distortion]:
        """The scan's own surface below the underarm, laid flat, by panel name."""
        scanned = self.job.sheet.scanned
        if scanned is None or self.left.scan is None:
            return {}
        self.job.progress("unrolling the scan's own surface")

        def unrolled() -> Mapping[str, Distortion]:
            panels = surface_panels(scanned, float(self.make.inner_share))
            flat = (flatten(panel, energy=self.make.weave) for panel in panels)
            return {one.panel.name: measure_distortion(one) for one in flat}

        return self.job.once(
            "true surface", unrolled, scanned.mesh, self.make.inner_share, self.make.weave
        )

    @property
    def layouts(self) -> tuple[LayoutTrial, ...]:
        """The dart layouts that were tried, the one that is taken first."""
        if self.given is not None:
            return self.given_layouts
        job = self.job

        def search() -> tuple[LayoutTrial, ...]:
            job.progress("looking for the dart layout that comes nearest")
            steps = layout_steps(
                self.shape, self.make, self.cloth, each=job.workers.each, tell=job.progress
            )
            *_, found = islice(steps, job.search + 1)
            return found

        return job.once("layouts", search, self.left, self.make, self.cloth, job.search)

    @property
    def on_bench(self) -> OnBench:
        """The layout laid flat, its pieces sewn and filled."""
        taken = self.layouts[0]
        sizes = LOOK_SIZES if self.job.search == LOOK else {}

        def lay() -> OnBench:
            return lay_on_bench(
                self.shape, self.make, self.cloth, taken.darts, ease=taken.ease,
                tell=self.job.progress, **sizes,
            )  # fmt: skip

        return self.job.once(
            "on bench", lay, self.left, self.make, self.cloth, taken.darts, taken.ease, sizes
        )

    @property
    def correction(self) -> Correction:
        """The pieces corrected until the filled arm is the measured one."""
        if self.given is not None:
            return self.given
        on = self.on_bench
        return self.job.once(
            "correction", lambda: correct(on, self.shape, tell=self.job.progress),
            self.left, self.make, self.cloth, on.bench.darts, on.bench.ease, on.bench.edge,
        )  # fmt: skip

    @property
    def to_cut(self) -> Laid:
        """The pieces to cut, of the left arm."""
        return self.correction.after if self.job.corrects or self.given else self.on_bench.laid

    @property
    def unrolled(self) -> Laid:
        """The same layout laid flat without correction, of the left arm."""
        return self.correction.before if self.given else self.on_bench.laid

    @property
    def with_darts(self) -> Laid | None:
        """What a maker would do next where ease alone falls short: the same arm with darts.

        None where ease is enough, or nothing is corrected, or darts do no better.
        """
        if self.make.cap != "ease" or not self.job.corrects or worst_share(self.to_cut.fit) <= 1.0:
            return None
        self.job.progress("ease alone falls short: trying darts")
        darted = ArmJob(self.job, self.measures, replace(self.job.sheet.make, cap="darts"))
        try:
            found = darted.to_cut
        except UnrollError:
            return None
        if worst_share(found.fit) >= worst_share(self.to_cut.fit):
            return None
        return found.called(WITH_DARTS.name)

    @property
    def certainty(self) -> Certainty:
        """How far the figures of the pieces to cut can be trusted."""
        self.job.progress("sewing the pieces again with other cloth, filling and cutting")
        laid, each = self.to_cut, self.job.workers.each
        return self.job.once(
            "certainty", lambda: certainty_of(laid, self.cloth, each=each),
            laid.pieces, self.cloth,
        )  # fmt: skip

    @property
    def slips(self) -> tuple[Slip, ...]:
        """What each reading moves when it is off, the worst first; none of a scan's readings.

        A scan's levels were not taken one tape at a time.
        """
        if self.left.scan is not None:
            return ()
        self.job.progress("lofting the arm again with each reading a little off")
        shape, each = self.shape, self.job.workers.each
        return self.job.once("slips", lambda: slips_of(shape, each=each), self.left)

    @property
    def drafted(self) -> Drafted:
        """The flat draft in both manners, walked and taped; a manner that fails is told."""
        sheet = self.job.sheet
        make, cloth, unit = sheet.make, sheet.cloth, sheet.unit
        return self.job.once(
            "drafted", lambda: drafted(self.measures, make, cloth, unit),
            self.measures, make, cloth, unit,
        )  # fmt: skip

    @property
    def redraft(self) -> DraftCorrection:
        """The flat draft with its numbers corrected, walked."""
        sheet = self.job.sheet
        make, cloth, unit = sheet.make, sheet.cloth, sheet.unit

        def correct_it() -> DraftCorrection:
            found = correct_draft(
                self.measures, make, cloth, manner=make.cap, spacing=SPACING_MM,
                tell=self.job.progress,
            )  # fmt: skip
            pieces = place_notches(found.pieces)
            return replace(found, pieces=pieces, walked=walk(pieces, cloth=cloth, unit=unit))

        return self.job.once("redraft", correct_it, self.measures, make, cloth, unit)

    @property
    def own(self) -> tuple[Piece, ...]:
        """The maker's own pieces, notches placed; none where they are for the other arm."""
        own = self.job.own
        if own is None or own.pieces[0].arm != self.measures.side:
            return ()
        return place_notches(own.pieces)

    @property
    def own_change(self) -> DraftCorrection:
        """The least change of the maker's own draft, walked."""
        pieces, cloth = self.own, self.job.sheet.cloth

        def change() -> DraftCorrection:
            found = correct_own(
                pieces, self.measures, cloth, spacing=SPACING_MM, tell=self.job.progress
            )
            notched = place_notches(found.pieces)
            return replace(found, pieces=notched, walked=walk(notched, cloth=cloth))

        return self.job.once("own change", change, pieces, self.measures, cloth)

    def begun(self) -> ArmJob:
        """Have another core sew the drafts while the rest goes on."""
        for source, pieces in self.drafted.pieces.items():
            together = [self._on_left(p) for p in pieces if p.name in SEWN_TOGETHER]
            up = way_up(self.left)
            beside = partial(self.job.workers.beside, _sewn, together, self.cloth, up)
            self._drafts[source] = self.job.once("sewn draft", beside, together, self.cloth, up)
        return self

    def shown(self) -> ArmResult:
        """Return the arm, and the pieces to cut."""
        shape, laid, sheet = self.shape, self.to_cut, self.job.sheet
        self.job.progress.reached(0.6)
        oval = mesh_arm(
            shape, edge=self.job.edge, inner_share=self.make.inner_share, darts=laid.darts
        )
        pieces = {laid.source: self._pieces(laid)}
        if self.unrolled.source not in pieces:
            pieces[self.unrolled.source] = self._pieces(self.unrolled)
        return ArmResult(
            measures=self.measures,
            arm=self._sided(oval, mirrored_arm),
            wanted=self._sided(laid.wanted, mirrored_arm),
            tape=self._tape(oval),
            source=laid.source,
            distortions=self._distortions(laid),
            intakes=laid.intakes,
            ease=laid.ease,
            layouts=self.layouts,
            undarted=self._undarted(),
            pieces=pieces,
            seams=_rows(
                walk(set_, cloth=sheet.cloth, unit=sheet.unit) for set_ in pieces.values()
            ),
            sewn={one.source: self._sided(one.sewn, mirrored_sewn) for one in self._laid()},
            fits={one.source: self._sided(one.fit, mirrored_fit) for one in self._laid()},
            correction=self.correction if laid.source == "corrected" else None,
            verdicts=self._verdicts(laid),
            faults=tuple(
                f"{fault}: {FAULT_HELP}"
                for fault in faults_of(laid.darts, laid.intakes, limits_of(self.make))
            ),
            scan=self.scan_fit,
        )

    def checked(self) -> ArmResult:
        """Return the arm with the maker's own draft judged, beside the pieces laid flat.

        A draft that cannot be sewn is told so, and is walked and taped all the same.
        """
        result, pieces, given = self.shown(), self.own, self.job.own
        if given is None or not pieces:
            raise UnrollError("the job has no draft of your own for this arm")
        self.job.progress("walking and taping your draft")
        walked = walk(pieces, cloth=self.job.sheet.cloth)
        check = OwnCheck(given, walked, tape_draft(pieces, self.measures))
        result = replace(
            result, pieces={OWN.name: pieces, **result.pieces}, source=OWN.name, verdicts=(),
            seams=(*(seam.row for seam in walked), *result.seams), faults=(), own=check,
            distortions={}, intakes=(), layouts=(), undarted=None, correction=None,
        )  # fmt: skip
        try:
            change = self.own_change
            sewn = self._sided(replace(change.sewn_before, source=OWN.name), mirrored_sewn)
            compared = compare(pieces, result.pieces["unrolled"], self.measures)
        except UnrollError as error:
            return replace(result, own=replace(check, unsewn=str(error)))
        fit = fit_of(sewn, result.wanted)
        return replace(
            result,
            sewn={OWN.name: sewn, **result.sewn}, fits={OWN.name: fit, **result.fits},
            verdicts=verdicts_of(fit, "the least change below brings it nearer"),
            compared={OWN.name: compared}, own=replace(check, change=change),
        )  # fmt: skip

    def compared(self) -> ArmResult:
        """Return the arm with its flat draft, both sewn and filled."""
        self.job.progress("drafting the same arm by the flat rules")
        result, flat = self.shown(), self.drafted
        sewn, fits = self._sewn_drafts(result.wanted)
        darted, pieces, verdicts = self.with_darts, dict(result.pieces), result.verdicts
        if darted is not None:
            pieces[darted.source] = self._pieces(darted)
            sewn = {darted.source: self._sided(darted.sewn, mirrored_sewn), **sewn}
            fits = {darted.source: self._sided(darted.fit, mirrored_fit), **fits}
            verdicts = verdicts_of(self.to_cut.fit, _help_of_darts(darted))
        result = replace(
            result,
            verdicts=verdicts,
            pieces={**pieces, **flat.pieces},
            seams=(*result.seams, *_rows(flat.walked.values())),
            drafted=flat,
            compared=self._comparisons(flat, result.pieces["unrolled"]),
            sewn={**result.sewn, **sewn},
            fits={**result.fits, **fits},
        )
        return replace(result, round_both=self._round_both(result))

    def _round_both(self, result: ArmResult) -> dict[str, float]:
        """Return the tape round the double and both arms; empty where the double is not told."""
        double = self.job.sheet.double
        if double is None:
            return {}
        meshes = {name: sewn.mesh for name, sewn in result.sewn.items()}
        return taped_round_both(
            {"measured": result.arm.mesh, **meshes}, self.measures, double
        )  # fmt: skip

    def everything(self) -> ArmResult:
        """Return the arm compared, with how far its figures can be trusted."""
        result = replace(self.compared(), true_surface=self.true_surface)
        if not self.job.corrects:
            return result
        return replace(result, certainty=self.certainty, slips=self.slips)

    def _laid(self) -> tuple[Laid, ...]:
        both = (self.to_cut, self.unrolled)
        return both if both[0].source != both[1].source else both[:1]

    def _sided(self, value: T, mirror: Callable[[T], T]) -> T:
        return value if self.measures.side == "left" else mirror(value)

    def _on_left(self, piece: Piece) -> Piece:
        return piece if self.measures.side == "left" else mirrored_piece(piece, "left")

    def _pieces(self, laid: Laid) -> tuple[Piece, ...]:
        return place_notches(
            tuple(self._sided(p, lambda one: mirrored_piece(one, "right")) for p in laid.pieces)
        )

    def _tape(self, oval: ArmMesh) -> tuple[TapeRow, ...]:
        return tape(oval, self.left, fights=self.shape.fights)

    def _distortions(self, laid: Laid) -> Mapping[str, Distortion]:
        found = (measure_distortion(flattening) for flattening in laid.flattenings)
        return {
            d.flattening.panel.name: self._sided(d, mirrored_distortion) for d in found
        }

    def _undarted(self) -> Distortion | None:
        """Return the outer panel laid flat without darts; None where it cannot be."""

        def lay() -> Distortion | None:
            arm = mesh_arm(
                self.shape.rounded, edge=UNDARTED_EDGE_MM, inner_share=self.make.inner_share
            )
            try:
                flat = flatten(cut_panel(arm, "outer"), energy=self.make.weave)
            except UnrollError:
                return None
            return measure_distortion(flat)

        if not self.to_cut.darts:
            return None
        return self.job.once("undarted", lay, self.left, self.make.inner_share, self.make.weave)

    def _verdicts(self, laid: Laid) -> tuple[Verdict, ...]:
        return verdicts_of(laid.fit, _help(laid, self.make))

    def _sewn_drafts(self, wanted: ArmMesh) -> tuple[dict[str, Sewn], dict[str, Fit]]:
        """Return the drafts sewn and filled; one that cannot be sewn is left out."""
        if not self._drafts:
            self.begun()
        sewn: dict[str, Sewn] = {}
        for source, promised in self._drafts.items():
            self.job.progress("sewing and filling the flat draft")
            try:
                sewn[source] = self._sided(promised.result(), mirrored_sewn)
            except UnrollError:
                continue
        return sewn, {source: fit_of(one, wanted) for source, one in sewn.items()}

    def _comparisons(
        self, flat: Drafted, unrolled: tuple[Piece, ...]
    ) -> dict[str, Comparison]:
        out = {}
        for source, pieces in flat.pieces.items():
            try:
                out[source] = compare(pieces, unrolled, self.measures)
            except UnrollError:
                continue
        return out


def drafted(
    measures: ArmMeasures, make: Make, cloth: Cloth, unit: Unit = "mm"
) -> Drafted:
    """Draft one arm in both manners, place its notches and walk its seams.

    A manner that cannot be drawn from these measures has a notice instead of pieces.
    """
    pieces, notices = {}, []
    for manner in MANNERS:
        try:
            pieces[f"drafted-{manner}"] = place_notches(draft(measures, make, manner=manner))
        except UnrollError as fault:
            notices.append(Notice("flat draft", f"the flat draft could not be drawn: {fault}"))
    if "drafted-darts" in pieces:
        notices += draft_notices(measures, make, manner="darts", unit=unit)
    return Drafted(
        advice=ease_advice(measures, make, cloth, unit=unit) if pieces else None,
        notices=tuple(notices),
        pieces=pieces,
        walked={source: walk(those, cloth=cloth, unit=unit) for source, those in pieces.items()},
        tape={source: tape_draft(those, measures) for source, those in pieces.items()},
    )


def _sewn(pieces: list[Piece], cloth: Cloth, up: FloatArray) -> Sewn:
    return sew(pieces, cloth=cloth, spacing=SPACING_MM, up=up)


def _shaping(make: Make) -> Make:
    """Return what the arm's pieces depend on: how they are drawn on paper is left out."""
    usual = Make()
    return replace(
        make, seam_allowance=usual.seam_allowance, seam_allowances={}, paper=usual.paper,
        round_to=None,
    )  # fmt: skip


def _mechanics(cloth: Cloth) -> Cloth:
    """Return what the sewn shape depends on: name and width are left out."""
    usual = Cloth()
    return replace(cloth, name=usual.name, width=usual.width, gives_percent=usual.gives_percent)


def _rows(walked: Iterable[tuple[WalkedSeam, ...]]) -> tuple[SeamRow, ...]:
    return tuple(seam.row for seams in walked for seam in seams)


def _help(laid: Laid, make: Make) -> str:
    """Return what would bring pieces nearer that fall short."""
    if laid.source == "unrolled":
        return "correcting the pieces (make without --quick) would bring it nearer"
    if make.cap == "ease":
        return 'darts would take in what ease cannot: write cap = "darts" in the sheet'
    if not laid.intakes:
        return "darts would help: without any the cap's edge cannot take in what its roundness asks"
    if make.darts or make.dart_count is not None:
        fixed = "darts" if make.darts else "dart_count"
        return f"leaving {fixed} out of the sheet lets the program look for a better layout"
    return "taping the cap and the armhole again would show whether they fit each other"


def _verdict_of(result: MakeResult, arm: ArmResult, source: str | None) -> str:
    """Return what becomes of the pieces that are printed; "" where they were not sewn."""
    if source in (None, arm.source):
        return headline_of(result, arm)
    fit = arm.fits.get(source or "")
    return "" if fit is None else fit_sentence(fit, result.sheet.unit)


def _help_of_darts(darted: Laid) -> str:
    """Return what the darts that were tried would bring, and how they are printed."""
    what = f"{len(darted.darts)} darts"
    if any(intake.is_seam for intake in darted.intakes):
        what = "a seam down the outside"
    where = "within every limit" if worst_share(darted.fit) <= 1.0 else "nearer"
    return (
        f"{what} would bring it {where} (unroll print SHEET --pieces {darted.source} prints those "
        "pieces)"
    )


def _litres(result: MakeResult) -> float:
    """Return the room inside one arm, litres."""
    mesh = result.arms[0].arm.mesh
    return abs(enclosed_volume(mesh.vertices, mesh.faces)) / MM3_PER_LITRE


def _cautions(result: MakeResult) -> tuple[str, ...]:
    fights = (notice.text for notice in result.sheet.notices if notice.fights)
    notes = (f"{row.name}: {row.note}" for arm in result.arms for row in arm.tape if row.note)
    return (*fights, *notes)
