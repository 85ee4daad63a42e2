"""One arm of a job: each result worked out once, when first asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Literal, Protocol, TypeVar

from unroll.arms.lofting import ArmShape, rounded_shape, shape_arm, way_up
from unroll.correct.certainty import Resewing, certainty_from, resewings
from unroll.correct.draft_loop import correct_draft
from unroll.correct.layouts import keeps_to_cap, layout_steps, preferred
from unroll.correct.loop import correct
from unroll.correct.on_bench import OnBench, lay_on_bench
from unroll.correct.own_draft import correct_own
from unroll.correct.slips import slips_of
from unroll.drafts.advising import draft_notices, ease_advice
from unroll.drafts.drafting import draft
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.finish.finishing import best_pieces, finish
from unroll.finish.notching import place_notches
from unroll.finish.walking import walk
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten
from unroll.maths.arrays import FloatArray
from unroll.nouns import (
    ArmMeasures,
    ArmMesh,
    Certainty,
    Cloth,
    Correction,
    Distortion,
    Drafted,
    FinishedPiece,
    Fit,
    Laid,
    LayoutTrial,
    Make,
    Notice,
    OwnDraft,
    Piece,
    Sewn,
    Sheet,
)
from unroll.nouns.certainty import Slip
from unroll.nouns.corrected import DraftCorrection
from unroll.nouns.fit import worst_share
from unroll.nouns.mirroring import (
    mirrored_piece,
    mirrored_sewn,
)
from unroll.nouns.scan import ScanFit
from unroll.nouns.sources import WITH_DARTS
from unroll.progress import Progress
from unroll.scans.comparing import scan_fit
from unroll.scans.surface import surface_panels
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew
from unroll.units import Unit, inches_first
from unroll.version import VERSION
from unroll.workers import Alone, Promise

SPACING_MM = 11.0  # of the sewn flat draft: girths within 0.3 mm of a mesh twice as fine
# Of whatever is sewn where nothing is corrected: against 6 mm it moves girths by 0.04 mm and how
# the arm hangs by a quarter of a degree (tests/study_quick.py).
HURRIED_MM = 13.0
SEWING_AGAIN = "sewing the pieces again with other cloth, filling and cutting"
SEWN_TOGETHER = ("outer", "inner", "armhole base", "wrist base")
MANNERS: tuple[Literal["ease", "darts"], ...] = ("ease", "darts")
# How far the search for a dart layout goes: a first look; on to a coarse one where that found none
# that keeps to the cap; fine.
LOOK, COARSE, FINE = 0, 1, 2
# A first look is drawn, not measured: edges of the mesh laid flat and of the sewn one, mm.
LOOK_SIZES = {"edge": HURRIED_MM, "spacing": HURRIED_MM}

T = TypeVar("T")


class Asked(Protocol):
    """What an arm asks of the job that it belongs to; see `unroll.job.Job`."""

    sheet: Sheet
    corrects: bool
    search: int
    edge: float
    progress: Progress
    workers: Alone
    own: OwnDraft | None

    def once(self, name: str, work: Callable[[], T], *on: object) -> T:
        """Return the result of some work, done only where nothing with the same key was before."""


class ArmJob:
    """One arm of a job. Everything is worked out on the left arm; a right one is its mirror."""

    def __init__(self, job: Asked, measures: ArmMeasures, make: Make | None = None) -> None:
        self.job, self.measures = job, measures
        self.left = replace(measures, side="left")
        self.cloth, self.make = _mechanics(job.sheet.cloth), _shaping(make or job.sheet.make)
        self.given: Correction | None = None  # for a trial, of the layout chosen before it
        self.given_layouts: tuple[LayoutTrial, ...] = ()
        self._drafts: dict[str, Promise] = {}

    @property
    def shape(self) -> ArmShape:
        """The left arm, lofted from the measures."""
        self.job.progress("lofting the arm from the measures")

        def lofted() -> ArmShape:
            shape, rounded = self.job.workers.pair(
                lambda: shape_arm(self.left), rounded_shape, self.left
            )
            return replace(shape, with_round_sections=rounded)

        return self.job.once("shape", lofted, self.left)

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
        """The scan's own surface, laid flat, by panel name."""
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
        return self._taken[0]

    @property
    def on_bench(self) -> OnBench:
        """The layout laid flat, its pieces sewn and filled."""
        return self._taken[1]

    @property
    def _taken(self) -> tuple[tuple[LayoutTrial, ...], OnBench]:
        """The layouts, and the best of them that can be laid flat on the mesh of the pieces.

        One that lies flat on the coarse mesh of the search may fold on the finer one.
        """
        trials = self._searched
        usual = {} if self.job.corrects else {"spacing": HURRIED_MM}
        sizes = LOOK_SIZES if self.job.search == LOOK else usual

        def laid(taken: LayoutTrial) -> OnBench:
            return lay_on_bench(
                self.shape, self.make, self.cloth, taken.darts, ease=taken.ease,
                tell=self.job.progress, **sizes,
            )  # fmt: skip

        def first_flat() -> tuple[tuple[LayoutTrial, ...], OnBench]:
            folds: list[UnrollError] = []
            for place, trial in enumerate(trials):
                try:
                    return preferred(trials, place), laid(trial)
                except UnrollError as error:
                    folds.append(error)
                    self.job.progress(f"{trial.name} cannot be laid flat: trying the next layout")
            raise folds[0]

        return self.job.once(
            "on bench", first_flat, self.left, self.make, self.cloth,
            [(trial.darts, trial.ease) for trial in trials], sizes,
        )

    @property
    def _searched(self) -> tuple[LayoutTrial, ...]:
        """The dart layouts as the search proposes them."""
        job = self.job

        def search() -> tuple[LayoutTrial, ...]:
            job.progress("looking for the dart layout that comes nearest")
            steps = layout_steps(
                self.shape, self.make, self.cloth, each=job.workers.each, tell=job.progress
            )
            for stage, found in enumerate(steps):
                if stage == job.search or (job.search == COARSE and keeps_to_cap(found[0])):
                    break
            return found

        return job.once("layouts", search, self.left, self.make, self.cloth, job.search)

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
        """What a maker would do next where ease alone, or darts she fixed, fall short.

        The same arm with the darts of the search. None where what was asked for is enough, or
        nothing is corrected, or those darts do no better.
        """
        make = self.job.sheet.make
        if make.cap != "ease" and not make.darts and make.dart_count is None:
            return None
        if not self.job.corrects or worst_share(self.to_cut.fit) <= 1.0:
            return None
        short = "ease alone falls" if make.cap == "ease" else "the darts asked for fall"
        self.job.progress(f"{short} short: trying other darts")
        free = replace(make, cap="darts", darts=(), dart_count=None)
        darted = ArmJob(self.job, self.measures, free)
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
        laid, cases = self.to_cut, self._resewn
        self.job.progress(SEWING_AGAIN)
        return self.job.once(
            "certainty", lambda: certainty_from(laid, map(self.job.workers.kept, cases)),
            laid.pieces, self.cloth,
        )  # fmt: skip

    @property
    def _resewn(self) -> tuple[Promise, ...]:
        laid, beside = self.to_cut, self.job.workers.beside

        def begun() -> tuple[Promise, ...]:
            self.job.progress(SEWING_AGAIN)
            # the last takes longest: begun first, it leaves no core idle
            last_first = reversed(resewings(laid, self.cloth))
            return tuple(beside(Resewing.case, one) for one in last_first)[::-1]

        return self.job.once("sewn again", begun, laid.pieces, self.cloth)

    @property
    def slips(self) -> tuple[Slip, ...]:
        """What each reading moves when it is off, the worst first; none of a scan's readings.

        A scan's levels were not taken one tape at a time.
        """
        if self.left.scan is not None:
            return ()
        self.job.progress("lofting the arm again with each reading a little off")
        found: tuple[Slip, ...] = self.job.workers.kept(self._slips)
        return found

    @property
    def _slips(self) -> Promise:
        beside = partial(self.job.workers.beside, slips_of, self.shape)
        return self.job.once("slips", beside, self.left)

    @property
    def drafted(self) -> Drafted:
        """The flat draft in both manners, walked and taped; a manner that fails is told."""
        sheet = self.job.sheet
        given = self.measures, sheet.make, sheet.cloth, sheet.unit
        return self.job.once("drafted", partial(drafted, *given), *given)

    def finished(self, sets: Mapping[str, Sequence[Piece]], source: str, arm: str) -> Promise:
        """Return the promise of the pieces ready to cut; see `best_pieces` and `finish`."""
        pieces = best_pieces(sets, cap=self.job.sheet.make.cap, source=source)
        given = pieces, self.job.sheet, arm
        return self.job.once(
            "finished", partial(self.job.workers.beside, _finished, *given), *given
        )

    @property
    def redraft(self) -> DraftCorrection:
        """The flat draft with its numbers corrected, walked."""
        sheet = self.job.sheet
        make, cloth, unit = sheet.make, sheet.cloth, sheet.unit

        def correct_it() -> DraftCorrection:
            found = correct_draft(
                self.measures, make, cloth, manner=make.cap, spacing=SPACING_MM,
                tell=self.job.progress, unit=unit,
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
        pieces, sheet = self.own, self.job.sheet
        cloth, unit = sheet.cloth, sheet.unit

        def change() -> DraftCorrection:
            found = correct_own(
                pieces, self.measures, cloth, spacing=SPACING_MM, tell=self.job.progress,
                unit=unit,
            )  # fmt: skip
            notched = place_notches(found.pieces)
            return replace(found, pieces=notched, walked=walk(notched, cloth=cloth, unit=unit))

        return self.job.once("own change", change, pieces, self.measures, cloth, unit)

    def begin_certainty(self) -> None:
        """Have other cores sew the pieces to cut again, while this one goes on."""
        _ = self._resewn

    def begun(self) -> ArmJob:
        """Have another core sew the drafts, and loft with readings off, while this one corrects."""
        self.job.workers.meanwhile(lambda: self.drafted)
        if self.given is None:
            _ = self._searched  # keeps every core busy by itself
        if self.job.corrects and self.left.scan is None:
            _ = self._slips
        self._begin_drafts()
        return self

    def _begin_drafts(self) -> None:
        spacing = SPACING_MM if self.job.corrects else HURRIED_MM
        for source, pieces in self.drafted.pieces.items():
            together = [self._on_left(p) for p in pieces if p.name in SEWN_TOGETHER]
            given = together, self.cloth, way_up(self.left), spacing
            beside = partial(self.job.workers.beside, _sewn, *given)
            self._drafts[source] = self.job.once("sewn draft", beside, *given)

    def sewn_drafts(self, wanted: ArmMesh) -> tuple[dict[str, Sewn], dict[str, Fit]]:
        """Return the drafts sewn and filled; one that cannot be sewn is left out."""
        if not self._drafts:
            self._begin_drafts()
        sewn: dict[str, Sewn] = {}
        for source, promised in self._drafts.items():
            self.job.progress("sewing and filling the flat draft")
            try:
                sewn[source] = self.sided(self.job.workers.kept(promised), mirrored_sewn)
            except UnrollError:
                continue
        return sewn, {source: fit_of(one, wanted) for source, one in sewn.items()}

    def sided(self, value: T, mirror: Callable[[T], T]) -> T:
        """Return a value of the left arm, or its mirror image where the arm is a right one."""
        return value if self.measures.side == "left" else mirror(value)

    def _on_left(self, piece: Piece) -> Piece:
        return piece if self.measures.side == "left" else mirrored_piece(piece, "left")


def drafted(
    measures: ArmMeasures, make: Make, cloth: Cloth, unit: Unit = "mm"
) -> Drafted:
    """Draft one arm in both manners, place its notches and walk its seams.

    A manner that cannot be drawn from these measures has a notice instead of pieces, whatever its
    construction meets: the draft is what the pieces are compared with, and is not to cost them.
    """
    pieces, notices = {}, []
    for manner in MANNERS:
        try:
            pieces[f"drafted-{manner}"] = place_notches(draft(measures, make, manner=manner))
        except (UnrollError, ArithmeticError, IndexError, ValueError) as fault:
            told = fault if isinstance(fault, UnrollError) else "its construction fails on them"
            notices.append(Notice("flat draft", "the flat draft could not be drawn from these "
                                  f"measures: {inches_first(str(told), unit)}"))
    if "drafted-darts" in pieces:
        notices += draft_notices(measures, make, manner="darts", unit=unit)
    return Drafted(
        advice=ease_advice(measures, make, cloth, unit=unit) if pieces else None,
        notices=tuple(notices),
        pieces=pieces,
        walked={source: walk(those, cloth=cloth, unit=unit) for source, those in pieces.items()},
        tape={source: tape_draft(those, measures, unit=unit) for source, those in pieces.items()},
    )


def _finished(pieces: tuple[Piece, ...], sheet: Sheet, arm: str) -> tuple[FinishedPiece, ...]:
    return finish(pieces, sheet, arm=arm, version=VERSION)


def _sewn(pieces: list[Piece], cloth: Cloth, up: FloatArray, spacing: float) -> Sewn:
    return sew(pieces, cloth=cloth, spacing=spacing, up=up)


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
