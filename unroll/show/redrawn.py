"""A hand draft's corrected numbers in a maker's words."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.nouns.corrected import DraftChange, DraftCorrection
from unroll.show.draft_steps import drawable
from unroll.show.phrases import degrees, kept_lines, listed, missed_lines, small, up_to
from unroll.units import Unit

NAMES = {
    "cap_ease": "ease over the cap",
    "elbow_wedge": "extra length at the elbow, back over front",
}
CHOSEN = tuple(NAMES)  # not measured: chosen on the sheet, or worked out
MANNERS = {"ease": "an eased cap", "darts": "a darted cap"}


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


def number_line(change: DraftChange, unit: Unit) -> str:
    """Return a number as measured and as it is to be drawn with, one line.

    Examples
    --------
    >>> number_line(DraftChange("cap_height", 160.0, 166.6), "mm")
    'cap height: 160.0 mm as measured, draw it with 166.6 mm'
    >>> number_line(DraftChange("dart 1 intake", 105.0, 105.04), "mm")
    'dart 1 takes in: 105.0 mm as it was, and stays'
    """
    was = "as measured" if change.name not in CHOSEN and " " not in change.name else "as it was"
    before, after = (drawable(mm, unit) for mm in (change.measured, change.drawn))
    start = f"{number_name(change)}: {before} {was}"
    return f"{start}, and stays" if before == after else f"{start}, draw it with {after}"


def redrawn_lines(
    found: DraftCorrection, unit: Unit, *, steps: Sequence[str] = (), side: str = ""
) -> tuple[str, ...]:
    """Return what the maker must know of a corrected draft, one line each, for the terminal.

    Parameters
    ----------
    found : DraftCorrection
    unit : {"in", "cm", "mm"}
    steps : sequence of str
        How it is drawn; see `draft_steps`. They come last.
    side : str
        Named where the arms differ.
    """
    whose = f"The {side} arm's flat draft" if side else "The flat draft"
    was, now = found.before, found.after
    return (
        f"{whose} with {MANNERS[found.manner]}, its numbers corrected:",
        *(f"  {number_line(change, unit)}" for change in found.changes),
        f"Sewn and filled it swings {degrees(now.swing_deg)} off instead of "
        f"{degrees(was.swing_deg)}; the wrist lies within {up_to(now.wrist_mm, unit)} instead of "
        f"{up_to(was.wrist_mm, unit)}.",
        *verdict_lines(found, unit),
        *(f"  {line}" for line in seam_lines(found)),
        *(f"  what would help: {line}" for line in found.helps),
        *(["Draw it so:"] if steps else []),
        *(f"  {number}. {step}" for number, step in enumerate(steps, start=1)),
    )


def verdict_lines(found: DraftCorrection, unit: Unit) -> tuple[str, ...]:
    """Return what of the draft comes within what is wanted, and what does not."""
    kept = kept_lines(found.verdicts, unit)
    reached = (f"Kept: {listed(kept)}.",) if kept else ()
    return (*reached, *missed_lines(found.verdicts, unit))


def seam_lines(found: DraftCorrection) -> tuple[str, ...]:
    """Return what is to be known of each seam that does not simply fit."""
    return tuple(f"{s.name}: {s.text}" for s in found.walked if s.verdict in ("ease in", "wrong"))


def surplus_line(found: DraftCorrection, unit: Unit) -> str:
    """Return by how much the cap seam is longer than the armhole, before and after."""
    before, after = (small(mm, unit) for mm in found.surplus)
    return f"The cap seam is {after} longer than the armhole it is sewn to (before: {before})."
