"""The report's pictures, drawn: name to figure with its caption."""

from __future__ import annotations

from matplotlib.figure import Figure as Canvas

from unroll.maths.placing import upright
from unroll.nouns import ArmResult, Drafted, Fit, MakeResult, Sewn, source_called
from unroll.nouns.corrected import DraftCorrection
from unroll.nouns.shown import Figure, Model
from unroll.show.colours import AFTER, BEFORE, heat_top, png_bytes
from unroll.show.corrected import (
    as_drawn,
    certainty_figure,
    laid_over,
    layouts_figure,
    overlay_figure,
)
from unroll.show.drafts import over_unrolled_figure, walked_figure
from unroll.show.models import arm_model, filled_model, gap_span, tapes_of
from unroll.show.phrases import sentence
from unroll.show.pictures import arm_figure, heat_figure, pieces_figure
from unroll.show.scan import landmarks_figure, levels_figure
from unroll.show.sewn import Shape, hang_figure, profile_figure, stand_off_figure
from unroll.show.words import asked_of
from unroll.units import Unit

HEAT = "heat "  # begins the names of heat maps


def models_of(result: MakeResult, arm: ArmResult) -> list[Model]:
    """Return an arm's models: what the pieces are for, as taped, and each set of pieces sewn.

    They hang as in the room. The heat map is on the sewn arm of the pieces to cut, where they were
    sewn.
    """
    gives = result.sheet.cloth.gives_percent
    before = "" if len(result.arms) == 1 else f"{arm.measures.side}, "
    unit = result.sheet.unit
    span = gap_span(arm.fits.values(), unit)
    asked = asked_of(arm)
    models = [
        arm_model(arm.wanted, arm.distortions, name=f"{before}wanted arm",
                  gives_percent=None if arm.fits else gives),
        arm_model(arm.arm, {}, name=f"{before}as taped", tapes=tapes_of(arm.tape, unit)),
        *(
            filled_model(
                f"{before}sewn: {shape.label}", shape.sewn, shape.fit, span=span,
                asked=asked if shape.fit.source == arm.source else None, gives_percent=gives,
                unit=unit,
            )
            for shape in shapes_of(arm)
        ),
    ]  # fmt: skip
    return [model.turned(upright(arm.wanted.up)) for model in models]


def arm_pictures(result: MakeResult, arm: ArmResult, model: Model) -> dict[str, Figure]:
    """Return the pictures that have files of their own, by their names.

    The arm, its pieces to cut, a heat map for each panel; a scan's landmarks, and where lofts and
    scan part.
    """
    return {
        name: arm_picture(result, arm, model, name) for name in names_of_arm_pictures(arm)
    }


def names_of_arm_pictures(arm: ArmResult) -> tuple[str, ...]:
    """Return the names of the pictures that have files of their own."""
    asked = asked_of(arm)
    heats = tuple(f"{HEAT}{piece.name}" for piece in arm.to_cut if piece.name in asked)
    return ("arm", "pieces", *heats, *(("scan", "scan-levels") if arm.scan is not None else ()))


def arm_picture(result: MakeResult, arm: ArmResult, model: Model, name: str) -> Figure:
    """Return one of `arm_pictures`.

    Raises
    ------
    KeyError
        When the arm has no picture of that name.
    """
    side, unit = arm.measures.side, result.sheet.unit
    if name == "arm":
        return _figure(f"The {side} arm from four sides", arm_figure(model, unit=unit))
    if name == "pieces":
        label = source_called(arm.source).label
        drawn = pieces_figure(arm.to_cut, unit=unit)
        return _figure(f"The {label} of the {side} arm: cut these", drawn)
    if arm.scan is not None and name == "scan":
        return _figure("What was found on the scan", landmarks_figure(arm.scan.scan))
    if arm.scan is not None and name == "scan-levels":
        drawn = levels_figure(arm.scan, unit)
        return _figure("How far lofts lie from the scan, level by level", drawn)
    pieces = {f"{HEAT}{piece.name}": piece for piece in arm.to_cut}
    gives, asked, piece = result.sheet.cloth.gives_percent, asked_of(arm), pieces[name]
    drawn = heat_figure(
        asked[piece.name], piece, gives_percent=gives, top=heat_top(asked.values(), gives),
        unit=unit,
    )  # fmt: skip
    return _figure(f"What the {side} {piece.name} piece asks of the cloth", drawn)


def shapes_of(arm: ArmResult) -> list[Shape]:
    """Return each sewn and filled set of pieces, those to cut first."""
    names = sorted(arm.fits, key=lambda name: name != arm.source)
    sources = (source_called(name) for name in names)
    return [Shape(s.label, s.colour, arm.sewn[s.name], arm.fits[s.name]) for s in sources]


def sewn_figures(arm: ArmResult, unit: Unit) -> dict[str, Figure]:
    """Return how the arm hangs, its profiles through the cap, and where the cap stands out."""
    shapes = shapes_of(arm)
    if not shapes:
        return {}
    return {
        "hang": hang_picture(arm),
        "profile": _figure("Profile through the middle of the cap", profile_figure(shapes)),
        "cap": _figure("Where the cap leaves the arm that was wanted",
                       stand_off_figure(shapes, unit=unit)),
    }  # fmt: skip


def hang_picture(arm: ArmResult) -> Figure:
    """Return the pieces to cut and the flat ones, sewn and filled, over the wanted arm."""
    first = shapes_of(arm)[:1]
    if arm.correction is not None:
        was = arm.correction.before
        first.append(_shape(was.source, BEFORE, was.sewn, was.fit))
    names = " and ".join(shape.label for shape in first)
    return _figure(f"Sewn and filled: {names}, over the wanted arm",
                   hang_figure(arm.wanted, first))  # fmt: skip


def _shape(source: str, colour: str, sewn: Sewn, fit: Fit) -> Shape:
    return Shape(source_called(source).label, colour, sewn, fit)


def corrected_figures(arm: ArmResult, unit: Unit) -> dict[str, Figure]:
    """Return what was changed on paper, the layouts to choose from, and how sure it is."""
    figures = {}
    if arm.correction is not None:
        before, after = arm.correction.before, arm.correction.after
        names = source_called(before.source).label, source_called(after.source).label
        drawn = overlay_figure(before.pieces, after.pieces, names, lay=laid_over)
        figures["pieces-changed"] = _figure("The pieces before and after correction", drawn)
    if offered := [trial for trial in arm.layouts if trial.offered]:
        one = len(offered) == 1
        title = "The dart layout" if one else "Dart layouts to choose from"
        drawn = layouts_figure(offered, unit=unit)
        figures["layouts"] = _figure(f"{title}, as seen from the side", drawn)
    if arm.certainty is not None and arm.certainty.cases:
        title = "What the filled arm comes to when one thing is not as assumed"
        figures["certainty"] = _figure(title, certainty_figure(arm.certainty, unit))
    return figures


def draft_figures(drafted: Drafted, unit: Unit) -> dict[str, Figure]:
    """Return the draft's pieces and walked seams, in both manners."""
    figures = {}
    for source, pieces in drafted.pieces.items():
        title = sentence(f"the {source_called(source).label}")
        walked = f"{title}: seams walked"
        figures[source] = _figure(title, pieces_figure(pieces, title=title, unit=unit))
        figures[f"{source}-seams"] = _figure(
            walked, walked_figure(drafted.walked[source], title=walked, unit=unit)
        )
    return figures


def comparison_figures(arm: ArmResult, manner: str, unit: Unit) -> dict[str, Figure]:
    """Return the draft in one manner, "ease" or "darts", laid over the pieces laid flat."""
    source = f"drafted-{manner}"
    if source not in arm.compared:
        return {}
    comparison = arm.compared[source]
    other = comparison.unrolled
    title = f"The {source_called(source).label} over the {source_called(other).label}"
    over = over_unrolled_figure(comparison, arm.pieces[source], arm.pieces[other], unit=unit)
    return {"draft": _figure(title, over)}


AS_DRAWN = "drawn as measured", "drawn with corrected numbers"


def redrawn_figures(
    found: DraftCorrection, unit: Unit, names: tuple[str, str] = AS_DRAWN
) -> dict[str, Figure]:
    """Return a hand draft before and after its numbers were corrected, and its seams.

    Parameters
    ----------
    names : (str, str)
        How the two are called.
    """
    shapes = [
        Shape(names[1], AFTER, found.sewn_after, found.after),
        Shape(names[0], BEFORE, found.sewn_before, found.before),
    ]
    pieces = overlay_figure(found.uncorrected, found.pieces, names, lay=as_drawn)
    figures = {
        "hang": _figure("The whole filled arm, before and after",
                        hang_figure(found.wanted, shapes)),
        "pieces": _figure("The draft from measured and from corrected numbers", pieces),
        "profile": _figure("Profile through the cap, before and after", profile_figure(shapes)),
        "standoff": _figure("Where the cap leaves the arm, before and after",
                            stand_off_figure(shapes, unit=unit)),
    }  # fmt: skip
    if found.walked:
        title = "Seams of the corrected draft, walked"
        figures["seams"] = _figure(title, walked_figure(found.walked, title=title, unit=unit))
    return figures


def _figure(title: str, drawn: Canvas) -> Figure:
    return Figure(title, png_bytes(drawn))
