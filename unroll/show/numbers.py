"""The report as plain numbers: lists of rows with stable keys, ready for JSON."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np

from unroll.maths.triangles import area_percentile
from unroll.nouns import ArmResult, Distortion, Fit, MakeResult, Piece
from unroll.nouns.corrected import Closing, Intake, LayoutTrial, Miss, SpreadRow
from unroll.show.darts import piece_dart_rows, trial_rows
from unroll.show.html import serves_both

Row = dict[str, Any]


def correction_rows(arm: ArmResult) -> list[Row]:
    """Return what was changed and what came of it, in one row; none where nothing was corrected."""
    closing = arm.closing
    if closing is None:
        return []
    return [
        {
            "on_paper": [
                {"name": c.name, "before_mm": c.before, "after_mm": c.after}
                for c in closing.on_paper
            ],
            "ease_mm": closing.ease,
            "darts": _darts(closing),
            "changes": closing.changes,
            "before": figures(closing.before),
            "after": figures(closing.after),
            "after_oval": figures(closing.after_oval),
            "oval_mean_mm": closing.round_mean,
            "oval_p95_mm": closing.round_p95,
            "reached": closing.reached,
            "missed": closing.missed,
            "caution": arm.advice.get("dart layout"),
        }
    ]


def round_rows(arm: ArmResult) -> list[Row]:
    """Return a row a round of the loop, in order."""
    closing = arm.closing
    if closing is None:
        return []
    kept = min((one for one in closing.rounds if one.is_sewn), key=lambda one: one.cost)
    return [
        {
            "round": number, "edge_mm": one.edge, "sewn": one.is_sewn,
            "kept": one is kept, "cost": one.cost,
            **_missed(one.miss),
        }
        for number, one in enumerate(closing.rounds)
    ]  # fmt: skip


def layout_rows(arm: ArmResult) -> list[Row]:
    """Return a row a dart layout that was offered, the proposed one first."""
    layouts = () if arm.closing is None else arm.closing.layouts
    return [
        {
            "name": trial.name, "proposed": trial.chosen, "darts": _darts(trial),
            "ease_mm": trial.ease, **_missed(trial.miss), "faults": trial.faults,
            "text": trial.text,
        }
        for trial in layouts
    ]  # fmt: skip


def certainty_rows(arm: ArmResult) -> list[Row]:
    """Return a row a case that was sewn again; the first is as assumed."""
    found = arm.certainty
    return [] if found is None else [_spread(row) for row in (found.base, *found.rows)]


def certainty_words(arm: ArmResult) -> list[Row]:
    """Return the spread in plain sentences."""
    return [] if arm.certainty is None else [{"text": line} for line in arm.certainty.lines]


def figures(off: Fit) -> Row:
    """Return the figures that a correction is judged by."""
    return {
        "girths": [
            {"name": g.name, "asked_mm": g.asked_mm, "sewn_mm": g.sewn_mm} for g in off.girths
        ],
        "worst_girth_percent": max((abs(g.off_percent) for g in off.girths), default=0.0),
        "swing_deg": off.swing_deg, "outward_deg": off.outward_deg, "forward_deg": off.forward_deg,
        "twist_deg": off.twist_deg, "wrist_mm": off.wrist_mm, "cap_mean_mm": off.cap_mean,
        "cap_p95_mm": off.cap_p95, "length_asked_mm": off.length_asked,
        "length_sewn_mm": off.length_sewn, "bend_asked_deg": off.bend_asked_deg,
        "bend_sewn_deg": off.bend_sewn_deg,
    }  # fmt: skip


def _darts(laid: Closing | LayoutTrial) -> list[Row]:
    return [_dart(intake) for intake in laid.intakes]


def _dart(intake: Intake) -> Row:
    return {
        "name": intake.name, "at_mm": intake.at, "length_mm": intake.length,
        "intake_mm": intake.width, "point_deg": intake.point_deg,
    }  # fmt: skip


def _missed(miss: Miss) -> Row:
    return {
        "worst_girth_percent": miss.worst_girth_percent, "swing_deg": miss.swing_deg,
        "outward_deg": math.degrees(miss.outward_rad),
        "forward_deg": math.degrees(miss.forward_rad),
        "twist_deg": math.degrees(miss.twist_rad), "wrist_mm": miss.wrist_mm,
        "cap_mean_mm": miss.cap_mean, "cap_p95_mm": miss.cap_p95,
    }  # fmt: skip


def _spread(row: SpreadRow) -> Row:
    return {
        "name": row.name, "worst_girth_percent": row.girth_percent,
        "girths_percent": row.girths, "swing_deg": row.swing_deg,
        "outward_deg": row.outward_deg, "forward_deg": row.forward_deg,
        "wrist_mm": row.wrist_mm, "cap_mean_mm": row.cap_mean, "cap_p95_mm": row.cap_p95,
    }  # fmt: skip


FORMAT = 1
_STRETCH_KEYS = (
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
    arms = result.arms
    return {
        "format": FORMAT,
        "version": result.version,
        "unit": result.sheet.unit,
        "owner": result.sheet.owner,
        "date": result.sheet.date,
        "arms": [_arm_row(result, arm) for arm in arms],
        "tape": _rows(arms, _tape),
        "pieces": _rows(arms, _pieces),
        "seams": _rows(arms, _seams),
        "standoff": _rows(arms, _found("standoff")),
        "estimated": _rows(arms, _estimated),
        "comparison": _rows(arms, _found("comparison")),
        "cap_levels": _rows(arms, _found("cap_levels")),
        "darts": _rows(arms, piece_dart_rows),
        "trials": _rows(arms, trial_rows),
        "without_darts": _rows(arms, _without_darts),
        "corrections": _rows(arms, _plainly(correction_rows)),
        "rounds": _rows(arms, _plainly(round_rows)),
        "layouts": _rows(arms, _plainly(layout_rows)),
        "certainty": _rows(arms, _plainly(certainty_rows)),
        "certainty_words": _rows(arms, certainty_words),
        "advice": _rows(arms, _advice),
        "notices": [{"name": n.name, "text": n.text} for n in result.sheet.notices],
    }


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


def published_source(source: str) -> str:
    """Return the report's word for a piece's source: "flattened", "drafted" or "corrected".

    Examples
    --------
    >>> published_source("unrolled"), published_source("drafted-ease")
    ('flattened', 'drafted')
    """
    return {"unrolled": "flattened"}.get(source, source.split("-")[0])


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
        "seam_lengths": [
            {"seam": name, "curved_mm": float(curved), "flat_mm": float(flat)}
            for name, (curved, flat) in d.seam_lengths_mm.items()
        ],
    }


def _rows(arms: Iterable[ArmResult], rows_of: Any) -> list[Row]:
    return [{"arm": arm.measures.side, **row} for arm in arms for row in rows_of(arm)]


def _arm_row(result: MakeResult, arm: ArmResult) -> Row:
    """One arm that was made, and the other one where its mirror image serves."""
    side = arm.measures.side
    serves = [other for other in ("left", "right") if other != side and serves_both(result)]
    return {
        "arm": side, "mirrored_for": serves,
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


def _pieces(arm: ArmResult) -> list[Row]:
    return [_piece_row(arm, piece) for pieces in arm.pieces.values() for piece in pieces]


def _piece_row(arm: ArmResult, piece: Piece) -> Row:
    row: Row = {
        "name": piece.name, "source": published_source(piece.source), "variant": piece.source,
        "outline_mm": piece.outline.tolist(), "area_mm2": piece.area,
    }  # fmt: skip
    by_source = {"unrolled": arm.distortions, "corrected": arm.corrected}
    distortion = by_source.get(piece.source, {}).get(piece.name)
    if distortion is None:
        return row | dict.fromkeys(_STRETCH_KEYS)
    return row | stretch_numbers(distortion)


def _seams(arm: ArmResult) -> list[Row]:
    return [
        {
            "name": row.name, "source": published_source(row.source), "variant": row.source,
            "lengths_mm": [float(length) for length in row.lengths_mm],
            "mismatch_mm": float(row.mismatch_mm), "ease_percent": float(row.ease_percent),
            "verdict": row.verdict,
        }
        for row in arm.seams
    ]  # fmt: skip


def _estimated(arm: ArmResult) -> list[Row]:
    return [
        {"name": e.name, "value_mm": float(e.value_mm), "from": e.source}
        for e in arm.measures.estimated
    ]


def _without_darts(arm: ArmResult) -> list[Row]:
    """The outer panel flattened with no dart, to set beside the piece with darts."""
    if arm.undarted is None:
        return []
    return [{"name": arm.undarted.flattening.panel.name, **stretch_numbers(arm.undarted)}]


def _advice(arm: ArmResult) -> list[Row]:
    return [{"name": name, "text": text} for name, text in arm.advice.items()]


def _plainly(rows_of: Callable[[ArmResult], list[Row]]) -> Callable[[ArmResult], list[Row]]:
    """Rows as JSON knows them."""
    return lambda arm: [plain(row) for row in rows_of(arm)]


def _found(stage: str) -> Any:
    """Rows that a later stage left in `extra`: mappings or dataclasses with the published keys."""

    def rows_of(arm: ArmResult) -> list[Row]:
        return [plain(row) for row in arm.extra.get(stage, ())]

    return rows_of


def plain(value: Any) -> Any:
    """Turn dataclasses, mappings, tuples and arrays into what JSON knows."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if isinstance(value, float):
        # JSON has no word for what could not be measured but null.
        return value if math.isfinite(value) else None
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value
