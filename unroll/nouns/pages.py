"""Pages to print, as drawing values in millimetres, and what they say besides the pieces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from unroll.maths.arrays import FloatArray, own


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line on a page.

    Attributes
    ----------
    points : (k, 2) float
        mm from the page's lower left corner, y up.
    style : str
        "cutting", "stitching", "notch", "grain", "reference", "ease", "joint", "frame", "square",
        "mark", "bold", "thin", "faint".
    """

    points: FloatArray
    style: str

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "points", own(self.points, float, None, 2))


@dataclass(frozen=True, eq=False)
class Patch:
    """A filled area on a page.

    Attributes
    ----------
    points : (k, 2) float
        Outline, mm.
    grey : float
        0 black to 1 white.
    """

    points: FloatArray
    grey: float

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "points", own(self.points, float, None, 2))


@dataclass(frozen=True, eq=False)
class Lettering:
    """A line of text on a page.

    Attributes
    ----------
    text : str
    at : (2,) float
        Left end of the base line (or its middle, or right end), mm.
    size : float
        Height of the type (em), mm; capitals are about 0.73 of it.
    align : {"left", "middle", "right"}
    is_bold : bool
    turn_deg : float
        Anticlockwise turn about `at`.
    """

    text: str
    at: FloatArray
    size: float
    align: Literal["left", "middle", "right"] = "left"
    is_bold: bool = False
    turn_deg: float = 0.0

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "at", own(self.at, float, 2))


@dataclass(frozen=True, eq=False)
class SheetPage:
    """One page, everything on it in mm.

    Attributes
    ----------
    name : str
        "cover", "page 1", ...
    width, height : float
        Size of the paper, mm.
    patches : tuple of Patch
        Drawn first.
    strokes : tuple of Stroke
    letterings : tuple of Lettering
        Drawn last.
    tile : (int, int) or None
        Row and column of a pattern page, counted from 1 at the upper left.
    """

    name: str
    width: float
    height: float
    patches: tuple[Patch, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    letterings: tuple[Lettering, ...] = ()
    tile: tuple[int, int] | None = None


@dataclass(frozen=True)
class PrintFacts:
    """What the pages say besides the pieces.

    Attributes
    ----------
    version : str
        The tool's version.
    filling_litres : float or None
        Room inside one arm; None when nobody computed it.
    faults : tuple of str
        What is outside limits or withheld, each with what would help; each page points to it.
    cautions : tuple of str
        Lines from the truing checks and other stages, for the sewing guide.
    verdict : str
        What the sewn and filled arm comes to, one sentence for the cover sheet; "" where unknown.
    """

    version: str = ""
    filling_litres: float | None = None
    faults: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    verdict: str = ""
