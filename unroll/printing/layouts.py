"""Pieces laid on paper: on the pages of a home printer, on one large sheet, or on a roll."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.geometry.packing import Placement, pack_on_strip, pack_on_tiles
from unroll.printing.papers import Paper
from unroll.types import FinishedPiece, FloatArray, LaidPiece

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

    Raises
    ------
    UnrollError
        When a piece does not fit the one sheet of a large paper.
    """
    if not finished:
        raise UnrollError("there is no piece to print")
    outlines = [piece.cutting for piece in finished]
    if paper.name == "roll":
        return _on_roll(finished, paper)
    grid = (1, 1) if paper.is_one_sheet else _grid_for(outlines, paper)
    try:
        placed = pack_on_tiles(outlines, paper.tile, grid, rim=paper.overlap / 2, gap=GAP)
    except ValueError as error:
        raise UnrollError(
            f"the pieces do not fit on one sheet of {paper.name}; print on a roll or on tiles"
        ) from error
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
