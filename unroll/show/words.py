"""Stand-off in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.nouns import Fit

NAMES = {
    "drafted-ease": "The flat draft with ease",
    "drafted-darts": "The flat draft with darts",
    "unrolled": "The unrolled pieces",
    "corrected": "The corrected pieces",
}
GOOD_MM, GOOD_DEG, GOOD_PERCENT = 2.0, 1.0, 1.0
AT_SEAM_MM = 8.0
# Breadths that need no ruler; common practice, no source.
BREADTHS = (
    (12.0, "a fingertip"),
    (25.0, "a finger's breadth"),
    (45.0, "two fingers' breadth"),
    (65.0, "three fingers' breadth"),
    (110.0, "a hand's breadth"),
)


def plain_words(standoffs: Sequence[Fit]) -> str:
    """Return what a maker should know before she cuts, a line for each set of pieces.

    Examples
    --------
    >>> plain_words(())
    ''
    """
    lines = [_sentence(one) for one in standoffs]
    if len(standoffs) > 1:
        best = min(standoffs, key=lambda one: one.cap_mean)
        lines.append(f"Closest over the cap: {_name(best)[:1].lower()}{_name(best)[1:]}.")
    return "\n".join(lines)


def _name(one: Fit) -> str:
    return NAMES.get(one.source, "The pieces")


def _sentence(one: Fit) -> str:
    """Return the cap, the hang and the girths of one set of pieces."""
    return f"{_name(one)}: {_cap(one)}; {_hang(one)}; {_girths(one)}."


def _cap(one: Fit) -> str:
    if one.bulge_max <= GOOD_MM and one.hollow_max <= GOOD_MM:
        return f"the cap lies within {GOOD_MM:.0f} mm of the shoulder"
    words = "the cap stands nowhere proud"
    if one.bulge_max > GOOD_MM:
        words = (
            f"the cap stands {one.bulge_max:.0f} mm proud at most, {_where(one)}, "
            f"over {_breadth(one.bulge_breadth)}"
        )
    if one.hollow_max > GOOD_MM:
        words += f", and lies up to {one.hollow_max:.0f} mm too low elsewhere"
    return words


def _where(one: Fit) -> str:
    below = f"{one.bulge_below_seam:.0f} mm below the cap seam"
    if one.bulge_below_seam < AT_SEAM_MM:
        below = "at the cap seam"
    if abs(one.bulge_forward) < 0.25:
        return f"{below} in the middle"
    return f"{below} towards the {'front' if one.bulge_forward > 0 else 'back'}"


def _breadth(size: float) -> str:
    return next((words for most, words in BREADTHS if size < most), "more than a hand's breadth")


def _hang(one: Fit) -> str:
    if one.swing_deg <= GOOD_DEG:
        return "the arm hangs as it should"
    parts = [
        f"{abs(angle):.0f}° {more if angle > 0 else less}"
        for angle, more, less in (
            (one.outward_deg, "out from the body", "in towards the body"),
            (one.forward_deg, "forward", "back"),
        )
        if abs(angle) >= 0.5
    ]
    return (
        f"the whole arm swings {' and '.join(parts) or f'{one.swing_deg:.1f}°'}, "
        f"which carries the wrist {one.wrist_mm:.0f} mm away"
    )


def _girths(one: Fit) -> str:
    worst = max(one.girths, key=lambda girth: abs(girth.off_percent))
    if abs(worst.off_percent) <= GOOD_PERCENT:
        return f"girths come out within {GOOD_PERCENT:.0f} %"
    name, off = worst.name.replace("_", " "), worst.sewn_mm - worst.asked_mm
    return f"the {name} comes out {abs(off):.0f} mm {'more' if off > 0 else 'less'} than asked"
