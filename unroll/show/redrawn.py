"""A hand draft's corrected numbers: in words, and as plain numbers."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from unroll.nouns import Sheet
from unroll.nouns.corrected import DraftChange, DraftClosing
from unroll.show.numbers import FORMAT, figures, plain
from unroll.units import format_length
from unroll.version import VERSION

NAMES = {
    "cap_ease": "ease over the cap",
    "elbow_wedge": "elbow wedge (length down the back less the front)",
}
CHOSEN = tuple(NAMES)  # not measured: chosen on the sheet, or worked out
FINE = 32  # of an inch: a sixteenth of a girth is more than is let pass


def number_name(change: DraftChange) -> str:
    """Return a number's name in a maker's words.

    Examples
    --------
    >>> number_name(DraftChange("upper_arm_girth", 286.0, 284.0))
    'upper arm girth'
    >>> number_name(DraftChange("dart 1 intake", 80.0, 78.0))
    'dart 1 takes in'
    """
    name = NAMES.get(change.name, change.name.replace("_", " "))
    return name.replace(" intake", " takes in")


def drawable(mm: float, unit: str) -> str:
    """Return a length as finely as it can be drawn, in the maker's unit.

    Examples
    --------
    >>> drawable(284.6, "in"), drawable(284.64, "cm"), drawable(284.64, "mm")
    ('11 7/32 in', '28.46 cm', '284.6 mm')
    """
    if unit == "in":
        return format_length(mm, "in", denominator=FINE)
    return f"{0.1 * mm:.2f} cm" if unit == "cm" else f"{mm:.1f} mm"


def number_line(change: DraftChange, unit: str) -> str:
    """Return a number as measured and as it is to be drawn with, one line.

    Examples
    --------
    >>> number_line(DraftChange("cap_height", 160.0, 166.6), "mm")
    'cap height: 160.0 mm as measured, draw it with 166.6 mm (+6.6 mm)'
    >>> number_line(DraftChange("dart 1 intake", 105.0, 105.04), "mm")
    'dart 1 takes in: 105.0 mm as it was, and stays'
    """
    was = "as measured" if change.name not in CHOSEN and " " not in change.name else "as it was"
    by = change.drawn - change.measured
    start = f"{number_name(change)}: {drawable(change.measured, unit)} {was}"
    if abs(by) < 0.05:
        return f"{start}, and stays"
    more = f"{by:+.1f}".replace("-", "\u2212")
    return f"{start}, draw it with {drawable(change.drawn, unit)} ({more} mm)"


def short_line(change: DraftChange, unit: str) -> str:
    """Return a number and what it becomes, for a picture.

    Examples
    --------
    >>> short_line(DraftChange("elbow_wedge", 19.0, 17.0), "mm")
    'elbow wedge 19.0 mm → 17.0 mm'
    """
    was, now = (drawable(mm, unit) for mm in (change.measured, change.drawn))
    name = number_name(change).partition(" (")[0]
    return f"{name} {was}" + ("" if was == now else f" → {now}")


def redrawn_lines(found: DraftClosing, unit: str, *, side: str = "") -> tuple[str, ...]:
    """Return what the maker must know of a corrected draft, one line each, for the terminal.

    Parameters
    ----------
    side : str
        Named where the arms differ.
    """
    manner = {"ease": "an eased cap", "darts": "a darted cap"}[found.manner]
    whose = f"The {side} arm's flat draft" if side else "The flat draft"
    was, now = found.before, found.after
    return (
        f"{whose} with {manner}, its numbers corrected:",
        *(f"  {number_line(change, unit)}" for change in found.changes),
        f"Sewn and filled, before and after: hangs off by {was.swing_deg:.1f} and "
        f"{now.swing_deg:.1f}°, wrist by {was.wrist_mm:.0f} and {now.wrist_mm:.0f} mm, shoulder by "
        f"{was.cap_mean:.1f} and {now.cap_mean:.1f} mm on average.",
        verdict(found),
        *(f"  {line}" for line in seam_lines(found)),
        *(f"  what would help: {line}" for line in found.helps),
    )


def seam_lines(found: DraftClosing) -> tuple[str, ...]:
    """Return what is to be known of each seam that does not simply fit."""
    return tuple(f"{s.name}: {s.text}" for s in found.walked if s.verdict in ("ease in", "wrong"))


def verdict(found: DraftClosing) -> str:
    """Return in a sentence or two whether the draft comes within what is wanted."""
    parts = []
    if found.reached:
        parts.append(f"Reached: {'; '.join(found.reached)}.")
    if found.missed:
        missed = [line.replace("; wanted ", " (wanted ") + ")" for line in found.missed]
        parts.append(f"It does not come within what is wanted: {'; '.join(missed)}.")
    return " ".join(parts)


def redrawn_json(sheet: Sheet, found: Sequence[DraftClosing]) -> str:
    """Return corrected drafts as JSON text; keys as in docs/report_keys.md."""
    arms = [
        {"arm": measures.side, **_rows(one)}
        for measures, one in zip(sheet.arms, found, strict=True)
    ]
    whole = {"format": FORMAT, "version": VERSION, "unit": sheet.unit, "drafts": arms}
    return json.dumps(plain(whole), allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def _rows(found: DraftClosing) -> dict[str, Any]:
    return {
        "manner": found.manner,
        "numbers": [
            {"name": c.name, "measured_mm": c.measured, "draw_with_mm": c.drawn}
            for c in found.changes
        ],
        "before": figures(found.before),
        "after": figures(found.after),
        "cap_surplus_before_mm": found.surplus[0],
        "cap_surplus_after_mm": found.surplus[1],
        "reached": list(found.reached),
        "missed": list(found.missed),
        "helps": list(found.helps),
    }
