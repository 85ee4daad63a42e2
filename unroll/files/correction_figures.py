"""Pictures of a correction, as figures for the report and as files."""

from __future__ import annotations

from dataclasses import replace

from unroll.correcting import targets_for
from unroll.picturing import png_bytes
from unroll.picturing_corrected import (
    certainty_figure,
    hang_figure,
    layouts_figure,
    overlay_figure,
    redrawn_figure,
)
from unroll.picturing_corrected.certainty import Wanted
from unroll.picturing_draft import walked_figure
from unroll.picturing_sewn import profile_figure, stand_off_figure
from unroll.reporting.redrawn import short_line
from unroll.types.corrected import Closing, DraftClosing, Spread
from unroll.types.sewn import StandOff
from unroll.types.shown import Figure

NAMES = ("before correction", "after correction")


def corrected_figures(closing: Closing) -> dict[str, Figure]:
    """Return how the arm hangs before and after, what was changed for it, and the layouts."""
    figures = {
        "corrected-hang": _hang(closing),
        "corrected-pieces": Figure(
            "The pieces before and after correction", png_bytes(overlay_figure(closing))
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


def _named(off: StandOff, name: str) -> StandOff:
    return replace(off, source=name)
