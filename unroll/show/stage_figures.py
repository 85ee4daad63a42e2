"""Pictures of a correction, as figures for the report and as files."""

from __future__ import annotations

from dataclasses import replace

from unroll.correct.verdicts import targets_for
from unroll.nouns import ArmResult, Drafted, Filled, Fit
from unroll.nouns.corrected import Closing, DraftClosing, Spread
from unroll.nouns.shown import Figure
from unroll.show.colours import png_bytes
from unroll.show.corrected_pictures import Wanted, certainty_figure, hang_figure, layouts_figure
from unroll.show.draft_levels import levels_figure, walked_figure
from unroll.show.draft_pieces import draft_figure, overlay_figure
from unroll.show.overlays import corrected_overlay_figure, redrawn_figure
from unroll.show.redrawn import short_line
from unroll.show.sewn import profile_figure, stand_off_figure

MANNERS = {"drafted-ease": "an eased cap", "drafted-darts": "a darted cap"}


def draft_figures(drafted: Drafted) -> dict[str, Figure]:
    """Return pictures of the draft's pieces and walked seams, in both manners."""
    figures = {}
    for source, manner in MANNERS.items():
        title = f"The flat draft with {manner}"
        pieces = draft_figure(drafted.pieces[source], title=title)
        figures[source] = Figure(title, png_bytes(pieces))
        walked = f"Seams of the draft with {manner}, walked"
        seams = walked_figure(drafted.walked[source], title=walked)
        figures[f"{source}-seams"] = Figure(walked, png_bytes(seams))
    return figures


def comparison_figures(arm: ArmResult) -> dict[str, Figure]:
    """Return the draft laid over the unrolled pieces, and the cap level by level."""
    figures = {}
    for source, comparison in arm.compared.items():
        manner = MANNERS[source]
        title = f"The draft with {manner} over the unrolled pieces"
        overlay = overlay_figure(comparison, arm.pieces[source], arm.pieces["unrolled"])
        figures[f"{source}-over-unrolled"] = Figure(title, png_bytes(overlay))
        levels = tuple(level for level in comparison.levels if level.source == source)
        if levels:
            title = f"Cap of the draft with {manner}, level by level"
            drawn = levels_figure(levels, title=title)
            figures[f"{source}-levels"] = Figure(title, png_bytes(drawn))
    return figures


def sewn_figures(filled: Filled) -> dict[str, Figure]:
    """Return the profiles through the cap, and the caps coloured by their stand-off."""
    standoffs = list(filled.standoffs.values())
    pairs = [(filled.sewn[source], found) for source, found in filled.standoffs.items()]
    return {
        "sewn-profile": Figure(
            "Profile through the middle of the cap", png_bytes(profile_figure(standoffs))
        ),
        "sewn-standoff": Figure(
            "Where the sewn and filled cap stands off the measured arm",
            png_bytes(stand_off_figure(pairs)),
        ),
    }


NAMES = ("before correction", "after correction")


def corrected_figures(closing: Closing) -> dict[str, Figure]:
    """Return how the arm hangs before and after, what was changed for it, and the layouts."""
    figures = {
        "corrected-hang": _hang(closing),
        "corrected-pieces": Figure(
            "The pieces before and after correction", png_bytes(corrected_overlay_figure(closing))
        ),
        **{f"corrected-{name}": figure for name, figure in _caps(closing).items()},
    }
    if closing.layouts:
        figures["corrected-layouts"] = Figure(
            "Layouts to choose from, as seen from the side; what each takes in and gives",
            png_bytes(layouts_figure(closing.layouts)),
        )
    return figures


def spread_figure(closing: Closing, spread: Spread) -> Figure:
    """Return how far each figure may move when one thing is not as assumed."""
    wanted = targets_for(len(closing.darts))
    limits = Wanted(wanted.girth_percent, wanted.swing_deg, wanted.wrist_mm, wanted.cap_mean)
    title = "What the filled arm comes to when cloth, filling, cutting or mesh are not as assumed"
    return Figure(title, png_bytes(certainty_figure(spread, limits)))


def redrawn_figures(found: DraftClosing, unit: str) -> dict[str, Figure]:
    """Return a hand draft before and after its numbers were corrected, and its seams."""
    told = [short_line(change, unit) for change in found.changes]
    figures = {
        "hang": _hang(found),
        "pieces": Figure(
            "The draft from measured and from corrected numbers",
            png_bytes(redrawn_figure(found, told)),
        ),
        **_caps(found),
    }
    if found.walked:
        title = "Seams of the corrected draft, walked"
        figures["seams"] = Figure(title, png_bytes(walked_figure(found.walked, title=title)))
    return figures


def _hang(found: Closing | DraftClosing) -> Figure:
    wanted = found.rounded if isinstance(found, Closing) else found.wanted
    was, now = found.before, found.after
    title = (
        f"The whole filled arm: before correction its wrist lies {was.wrist_mm:.0f} mm off, "
        f"after it {now.wrist_mm:.0f} mm"
    )
    drawn = hang_figure(wanted, found.sewn_before, found.sewn_after, names=NAMES)
    return Figure(title, png_bytes(drawn))


def _caps(found: Closing | DraftClosing) -> dict[str, Figure]:
    """Return the cap's profile and where it stands off, before and after."""
    before, after = _named(found.before, "before"), _named(found.after, "after")
    both = [(found.sewn_before, before), (found.sewn_after, after)]
    return {
        "profile": Figure(
            "Profile through the cap, before and after", png_bytes(profile_figure([before, after]))
        ),
        "standoff": Figure(
            "Where the cap stands off, before and after", png_bytes(stand_off_figure(both))
        ),
    }


def _named(off: Fit, name: str) -> Fit:
    return replace(off, source=name)
