"""A hand draft from corrected numbers: pieces at true scale, pictures, a page, plain numbers."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib import resources

from unroll.correcting import targets_for
from unroll.files.correction_figures import redrawn_figures
from unroll.files.correction_sections import before_and_after
from unroll.files.drawings import pieces_svg
from unroll.reporting import page_html, redrawn_json
from unroll.reporting.html import bullets, picture, signed, table
from unroll.reporting.redrawn import drawable, number_name, seam_lines
from unroll.types import Sheet
from unroll.types.corrected import DraftClosing
from unroll.types.shown import Figure, Section

Files = dict[str, bytes | str]
TITLE = "The flat draft, its numbers corrected"


def redraft_files(sheet: Sheet, found: Sequence[DraftClosing]) -> Files:
    """Return every file of corrected drafts, one an arm.

    Returns
    -------
    dict of str to bytes or str
        "drafted-darts-corrected.svg" with its pictures, "corrected_draft.html" and
        "corrected_draft.json". Where the arms differ each has its own: "left_drafted-...".
    """
    files: Files = {}
    sections = []
    for measures, one in zip(sheet.arms, found, strict=True):
        side = measures.side if len(found) > 1 else ""
        name = f"{side}_drafted-{one.manner}-corrected".removeprefix("_")
        figures = redrawn_figures(one, sheet.unit)
        files[f"{name}.svg"] = pieces_svg(one.pieces)
        files |= {f"{name}-{kind}.png": figure.content for kind, figure in figures.items()}
        sections.append(_section(one, figures, f"{name}.svg", side, sheet.unit))
    style = resources.files("unroll").joinpath("data", "report.css").read_text(encoding="utf-8")
    files["corrected_draft.html"] = page_html(sheet, TITLE, sections, style=style)
    files["corrected_draft.json"] = redrawn_json(sheet, found)
    return files


def _section(
    found: DraftClosing, figures: dict[str, Figure], drawing: str, side: str, unit: str
) -> Section:
    """One arm's draft: the numbers first, then what they gain, then what stays."""
    caption = {"ease": "with an eased cap", "darts": "with a darted cap"}[found.manner]
    body = (
        "<p>Drawn with the numbers as you measured them, a flat draft does not sew to your arm: "
        "cloth lies over a shoulder otherwise than paper. Drawn with these numbers instead, by the "
        "same rules, it comes as near as the rules go. Only the numbers that you draw with change; "
        "your sheet stays as it is. The pieces are in "
        f"<code>{escape(drawing)}</code>, at true scale.</p>"
    )
    body += _numbers_table(found, unit)
    count = sum(change.name.startswith("dart ") for change in found.changes)
    body += before_and_after(found, targets_for(count), "before and after", unit)
    if found.reached:
        body += "<h3>What is reached</h3>" + bullets(found.reached)
    if found.missed:
        body += "<h3>What is not</h3>" + bullets(found.missed)
        body += "<h3>What would help</h3>" + bullets(found.helps)
    body += _seams(found)
    body += "".join(picture(figure) for figure in figures.values())
    title = f"The {side} arm's draft {caption}" if side else f"The draft {caption}"
    return Section(f"{side}-draft" if side else "draft", title, body)


def _numbers_table(found: DraftClosing, unit: str) -> str:
    rows = [
        [
            escape(number_name(change)), drawable(change.measured, unit),
            f"<strong>{drawable(change.drawn, unit)}</strong>",
            signed(change.drawn - change.measured),
        ]
        for change in found.changes
    ]  # fmt: skip
    return table("draw it with", ["Number", "As it was", "Draw it with", "Change"], rows)


def _seams(found: DraftClosing) -> str:
    before, after = found.surplus
    return (
        f"<h3>Its seams</h3><p>The cap seam is {after:.0f} mm longer than the armhole it is sewn "
        f"to (before: {before:.0f} mm).</p>" + bullets(seam_lines(found))
    )
