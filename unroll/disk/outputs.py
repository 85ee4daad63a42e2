"""Everything that the main job writes, as names and contents."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib import resources

from unroll.correct.verdicts import targets_for
from unroll.disk.drawings import page_drawing, pieces_svg
from unroll.disk.meshes import arm_glb, arm_obj
from unroll.nouns import ArmResult, Drafted, MakeResult, Piece, Sheet
from unroll.nouns.corrected import DraftClosing
from unroll.nouns.shown import Figure, Model, Section
from unroll.show.arms import arm_figure
from unroll.show.colours import heat_top, png_bytes
from unroll.show.flat import heat_figure, pieces_figure
from unroll.show.html import PATTERN_NAMES, bullets, picture, signed, table
from unroll.show.models import arm_model, filled_model, gap_span
from unroll.show.numbers import report_json
from unroll.show.page import closing_sections, opening_sections, page_html, report_html
from unroll.show.redrawn import drawable, number_name, redrawn_json, seam_lines
from unroll.show.stage_figures import draft_figures, redrawn_figures, sewn_figures
from unroll.show.stage_sections import before_and_after

Files = dict[str, bytes | str]


def draft_files(sheet: Sheet, drafts: Sequence[Drafted]) -> Files:
    """Return the flat draft: pieces at true scale, and a picture of pieces and walked seams."""
    files: Files = {}
    for measures, drafted in zip(sheet.arms, drafts, strict=True):
        prefix = f"{measures.side}_" if len(drafts) > 1 else ""
        for source, pieces in drafted.pieces.items():
            files[f"{prefix}{source}.svg"] = pieces_svg(pieces)
        for name, figure in draft_figures(drafted).items():
            files[f"{prefix}{name}.png"] = figure.content
    return files


def sewn_files(result: MakeResult) -> Files:
    """Return pictures of the sewn and filled shapes."""
    files: Files = {}
    for arm in result.arms:
        prefix = f"{arm.measures.side}_" if len(result.arms) > 1 else ""
        if arm.filled is not None:
            for name, figure in sewn_figures(arm.filled).items():
                files[f"{prefix}{name}.png"] = figure.content
    return files


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


def job_files(result: MakeResult, *, sections: Sequence[Section] = ()) -> Files:
    """Return every file of the main job by name, ready for `write_folder`.

    Parameters
    ----------
    result : MakeResult
    sections : sequence of Section
        What other stages add to the report, before its cautions.

    Returns
    -------
    dict of str to bytes or str
        "pieces.svg", "report.html", "report.json", "arm.obj", "arm.glb" and PNGs in "pictures/".
        Where the arms differ each has its own: "left_arm.obj", "pictures/left_arm.png", ...
    """
    models = [model_of(result, arm) for arm in result.arms]
    figures = {}
    files: Files = {}
    for arm, model in zip(result.arms, models, strict=True):
        drawn = arm_pictures(result, arm, model)
        figures.update({f"{arm.measures.side} {name}": figure for name, figure in drawn.items()})
        files |= _arm_files(_prefix(result, arm), arm, model, drawn)
    pieces = [pieces_to_cut(arm) for arm in result.arms]
    shown = [
        *opening_sections(
            result,
            [*models, *filled_models(result)],
            figures,
            [page_drawing(arm) for arm in pieces],
        ),
        *sections,
        *closing_sections(result),
    ]
    page = report_html(result, shown, style=_resource("report.css"), script=_resource("viewer.js"))
    files["pieces.svg"] = pieces_svg([piece for arm in pieces for piece in arm])
    files["report.html"] = page
    files["report.json"] = report_json(result)
    return files


def preview_files(result: MakeResult) -> Files:
    """Return the pictures and 3D files alone."""
    files: Files = {}
    for arm in result.arms:
        model = model_of(result, arm)
        files |= _arm_files(_prefix(result, arm), arm, model, arm_pictures(result, arm, model))
    return files


def model_of(result: MakeResult, arm: ArmResult) -> Model:
    """Return an arm as a model, coloured by what this cloth gives."""
    return arm_model(arm.arm, arm.distortions, gives_percent=result.sheet.cloth.gives_percent)


def filled_models(result: MakeResult) -> list[Model]:
    """Return the sewn and filled shapes as models, those of one arm on one colour scale."""
    models = []
    for arm in result.arms:
        if arm.filled is None:
            continue
        span = gap_span(arm.filled.standoffs.values())
        before = f"{arm.measures.side}, " if len(result.arms) > 1 else ""
        for source, standoff in arm.filled.standoffs.items():
            name = f"{before}sewn: {PATTERN_NAMES.get(source, source)}"
            models.append(filled_model(name, arm.filled.sewn[source], standoff, span=span))
    return models


def pieces_to_cut(arm: ArmResult) -> tuple[Piece, ...]:
    """Return the pieces the maker is to cut: corrected ones where there are any, else unrolled."""
    for source in ("corrected", "unrolled"):
        if arm.pieces.get(source):
            return arm.pieces[source]
    return tuple(piece for pieces in arm.pieces.values() for piece in pieces)


def arm_pictures(result: MakeResult, arm: ArmResult, model: Model) -> dict[str, Figure]:
    """Return an arm's pictures as PNG by name: "arm", "pieces", "heat outer", "heat inner"."""
    gives = result.sheet.cloth.gives_percent
    side = arm.measures.side
    drawn = {"arm": Figure(f"The {side} arm from four sides", png_bytes(arm_figure(model)))}
    pieces = pieces_to_cut(arm)
    if pieces:
        drawn["pieces"] = Figure(f"Flat pieces of the {side} arm", png_bytes(pieces_figure(pieces)))
    top = heat_top(arm.distortions.values(), gives)
    for name, distortion in arm.distortions.items():
        figure = heat_figure(distortion, gives_percent=gives, top=top)
        drawn[f"heat {name}"] = Figure(f"Heat map of the {side} {name} piece", png_bytes(figure))
    return drawn


def _prefix(result: MakeResult, arm: ArmResult) -> str:
    return f"{arm.measures.side}_" if len(result.arms) > 1 else ""


def _arm_files(prefix: str, arm: ArmResult, model: Model, drawn: dict[str, Figure]) -> Files:
    files: Files = {f"{prefix}arm.obj": arm_obj(arm.arm), f"{prefix}arm.glb": arm_glb(model)}
    for name, figure in drawn.items():
        files[f"pictures/{prefix}{name.replace(' ', '_')}.png"] = figure.content
    return files


def _resource(name: str) -> str:
    return resources.files("unroll").joinpath("data", name).read_text(encoding="utf-8")
