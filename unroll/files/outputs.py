"""Everything that the main job writes, as names and contents."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources

from unroll.files.drawings import page_drawing, pieces_svg
from unroll.files.meshes import arm_glb, arm_obj
from unroll.picturing import (
    arm_figure,
    arm_model,
    filled_model,
    gap_span,
    heat_figure,
    heat_top,
    pieces_figure,
    png_bytes,
)
from unroll.reporting import closing_sections, opening_sections, report_html, report_json
from unroll.reporting.html import PATTERN_NAMES
from unroll.types import ArmResult, MakeResult, Piece
from unroll.types.shown import Figure, Model, Section

Files = dict[str, bytes | str]


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
