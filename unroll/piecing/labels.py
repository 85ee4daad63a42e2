"""What a piece says of itself."""

from __future__ import annotations

from unroll.types import Sheet
from unroll.units import format_length

SOURCES = {
    "corrected": "unrolled and corrected",
    "unrolled": "unrolled",
    "drafted-ease": "flat draft, cap eased",
    "drafted-darts": "flat draft, cap darted",
}


def label(
    name: str,
    source: str,
    arm: str,
    material: str,
    cut: tuple[int, int],
    sheet: Sheet,
    *,
    version: str,
) -> tuple[str, ...]:
    """Return the lines of a piece's label, its name first.

    Parameters
    ----------
    name, source, arm, material : str
    cut : (int, int)
        How many as drawn, how many turned over.
    sheet : Sheet
        Owner, date, cloth and allowance.
    version : str
        The tool's version.
    """
    cloth = sheet.cloth.name if material == "cloth" else "card"
    lines = [name.upper(), cut_words(cut), f"{arm_words(arm)}, {cloth}"]
    lines.append(allowance_words(sheet) if material == "cloth" else "no seam allowance")
    lines.append(" ".join(part for part in (sheet.owner, sheet.date) if part))
    tool = f"unroll {version}".strip()
    lines.append(f"{tool}, {SOURCES.get(source, source)}")
    return tuple(line for line in lines if line)


def arm_words(arm: str) -> str:
    """Return which arm a piece is for, in words."""
    return "both arms" if arm == "both" else f"{arm} arm"


def cut_words(cut: tuple[int, int]) -> str:
    """Return how many to cut, in words.

    Examples
    --------
    >>> cut_words((1, 1)), cut_words((2, 0))
    ('cut 1 + 1 turned over', 'cut 2')
    """
    drawn, turned = cut
    if turned == 0:
        return f"cut {drawn}"
    return f"cut {drawn} + {turned} turned over"


def allowance_words(sheet: Sheet) -> str:
    """Return the seam allowance in millimetres and in the maker's unit."""
    width = _both(sheet.make.seam_allowance, sheet)
    other = sheet.make.seam_allowances
    if not other:
        return f"seam allowance {width}"
    listed = ", ".join(f"{seam} {_both(value, sheet)}" for seam, value in other.items())
    return f"seam allowance {width}; {listed}"


def _both(mm: float, sheet: Sheet) -> str:
    """Return a width in the maker's unit, and in millimetres where that is another."""
    plain = f"{round(mm, 1):g} mm"
    if sheet.unit == "in":
        return f"{format_length(mm, 'in')} ({plain})"
    return plain
