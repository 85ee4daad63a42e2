"""The pattern cut into pages: true to scale, numbered, with squares to check the printer by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from unroll.printing.board import Board
from unroll.printing.check_squares import check_squares
from unroll.printing.drawing import draw_lines, write_words
from unroll.printing.joints import draw_joints
from unroll.printing.layouts import Layout
from unroll.printing.styles import ABOVE, BELOW, text_width
from unroll.types import FloatArray, Lettering, PrintFacts, SheetPage, Stroke


def pattern_pages(layout: Layout, facts: PrintFacts) -> tuple[SheetPage, ...]:
    """Return the pages of the pattern, true to scale, in reading order."""
    board = _board(layout)
    for laid in layout.laid:
        draw_lines(board, laid)
    if not layout.paper.is_one_sheet:
        draw_joints(board, layout)
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
            np.array([x - half, board.corner[1]]),
            np.array([x + half, board.corner[1] + span[1] + 2 * half]),
        )
    for row in range(1, layout.rows):
        y = layout.corner[1] + row * size[1]
        board.keep_free(
            np.array([board.corner[0], y - half]),
            np.array([board.corner[0] + span[0] + 2 * half, y + half]),
        )
    return board


def _page(board: Board, layout: Layout, tile: tuple[int, int], facts: PrintFacts) -> SheetPage:
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
    more_strokes, more_letterings = check_squares(board, low, high, shift)
    more_letterings += _foot(layout, tile, facts)
    return SheetPage(
        f"page {layout.number(tile)}",
        paper.width,
        paper.height,
        (),
        (*strokes, *more_strokes),
        (*letterings, *more_letterings),
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
        Lettering(
            ", ".join(dict.fromkeys(names)), np.array([paper.width - left, base]), 2.8, "right"
        ),
    ]
    if facts.faults:
        text = "PRINTED IN SPITE OF FAULTS: see the cover sheet before you cut"
        out.append(
            Lettering(
                text,
                np.array([left, paper.height - max(paper.margin, 5.0) + 1.2]),
                3.2,
                "left",
                True,
            )
        )
    return out
