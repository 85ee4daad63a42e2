"""The main job: a sheet in, everything that the maker needs out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from unroll.comparing import comparison_rows, level_rows
from unroll.distortion import measure_distortion
from unroll.pipeline.beside import Beside, at_once
from unroll.pipeline.certainty import spread
from unroll.pipeline.dart_layouts import close_best
from unroll.pipeline.drafted import compare_arm, draft_arm
from unroll.pipeline.filled import fill_arm
from unroll.pipeline.unrolling import Tell, unroll_arm
from unroll.reporting import layout_caution
from unroll.types import (
    ArmMeasures,
    ArmResult,
    Comparison,
    Distortion,
    Drafted,
    Filled,
    Make,
    MakeResult,
    Sheet,
    StandOff,
)
from unroll.types.corrected import Closing, Spread
from unroll.version import VERSION
from unroll.walking import place_notches, walk

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
