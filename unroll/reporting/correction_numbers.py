"""The correction as plain numbers: what was changed, each round, layouts, certainty."""

from __future__ import annotations

import math
from typing import Any

from unroll.types import ArmResult
from unroll.types.corrected import Closing, Intake, LayoutTrial, Miss, SpreadRow
from unroll.types.sewn import StandOff

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


def figures(off: StandOff) -> Row:
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
