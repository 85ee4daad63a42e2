"""Pictures of the draft and of sewn shapes, as figures for the report and as files."""

from __future__ import annotations

from unroll.picturing import png_bytes
from unroll.picturing_draft import draft_figure, levels_figure, overlay_figure, walked_figure
from unroll.picturing_sewn import profile_figure, stand_off_figure
from unroll.types import ArmResult, Drafted, Filled
from unroll.types.shown import Figure

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
