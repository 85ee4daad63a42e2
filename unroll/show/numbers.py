"""The report as plain numbers: lists of rows with stable keys, ready for JSON."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from unroll.drafts.comparing import comparison_rows, level_rows
from unroll.maths.triangles import area_percentile
from unroll.nouns import (
    ArmResult,
    Case,
    Distortion,
    Fit,
    Intake,
    LayoutTrial,
    MakeResult,
    Piece,
    Sheet,
    Slip,
    Verdict,
    source_called,
)
from unroll.nouns.corrected import DraftCorrection, Miss
from unroll.nouns.fit import FIGURES, Judged
from unroll.show.draft_steps import draft_steps
from unroll.show.phrases import (
    cases_of,
    certainty_lines,
    kept_lines,
    missed_lines,
    roundness_sentence,
)
from unroll.show.scan import level_rows as level_rows_of_scan
from unroll.show.scan import scan_row
from unroll.show.words import (
    arm_advice,
    asked_of,
    changes_in_words,
    layout_caution,
    layout_sentence,
)
from unroll.version import VERSION

Row = dict[str, Any]
FORMAT = 1
STRETCH_KEYS = (
    "give_p99_percent", "stretch_max", "stretch_min", "stretch_p99", "stretch_p01",
    "area_ratio_max", "area_ratio_min", "warp_p99", "warp_p01", "weft_p99", "weft_p01",
    "shear_p99_deg", "flips", "seam_lengths",
)  # fmt: skip


def report_dict(result: MakeResult) -> Row:
    """Return the whole answer as plain lists and numbers, in millimetres.

    Parameters
    ----------
    result : MakeResult

    Returns
    -------
    dict
        Keys as documented in docs/report_keys.md. Numbers are those that were measured, not
        rounded. Lists whose stage has not run are empty.
    """
    sheet = result.sheet
    rows: dict[str, Callable[[ArmResult], Iterable[Mapping[str, Any]]]] = {
        "arms": lambda arm: [_arm_row(result, arm)],
        "verdicts": lambda arm: map(_verdict, arm.verdicts),
        "tape": _tape,
        "pieces": lambda arm: [_piece(arm, p) for ps in arm.pieces.values() for p in ps],
        "seams": _seams,
        "standoff": _standoff,
        "estimated": _estimated,
        "comparison": lambda arm: [r for c in arm.compared.values() for r in comparison_rows(c)],
        "cap_levels": lambda arm: [r for c in arm.compared.values() for r in level_rows(c)],
        "darts": lambda arm: [row for piece in arm.to_cut for row in dart_rows(piece)],
        "trials": lambda arm: map(_trial, arm.layouts),
        "without_darts": _without_darts,
        "corrections": lambda arm: _correction(result, arm),
        "rounds": _rounds,
        "layouts": lambda arm: [
            {**_layout(trial), "text": layout_sentence(trial, sheet.unit)}
            for trial in arm.layouts if trial.offered
        ],
        "certainty": lambda arm: map(_case, cases_of(arm.certainty) if arm.certainty else ()),
        "readings": lambda arm: map(_slip, arm.slips),
        "round_both_arms": lambda arm: _round_both(result.sheet, arm),
        "certainty_words": lambda arm: [{"text": line} for line in _certainty_words(result, arm)],
        "own_draft": lambda arm: [{"text": t} for t in arm.own.draft.found] if arm.own else [],
        "own_tape": lambda arm: [
            {"name": r.name, "asked_mm": r.asked_mm, "got_mm": r.got_mm, "note": r.note}
            for r in (arm.own.tape if arm.own else ())
        ],
        "own_change": _own_change,
        "scan": lambda arm: [scan_row(arm.scan)] if arm.scan else [],
        "scan_levels": lambda arm: level_rows_of_scan(arm.scan) if arm.scan else [],
        "true_surface": lambda arm: [
            {"piece": name, **stretch_numbers(d)} for name, d in arm.true_surface.items()
        ],
        "advice": lambda arm: [
            {"name": name, "text": text} for name, text in arm_advice(result, arm).items()
        ],
    }  # fmt: skip
    return {
        "format": FORMAT, "version": result.version, "unit": sheet.unit, "owner": sheet.owner,
        "date": sheet.date,
        **{
            key: [plain({"arm": arm.measures.side, **row})
                  for arm in result.arms for row in rows_of(arm)]
            for key, rows_of in rows.items()
        },
        "notices": [{"name": n.name, "text": n.text} for n in sheet.notices],
    }  # fmt: skip


def report_json(result: MakeResult) -> str:
    """Return `report_dict` as JSON text, a row a line, the same for the same result."""

    def compact(value: Any) -> str:
        return json.dumps(value, allow_nan=False, ensure_ascii=False)

    entries = []
    for key, value in report_dict(result).items():
        if isinstance(value, list) and value:
            rows = ",\n  ".join(compact(row) for row in value)
            entries.append(f" {compact(key)}: [\n  {rows}\n ]")
        else:
            entries.append(f" {compact(key)}: {compact(value)}")
    return "{\n" + ",\n".join(entries) + "\n}\n"


def redrawn_json(sheet: Sheet, found: Sequence[DraftCorrection]) -> str:
    """Return corrected drafts as JSON text; keys as in docs/report_keys.md."""
    drafts = [
        {
            "arm": measures.side,
            "manner": one.manner,
            "numbers": [
                {"name": c.name, "measured_mm": c.measured, "draw_with_mm": c.drawn}
                for c in one.changes
            ],
            **_before_and_after(one),
            **_reached_and_missed(one.verdicts, sheet),
            "steps": list(draft_steps(one, measures, sheet.make, sheet.unit)),
        }
        for measures, one in zip(sheet.arms, found, strict=True)
    ]
    whole = {"format": FORMAT, "version": VERSION, "unit": sheet.unit, "drafts": drafts}
    return json.dumps(plain(whole), allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def _before_and_after(found: DraftCorrection) -> Row:
    return {
        "before": fit_row(found.before), "after": fit_row(found.after),
        "cap_surplus_before_mm": found.surplus[0], "cap_surplus_after_mm": found.surplus[1],
        "verdicts": [_verdict(verdict) for verdict in found.verdicts],
        "helps": list(found.helps),
    }  # fmt: skip


# ---- rows of figures


def figures_row(seen: Judged) -> Row:
    """Return every figure of `FIGURES` under its key."""
    return {figure.key: figure.of(seen) for figure in FIGURES}


def _verdict(verdict: Verdict) -> Row:
    return {
        "figure": verdict.figure.key, "value": verdict.value, "limit": verdict.limit,
        "met": verdict.is_met, "help": verdict.help,
    }  # fmt: skip


def fit_row(fit: Fit) -> Row:
    """Return the figures of a filled arm, and what they are made of."""
    return {
        **figures_row(fit),
        "girths": [
            {"name": g.name, "asked_mm": g.asked_mm, "sewn_mm": g.sewn_mm} for g in fit.girths
        ],
        "outward_deg": fit.outward_deg, "forward_deg": fit.forward_deg,
        "twist_deg": fit.twist_deg, "length_asked_mm": fit.length_asked,
        "length_sewn_mm": fit.length_sewn, "bend_asked_deg": fit.bend_asked_deg,
        "bend_sewn_deg": fit.bend_sewn_deg,
    }  # fmt: skip


def _standoff(arm: ArmResult) -> list[Row]:
    return [
        {
            "source": source, **fit_row(fit),
            "cap_bulge_max_mm": fit.bulge_max, "cap_bulge_mean_mm": fit.bulge_mean,
            "cap_hollow_max_mm": fit.hollow_max, "bulge_below_seam_mm": fit.bulge_below_seam,
            "volume_sewn_mm3": fit.volume_sewn, "limits": list(fit.limits),
            "converged": arm.sewn[source].converged, "residual": arm.sewn[source].residual,
            "slack_share": arm.sewn[source].slack_share,
            "tension_p99_n_per_mm": arm.sewn[source].tension_p99,
            "crossings": arm.sewn[source].crossings,
        }
        for source, fit in arm.fits.items()
    ]  # fmt: skip


def _miss(miss: Miss) -> Row:
    return {
        **figures_row(miss), "outward_deg": math.degrees(miss.outward_rad),
        "forward_deg": math.degrees(miss.forward_rad), "twist_deg": math.degrees(miss.twist_rad),
    }  # fmt: skip


def _case(case: Case) -> Row:
    fit = case.fit
    return {
        "name": case.name, "cause": case.cause, **figures_row(fit),
        "worst_girth_percent": max((g.off_percent for g in fit.girths), key=abs, default=0.0),
        "girths_percent": [girth.off_percent for girth in fit.girths],
        "outward_deg": fit.outward_deg, "forward_deg": fit.forward_deg,
    }  # fmt: skip


def _slip(slip: Slip) -> Row:
    return {
        "name": slip.name, "off_mm": slip.by, "estimated": slip.is_guess, **figures_row(slip),
    }  # fmt: skip


def _round_both(sheet: Sheet, arm: ArmResult) -> list[Row]:
    """Return the tape round double and arms: what is wanted, else what the measured arm gives."""
    taped, double = arm.round_both, sheet.double
    wanted = double.round_both_arms if double and double.round_both_arms else taped.get("measured")
    return [
        {"source": source, "got_mm": mm, "wanted_mm": wanted, "off_mm": mm - (wanted or mm)}
        for source, mm in taped.items()
    ]


def _certainty_words(result: MakeResult, arm: ArmResult) -> tuple[str, ...]:
    if arm.certainty is None:
        return ()
    lines = certainty_lines(arm.certainty, result.sheet.unit)
    if arm.correction is None:
        return lines
    return (*lines, roundness_sentence(arm.correction, result.sheet.unit))


# ---- correction and layouts


def _correction(result: MakeResult, arm: ArmResult) -> list[Row]:
    found, unit = arm.correction, result.sheet.unit
    if found is None:
        return []
    return [
        {
            "on_paper": [
                {"name": c.name, "before_mm": c.before, "after_mm": c.after}
                for c in found.on_paper
            ],
            "ease_mm": found.after.ease,
            "darts": [_intake(intake) for intake in found.after.intakes],
            "changes": changes_in_words(found, unit),
            "before": fit_row(found.before.fit),
            "after": fit_row(found.after.fit),
            "oval_mean_mm": found.round_mean,
            "oval_p95_mm": found.round_p95,
            **_reached_and_missed(arm.verdicts, result.sheet),
            "caution": layout_caution(arm, result.sheet.make, unit) or None,
        }
    ]


def _reached_and_missed(verdicts: Sequence[Verdict], sheet: Sheet) -> Row:
    return {
        "reached": kept_lines(verdicts, sheet.unit), "missed": missed_lines(verdicts, sheet.unit),
    }  # fmt: skip


def _rounds(arm: ArmResult) -> list[Row]:
    rounds = () if arm.correction is None else arm.correction.rounds
    sewn = [one for one in rounds if one.is_sewn]
    kept = min(sewn, key=lambda one: one.cost) if sewn else None
    return [
        {
            "round": number, "edge_mm": one.edge, "sewn": one.is_sewn, "kept": one is kept,
            "cost": one.cost, **_miss(one.miss),
        }
        for number, one in enumerate(rounds)
    ]  # fmt: skip


def _layout(trial: LayoutTrial) -> Row:
    return {
        "name": trial.name, "proposed": trial.chosen,
        "darts": [_intake(intake) for intake in trial.intakes], "ease_mm": trial.ease,
        **_miss(trial.miss), "faults": trial.faults,
    }  # fmt: skip


def _trial(trial: LayoutTrial) -> Row:
    return {
        "name": trial.name, "taken": trial.chosen,
        "darts": [{"at_mm": dart.at, "length_mm": dart.length} for dart in trial.darts],
        "intakes_mm": [intake.width for intake in trial.intakes], **_miss(trial.miss),
    }  # fmt: skip


def _intake(intake: Intake) -> Row:
    return {
        "name": intake.name, "at_mm": intake.at, "length_mm": intake.length,
        "intake_mm": intake.width, "point_deg": intake.point_deg,
    }  # fmt: skip


# ---- pieces and measures


def dart_rows(piece: Piece) -> list[Row]:
    """Return a row for each dart, measured on the flat piece, in the order of its cap seam.

    Parameters
    ----------
    piece : Piece
        A piece whose cap seam is broken by darts; any other piece has none.
    """
    rows = []
    for first, (start, end) in enumerate(zip(piece.sides, piece.sides[1:], strict=False)):
        if start.seam != end.seam or not start.seam.startswith("dart"):
            continue
        sides = piece.sides[:first], piece.sides[first + 2 :]
        walked = [sum(s.length for s in run if s.seam == "cap seam") for run in sides]
        # The cap seam runs from back to front on a left piece, from front to back on a right one.
        from_front, from_back = walked[::-1] if piece.arm == "left" else walked
        rows.append(
            {
                "name": start.seam,
                "intake_mm": float(np.linalg.norm(end.points[-1] - start.points[0])),
                "legs_mm": [start.length, end.length],
                "from_front_mm": from_front,
                "from_back_mm": from_back,
            }
        )
    return sorted(rows, key=lambda row: float(row["from_front_mm"]))


def stretch_numbers(distortion: Distortion) -> Row:
    """Return the distortion of one flattened panel as numbers; percentiles go by curved area."""
    d = distortion

    def by_area(values: Any, percent: float) -> float:
        return area_percentile(values, d.weights, percent)

    # The worse of the two threads, too long and too short alike: what the advice goes by.
    thread = np.maximum(np.abs(np.log(d.warp)), np.abs(np.log(d.weft)))
    return {
        "give_p99_percent": 100.0 * float(np.expm1(by_area(thread, 99.0))),
        "stretch_max": float(d.stretch_max.max()),
        "stretch_min": float(d.stretch_min.min()),
        "stretch_p99": by_area(d.stretch_max, 99.0),
        "stretch_p01": by_area(d.stretch_min, 1.0),
        "area_ratio_max": float(d.area_ratio.max()),
        "area_ratio_min": float(d.area_ratio.min()),
        "warp_p99": by_area(d.warp, 99.0),
        "warp_p01": by_area(d.warp, 1.0),
        "weft_p99": by_area(d.weft, 99.0),
        "weft_p01": by_area(d.weft, 1.0),
        "shear_p99_deg": float(np.degrees(by_area(np.abs(d.shear_rad), 99.0))),
        "flips": d.flips,
        "seam_lengths": seam_lengths(d),
    }


def seam_lengths(distortion: Distortion) -> list[Row]:
    """Return the length of each side, curved and flat."""
    return [
        {"seam": name, "curved_mm": float(curved), "flat_mm": float(flat)}
        for name, (curved, flat) in distortion.seam_lengths_mm.items()
    ]


def serves_both(result: MakeResult) -> bool:
    """Tell whether one arm stands for two equal ones, the right being its mirror image."""
    return len(result.arms) == 1


def _arm_row(result: MakeResult, arm: ArmResult) -> Row:
    """One arm that was made, and the other one where its mirror image serves."""
    side = arm.measures.side
    serves = [other for other in ("left", "right") if other != side and serves_both(result)]
    return {
        "mirrored_for": serves, "to_cut": arm.source,
        "vertices": len(arm.arm.mesh.vertices), "faces": len(arm.arm.mesh.faces),
    }  # fmt: skip


def _tape(arm: ArmResult) -> list[Row]:
    return [
        {
            "name": row.name, "asked_mm": float(row.asked_mm), "got_mm": float(row.got_mm),
            "difference_mm": float(row.got_mm - row.asked_mm),
            "estimated": is_estimated(arm, row.name), "note": row.note,
        }
        for row in arm.tape
    ]  # fmt: skip


def is_estimated(arm: ArmResult, name: str) -> bool:
    """Tell whether a tape row's measure was estimated; "cap_arc 2" belongs to "cap_arcs"."""
    stem = name.split(" ")[0]
    return any(e.name.split(".")[0] in (name, stem, f"{stem}s") for e in arm.measures.estimated)


def _piece(arm: ArmResult, piece: Piece) -> Row:
    row: Row = {
        "name": piece.name, "source": source_called(piece.source).published,
        "variant": piece.source, "outline_mm": piece.outline.tolist(), "area_mm2": piece.area,
    }  # fmt: skip
    if piece.source != arm.source or piece.name not in arm.distortions:
        return row | dict.fromkeys(STRETCH_KEYS)
    lengths = seam_lengths(arm.distortions[piece.name])  # on the arm that the pieces are for
    return row | stretch_numbers(asked_of(arm)[piece.name]) | {"seam_lengths": lengths}


def _without_darts(arm: ArmResult) -> list[Row]:
    """The outer panel laid flat with no dart, to set beside the piece with darts."""
    if arm.undarted is None:
        return []
    return [{"name": arm.undarted.flattening.panel.name, **stretch_numbers(arm.undarted)}]


def _seams(arm: ArmResult) -> list[Row]:
    return [
        {
            "name": row.name, "source": source_called(row.source).published,
            "variant": row.source, "lengths_mm": [float(length) for length in row.lengths_mm],
            "mismatch_mm": float(row.mismatch_mm), "ease_percent": float(row.ease_percent),
            "verdict": row.verdict,
        }
        for row in arm.seams
    ]  # fmt: skip


def _own_change(arm: ArmResult) -> list[Row]:
    found = arm.own.change if arm.own else None
    if found is None:
        return []
    numbers = [
        {"name": c.name, "draft_mm": c.measured, "make_mm": c.drawn} for c in found.changes
    ]
    return [{"numbers": numbers, **_before_and_after(found)}]


def _estimated(arm: ArmResult) -> list[Row]:
    return [
        {"name": e.name, "value_mm": float(e.value_mm), "from": e.source}
        for e in arm.measures.estimated
    ]


def plain(value: Any) -> Any:
    """Turn dataclasses, mappings, tuples and arrays into what JSON knows."""
    if isinstance(value, float):  # first, for there are tens of thousands
        # JSON has no word for what could not be measured but null.
        return float(value) if math.isfinite(value) else None
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value
