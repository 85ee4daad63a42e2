"""Line styles and the measure of type: black on white, widths and dashes in mm."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

FONT = "DejaVu Sans"  # comes with matplotlib, so that every machine draws the same page
ABOVE, BELOW = 0.78, 0.24  # of the size: how far type reaches over and under its base line


@dataclass(frozen=True)
class LineStyle:
    """How a line is drawn: width and dashes in mm, grey from 0 (black) to 1."""

    width: float
    dashes: tuple[float, ...] = ()
    grey: float = 0.0
    is_dotted: bool = False


STYLES = {
    "cutting": LineStyle(0.5),
    "stitching": LineStyle(0.25, (3.5, 1.8)),
    "notch": LineStyle(0.5),
    "grain": LineStyle(0.35),
    "reference": LineStyle(0.18, (7.0, 1.5, 1.0, 1.5)),
    "fold": LineStyle(0.18, (1.2, 1.6)),
    "ease": LineStyle(0.7, (0.01, 2.0), is_dotted=True),
    "joint": LineStyle(0.18, (0.6, 1.8), 0.3),
    "square": LineStyle(0.15, (), 0.45),
    "mark": LineStyle(0.25),
    "bold": LineStyle(0.9),
    "medium": LineStyle(0.4),
    "thin": LineStyle(0.2),
    "faint": LineStyle(0.2, (), 0.6),
}


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, is_bold: bool = False) -> float:
    """Return the width of a line of text, mm, at a size in mm."""
    font = FontProperties(family=FONT, size=100, weight="bold" if is_bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return float(width) * size / 100


def wrapped(text: str, width: float, size: float, is_bold: bool = False) -> list[str]:
    """Return a text broken at spaces into lines no wider than `width` mm."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, is_bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
