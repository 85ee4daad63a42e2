"""Everything that the commands write, as names and contents."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib import resources

from unroll.disk.drawings import page_drawing, pieces_svg
from unroll.disk.meshes import arm_glb, arm_obj
from unroll.disk.print_files import pdf_bytes, png_bytes
from unroll.flat.cutting import outline
from unroll.maths.placing import upright
from unroll.nouns import ArmResult, Drafted, MakeResult, Ready, Sheet
from unroll.nouns.corrected import DraftCorrection
from unroll.nouns.shown import Figure, Model
from unroll.paper.sewing_guide import step_pictures
from unroll.show.figures import (
    arm_picture,
    arm_pictures,
    comparison_figures,
    corrected_figures,
    draft_figures,
    models_of,
    names_of_arm_pictures,
    redrawn_figures,
    sewn_figures,
)
from unroll.show.numbers import redrawn_json, report_json
from unroll.show.own import own_figures, own_html
from unroll.show.report import VIEWER, Step, redraft_html, report_html

Files = dict[str, bytes | str]
Drawn = dict[str, dict[str, Figure]]  # of each arm, by its side and by name
PARTS = ("arm", "sewn")  # of the pictures, about as long to draw
PAGE_FILES = (
    "page.html.j2", "report.html.j2", "corrected_draft.html.j2", "own_draft.html.j2",
    "overview.html.j2", "report.css", "overview.css", *VIEWER, "sorting.js",
)  # fmt: skip


def job_pictures(result: MakeResult, part: str | None = None) -> Drawn:
    """Return the pictures of each arm, by its side and by name; another core may draw them.

    Parameters
    ----------
    result : MakeResult
    part : {"arm", "sewn"}, optional
        One of `PARTS`; all of them where left out.
    """
    unit, manner = result.sheet.unit, result.sheet.make.cap
    drawn: Drawn = {arm.measures.side: {} for arm in result.arms}
    for arm in result.arms:
        figures = drawn[arm.measures.side]
        if part in ("arm", None):
            figures |= arm_pictures(result, arm, models_of(result, arm)[0])
        if part in ("sewn", None):
            figures |= sewn_figures(arm, unit) | corrected_figures(arm, unit)
            figures |= comparison_figures(arm, manner, unit)
    return drawn


def job_files(
    result: MakeResult, ready: Ready | None = None, pictures: Drawn | None = None
) -> Files:
    """Return every file of the main job but the printed pages, ready for `write_folder`.

    Parameters
    ----------
    result : MakeResult
    ready : Ready, optional
        What is printed; the report then tells the order of sewing and what is needed.
    pictures : dict of str to dict of str to Figure, optional
        Of the same result, see `job_pictures`; drawn here otherwise.

    Returns
    -------
    dict of str to bytes or str
        "pieces.svg", "report.html", "report.json", "arm.obj", "arm.glb" and PNGs in "pictures/".
        For a scanned arm also "measured_sheet.toml" and "true_surface.svg".
        Where the arms differ each has its own: "left_arm.obj", "pictures/left_arm.png", ...
    """
    files: Files = {}
    pictures = pictures or job_pictures(result)
    models: list[Model] = []
    for arm in result.arms:
        drawn, shapes = pictures[arm.measures.side], models_of(result, arm)
        own = {name: drawn[name] for name in names_of_arm_pictures(arm)}
        files |= _arm_files(_prefix(result, arm), arm, shapes[0], own)
        models += shapes
    drawings: dict[str, str] = {
        arm.measures.side: page_drawing(arm.to_cut) for arm in result.arms
    }
    files["pieces.svg"] = pieces_svg([piece for arm in result.arms for piece in arm.to_cut])
    files["report.html"] = report_html(
        result, models, pictures, drawings, ready=ready, steps=_steps(result, ready),
        files=page_files(),
    )  # fmt: skip
    files["report.json"] = report_json(result)
    return files | sheet_file(result.sheet)


def preview_part(result: MakeResult, part: int, of: int) -> Files:
    """Return every `of`-th picture of each arm, from number `part` on; the first with 3D files."""
    files: Files = {}
    for arm in result.arms:
        model, prefix = models_of(result, arm)[0], _prefix(result, arm)
        names = names_of_arm_pictures(arm)[part::of]
        drawn = {name: arm_picture(result, arm, model, name) for name in names}
        files |= _picture_files(prefix, drawn) if part else _arm_files(prefix, arm, model, drawn)
    return files if part else files | sheet_file(result.sheet)


def sheet_file(sheet: Sheet) -> Files:
    """Return the sheet with a scan's measures written in, to be read, corrected and used again."""
    return {"measured_sheet.toml": sheet.filled_in} if sheet.filled_in else {}


def draft_files(sheet: Sheet, drafts: Sequence[Drafted]) -> Files:
    """Return the flat draft: pieces at true scale, and a picture of pieces and walked seams."""
    files: Files = {}
    for measures, drafted in zip(sheet.arms, drafts, strict=True):
        prefix = f"{measures.side}_" if len(drafts) > 1 else ""
        for source, pieces in drafted.pieces.items():
            files[f"{prefix}{source}.svg"] = pieces_svg(pieces)
        for name, figure in draft_figures(drafted, sheet.unit).items():
            files[f"{prefix}{name}.png"] = figure.content
    return files


def sewn_files(result: MakeResult) -> Files:
    """Return pictures of the sewn and filled shapes."""
    return {
        f"{_prefix(result, arm)}sewn-{name}.png": figure.content
        for arm in result.arms
        for name, figure in sewn_figures(arm, result.sheet.unit).items()
    } | sheet_file(result.sheet)


def redraft_files(sheet: Sheet, found: Sequence[DraftCorrection]) -> Files:
    """Return every file of corrected drafts, one an arm.

    Returns
    -------
    dict of str to bytes or str
        "drafted-darts-corrected.svg" with its pictures, "corrected_draft.html" and
        "corrected_draft.json". Where the arms differ each has its own: "left_drafted-...".
    """
    files: Files = {}
    names, figures = [], []
    for measures, one in zip(sheet.arms, found, strict=True):
        prefix = f"{measures.side}_" if len(found) > 1 else ""
        name = f"{prefix}drafted-{one.manner}-corrected"
        drawn = redrawn_figures(one, sheet.unit)
        files[f"{name}.svg"] = pieces_svg(one.pieces)
        files |= {f"{name}-{kind}.png": figure.content for kind, figure in drawn.items()}
        names.append(f"{name}.svg")
        figures.append(drawn)
    files["corrected_draft.html"] = redraft_html(sheet, found, figures, names, files=page_files())
    files["corrected_draft.json"] = redrawn_json(sheet, found)
    return files


def check_files(result: MakeResult, ready: Ready | None, withheld: Sequence[str] = ()) -> Files:
    """Return every file of a maker's own draft, judged.

    Parameters
    ----------
    result : MakeResult
        Its arms have their `own`.
    ready : Ready or None
        The changed pieces finished and on pages; None where nothing is changed or can be printed.
    withheld : sequence of str
        Why it cannot.

    Returns
    -------
    dict of str to bytes or str
        "check.html", "report.json", "own.svg" as it was read, "changed.svg" and "changed.pdf", and
        PNGs in "pictures/".
    """
    files: Files = {}
    figures: dict[str, Mapping[str, Figure]] = {}
    for arm in result.arms:
        drawn = own_figures(arm, result.sheet.unit)
        figures[arm.measures.side] = drawn
        files |= {f"pictures/{_prefix(result, arm)}{n}.png": f.content for n, f in drawn.items()}
        files[f"{_prefix(result, arm)}own.svg"] = pieces_svg(arm.to_cut)
        if arm.own is not None and arm.own.change is not None:
            files[f"{_prefix(result, arm)}changed.svg"] = pieces_svg(arm.own.change.pieces)
    if ready is not None:
        files["changed.pdf"] = pdf_bytes(ready.pattern, title="Your draft, changed")
    files["check.html"] = own_html(
        result, figures, files=page_files(), printed=ready is not None, withheld=withheld
    )
    files["report.json"] = report_json(result)
    return files


def page_files() -> dict[str, str]:
    """Return the templates, style sheet and program of the pages, by file name."""
    data = resources.files("unroll").joinpath("data")
    return {name: data.joinpath(name).read_text(encoding="utf-8") for name in PAGE_FILES}


def _steps(result: MakeResult, ready: Ready | None) -> list[Step]:
    if ready is None:
        return []
    pictures = step_pictures(ready.finished, result.sheet, facts=ready.facts)
    return [
        Step(step.name, step.text, Figure(step.name, png_bytes(page, dots_per_inch=96.0)))
        for step, page in pictures
    ]


def _prefix(result: MakeResult, arm: ArmResult) -> str:
    return f"{arm.measures.side}_" if len(result.arms) > 1 else ""


def _arm_files(
    prefix: str, arm: ArmResult, model: Model, drawn: Mapping[str, Figure]
) -> Files:
    own = model.turned(upright(arm.wanted.up).T)  # as the other file and the numbers have it
    files: Files = {f"{prefix}arm.obj": arm_obj(arm.arm), f"{prefix}arm.glb": arm_glb(own)}
    if arm.true_surface:
        flat = [outline(d.flattening, arm="left") for d in arm.true_surface.values()]
        files[f"{prefix}true_surface.svg"] = pieces_svg(flat)
    return files | _picture_files(prefix, drawn)


def _picture_files(prefix: str, drawn: Mapping[str, Figure]) -> Files:
    return {
        f"pictures/{prefix}{name.replace(' ', '_')}.png": figure.content
        for name, figure in drawn.items()
    }
