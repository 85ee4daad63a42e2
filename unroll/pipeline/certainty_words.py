"""How far figures can be trusted, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from unroll.types.corrected import SpreadRow

# A word of the cases' names, and what the maker calls their cause; stretch and filling do the same.
CAUSES = (("stiff", "cloth and filling"), ("hard", "cloth and filling"), ("astray", "cutting"))


@dataclass(frozen=True)
class Moved:
    """By how much a cause moves the figures, at most.

    Attributes
    ----------
    girth, hang, wrist, shoulder : float
        Percent, degrees, and mm: what any girth and the hang change by, how far off the
        wrist may then lie, and what the mean over the shoulder changes by.
    """

    girth: float
    hang: float
    wrist: float
    shoulder: float


def moved(base: SpreadRow, rows: Sequence[SpreadRow], kind: str) -> Moved | None:
    """Return what the cases of one kind do; None where none could be sewn.

    Parameters
    ----------
    kind : str
        A word that the names of its cases hold.
    """
    found = [row for row in rows if kind in row.name]
    if not found:
        return None
    return Moved(
        max(
            (
                abs(now - was)
                for row in found
                for now, was in zip(row.girths, base.girths, strict=True)
            ),
            default=0.0,
        ),
        max(
            math.hypot(row.outward_deg - base.outward_deg, row.forward_deg - base.forward_deg)
            for row in found
        ),
        max(row.wrist_mm for row in found),
        max(abs(row.cap_mean - base.cap_mean) for row in found),
    )


def in_sentences(
    base: SpreadRow, rows: Sequence[SpreadRow], apart: tuple[float, float], *, astray: float
) -> tuple[str, ...]:
    """Return a sentence a cause, and what no pattern can remove.

    Parameters
    ----------
    apart : (float, float)
        Mean and 95th percentile of the distance over the cap between the measured arm and the same
        with round sections, mm.
    astray : float
        How far the cuttings stray, mm.
    """
    starts = (
        ("stiff", "Stiffer or softer cloth, by half and double,"),
        ("hard", "Filling half or twice as hard"),
    )
    lines = []
    for kind, start in starts:
        by = moved(base, rows, kind)
        if by is not None:
            lines.append(
                f"{start} moves the girths by up to {by.girth:.1f} % and the hang by up to "
                f"{by.hang:.1f}°."
            )
    lines += _cutting(base, moved(base, rows, "astray"), astray)
    finer = moved(base, rows, "finer")
    if finer is not None:
        lines.append(
            f"Reckoned on a finer mesh, the hang changes by {max(finer.hang, 0.1):.1f}° and the "
            f"shoulder by {max(finer.shoulder, 0.1):.1f} mm or less: read nothing smaller than "
            "that out of the figures."
        )
    mean, most = apart
    return (
        *lines,
        f"Filled cloth goes round: {mean:.1f} mm over the shoulder on average ({most:.1f} mm "
        "nearly everywhere) is the difference between the measured arm's oval sections and round "
        "ones, and no pattern can remove it.",
    )


def _cutting(base: SpreadRow, by: Moved | None, astray: float) -> list[str]:
    if by is None:
        return []
    line = (
        f"Cutting {astray:g} mm astray moves the girths by up to {by.girth:.1f} % and the hang by "
        f"up to {by.hang:.1f}°, and leaves the wrist up to {by.wrist:.0f} mm off "
        f"({base.wrist_mm:.0f} as assumed)"
    )
    if by.girth > abs(base.girth_percent) and by.hang > base.swing_deg:
        line += ": careful cutting matters more than any further correction"
    return [f"{line}."]


def in_one_sentence(base: SpreadRow, rows: Sequence[SpreadRow]) -> str:
    """Return the whole spread in one sentence; empty where no case could be sewn."""
    found = [(by, name) for kind, name in CAUSES if (by := moved(base, rows, kind)) is not None]
    if not found:
        return ""
    girth = max(by.girth for by, _ in found)
    most, cause = max(found, key=lambda pair: pair[0].hang)
    return (
        f"How sure that is: other cloth, filling or cutting moves the girths by up to "
        f"{girth:.1f} % and the hang by up to {most.hang:.1f}° (most of it by {cause})."
    )
