"""Pieces laid on the pages of a home printer, cut at joints, with marks to put them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.geometry.packing import Placement, pack_on_strip, pack_on_tiles
from unroll.printing.board import Board
from unroll.printing.drawing import draw_lines, write_words
from unroll.printing.papers import Paper
from unroll.printing.styles import ABOVE, BELOW, text_width
from unroll.types import FinishedPiece, FloatArray, LaidPiece, Lettering, PrintFacts, SheetPage, Stroke

GAP = 5.0  # mm between cutting lines on paper
SQUARES = (("100 mm", 100.0), ("4 in", 101.6))
MARK_RADIUS = 2.5  # mm; circle and cross on the joint between two pages


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
            f"roll is {paper.width:g} mm wide; the widest piece needs {widest + 2 * paper.margin:.0f}"
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
    return Layout(
        paper, laid, tiles, corner, top - min(rows) + 1, max(columns) - left + 1
    )


def pattern_pages(layout: Layout, facts: PrintFacts) -> tuple[SheetPage, ...]:
    """Return the pages of the pattern, true to scale, in reading order."""
    board = _board(layout)
    for laid in layout.laid:
        draw_lines(board, laid)
    if not layout.paper.is_one_sheet:
        _draw_joint_marks(board, layout)
    for laid in layout.laid:
        write_words(board, laid)
    return tuple(_page(board, layout, tile, facts) for tile in layout.tiles)


def _board(layout: Layout) -> Board:
    """Return an empty board over all tiles, joints kept free of words."""
    size = np.array(layout.paper.tile)
    half = layout.paper.overlap / 2
    span = size * [layout.columns, layout.rows]
    board = Board(layout.corner - half, (span[0] + 2 * half, span[1] + 2 * half))
    for column in range(1, layout.columns):
        x = layout.corner[0] + column * size[0]
        board.keep_free(
            np.array([x - half, board.corner[1]]), np.array([x + half, board.corner[1] + span[1] + 2 * half])
        )
    for row in range(1, layout.rows):
        y = layout.corner[1] + row * size[1]
        board.keep_free(
            np.array([board.corner[0], y - half]), np.array([board.corner[0] + span[0] + 2 * half, y + half])
        )
    return board


def _draw_joint_marks(board: Board, layout: Layout) -> None:
    """Draw the joints between printed pages, with circles that meet when pages are joined.

    Each circle is centred on the joint, so that half of it stays on either page when it is
    trimmed there; the number on each side of the joint is that page's own.
    """
    half = layout.paper.overlap / 2
    for tile in layout.tiles:
        low, high = layout.box(tile)
        number = layout.number(tile)
        right = layout.number((tile[0], tile[1] + 1))
        below = layout.number((tile[0] + 1, tile[1]))
        if right is not None:
            line = np.array([[high[0], low[1] - half], [high[0], high[1] + half]])
            _draw_joint(board, line, (number, right), np.array([1.0, 0.0]))
        if below is not None:
            line = np.array([[low[0] - half, low[1]], [high[0] + half, low[1]]])
            _draw_joint(board, line, (number, below), np.array([0.0, -1.0]))


def _draw_joint(
    board: Board, line: FloatArray, pages: tuple[int | None, int], across: FloatArray
) -> None:
    """Draw one joint: a dotted line, and two circles where nothing else is drawn."""
    board.strokes.append(Stroke(line, "joint"))
    along = line[1] - line[0]
    room = np.array([9.0, 9.0])
    for middle in (0.25, 0.75):
        shares = sorted(np.arange(0.08, 0.93, 0.02), key=lambda s: abs(s - middle))
        mine = [s for s in shares if (s < 0.5) == (middle < 0.5)]
        spots = [line[0] + s * along for s in mine]
        free = [at for at in spots if board.is_free(at - room, at + room)]
        at = free[0] if free else spots[0]
        _draw_circle(board, at)
        for page, way in ((pages[0], -1), (pages[1], 1)):
            _write_page_number(board, str(page), at, way * across)
        board.take(at - room, at + room)


def _draw_circle(board: Board, at: FloatArray) -> None:
    angle = np.linspace(0, 2 * np.pi, 37)
    board.strokes.append(Stroke(at + MARK_RADIUS * np.c_[np.cos(angle), np.sin(angle)], "mark"))
    for way in ([4.0, 0.0], [0.0, 4.0]):
        board.strokes.append(Stroke(np.stack([at - way, at + way]), "mark"))


def _write_page_number(board: Board, text: str, at: FloatArray, way: FloatArray) -> None:
    """Write a page's number beside a joint circle, on that page's side, clear of the cross."""
    size = 2.9
    width = text_width(text, size)
    middle = at + way * (1.9 + (width if way[0] else size * ABOVE) / 2 - 0.6)
    beside = np.array([0.0, 4.2]) if way[0] else np.array([4.2, 0.0])
    spot = middle + beside - [width / 2, size * (ABOVE - BELOW) / 2]
    board.letterings.append(Lettering(text, spot, size))


def _page(
    board: Board, layout: Layout, tile: tuple[int, int], facts: PrintFacts
) -> SheetPage:
    """Cut one page out of the board."""
    paper, half = layout.paper, layout.paper.overlap / 2
    low, high = layout.box(tile)
    low, high = low - half, high + half
    shift = np.array([paper.margin, paper.foot]) - low
    strokes = _clipped(board.strokes, low, high, shift)
    letterings = [
        Lettering(t.text, t.at + shift, t.size, t.align, t.is_bold, t.turn_deg)
        for t in board.letterings
        if _is_on(t, low, high)
    ]
    more_strokes, more_letterings = _test_squares(board, low, high, shift)
    more_letterings += _foot(layout, tile, facts)
    return SheetPage(
        f"page {layout.number(tile)}", paper.width, paper.height, (),
        (*strokes, *more_strokes), (*letterings, *more_letterings),
        (tile[0] + 1, tile[1] + 1),
    )


def _clipped(
    strokes: Sequence[Stroke], low: FloatArray, high: FloatArray, shift: FloatArray
) -> list[Stroke]:
    """Return the parts of strokes within a rectangle, moved onto the page."""
    frame = shapely.box(*low, *high)
    shapely.prepare(frame)
    out = []
    for stroke in strokes:
        first, last = stroke.points.min(axis=0), stroke.points.max(axis=0)
        if (last < low).any() or (first > high).any():
            continue
        if (first >= low).all() and (last <= high).all():
            out.append(Stroke(stroke.points + shift, stroke.style))
            continue
        inside = shapely.line_merge(shapely.intersection(shapely.LineString(stroke.points), frame))
        for part in shapely.get_parts(inside):
            if part.geom_type == "LineString" and part.length > 1e-6:
                out.append(Stroke(shapely.get_coordinates(part) + shift, stroke.style))
    return out


def _is_on(text: Lettering, low: FloatArray, high: FloatArray) -> bool:
    """Tell whether the middle of a lettering lies within a rectangle."""
    width = text_width(text.text, text.size, text.is_bold)
    middle = text.at + [width / 2, text.size * (ABOVE - BELOW) / 2]
    return bool((middle >= low).all() and (middle <= high).all())


def _test_squares(
    board: Board, low: FloatArray, high: FloatArray, shift: FloatArray
) -> tuple[list[Stroke], list[Lettering]]:
    """Draw a 100 mm and a 4 in square where they cross the fewest lines and no word."""
    largest = SQUARES[1][1]
    spots = [
        np.array([x, y])
        for y in np.arange(low[1] + 2, high[1] - largest - 2, 4.0)
        for x in np.arange(low[0] + 2, high[0] - largest - 2, 4.0)
    ]
    at = min(spots, key=lambda spot: _square_cost(board, spot, high))
    strokes = []
    for _, size in SQUARES:
        square = at + size * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
        strokes.append(Stroke(square + shift, "square"))
    letterings = []
    for text, place in _square_words(board, at, low, high):
        letterings.append(Lettering(text, place + shift, 2.6))
    return strokes, letterings


def _square_cost(board: Board, at: FloatArray, high: FloatArray) -> float:
    """Count the inked cells that a square's four sides would run over."""
    size = SQUARES[1][1]
    sides = (
        (at, at + [size, 1.0]), (at, at + [1.0, size]),
        (at + [0, size - 2], at + [size, size]), (at + [size - 2, 0], at + [size, size]),
    )
    return float(sum(board.ink_within(*side) for side in sides)) + 1e-6 * float(at @ [1.0, -1.0])


def _square_words(
    board: Board, at: FloatArray, low: FloatArray, high: FloatArray
) -> list[tuple[str, FloatArray]]:
    """Return the squares' words and their places: along a side, inside, where nothing is drawn."""
    size = 2.6
    text = "test squares: small 100 mm, large 4 in; measure both ways"
    parts = [text] if _fits(board, text, at, size) else ["small 100 mm", "large 4 in"]
    out = []
    taken: list[tuple[FloatArray, FloatArray]] = []
    for line in parts:
        width = text_width(line, size)
        spots = [
            at + [x, y]
            for y in [1.8, *np.arange(93.0, 2.0, -3.6)]
            for x in np.arange(2.0, 98.0 - width, 3.0)
        ]
        for spot in spots:
            box = spot - [0.5, size * BELOW + 0.3], spot + [width + 0.5, size * ABOVE + 0.3]
            clear = all((box[0] > b[1]).any() or (box[1] < b[0]).any() for b in taken)
            if clear and board.is_free(*box):
                out.append((line, spot))
                taken.append(box)
                break
    return out


def _fits(board: Board, text: str, at: FloatArray, size: float) -> bool:
    width = text_width(text, size)
    return any(
        board.is_free(
            at + [x - 0.5, y - size * BELOW - 0.3], at + [x + width + 0.5, y + size * ABOVE + 0.3]
        )
        for y in [1.8, *np.arange(93.0, 2.0, -3.6)]
        for x in np.arange(2.0, 98.0 - width, 3.0)
    )


def _foot(layout: Layout, tile: tuple[int, int], facts: PrintFacts) -> list[Lettering]:
    """Return the lines under a page: number, row and column, pieces, and any fault."""
    paper = layout.paper
    number, count = layout.number(tile), len(layout.tiles)
    low, high = layout.box(tile)
    frame = shapely.box(*low, *high)
    names = [
        one.piece.title if one.arm == "both" else f"{one.piece.title} ({one.arm})"
        for one in layout.laid
        if shapely.Polygon(one.place(one.piece.cutting)).intersects(frame)
    ]
    where = f"page {number} of {count}"
    if not paper.is_one_sheet:
        where += f"   row {tile[0] + 1}, column {tile[1] + 1}"
    left, base = max(paper.margin, 5.0), max(paper.foot - 4.6, 1.0)
    out = [
        Lettering(where, np.array([left, base]), 3.2, "left", True),
        Lettering(", ".join(dict.fromkeys(names)), np.array([paper.width - left, base]), 2.8, "right"),
    ]
    if facts.faults:
        text = "PRINTED IN SPITE OF FAULTS: see the cover sheet before you cut"
        out.append(Lettering(text, np.array([left, paper.height - max(paper.margin, 5.0) + 1.2]), 3.2, "left", True))
    return out
