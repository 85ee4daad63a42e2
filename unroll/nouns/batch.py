"""Many sheets made at once: what becomes of each, and sizes laid over one another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from unroll.nouns.finished import CutPlan, LaidPiece
from unroll.units import Unit

Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Made:
    """What became of one sheet of many: as much as the overview shows, and nothing large.

    Attributes
    ----------
    name : str
        Of its folder.
    source : str
        Where the sheet stands: "ada.toml", "class.csv, line 3".
    key : str
        Tells its sheet, the settings and the program's version from any other.
    owner : str
    unit : {"in", "cm", "mm"}
    verdict : str
        Plain words.
    is_within : bool
        Whether all is within its limits.
    figures : mapping of str to float
        Every figure of `FIGURES` by its key, of the worse arm.
    cloth : str
    cloth_width, cloth_length : float
        mm.
    pages : int
        To print; 0 where nothing is.
    warnings : tuple of str
        A plain line each.
    faults : tuple of str
        Why nothing was made; empty where it was.
    outlines : tuple of ((x, y), ...)
        The pieces to cut, coarsely, mm.
    """

    name: str
    source: str
    key: str = ""
    owner: str = ""
    unit: Unit = "mm"
    verdict: str = ""
    is_within: bool = False
    figures: Mapping[str, float] = field(default_factory=dict)
    cloth: str = ""
    cloth_width: float = 0.0
    cloth_length: float = 0.0
    pages: int = 0
    warnings: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    outlines: tuple[Outline, ...] = ()

    @property
    def state(self) -> Literal["within", "outside", "not made"]:
        """What it comes to, in a word or two."""
        if self.faults:
            return "not made"
        return "within" if self.is_within else "outside"


@dataclass(frozen=True, eq=False)
class ClothPlan:
    """The pieces of many sheets on one length of cloth.

    Attributes
    ----------
    cloth : str
        What the maker calls it.
    lays : tuple of CutPlan
        One after the other along the cloth, each with the pieces of a few whole sheets.
    owners : mapping of int to int
        Number of the sheet, from 1, by the identity of its piece.
    names : tuple of str
        The sheets' names in the order of their numbers.
    gap : float
        Between two lays, mm.
    """

    cloth: str
    lays: tuple[CutPlan, ...]
    owners: Mapping[int, int]
    names: tuple[str, ...]
    gap: float

    @property
    def width(self) -> float:
        """Width of the cloth, mm."""
        return self.lays[0].width

    @property
    def length(self) -> float:
        """Length of cloth needed, mm."""
        return sum(lay.length for lay in self.lays) + self.gap * (len(self.lays) - 1)

    @property
    def unit(self) -> Unit:
        """Unit of the first sheet's maker."""
        return self.lays[0].laid[0].piece.unit

    def label_of(self, laid: LaidPiece) -> str:
        """Return what is written on a piece: the sheet's number, the piece, and its arm."""
        arm = {"left": " L", "right": " R"}.get(laid.arm, "")
        return f"{self.owners[id(laid.piece)]} {laid.piece.name}{arm}"


@dataclass(frozen=True, eq=False)
class Nest:
    """One piece in several sizes, laid over one another with the grain up.

    Attributes
    ----------
    title, arm, material : str
        As of the piece.
    sizes : tuple of str
    laid : tuple of LaidPiece
        One a size.
    """

    title: str
    arm: str
    material: str
    sizes: tuple[str, ...]
    laid: tuple[LaidPiece, ...]


@dataclass(frozen=True)
class GradedMeasure:
    """A measure of one piece in every size.

    Attributes
    ----------
    piece : str
        Its title, and its arm where the arms differ.
    name : str
        "front seam", "width at elbow line", "dart 1 intake", ...
    values : tuple of float or None
        mm, one a size; None where a size has no such place.
    """

    piece: str
    name: str
    values: tuple[float | None, ...]
