"""What must be said first: ease that no seam takes in, and where the draft left a rule."""

from __future__ import annotations

from typing import Literal

from unroll.drafts.caps import dart_cap, ease_cap
from unroll.drafts.darts import dart_intakes
from unroll.drafts.layout import Layout, lay_out
from unroll.maths.polylines import length
from unroll.nouns import ArmMeasures, Cloth, Make, Notice
from unroll.units import Unit, format_small


def ease_percent(ease: float, armhole_girth: float) -> float:
    """Return a cap ease as a share of the armhole's upper half, percent.

    Examples
    --------
    >>> round(ease_percent(25.4, 371.3), 1)
    13.7
    """
    return 100.0 * ease / (0.5 * armhole_girth)


def ease_advice(
    measures: ArmMeasures, make: Make, cloth: Cloth, *, unit: Unit = "mm"
) -> str | None:
    """Say whether the cap ease asked for is beyond what the armhole seam takes in.

    Returns
    -------
    str or None
        One plain sentence or two, with what darts would have to take in; None when the cloth
        eases both what is asked for and what the draft then has too much.

    Raises
    ------
    UnrollError
        When the draft cannot be laid out.
    """
    layout = lay_out(measures, make)
    half = layout.edge.upper_length
    least, most = cloth.eases_percent
    asked = 100.0 * make.cap_ease / half
    surplus = length(ease_cap(layout, make).runs[0]) - half
    if asked <= most and 100.0 * surplus / half <= most:
        return None
    takes = (
        f"{cloth.name} eases in {least:g} to {most:g} % "
        f"({format_small(0.01 * least * half, unit)} to {format_small(0.01 * most * half, unit)})"
    )
    eased = format_small(make.cap_ease, unit)
    ease = f"{eased} of cap ease is {asked:.1f} % of the armhole's upper half"
    verdict = f"{ease} ({format_small(half, unit)})" + (", but " if asked > most else ": ") + takes
    return f"{verdict}. {_as_drafted(layout, make, surplus, 0.01 * most * half, unit)}"


def _as_drafted(layout: Layout, make: Make, surplus: float, takes: float, unit: Unit) -> str:
    """Return what the cap seam comes to as drafted, and what darts would need."""
    half = layout.edge.upper_length
    count = make.dart_count or 2
    each = dart_intakes(surplus - takes, count)[0]
    shared = f", {format_small(each, unit)} each" if count > 1 else ""
    darts = f"{count} dart{'s' if count > 1 else ''}"
    return (
        f"As drafted the cap seam is {format_small(surplus, unit)} "
        f"({100 * surplus / half:.0f} %) longer than the armhole: {darts} would "
        f"have to take in {format_small(surplus - takes, unit)}{shared}"
    )



def draft_notices(
    measures: ArmMeasures, make: Make, *, manner: Literal["ease", "darts"], unit: Unit = "mm"
) -> tuple[Notice, ...]:
    """Return where the draft had to leave a rule or a measure, one plain line each.

    Raises
    ------
    UnrollError
        As `draft`.
    """
    if manner == "ease":
        return ()
    return dart_cap(lay_out(measures, make), measures, make, unit=unit).notices
