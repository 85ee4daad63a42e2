"""The pattern cut into pages: true to scale, numbered, with squares to check the printer by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, PrintFacts, SheetPage, Stroke
from unroll.paper.board import ABOVE, BELOW, CELL, Board, text_width
from unroll.paper.drawing import draw_lines, write_words
from unroll.paper.layouts import Layout

ROOM = 8.0  # mm around a circle that must be free for the page numbers
MARK_RADIUS = 2.5  # mm; circle and cross on the joint between two pages


def draw_joints(board: Board, layout: Layout) -> None:
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
    """Draw one joint: a dotted line, and two circles where nothing else is drawn.

    Each of the numbers lies on its own page's side; on a joint too crowded for them the circles
    stand alone.
    """
    board.strokes.append(Stroke(line, "joint"))
    for middle in (0.25, 0.75):
        spot, has_room = _spot(board, line, middle)
        _draw_circle(board, spot)
        if has_room:
            for page, way in ((pages[0], -1), (pages[1], 1)):
                _write_page_number(board, str(page), spot, way * across)
        board.take(spot - ROOM, spot + ROOM)


def _spot(board: Board, line: FloatArray, middle: float) -> tuple[FloatArray, bool]:
    """Return the free place on a joint nearest to a share of it, and whether there was one."""
    shares = sorted(np.arange(0.06, 0.95, 0.01), key=lambda share: abs(share - middle))
    for share in shares:
        spot = line[0] + share * (line[1] - line[0])
        if board.is_free(spot - ROOM, spot + ROOM):
            return np.asarray(spot), True
    return np.asarray(line[0] + middle * (line[1] - line[0])), False


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


SMALL, LARGE = 100.0, 101.6  # mm; the large one is 4 in
SIZE = 2.6  # mm; type
WORDS = 20.0  # how much worse it is to cross words than a line
STEP = 3  # cells between the places that are tried


def check_squares(
    board: Board, low: FloatArray, high: FloatArray, shift: FloatArray
) -> tuple[list[Stroke], list[Lettering]]:
    """Return a 100 mm and a 4 in square, and their words, where they cross the fewest lines.

    Parameters
    ----------
    board : Board
        With everything else drawn.
    low, high : (2,) float
        Corners of the page's part of the board, mm.
    shift : (2,) float
        From the board to the page, mm.
    """
    at = _quietest(board, low, high)
    strokes = []
    for size in (SMALL, LARGE):
        square = at + size * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
        strokes.append(Stroke(square + shift, "square"))
    letterings = [Lettering(text, spot + shift, SIZE) for text, spot in _words(board, at)]
    return strokes, letterings


def _quietest(board: Board, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the lower left corner at which the squares' sides run over the least ink."""
    first = np.ceil((low + 2 - board.corner) / CELL).astype(int)
    last = np.floor((high - LARGE - 4 - board.corner) / CELL).astype(int)
    rows = np.arange(first[1], max(last[1], first[1]) + 1, STEP)
    columns = np.arange(first[0], max(last[0], first[0]) + 1, STEP)
    total = np.zeros((board.inked.shape[0] + 1, board.inked.shape[1] + 1))
    # a line may be crossed, words should not be
    weight = board.inked + WORDS * board.worded
    total[1:, 1:] = weight.cumsum(axis=0).cumsum(axis=1)
    side = int(np.ceil(LARGE / CELL))

    def ink(up: int, right: int, tall: int, wide: int) -> FloatArray:
        i = np.clip(rows + up, 0, total.shape[0] - 1 - tall)[:, None]
        j = np.clip(columns + right, 0, total.shape[1] - 1 - wide)[None]
        inked = total[i + tall, j + wide] - total[i, j + wide] - total[i + tall, j] + total[i, j]
        return np.asarray(inked)

    cost = ink(0, 0, 1, side) + ink(0, 0, side, 1) + ink(side - 2, 0, 3, side)
    cost += ink(0, side - 2, side, 3) + 0.02 * ink(0, 0, side, side)
    i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
    return np.asarray(board.corner + CELL * np.array([columns[j], rows[i]], dtype=float))


def _words(board: Board, at: FloatArray) -> list[tuple[str, FloatArray]]:
    """Return words and their places inside the squares, where nothing is drawn."""
    for lines in (
        ["test squares: small 100 mm, large 4 in; measure both ways"],
        ["small 100 mm, large 4 in; measure both ways"],
        ["small 100 mm", "large 4 in"],
    ):
        found = _places(board, at, lines)
        if len(found) == len(lines):
            return found
    return found


def _places(board: Board, at: FloatArray, lines: list[str]) -> list[tuple[str, FloatArray]]:
    out: list[tuple[str, FloatArray]] = []
    taken: list[tuple[FloatArray, FloatArray]] = []
    for line in lines:
        width = text_width(line, SIZE)
        for y in [1.8, *np.arange(93.0, 2.0, -3.6)]:
            for x in np.arange(2.0, 98.0 - width, 3.0):
                spot = at + [x, y]
                box = spot - [0.5, SIZE * BELOW + 0.3], spot + [width + 0.5, SIZE * ABOVE + 0.3]
                clear = all((box[0] > b[1]).any() or (box[1] < b[0]).any() for b in taken)
                if clear and board.is_free(*box):
                    out.append((line, spot))
                    taken.append(box)
                    break
            else:
                continue
            break
    return out


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
        text = "OUTSIDE LIMITS: see the cover sheet before you cut"
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
