"""The first toile answers back: from a measured trial to pieces for her own cloth."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from unroll.arms.lofting import shape_arm
from unroll.correct.certainty import spread
from unroll.correct.draft_loop import close_draft
from unroll.correct.layouts import close_best
from unroll.correct.refit import refit
from unroll.correct.unrolling import Tell, unroll_arm
from unroll.drafts.advising import draft_notices, ease_advice
from unroll.drafts.comparing import compare, comparison_rows, level_rows
from unroll.drafts.drafting import draft
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import best_pieces, finish
from unroll.finish.notching import place_notches
from unroll.finish.truing import check_truing
from unroll.finish.walking import walk
from unroll.flat.distortion import measure_distortion
from unroll.nouns import (
    ArmMeasures,
    ArmMesh,
    ArmResult,
    Cloth,
    Comparison,
    Distortion,
    Drafted,
    Filled,
    FinishedPiece,
    Make,
    MakeResult,
    Piece,
    PrintFacts,
    Ready,
    Sheet,
    StandOff,
)
from unroll.nouns.corrected import Closing, DraftClosing, Refit, Spread
from unroll.paper.pages import pages
from unroll.paper.sewing_guide import sewing_guide
from unroll.sewn.fitting import stand_off
from unroll.sewn.sewing import sew
from unroll.show.darts import layout_caution
from unroll.show.words import plain_words
from unroll.version import VERSION

Beside = Callable[..., "Future[Any]"]


def at_once(function: Callable[..., Any], /, *args: Any) -> Future[Any]:
    """Run a function here and now; its answer, or its fault, is had by `result()`.

    Examples
    --------
    >>> at_once(max, 3, 5).result()
    5
    """
    future: Future[Any] = Future()
    try:
        future.set_result(function(*args))
    except Exception as fault:
        future.set_exception(fault)
    return future


SPACING_MM = 11.0  # girths differ by less than 0.3 mm from those of a mesh twice as fine
SEWN_TOGETHER = ("outer", "inner", "armhole base", "wrist base")
WORDS = {
    "unrolled": "the unrolled pieces", "corrected": "the corrected pieces",
    "drafted-ease": "the flat draft with ease", "drafted-darts": "the flat draft with darts",
}


def fill_arm(
    sets: Mapping[str, tuple[Piece, ...]], cloth: Cloth, target: ArmMesh, *,
    spacing: float = SPACING_MM, tell: Tell,
) -> Filled:
    """Sew and fill each set of pieces of one arm.

    Raises
    ------
    UnrollError
        When a set cannot be sewn to a closed shape.
    """
    sewn, standoffs = {}, {}
    for source, pieces in sets.items():
        tell(f"sewing and filling {WORDS.get(source, source)}")
        together = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
        sewn[source] = sew(together, cloth=cloth, spacing=spacing)
        standoffs[source] = stand_off(sewn[source], target)
    return Filled(sewn, standoffs, plain_words(list(standoffs.values())))


def draft_arm(measures: ArmMeasures, make: Make, cloth: Cloth) -> Drafted:
    """Draft one arm in both manners, place its notches and walk its seams."""
    pieces = {
        f"drafted-{manner}": place_notches(draft(measures, make, manner=manner))
        for manner in ("ease", "darts")
    }
    return Drafted(
        advice=ease_advice(measures, make, cloth),
        notices=draft_notices(measures, make, manner="darts"),
        pieces=pieces,
        walked={source: walk(those, cloth=cloth) for source, those in pieces.items()},
        tape={source: tape_draft(those, measures) for source, those in pieces.items()},
    )


def compare_arm(
    drafted: Drafted, unrolled: tuple[Piece, ...], measures: ArmMeasures
) -> dict[str, Comparison]:
    """Return the comparison of each manner of the draft with the unrolled pieces."""
    return {
        source: compare(pieces, unrolled, measures) for source, pieces in drafted.pieces.items()
    }


def redraft_arm(measures: ArmMeasures, make: Make, cloth: Cloth, *, tell: Tell) -> DraftClosing:
    """Correct the draft's numbers in the manner that the sheet asks for, and walk its seams.

    Raises
    ------
    UnrollError
        When the draft cannot be drawn or sewn.
    """
    found = close_draft(measures, make, cloth, manner=make.cap, spacing=SPACING_MM, tell=tell)
    pieces = place_notches(found.pieces)
    return replace(found, pieces=pieces, walked=walk(pieces, cloth=cloth))


MM3_PER_LITRE = 1e6


def get_ready(
    result: MakeResult, *, paper: str | None = None, source: str | None = None
) -> Ready:
    """Finish the pieces of every arm and lay them on cloth and paper.

    Parameters
    ----------
    result : MakeResult
    paper : str, optional
        The sheet's paper by default.
    source : str, optional
        "corrected", "unrolled", "drafted-ease" or "drafted-darts"; the best that exists by default.

    Raises
    ------
    UnrollError
        When no piece can be cut, the paper is unknown, or the cloth is too narrow.
    """
    sheet = result.sheet
    finished = tuple(
        piece for arm in result.arms for piece in _finish(result, arm, source)
    )
    truing = check_truing(finished, sheet)
    finished = tuple(piece for piece in finished if piece.crossing is None)
    if not finished:
        raise UnrollError("no piece can be cut:\n" + "\n".join(truing.faults))
    outside = (*truing.faults, *truing.verdicts)
    cautions = (*truing.cautions, *_cautions(result))
    facts = PrintFacts(result.version, _litres(result), outside, cautions)
    plan = cut_plan(finished, sheet.cloth.width)
    page_size = paper or sheet.make.paper
    return Ready(
        finished, plan, pages(finished, plan, sheet, paper=page_size, facts=facts),
        sewing_guide(finished, sheet, facts=facts, paper=page_size), facts, outside,
    )


def _finish(
    result: MakeResult, arm: ArmResult, source: str | None
) -> tuple[FinishedPiece, ...]:
    pieces = best_pieces(arm.pieces, cap=result.sheet.make.cap, source=source)
    side = "both" if len(result.arms) == 1 else arm.measures.side
    return finish(pieces, result.sheet, arm=side, version=result.version)


def _litres(result: MakeResult) -> float:
    """Return the room inside one arm, litres."""
    arm = result.arms[0].arm.mesh
    corners = arm.vertices[arm.faces]
    return float(abs(np.linalg.det(corners).sum())) / 6.0 / MM3_PER_LITRE


def _cautions(result: MakeResult) -> tuple[str, ...]:
    return tuple(
        f"{row.name}: {row.note}" for arm in result.arms for row in arm.tape if row.note
    )


FINE_EDGE_MM = 5.0
PREVIEW_EDGE_MM = 12.0


@dataclass(frozen=True)
class Scope:
    """Which parts of the job are wanted.

    Attributes
    ----------
    edge : float
        Edge length of the 3D mesh, mm.
    draft : bool
        Draft by the flat rules, walk and compare.
    correct : bool
        Search the dart layout and correct the pieces until the filled arm is the measured one.
    fill : bool
        Sew and fill every set of pieces numerically.
    certain : bool
        Sew the corrected pieces again with other cloth, filling, cutting and mesh, to see how far
        their figures can be trusted.
    """

    edge: float = FINE_EDGE_MM
    draft: bool = True
    correct: bool = True
    fill: bool = True
    certain: bool = True


PREVIEW = Scope(PREVIEW_EDGE_MM, draft=False, correct=False, fill=False, certain=False)


def silent(_message: str) -> None:
    """Say nothing."""


def make_result(
    sheet: Sheet,
    *,
    scope: Scope | None = None,
    closings: tuple[Closing, ...] = (),
    tell: Tell = silent,
    beside: Beside = at_once,
) -> MakeResult:
    """Make every arm of a sheet.

    Parameters
    ----------
    sheet : Sheet
    scope : Scope, optional
        The whole job by default.
    closings : tuple of Closing, optional
        Corrected pieces, one an arm, where they are there already.
    tell : callable
        Is told each step in a few words, for a progress display.
    beside : callable
        Runs a function, or has a second core run it meanwhile; see `at_once`.

    Raises
    ------
    UnrollError
        When the measures make no arm.
    """
    scope = scope or Scope()
    given = closings or (None,) * len(sheet.arms)
    arms = tuple(
        make_arm(measures, sheet, scope, closing=closing, tell=tell, beside=beside)
        for measures, closing in zip(sheet.arms, given, strict=True)
    )
    return MakeResult(sheet, arms, VERSION)


def make_arm(
    measures: ArmMeasures,
    sheet: Sheet,
    scope: Scope,
    *,
    closing: Closing | None = None,
    tell: Tell = silent,
    beside: Beside = at_once,
) -> ArmResult:
    """Make one arm of a sheet."""
    make, cloth = sheet.make, sheet.cloth
    unrolled = unroll_arm(measures, make, cloth, edge=scope.edge, tell=tell)
    pieces = {"unrolled": place_notches(unrolled.pieces)}
    walked = {"unrolled": walk(pieces["unrolled"], cloth=cloth)}
    extra: dict[str, Any] = {"trials": unrolled.trials}
    drafted, filled, compared = None, None, {}
    if scope.correct and closing is None:
        closing = close_best(unrolled.shape, make, cloth, tell=tell)
    certain = None
    if closing is not None and scope.certain:
        tell("sewing the corrected pieces again with other cloth, filling and cutting")
        certain = beside(spread, closing, cloth)
    if closing is not None:
        pieces["corrected"] = place_notches(closing.pieces)
        walked["corrected"] = walk(pieces["corrected"], cloth=cloth)
    if scope.draft:
        tell("drafting the same arm by the flat rules")
        drafted = draft_arm(measures, make, cloth)
        pieces |= drafted.pieces
        walked |= drafted.walked
        compared = compare_arm(drafted, pieces["unrolled"], measures)
        extra |= _comparison_rows(compared)
    if scope.fill:
        filled = fill_arm(pieces, cloth, unrolled.arm, tell=tell)
        extra["standoff"] = _standoff_rows(filled)
    if certain is not None:
        tell("seeing how far the corrected pieces' figures can be trusted")
    certainty = None if certain is None else certain.result()
    return ArmResult(
        measures=measures, arm=unrolled.arm, tape=unrolled.tape,
        distortions=unrolled.distortions, undarted=unrolled.undarted, pieces=pieces,
        seams=tuple(seam.row for seams in walked.values() for seam in seams),
        advice=_advice(unrolled.advice, drafted, closing, certainty, make), drafted=drafted,
        compared=compared, filled=filled, closing=closing, certainty=certainty,
        corrected=_corrected_distortions(closing), extra=extra,
    )  # fmt: skip


def _corrected_distortions(closing: Closing | None) -> dict[str, Distortion]:
    """Return what the corrected pieces ask of the cloth, where their flattenings are at hand."""
    flattenings = () if closing is None else closing.flattenings
    return {f.panel.name: measure_distortion(f) for f in flattenings}


def _advice(
    pieces: Mapping[str, str],
    drafted: Drafted | None,
    closing: Closing | None,
    certainty: Spread | None,
    make: Make,
) -> dict[str, str]:
    """Return what the maker must know first: the ease, then the pieces to cut, then each piece."""
    advice = {}
    if drafted is not None and drafted.advice:
        advice["flat draft"] = f"{drafted.advice}."
    if closing is not None:
        caution = layout_caution(closing, make)
        if caution:
            advice["dart layout"] = caution
        advice["corrected pieces"] = _closing_words(closing)
        if certainty is not None and certainty.summary:
            advice["certainty"] = certainty.summary
    return advice | dict(pieces)


def _closing_words(closing: Closing) -> str:
    """Return what the corrected pieces reach, and what they miss with what would help."""
    parts = [f"The corrected pieces, sewn and filled: {'; '.join(closing.reached)}."]
    if not closing.reached:
        parts = ["The corrected pieces, sewn and filled, reach nothing that was asked."]
    by_help: dict[str, list[str]] = {}
    for line in closing.missed:
        miss, _, help_ = line.partition(": ")
        by_help.setdefault(help_, []).append(_in_brackets(miss))
    for help_, misses in by_help.items():
        parts.append(f"Not reached: {'; '.join(misses)}. For that, {help_}.")
    return " ".join(parts)


def _in_brackets(miss: str) -> str:
    """Return "hang 2 ° off; wanted 0.5" so that it can stand in a list."""
    what, _, wanted = miss.partition("; wanted ")
    return f"{what} (wanted {wanted})" if wanted else what


def _comparison_rows(compared: Mapping[str, Comparison]) -> dict[str, list[Any]]:
    """Return the report's rows of the comparison, and of the cap level by level."""
    return {
        "comparison": [row for each in compared.values() for row in comparison_rows(each)],
        "cap_levels": [row for each in compared.values() for row in level_rows(each)],
    }


def _standoff_rows(filled: Filled) -> list[dict[str, Any]]:
    """Return the report's rows of the stand-off, one a source."""
    return [
        _standoff_row(source, standoff)
        | {
            "converged": filled.sewn[source].converged,
            "residual": filled.sewn[source].residual,
            "slack_share": filled.sewn[source].slack_share,
            "tension_p99_n_per_mm": filled.sewn[source].tension_p99,
            "crossings": filled.sewn[source].crossings,
        }
        for source, standoff in filled.standoffs.items()
    ]


def _standoff_row(source: str, found: StandOff) -> dict[str, Any]:
    return {
        "source": source,
        "cap_bulge_max_mm": found.bulge_max, "cap_bulge_mean_mm": found.bulge_mean,
        "cap_hollow_max_mm": found.hollow_max, "cap_mean_mm": found.cap_mean,
        "cap_p95_mm": found.cap_p95, "bulge_below_seam_mm": found.bulge_below_seam,
        "swing_deg": found.swing_deg, "wrist_mm": found.wrist_mm,
        "length_asked_mm": found.length_asked, "length_sewn_mm": found.length_sewn,
        "bend_asked_deg": found.bend_asked_deg, "bend_sewn_deg": found.bend_sewn_deg,
        "volume_sewn_mm3": found.volume_sewn,
        "girths": [
            {"name": g.name, "asked_mm": g.asked_mm, "sewn_mm": g.sewn_mm} for g in found.girths
        ],
        "limits": list(found.limits),
    }  # fmt: skip


def refit_sheet(sheet: Sheet, *, tell: Tell = silent) -> tuple[Sheet, Refit]:
    """Return the sheet with the cloth that explains its trial, and how it was explained.

    Parameters
    ----------
    sheet : Sheet
        With the measures of a trial sewn from its corrected pieces.

    Raises
    ------
    UnrollError
        When the sheet has no trial, or the trial too few measures; or two unlike arms.
    """
    if sheet.trial is None:
        raise UnrollError("the sheet has no table [trial]; expected what was measured on the trial")
    if len(sheet.arms) > 1:
        raise UnrollError(
            "the sheet has two unlike arms and one trial; expected [arm] alone, or a sheet an arm"
        )
    shape = shape_arm(sheet.arms[0])
    closing = close_best(shape, sheet.make, sheet.cloth, tell=tell)
    found = refit(shape, sheet.make, sheet.cloth, closing, sheet.trial, tell=tell)
    return replace(sheet, cloth=found.cloth), found
