"""What is shown of one arm, put together from the results of its job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from unroll.arm_job import ArmJob
from unroll.arms.lofting import mesh_arm
from unroll.arms.taping import tape
from unroll.correct.layout_trials import fault_help, faults_of, limits_of
from unroll.drafts.comparing import compare
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.finish.notching import place_notches
from unroll.finish.smoothing import smooth_piece
from unroll.finish.walking import walk
from unroll.flat.cutting import cut_panel
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten
from unroll.nouns import (
    ArmMesh,
    ArmResult,
    Comparison,
    Distortion,
    Drafted,
    Laid,
    Make,
    OwnCheck,
    Piece,
    SeamRow,
    TapeRow,
    WalkedSeam,
    verdicts_of,
)
from unroll.nouns.fit import worst_share
from unroll.nouns.mirroring import (
    mirrored_arm,
    mirrored_distortion,
    mirrored_fit,
    mirrored_piece,
    mirrored_sewn,
    mirrored_tape,
)
from unroll.nouns.sources import OWN
from unroll.sewn.fitting import fit_of
from unroll.sewn.round_both import taped_round_both

UNDARTED_EDGE_MM = 13.0


def shown(job: ArmJob) -> ArmResult:
    """Return the arm, and the pieces to cut."""
    shape, laid, sheet = job.shape, job.to_cut, job.job.sheet
    limits = limits_of(job.make)
    job.job.progress.reached(0.6)
    oval = mesh_arm(
        shape, edge=job.job.edge, inner_share=job.make.inner_share, darts=laid.darts
    )
    pieces = {laid.source: _pieces(job, laid)}
    if job.unrolled.source not in pieces:
        pieces[job.unrolled.source] = _pieces(job, job.unrolled)
    return ArmResult(
        measures=job.measures,
        arm=job.sided(oval, mirrored_arm),
        wanted=job.sided(laid.wanted, mirrored_arm),
        tape=job.sided(_tape(job, oval), mirrored_tape),
        source=laid.source,
        distortions=_distortions(job, laid),
        intakes=laid.intakes,
        ease=laid.ease,
        layouts=tuple(  # searched for in millimetres; told in the maker's unit
            replace(trial, faults=faults_of(trial.darts, trial.intakes, limits, sheet.unit))
            if trial.faults else trial
            for trial in job.layouts
        ),
        undarted=_undarted(job),
        pieces=pieces,
        seams=_rows(
            walk(set_, cloth=sheet.cloth, unit=sheet.unit) for set_ in pieces.values()
        ),
        sewn={one.source: job.sided(one.sewn, mirrored_sewn) for one in _laid(job)},
        fits={one.source: job.sided(one.fit, mirrored_fit) for one in _laid(job)},
        correction=job.correction if laid.source == "corrected" else None,
        verdicts=verdicts_of(laid.fit, _help(laid, job.make)),
        faults=tuple(
            f"{fault}: {fault_help(job.make)}"
            for fault in faults_of(laid.darts, laid.intakes, limits, sheet.unit)
        ),
        scan=job.scan_fit,
    )


def checked(job: ArmJob) -> ArmResult:
    """Return the arm with the maker's own draft judged, beside the pieces laid flat.

    A draft that cannot be sewn is told so, and is walked and taped all the same.
    """
    result, pieces, given = shown(job), job.own, job.job.own
    if given is None or not pieces:
        raise UnrollError("the job has no draft of your own for this arm")
    job.job.progress("walking and taping your draft")
    sheet = job.job.sheet
    walked = walk(pieces, cloth=sheet.cloth, unit=sheet.unit)
    check = OwnCheck(given, walked, tape_draft(pieces, job.measures, unit=sheet.unit))
    result = replace(
        result, pieces={OWN.name: pieces, **result.pieces}, source=OWN.name, verdicts=(),
        seams=(*(seam.row for seam in walked), *result.seams), faults=(), own=check,
        distortions={}, intakes=(), layouts=(), undarted=None, correction=None,
    )  # fmt: skip
    try:
        change = job.own_change
        sewn = job.sided(replace(change.sewn_before, source=OWN.name), mirrored_sewn)
        compared = compare(pieces, result.pieces["unrolled"], job.measures)
    except UnrollError as error:
        return replace(result, own=replace(check, unsewn=str(error)))
    fit = fit_of(sewn, result.wanted)
    return replace(
        result,
        sewn={OWN.name: sewn, **result.sewn}, fits={OWN.name: fit, **result.fits},
        verdicts=verdicts_of(fit, "the least change below brings it nearer"),
        compared={OWN.name: compared}, own=replace(check, change=change),
    )  # fmt: skip


def compared(job: ArmJob, result: ArmResult | None = None) -> ArmResult:
    """Return the arm, as `shown` or as given, with its flat draft, both sewn and filled."""
    job.job.progress("drafting the same arm by the flat rules")
    result, flat = result or shown(job), job.drafted
    sewn, fits = job.sewn_drafts(result.wanted)
    darted, pieces, verdicts = job.with_darts, dict(result.pieces), result.verdicts
    if darted is not None:
        pieces[darted.source] = _pieces(job, darted)
        sewn = {darted.source: job.sided(darted.sewn, mirrored_sewn), **sewn}
        fits = {darted.source: job.sided(darted.fit, mirrored_fit), **fits}
        verdicts = verdicts_of(job.to_cut.fit, _help_of_darts(darted))
    result = replace(
        result,
        verdicts=verdicts,
        pieces={**pieces, **flat.pieces},
        seams=(*result.seams, *_rows(flat.walked.values())),
        drafted=flat,
        compared=_comparisons(job, flat, result.pieces["unrolled"]),
        sewn={**result.sewn, **sewn},
        fits={**result.fits, **fits},
    )
    return replace(result, round_both=_round_both(job, result))


def _round_both(job: ArmJob, result: ArmResult) -> dict[str, float]:
    """Return the tape round the double and both arms; empty where the double is not told."""
    double = job.job.sheet.double
    if double is None:
        return {}
    meshes = {name: sewn.mesh for name, sewn in result.sewn.items()}
    return taped_round_both(
        {"measured": result.arm.mesh, **meshes}, job.measures, double
    )  # fmt: skip


def everything(job: ArmJob) -> ArmResult:
    """Return the arm compared, with how far its figures can be trusted."""
    if job.job.corrects:
        job.begin_certainty()
    result, whose = shown(job), "both" if len(job.job.sheet.arms) == 1 else job.measures.side
    # begun: these are to be printed
    job.finished({**result.pieces, **job.drafted.pieces}, result.source, whose)
    result = replace(compared(job, result), true_surface=job.true_surface)
    if not job.job.corrects:
        return result
    return replace(result, certainty=job.certainty, slips=job.slips)


def _laid(job: ArmJob) -> tuple[Laid, ...]:
    both = (job.to_cut, job.unrolled)
    return both if both[0].source != both[1].source else both[:1]


def _pieces(job: ArmJob, laid: Laid) -> tuple[Piece, ...]:
    smooth = map(smooth_piece, laid.pieces)
    return place_notches(
        tuple(job.sided(p, lambda one: mirrored_piece(one, "right")) for p in smooth)
    )


def _tape(job: ArmJob, oval: ArmMesh) -> tuple[TapeRow, ...]:
    return tape(oval, job.left, fights=job.shape.fights, unit=job.job.sheet.unit)


def _distortions(job: ArmJob, laid: Laid) -> Mapping[str, Distortion]:
    found = (measure_distortion(flattening) for flattening in laid.flattenings)
    return {
        d.flattening.panel.name: job.sided(d, mirrored_distortion) for d in found
    }


def _undarted(job: ArmJob) -> Distortion | None:
    """Return the outer panel laid flat without darts; None where it cannot be."""

    def lay() -> Distortion | None:
        arm = mesh_arm(
            job.shape.rounded, edge=UNDARTED_EDGE_MM, inner_share=job.make.inner_share
        )
        try:
            flat = flatten(cut_panel(arm, "outer"), energy=job.make.weave)
        except UnrollError:
            return None
        return measure_distortion(flat)

    if not job.to_cut.darts:
        return None
    return job.job.once("undarted", lay, job.left, job.make.inner_share, job.make.weave)


def _comparisons(
    job: ArmJob, flat: Drafted, unrolled: tuple[Piece, ...]
) -> dict[str, Comparison]:
    out = {}
    for source, pieces in flat.pieces.items():
        try:
            out[source] = compare(pieces, unrolled, job.measures)
        except UnrollError:
            continue
    return out


def _rows(walked: Iterable[tuple[WalkedSeam, ...]]) -> tuple[SeamRow, ...]:
    return tuple(seam.row for seams in walked for seam in seams)


def _help(laid: Laid, make: Make) -> str:
    """Return what would bring pieces nearer that fall short."""
    if laid.source == "unrolled":
        return "correcting the pieces (make without --quick) would bring it nearer"
    if laid.sewn.cloth.ends == "cloth":
        return (
            'card at both ends (ends = "card" in the sheet) would keep the filling from rounding '
            "them out, which pulls the shoulder in"
        )
    if make.cap == "ease":
        return 'darts would take in what ease cannot: write cap = "darts" in the sheet'
    if not laid.intakes:
        return "darts would help: without any the cap's edge cannot take in what its roundness asks"
    if make.darts or make.dart_count is not None:
        fixed = "darts" if make.darts else "dart_count"
        return f"leaving {fixed} out of the sheet lets the program look for a better layout"
    return "taping the cap and the armhole again would show whether they fit each other"


def _help_of_darts(darted: Laid) -> str:
    """Return what the darts that were tried would bring, and how they are printed."""
    what = f"{len(darted.darts)} darts where the search puts them"
    if any(intake.is_seam for intake in darted.intakes):
        what = "a seam down the outside"
    where = "within every limit" if worst_share(darted.fit) <= 1.0 else "nearer"
    return (
        f"{what} would bring it {where} (unroll print SHEET --pieces {darted.source} prints those "
        "pieces)"
    )
