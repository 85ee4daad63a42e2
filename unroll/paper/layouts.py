"""Pieces laid on paper: on the pages of a home printer, on one large sheet, or on a roll."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.packing import Placement, pack_on_strip, pack_on_tiles
from unroll.nouns import FinishedPiece, LaidPiece

# ISO 216 for the A series; ANSI/ASME Y14.1 A and B for letter and tabloid (8.5 x 11, 11 x 17 in)
SIZES = {
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
    "a0": (841.0, 1189.0),
}
ROLL_WIDTH = 914.4  # mm; a 36 in plotter roll: common practice, no source
ONE_SHEET = ("a0", "roll")
MARGIN = 8.0  # mm; home printers leave 4 to 7 mm white: common practice, no source
FOOT = 13.0  # mm; lower margin, with the page's number
OVERLAP = 10.0  # mm shared by neighbouring pages


@dataclass(frozen=True)
class Paper:
    """A paper and its margins, mm.

    Attributes
    ----------
    name : str
    width, height : float
        Size; the height of a roll is what the pieces need, and is 0 here.
    margin, foot : float
        White border at the sides and top, and at the bottom.
    overlap : float
        What neighbouring pages share.
    """

    name: str
    width: float
    height: float
    margin: float = MARGIN
    foot: float = FOOT
    overlap: float = OVERLAP

    @property
    def is_one_sheet(self) -> bool:
        """Tell whether all pieces go on one sheet."""
        return self.name in ONE_SHEET

    @property
    def tile(self) -> tuple[float, float]:
        """Width and height of the pattern from joint to joint, mm."""
        return (
            self.width - 2 * self.margin - self.overlap,
            self.height - self.margin - self.foot - self.overlap,
        )


def paper_called(
    name: str, *, margin: float = MARGIN, overlap: float = OVERLAP, roll_width: float = ROLL_WIDTH
) -> Paper:
    """Return the paper of this name.

    Raises
    ------
    UnrollError
        When the name is unknown, or margin, overlap or roll leave no room to draw in.
    """
    key = name.strip().lower()
    if key not in SIZES and key != "roll":
        raise UnrollError(f'paper is "{name}"; expected one of {", ".join([*SIZES, "roll"])}')
    for what, value in (("margin", margin), ("overlap", overlap)):
        if not 0 <= value <= 30:
            raise UnrollError(f"{what} is {value:g} mm; expected 0 to 30")
    if not 150 <= roll_width <= 3000:
        raise UnrollError(f"roll is {roll_width:g} mm wide; expected 150 to 3000")
    width, height = SIZES.get(key, (roll_width, 0.0))
    foot = max(margin, FOOT if margin else 0.0)
    return Paper(key, width, height, margin, foot, overlap)


GAP = 5.0  # mm between cutting lines on paper


@dataclass(frozen=True, eq=False)
class Layout:
    """Pieces on paper, and the tiles that they touch.

    Attributes
    ----------
    paper : Paper
    laid : tuple of LaidPiece
        Canvas coordinates: mm, y up.
    tiles : tuple of (row, column)
        Touched tiles, in page order; rows count from the top, from 0.
    corner : (2,) float
        Canvas position of the lower left joint of row `rows - 1`, column 0.
    rows, columns : int
    """

    paper: Paper
    laid: tuple[LaidPiece, ...]
    tiles: tuple[tuple[int, int], ...]
    corner: FloatArray
    rows: int
    columns: int

    def box(self, tile: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
        """Return the canvas rectangle of a tile from joint to joint: lower left, upper right."""
        size = np.array(self.paper.tile)
        low = self.corner + size * [tile[1], self.rows - 1 - tile[0]]
        return low, low + size

    def number(self, tile: tuple[int, int]) -> int | None:
        """Return the page number of a tile, or None where it is blank and left out."""
        return self.tiles.index(tile) + 1 if tile in self.tiles else None


def lay_out(finished: Sequence[FinishedPiece], paper: Paper) -> Layout:
    """Lay the pieces on pages of `paper` so that there are few.

    What does not fit one large sheet is laid on a roll of its width, as long as the pieces need.

    Raises
    ------
    UnrollError
        When a piece is wider than the roll.
    """
    if not finished:
        raise UnrollError("there is no piece to print")
    outlines = [piece.cutting for piece in finished]
    if paper.name == "roll":
        return _on_roll(finished, paper)
    grid = (1, 1) if paper.is_one_sheet else _grid_for(outlines, paper)
    try:
        placed = pack_on_tiles(outlines, paper.tile, grid, rim=paper.overlap / 2, gap=GAP)
    except ValueError:
        return _on_roll(finished, paper)
    return _layout(finished, placed, paper, grid)


def _on_roll(finished: Sequence[FinishedPiece], paper: Paper) -> Layout:
    """Lay the pieces across a roll, as short as possible."""
    outlines = [piece.cutting for piece in finished]
    width = paper.width - 2 * paper.margin
    widest = max(min(np.ptp(line, axis=0)) for line in outlines)
    if widest > width:
        raise UnrollError(
            f"roll is {paper.width:g} mm wide; the widest piece needs "
            f"{widest + 2 * paper.margin:.0f} mm"
        )
    placed, length = pack_on_strip(outlines, width, turns=(0.0, 90.0, 180.0, 270.0), gap=GAP)
    height = np.ceil(length) + paper.margin + paper.foot + 2
    whole = Paper("roll", paper.width, float(height), paper.margin, paper.foot, paper.overlap)
    moved = [
        Placement(p.index, p.turn_deg, p.move + 1.0 - np.array([paper.overlap / 2] * 2))
        for p in placed
    ]
    return _layout(finished, moved, whole, (1, 1))


def _grid_for(outlines: Sequence[FloatArray], paper: Paper) -> tuple[int, int]:
    """Return rows and columns enough for any packing."""
    span = np.array([np.ptp(line, axis=0) + 2 * GAP for line in outlines])
    area = float((span[:, 0] * span[:, 1]).sum())
    need = max(float(span.max()), 1.3 * np.sqrt(area))
    width, height = paper.tile
    return int(np.ceil(need / height)) + 1, int(np.ceil(need / width)) + 1


def _layout(
    finished: Sequence[FinishedPiece],
    placed: Sequence[Placement],
    paper: Paper,
    grid: tuple[int, int],
) -> Layout:
    laid = tuple(
        LaidPiece(finished[p.index], p.move, p.turn_deg, False, finished[p.index].arm)
        for p in placed
    )
    areas = shapely.union_all([shapely.Polygon(one.place(one.piece.cutting)) for one in laid])
    size = np.array(paper.tile)
    rim = paper.overlap / 2
    hit = []
    for row in range(grid[0]):
        for column in range(grid[1]):
            low = size * [column, row] - rim * (np.array([column, row]) == 0)
            high = size * [column + 1, row + 1] + rim * (np.array([column, row]) == grid[::-1])
            if shapely.box(*low, *high).intersection(areas).area > 1e-6:
                hit.append((row, column))
    rows, columns = [r for r, _ in hit], [c for _, c in hit]
    top, left = max(rows), min(columns)
    tiles = tuple(sorted((top - r, c - left) for r, c in hit))
    corner = size * [left, min(rows)]
    return Layout(paper, laid, tiles, corner, top - min(rows) + 1, max(columns) - left + 1)
