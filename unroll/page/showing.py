"""What was worked out, as plain values that a page draws."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from unroll.disk.drawings import page_drawing
from unroll.errors import UnrollError
from unroll.nouns import (
    ArmResult,
    Intake,
    MakeResult,
    Piece,
    Sheet,
    TapeRow,
    Verdict,
    source_called,
)
from unroll.nouns.corrected import RefitRow
from unroll.nouns.sources import OWN
from unroll.show.figures import models_of
from unroll.show.models import packed
from unroll.show.own import (
    change_lines,
    seam_lines,
    seams_sentence,
    tape_lines,
    verdict_lines,
)
from unroll.show.phrases import amount, length, measure_name, sentence, small
from unroll.show.words import changes_in_words, headline_of, terminal_lines
from unroll.units import Unit

Told = dict[str, Any]
SEEN_MM = 2.0  # a measure that comes back within this is kept; a tape slips by as much


def tape_told(rows: Sequence[TapeRow], unit: Unit) -> list[Told]:
    """Return what was asked, what a tape finds on the arm, and whether it came back."""
    return [
        {"name": row.name, "label": measure_name(row.name, unit),
         "asked": length(row.asked_mm, unit), "got": length(row.got_mm, unit), "note": row.note,
         "is_kept": not row.note and abs(row.got_mm - row.asked_mm) < SEEN_MM}
        for row in rows
    ]  # fmt: skip


def figures_told(verdicts: Sequence[Verdict], unit: Unit) -> list[Told]:
    """Return each figure with its limit, as they are read."""
    return [
        {"heading": sentence(one.figure.heading), "value": amount(one.figure, one.value, unit),
         "limit": amount(one.figure, one.limit, unit), "is_met": one.is_met,
         "key": one.figure.key, "share": round(one.value / one.limit, 3)}
        for one in verdicts
    ]  # fmt: skip


def foretold_sentence(verdicts: Sequence[Verdict], unit: Unit, *, subject: str) -> str:
    """Return in one sentence what correcting the pieces should come to."""
    missed = sorted((one for one in verdicts if not one.is_met), key=lambda v: -v.value / v.limit)
    if not missed:
        return f"Corrected, {subject} should keep to every limit."
    worst = missed[0]
    more = f", and {len(missed) - 1} more" if len(missed) > 1 else ""
    return (
        f"Corrected, {subject} should come near, but not within every limit: {worst.figure.name} "
        f"off by about {amount(worst.figure, worst.value, unit)}{more}."
    )


def pieces_told(
    pieces: Sequence[Piece], intakes: Sequence[Intake], unit: Unit, *, side: str, source: str
) -> Told:
    """Return a set of pieces drawn, and its darts with their numbers."""
    return {
        "side": side,
        "source": source,
        "unit": unit,
        "drawing": page_drawing(pieces),
        "darts": [
            {"name": dart.name, "at": dart.at, "length": dart.length, "is_seam": dart.is_seam,
             "words": f"{small(dart.width, unit)} wide, {length(dart.length, unit)} down the arm"}
            for dart in intakes
        ],
    }  # fmt: skip


def arm_told(result: MakeResult, arm: ArmResult) -> Told:
    """Return all that one arm's result shows."""
    unit = result.sheet.unit
    return {
        "side": arm.measures.side,
        "models": [packed(model) for model in models_of(result, arm)],
        "tape": tape_told(arm.tape, unit),
        "pieces": pieces_told(
            arm.to_cut, arm.intakes, unit, side=arm.measures.side, source=arm.source
        ),
        "sentence": headline_of(result, arm),
        "figures": figures_told(arm.verdicts, unit),
        "changes": list(changes_in_words(arm.correction, unit)) if arm.correction else [],
        "faults": list(arm.faults),
    }


def own_told(result: MakeResult, arm: ArmResult) -> Told:
    """Return what her own draft comes to: in words, its pieces, and sewn where it can be."""
    unit, label = result.sheet.unit, source_called(OWN.name).label
    check, models = arm.own, models_of(result, arm)
    if check is None:
        raise UnrollError("the job has no draft of your own for this arm")
    return {
        "side": arm.measures.side,
        "models": [packed(model) for model in models if model.name.endswith(f"sewn: {label}")],
        "drawing": page_drawing(arm.to_cut),
        "sentence": seams_sentence(check),
        "sewn": "".join(verdict_lines(arm, unit)[:1]),
        "figures": figures_told(arm.verdicts, unit),
        "seams": list(seam_lines(check)),
        "tape": list(tape_lines(check, unit)),
        "changes": list(change_lines(check.change, unit)) if check.change else [],
        "found": list(check.draft.found),
        "is_changed": check.change is not None,
    }


def words_told(result: MakeResult) -> list[str]:
    """Return what the terminal would say."""
    return list(terminal_lines(result, None))


def trial_told(rows: Sequence[RefitRow], lines: Sequence[str], unit: Unit) -> Told:
    """Return what explains a trial."""

    def said(row: RefitRow, value: float) -> str:
        return f"{value:.1f}°" if row.name.startswith("hang") else length(value, unit)

    return {
        "lines": list(lines),
        "rows": [
            [measure_name(row.name, unit), said(row, row.trial), said(row, row.expected),
             said(row, row.explained), row.is_odd]
            for row in rows
        ],
    }  # fmt: skip


def side_name(sheet: Sheet, side: str) -> str:
    """Return what stands before a model's name: nothing where both arms are alike."""
    return "" if len(sheet.arms) == 1 else f"{side}, "
