"""The job: each result is worked out once, and only what a change touches is worked out anew."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.coarse import EDGE_MM, STEPS, CoarseRun, coarsely
from tests.samples import sample_measures
from unroll import arm_job, arm_results
from unroll import job as recipe
from unroll.arm_job import COARSE, FINE, LOOK
from unroll.errors import UnrollError
from unroll.job import Job
from unroll.nouns import (
    FIGURES,
    ArmMeasures,
    Cloth,
    DartChoice,
    Fit,
    Make,
    MakeResult,
    Piece,
    Sheet,
    TrialMeasures,
    mirrored,
)
from unroll.progress import Cancelled, Progress

ACROSS = np.array([1.0, -1.0, 1.0])


class WorkedOut(Exception):
    """A step was begun that a test expects to have been kept, or to be begun."""


@pytest.fixture
def untouched(monkeypatch):
    """Refuse every costly step."""

    def refuse(name):
        def step(*_args, **_kwargs):
            raise WorkedOut(name)

        return step

    for name in ("layout_steps", "lay_on_bench", "correct", "resewings"):
        monkeypatch.setattr(arm_job, name, refuse(name))


def changed(run: CoarseRun, **changes: object) -> Job:
    """The job of the sheet with other measures of its one arm."""
    return run.job.for_sheet(replace(run.job.sheet, arms=(sample_measures(**changes),)))


# ---- once


def test_each_step_is_worked_out_once(coarse_run: CoarseRun) -> None:
    once = {name: 1 for name in STEPS} | {"_sewn": 2, "shape_arm": 1}  # the draft in two manners
    assert dict(coarse_run.calls) == once


def test_asking_again_works_out_nothing(coarse_run: CoarseRun) -> None:
    with coarsely() as calls:
        again = coarse_run.job.everything()
        coarse_run.job.filled()
        coarse_run.job.shapes()
    assert not calls
    arm, before = again.arms[0], coarse_run.result.arms[0]
    assert arm.fits["corrected"] is before.fits["corrected"]
    assert arm.certainty is before.certainty and arm.correction is before.correction


def test_a_result_is_known_by_all_that_it_depends_on(coarse_run: CoarseRun) -> None:
    job = Job(coarse_run.job.sheet)
    assert job.once("sum", lambda: 1, "a", (1.0, np.zeros(2))) == 1
    assert job.once("sum", lambda: 2, "a", (1.0, np.zeros(2))) == 1
    assert job.once("sum", lambda: 3, "a", (1.0, np.zeros(3))) == 3
    assert job.once("other", lambda: 4, "a", (1.0, np.zeros(2))) == 4


def test_where_the_proposed_layout_folds_the_next_one_is_taken(
    coarse_run: CoarseRun, monkeypatch
) -> None:
    trials = coarse_run.job.arms[0].layouts
    folding = {trials[0].darts}

    def lay(_shape, _make, _cloth, darts, **_sizes):
        if darts in folding:
            raise UnrollError("the flat piece covers cloth twice")
        return darts

    monkeypatch.setattr(arm_job, "layout_steps", lambda *_args, **_kwargs: iter([trials]))
    monkeypatch.setattr(arm_job, "lay_on_bench", lay)
    arm = Job(coarse_run.job.sheet).arms[0]
    assert arm.on_bench == arm.layouts[0].darts == trials[1].darts != trials[0].darts
    assert [trial.chosen for trial in arm.layouts] == [True] + [False] * (len(trials) - 2)
    folding.update(trial.darts for trial in trials)
    with pytest.raises(UnrollError, match="covers cloth twice"):
        _ = Job(coarse_run.job.sheet).arms[0].on_bench


@pytest.mark.parametrize(
    "mean,p95,excess,stages", [(1.4, 3.9, 0.0, 1), (1.6, 3.9, 0.0, 2), (1.4, 4.1, 0.0, 2),
                               (1.4, 3.9, 0.5, 2)],
)  # fmt: skip
def test_a_hurried_search_ends_as_soon_as_a_layout_keeps_to_the_cap(
    mean: float, p95: float, excess: float, stages: int, coarse_run: CoarseRun, monkeypatch
) -> None:
    """1.5 mm on average and 95 % within 4 are let pass; a fine search goes on all the same."""
    one = coarse_run.job.arms[0].layouts[0]
    seen = []
    found = replace(one, miss=replace(one.miss, cap_mean=mean, cap_p95=p95), excess=excess)

    def steps(*_args, **_kwargs):
        for stage in (1, 2, 3):
            seen.append(stage)
            yield (found,)

    monkeypatch.setattr(arm_job, "layout_steps", steps)
    for search, wanted in ((LOOK, 1), (COARSE, stages), (FINE, 3)):
        seen.clear()
        assert Job(coarse_run.job.sheet, search=search).arms[0]._searched == (found,)
        assert len(seen) == wanted


def test_pieces_that_are_not_corrected_are_sewn_on_a_coarser_mesh(
    coarse_run: CoarseRun, monkeypatch
) -> None:
    asked, layouts = [], coarse_run.job.arms[0].layouts

    def lay(*_args, **sizes):
        asked.append(sizes)
        raise WorkedOut

    monkeypatch.setattr(arm_job, "lay_on_bench", lay)
    monkeypatch.setattr(arm_job, "layout_steps", lambda *_args, **_kwargs: 3 * [layouts])
    for search, corrects in ((FINE, True), (COARSE, False), (LOOK, False)):
        with pytest.raises(WorkedOut):
            _ = Job(one_arm(), corrects=corrects, search=search).arms[0].on_bench
    sizes = [{k: v for k, v in one.items() if k in ("edge", "spacing")} for one in asked]
    assert sizes == [{}, {"spacing": arm_job.HURRIED_MM}, arm_job.LOOK_SIZES]


def test_a_step_that_failed_is_tried_again(coarse_run: CoarseRun) -> None:
    job = Job(coarse_run.job.sheet)

    def fails() -> int:
        raise UnrollError("not yet")

    with pytest.raises(UnrollError, match="not yet"):
        job.once("step", fails)
    assert job.once("step", lambda: 5) == 5


# ---- a changed sheet


@pytest.mark.parametrize(
    "change",
    [
        {"seam_allowance": 6.0}, {"paper": "letter"}, {"seam_allowances": {"wrist": 20.0}},
        {"round_to": 3.0},
    ],
)  # fmt: skip
def test_how_pieces_are_drawn_on_paper_leaves_the_correction_alone(
    coarse_run: CoarseRun, untouched, change
) -> None:
    sheet = coarse_run.job.sheet
    other = coarse_run.job.for_sheet(replace(sheet, make=replace(sheet.make, **change)))
    arm = other.shapes().arms[0]
    assert arm.correction is coarse_run.result.arms[0].correction
    assert other.arms[0].certainty is coarse_run.result.arms[0].certainty


@pytest.mark.parametrize("change", [{"name": "linen"}, {"width": 900.0}])
def test_a_cloths_name_and_width_leave_the_correction_alone(
    coarse_run: CoarseRun, untouched, change
) -> None:
    sheet = coarse_run.job.sheet
    other = coarse_run.job.for_sheet(replace(sheet, cloth=replace(sheet.cloth, **change)))
    assert other.arms[0].correction is coarse_run.result.arms[0].correction


def test_another_wrist_is_another_arm(coarse_run: CoarseRun, untouched) -> None:
    other = changed(coarse_run, wrist_girth=164.0)
    assert other.arms[0].shape is not coarse_run.job.arms[0].shape
    with pytest.raises(WorkedOut, match="layout_steps"):
        _ = other.arms[0].correction


@pytest.mark.parametrize(
    ("make", "cloth"),
    [({"widest_dart": 90.0}, {}), ({"weave": "even"}, {}), ({}, {"stretch_percent": 0.9})],
)
def test_what_the_shape_depends_on_is_worked_out_anew(
    coarse_run: CoarseRun, untouched, make, cloth
) -> None:
    sheet = coarse_run.job.sheet
    other = replace(
        sheet, make=replace(sheet.make, **make), cloth=replace(sheet.cloth, **cloth)
    )
    with pytest.raises(WorkedOut, match="layout_steps"):
        _ = coarse_run.job.for_sheet(other).arms[0].correction


def test_the_first_job_keeps_its_own_results(coarse_run: CoarseRun, untouched) -> None:
    changed(coarse_run, wrist_girth=165.0)
    assert coarse_run.job.arms[0].correction is coarse_run.result.arms[0].correction


# ---- a right arm


@pytest.fixture(scope="module")
def right(coarse_run: CoarseRun) -> MakeResult:
    with coarsely() as calls:
        result = changed(coarse_run, side="right").everything()
    assert not {"layout_steps", "lay_on_bench", "correct", "resewings"} & set(calls)
    return result


def test_a_right_arm_has_the_mirror_image_of_the_left_ones_pieces(
    coarse_result: MakeResult, right: MakeResult
) -> None:
    left = coarse_result.arms[0]
    for source in ("corrected", "unrolled"):
        for one, other in zip(left.pieces[source], right.arms[0].pieces[source], strict=True):
            there = mirrored(other, "left")
            assert (one.name, one.arm, other.arm) == (there.name, "left", "right")
            for side, back in zip(one.sides, there.sides, strict=True):
                assert side.seam == back.seam and np.array_equal(side.points, back.points)


def test_a_right_arm_has_the_left_ones_figures_and_its_filled_shape_mirrored(
    coarse_result: MakeResult, right: MakeResult
) -> None:
    left, other = coarse_result.arms[0], right.arms[0]
    for source in ("corrected", "unrolled"):
        one, two = left.fits[source], other.fits[source]
        assert [figure.of(one) for figure in FIGURES] == [figure.of(two) for figure in FIGURES]
        assert (one.outward_deg, one.forward_deg) == (two.outward_deg, two.forward_deg)
        assert (one.arm, two.arm) == ("left", "right")
        here, there = left.sewn[source].mesh, other.sewn[source].mesh
        assert np.array_equal(here.vertices * ACROSS, there.vertices)
        assert np.array_equal(here.faces[:, ::-1], there.faces)  # still seen from outside
    assert other.sewn["corrected"].volume == left.sewn["corrected"].volume
    assert np.array_equal(left.wanted.mesh.vertices * ACROSS, other.wanted.mesh.vertices)


def test_a_right_arms_flat_draft_is_sewn_as_well(
    coarse_result: MakeResult, right: MakeResult
) -> None:
    for source in ("drafted-ease", "drafted-darts"):
        one, two = coarse_result.arms[0].fits[source], right.arms[0].fits[source]
        assert two.arm == "right" and two.wrist_mm == pytest.approx(one.wrist_mm, abs=0.2)


def test_two_unlike_arms_are_made_apart() -> None:
    left = sample_measures()
    right = sample_measures(side="right", upper_arm_girth=300.0)
    with coarsely() as calls:
        result = quick(Sheet((left, right), Cloth(), Make(dart_count=0))).shapes()
    assert calls["lay_on_bench"] == 2 and calls["correct"] == 0
    assert [arm.measures.side for arm in result.arms] == ["left", "right"]
    girths = [
        next(row.got_mm for row in arm.tape if row.name == "upper_arm_girth") for arm in result.arms
    ]
    assert girths == pytest.approx([286.0, 300.0], abs=0.5)
    outer = [next(p for p in arm.to_cut if p.name == "outer") for arm in result.arms]
    assert all(piece.area > 0 for piece in outer)


# ---- what a job shows


def quick(sheet: Sheet, **how: object) -> Job:
    return Job(sheet, corrects=False, search=LOOK, edge=EDGE_MM, **how)  # type: ignore[arg-type]


def one_arm(measures: ArmMeasures | None = None, **make: object) -> Sheet:
    return Sheet((measures or sample_measures(),), Cloth(), replace(Make(), **make))


def test_everything_holds_every_set_of_pieces_sewn_and_judged(coarse_result: MakeResult) -> None:
    arm = coarse_result.arms[0]
    sources = {"corrected", "unrolled", "drafted-ease", "drafted-darts"}
    assert set(arm.pieces) == set(arm.sewn) == set(arm.fits) == sources
    assert arm.source == next(iter(arm.pieces)) == "corrected"
    assert arm.fit is arm.fits["corrected"] and arm.to_cut is arm.pieces["corrected"]
    assert {seam.source for seam in arm.seams} == sources
    assert set(arm.compared) == {"drafted-ease", "drafted-darts"}
    assert len(arm.certainty.cases) == 12 and arm.correction is not None
    assert len(arm.slips) > 10 and arm.sewn["corrected"].is_weighed


def test_all_that_is_shown_of_the_pieces_to_cut_is_of_one_layout(
    coarse_result: MakeResult,
) -> None:
    arm = coarse_result.arms[0]
    darts = arm.correction.after.darts
    assert arm.layouts[0].darts == darts and arm.layouts[0].chosen
    names = [f"dart {number}" for number in range(1, len(darts) + 1)]
    assert [intake.name for intake in arm.intakes] == names
    for mesh in (arm.arm, arm.wanted):
        assert [name for name in mesh.paths if name.startswith("dart")] == names
    (outer,) = [piece for piece in arm.to_cut if piece.name == "outer"]
    assert {s.seam for s in outer.sides if s.seam.startswith("dart")} == set(names)


def test_the_distortion_is_that_of_the_pieces_to_cut(coarse_result: MakeResult) -> None:
    arm = coarse_result.arms[0]
    for flattening in arm.correction.after.flattenings:
        found = arm.distortions[flattening.panel.name]
        assert found.flattening is flattening and found.flips == 0
    undarted, darted = (
        np.average(abs(d.warp - 1), weights=d.weights)
        for d in (arm.undarted, arm.distortions["outer"])
    )
    assert undarted > 1.5 * darted


def test_the_number_of_darts_of_the_sheet_is_kept() -> None:
    with coarsely():
        arm = quick(one_arm(dart_count=1)).shapes().arms[0].arm
    assert [name for name in arm.paths if name.startswith("dart")] == ["dart 1"]


@pytest.mark.parametrize(
    ("make", "help_"),
    [
        ({"cap": "ease"}, 'write cap = "darts" in the sheet'),
        ({"dart_count": 0}, "darts would help"),
        ({"dart_count": 2}, "leaving dart_count out of the sheet"),
        ({"darts": (DartChoice(at=30.0),)}, "leaving darts out of the sheet"),
        ({}, "taping the cap and the armhole again"),
    ],
)
def test_what_would_help_depends_on_what_the_sheet_fixes(coarse_run, make, help_) -> None:
    laid = coarse_run.job.arms[0].correction.after
    if make.get("dart_count") == 0:
        laid = replace(laid, intakes=())
    assert help_ in arm_results._help(laid, replace(Make(), **make))


def test_ends_of_cloth_alone_are_the_first_thing_to_change(coarse_run) -> None:
    laid = coarse_run.job.arms[0].correction.after
    soft = replace(laid, sewn=replace(laid.sewn, cloth=Cloth(ends="cloth")))
    for make in (Make(), Make(cap="ease"), Make(dart_count=2)):
        assert arm_results._help(soft, make).startswith("card at both ends")


def within(fit: Fit) -> Fit:
    """The fit with nothing off."""
    girths = tuple(replace(girth, sewn_mm=girth.asked_mm) for girth in fit.girths)
    return replace(fit, girths=girths, swing_deg=0.0, wrist_mm=0.0, elbow_mm=0.0, cap_mean=0.0,
                   cap_p95=0.0)


@pytest.mark.parametrize(
    "make", [{"cap": "ease"}, {"dart_count": 1}, {"darts": (DartChoice(at=0.0, length=60.0),)}]
)
def test_where_what_was_asked_for_falls_short_the_darts_of_the_search_are_tried(
    coarse_run, monkeypatch, make
) -> None:
    taken = coarse_run.job.arms[0]
    good = replace(taken.correction.after, fit=within(taken.correction.after.fit))
    searched: list[Make] = []

    def search(_shape, make, _cloth, **_how):
        searched.append(make)
        return iter([taken.layouts])

    def corrected(fit):
        return SimpleNamespace(after=replace(good, fit=fit))

    monkeypatch.setattr(arm_job, "layout_steps", search)
    monkeypatch.setattr(arm_job, "lay_on_bench", lambda *_args, **_how: taken.on_bench)
    monkeypatch.setattr(arm_job, "correct", lambda *_args, **_how: corrected(good.fit))
    arm = Job(replace(coarse_run.job.sheet, make=replace(Make(), **make))).arms[0]
    arm.given = corrected(taken.on_bench.laid.fit)  # out of its limits
    found = arm.with_darts
    assert found is not None and found.source == "with-darts" and found.fit.swing_deg == 0.0
    assert [(one.cap, one.darts, one.dart_count) for one in searched] == [("darts", (), None)]
    assert "2 darts where the search puts them would bring it within every limit" in (
        arm_results._help_of_darts(found))
    arm.given = corrected(good.fit)
    assert arm.with_darts is None


def test_a_figure_within_its_limit_needs_no_help(coarse_result: MakeResult) -> None:
    for verdict in coarse_result.arms[0].verdicts:
        assert bool(verdict.help) is not verdict.is_met


def test_a_manner_that_cannot_be_drafted_is_told_and_the_other_is_made() -> None:
    low = sample_measures(cap_height=60.0)  # an eased cap's height follows from its seam
    found = arm_job.drafted(low, Make(), Cloth())
    assert set(found.pieces) == set(found.walked) == set(found.tape) == {"drafted-ease"}
    (notice,) = found.notices
    assert notice.text.startswith(
        "the flat draft could not be drawn from these measures: cap_height is 60 mm")


def test_a_construction_that_fails_costs_the_draft_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plain = arm_job.draft

    def fails(measures: ArmMeasures, make: Make, *, manner: str) -> tuple[Piece, ...]:
        if manner == "darts":
            raise ValueError("f(a) and f(b) must have different signs")
        return plain(measures, make, manner=manner)

    monkeypatch.setattr(arm_job, "draft", fails)
    found = arm_job.drafted(sample_measures(), Make(), Cloth())
    assert set(found.pieces) == {"drafted-ease"}
    assert found.notices[0].text.endswith("from these measures: its construction fails on them")


# ---- a trial


def test_a_trial_needs_its_table_and_one_arm_alone() -> None:
    with pytest.raises(UnrollError, match=r"the sheet has no table \[trial\]"):
        Job(one_arm()).refitted()
    two = (sample_measures(), sample_measures(side="right", elbow_girth=250.0))
    trial = TrialMeasures(girths=(("elbow", 290.0),))
    with pytest.raises(UnrollError, match="two unlike arms and one trial"):
        Job(Sheet(two, Cloth(), Make(), trial=trial)).refitted()


def test_a_refitted_job_cuts_the_pieces_that_were_corrected_for_the_trial(
    coarse_run: CoarseRun, untouched, monkeypatch
) -> None:
    own = Cloth(stretch_percent=0.9)
    given = coarse_run.result.arms[0].correction

    class Found:
        cloth, correction = own, given

    monkeypatch.setattr(recipe, "refit", lambda *_args, **_kwargs: Found)
    trial = TrialMeasures(girths=(("elbow", 250.0), ("forearm", 245.0)))
    job, found = coarse_run.job.for_sheet(
        replace(coarse_run.job.sheet, trial=trial)
    ).refitted()
    assert found is Found and job.sheet.cloth == own
    arm = job.shapes().arms[0]
    assert arm.correction is given and arm.source == "corrected"
    # those that the trial was chosen from, their words in the sheet's unit
    before = coarse_run.result.arms[0].layouts
    assert [trial.darts for trial in arm.layouts] == [trial.darts for trial in before]
    assert [trial.miss for trial in arm.layouts] == [trial.miss for trial in before]


# ---- being told, and being cancelled


def test_each_step_is_told_and_the_share_never_goes_back() -> None:
    told: list[tuple[str, float]] = []
    with coarsely():
        quick(one_arm(), progress=Progress(lambda step, share: told.append((step, share)))).shapes()
    steps = [step for step, _ in told]
    assert "lofting the arm from the measures" in steps
    assert any(step.startswith("2 darts: the shoulder within") for step in steps)
    shares = [share for _, share in told]
    assert shares == sorted(shares) and 0.0 <= shares[0] <= shares[-1] <= 1.0


def test_a_cancelled_job_ends_at_its_next_step_and_keeps_what_it_has() -> None:
    told: list[str] = []

    def show(step: str, _share: float) -> None:
        told.append(step)
        if step.startswith("looking for the dart layout"):
            progress.cancel()

    progress = Progress(show)
    job = quick(one_arm(), progress=progress)
    with coarsely(), pytest.raises(Cancelled, match="cancelled before: "):
        job.shapes()
    assert told[-1].startswith("looking for the dart layout")
    assert not issubclass(Cancelled, UnrollError)
    again = Job(job.sheet, corrects=False, search=LOOK)
    again._kept = job._kept
    with coarsely() as calls:
        _ = again.arms[0].shape
    assert not calls


def test_the_inner_piece_bends_more_than_the_arm_and_the_outer_less(
    coarse_result: MakeResult,
) -> None:
    """As the report says beside the pieces."""
    (arm,) = coarse_result.arms
    bends = {}
    for piece in arm.pieces["corrected"][:2]:
        upper, elbow = (piece.lines[name].mean(axis=0) for name in ("upper arm line", "elbow line"))
        wrist = next(s.points for s in piece.sides if s.seam.endswith("wrist")).mean(axis=0)
        one, other = elbow - upper, wrist - elbow
        turned = np.arctan2(one[0] * other[1] - one[1] * other[0], one @ other)
        bends[piece.name] = abs(float(np.degrees(turned)))
    assert arm.fit is not None
    assert bends["outer"] < arm.fit.bend_asked_deg < bends["inner"]
