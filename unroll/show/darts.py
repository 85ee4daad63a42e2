"""Darts in the report: where they lie, what they take in, and what was tried before."""

from __future__ import annotations

from html import escape
from typing import Any

import numpy as np

from unroll.nouns import ArmResult, Make, MakeResult, Piece
from unroll.nouns.corrected import Closing
from unroll.nouns.shown import Section
from unroll.show.html import lengths, table, whose

# Our judgement, no source: what is promised, twice.
SWING_DEG = 1.0
SHOULDER_MM = 8.0


def layout_caution(closing: Closing, make: Make) -> str:
    """Return a plain warning where the layout takes in too little; empty where it does not.

    Parameters
    ----------
    closing : Closing
        Its corrected pieces tell by the swing and the stand-off that are left.
    make : Make
        What the sheet fixes of the darts, and thus what can be asked for instead.
    """
    swing, shoulder = closing.after.swing_deg, closing.after.cap_p95
    signs = []
    if swing > SWING_DEG:
        signs.append(
            f"even corrected, the filled arm swings {swing:.0f}° off (wanted: under "
            f"{SWING_DEG:.0f}°)"
        )
    if shoulder > SHOULDER_MM:
        signs.append(
            f"the shoulder stands up to {shoulder:.0f} mm off (wanted: under {SHOULDER_MM:.0f} mm)"
        )
    if not signs:
        return ""
    return (
        f"This cap takes in too little for its shoulder: {', and '.join(signs)}. "
        f"{_help(closing, make)}"
    )


def _help(closing: Closing, make: Make) -> str:
    if make.cap == "ease":
        return (
            'Darts, or a seam down the outside of the arm, would take in more: write cap = "darts" '
            "in the sheet."
        )
    more = "longer darts, one dart more, or more ease in the cap seam"
    if any(intake.is_seam for intake in closing.intakes):
        more = "a longer seam, darts instead of it, or more ease in the cap seam"
    if make.darts or make.dart_count is not None:
        fixed = "darts" if make.darts else "dart_count"
        return (
            f"What would help: {more}, or a seam down the outside. Leave {fixed} out of the sheet, "
            "and other layouts are tried."
        )
    return (
        f"What would help: {more}; and tape the cap and the armhole again, since the layouts that "
        "can be sewn were tried (is the armhole smaller than the shoulder it is for?)."
    )


Row = dict[str, Any]


def dart_rows(piece: Piece) -> list[Row]:
    """Return a row a dart, measured on the flat piece, in the order of its cap seam.

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


def piece_dart_rows(arm: ArmResult) -> list[Row]:
    """Return the darts of an arm's flattened pieces."""
    return [row for piece in arm.pieces.get("unrolled", ()) for row in dart_rows(piece)]


def trial_rows(arm: ArmResult) -> list[Row]:
    """Return the dart layouts that were tried, and what each asked of the cloth.

    They are taken from `extra["trials"]`: values with `darts` (each with `at` and `length`),
    `asked_percent` and `intakes`.
    """
    return [
        {
            "darts": [{"at_mm": float(d.at), "length_mm": float(d.length)} for d in trial.darts],
            "asked_percent": float(trial.asked_percent),
            "intakes_mm": [float(intake) for intake in trial.intakes],
        }
        for trial in arm.extra.get("trials", ())
    ]


def darts_section(result: MakeResult) -> Section | None:
    """Return what the darts are and what they gain; None where no dart was made or tried."""
    body = ""
    for arm in result.arms:
        before = whose(result, arm)
        darts, trials = piece_dart_rows(arm), trial_rows(arm)
        if darts:
            body += table(f"{before}darts", _DART_HEADS, [_dart_cells(result, d) for d in darts])
        if len(trials) > 1:
            body += _trials_table(before, trials)
    if not body:
        return None
    intro = (
        "<p>A dart takes in the cloth that a flat cap has too much of. Places run along the cap "
        "seam from the front seam; the intake is the width of the dart's mouth.</p>"
    )
    return Section("darts", "Darts", intro + body)


_DART_HEADS = ("Dart", "From the front seam", "Takes in", "Front leg", "Back leg")


def _dart_cells(result: MakeResult, row: Row) -> list[str]:
    unit = result.sheet.unit
    values = (row["from_front_mm"], row["intake_mm"], *row["legs_mm"])
    return [escape(row["name"]), *(lengths(value, unit) for value in values)]


def _trials_table(before: str, trials: list[Row]) -> str:
    """The best layout of each number of darts."""
    best: dict[int, Row] = {}
    for trial in trials:
        count = len(trial["darts"])
        if count not in best or trial["asked_percent"] < best[count]["asked_percent"]:
            best[count] = trial
    rows = [
        [str(count), f"{trial['asked_percent']:.1f} %", f"{sum(trial['intakes_mm']):.0f} mm"]
        for count, trial in sorted(best.items())
    ]
    return table(
        f"{before}{len(trials)} layouts tried on a coarse mesh, the best of each number",
        ("Darts", "Threads must give", "Taken in together"),
        rows,
    )
