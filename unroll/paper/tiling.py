"""The pattern cut into pages: true to scale, numbered, with a ruler where a page has room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, PrintFacts, SheetPage, Stroke
from unroll.paper.board import ABOVE, BELOW, Board, text_width
from unroll.paper.drawing import draw_lines, write_words
from unroll.paper.layouts import Layout

ROOMS = (8.0, 4.8)  # mm around a joint's circle that must be free: with the page numbers, without
MARK_RADIUS = 2.5  # mm; circle and cross on the joint between two pages
WHITE = 1.2  # mm; the joint's dots stop short of every other line
AT_ONCE = 500  # places that are tried before any farther from a corner


def draw_joints(board: Board, layout: Layout) -> tuple[FloatArray, ...]:
    """Draw circles that meet when pages are joined; return the joints, (2, 2) each, undrawn.

    Each circle is centred on the joint, so that half of it stays on either page when it is
    trimmed there; the number on each side of the joint is that page's own.
    """
    half, joints = layout.paper.overlap / 2, []
    for tile in layout.tiles:
        low, high = layout.box(tile)
        number = layout.number(tile)
        right = layout.number((tile[0], tile[1] + 1))
        below = layout.number((tile[0] + 1, tile[1]))
        if right is not None:
            line = np.array([[high[0], low[1] - half], [high[0], high[1] + half]])
            _draw_circles(board, line, (number, right), np.array([1.0, 0.0]))
            joints.append(line)
        if below is not None:
            line = np.array([[low[0] - half, low[1]], [high[0] + half, low[1]]])
            _draw_circles(board, line, (number, below), np.array([0.0, -1.0]))
            joints.append(line)
    return tuple(joints)


def _draw_circles(
    board: Board, line: FloatArray, pages: tuple[int | None, int], across: FloatArray
) -> None:
    """Draw two circles on a joint where nothing else is drawn, each page's number on its side.

    On a joint too crowded for the numbers the circles stand alone; none is drawn over a piece's
    lines.
    """
    for middle in (0.25, 0.75):
        spot, room = _spot(board, line, middle)
        if spot is None:
            continue
        _draw_circle(board, spot)
        if room == ROOMS[0]:
            for page, way in ((pages[0], -1), (pages[1], 1)):
                _write_page_number(board, str(page), spot, way * across)
        board.take(spot - room, spot + room)


def _spot(board: Board, line: FloatArray, middle: float) -> tuple[FloatArray | None, float]:
    """Return the free place on a joint nearest to a share of it, and the room around it."""
    shares = sorted(np.arange(0.06, 0.95, 0.01), key=lambda share: abs(share - middle))
    for room in ROOMS:
        for share in shares:
            spot = line[0] + share * (line[1] - line[0])
            if board.is_free(spot - room, spot + room):
                return np.asarray(spot), room
    return None, 0.0


def _draw_dots(board: Board, joints: Sequence[FloatArray]) -> None:
    """Draw the joints, broken wherever a line or a word lies."""
    drawn = [shapely.LineString(stroke.points).buffer(WHITE) for stroke in board.strokes
             if stroke.style != "mark"]  # fmt: skip
    taken = shapely.union_all([*drawn, *(word_box(text).buffer(0.8) for text in board.letterings)])
    for line in joints:
        for part in shapely.get_parts(shapely.difference(shapely.LineString(line), taken)):
            if part.length > 2 * WHITE:
                board.strokes.append(Stroke(shapely.get_coordinates(part), "joint"))


def word_box(text: Lettering) -> shapely.Polygon:
    """Return the room that a lettering takes, turned as it is."""
    width = text_width(text.text, text.size, text.is_bold)
    left = {"left": 0.0, "middle": -width / 2, "right": -width}[text.align]
    low, high = np.array([left, -BELOW * text.size]), np.array([left + width, ABOVE * text.size])
    angle = np.deg2rad(text.turn_deg)
    turn = np.round([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]], 15)
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    return shapely.Polygon(corners @ turn + text.at)


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


MM, INCHES = 100.0, 101.6  # mm; sides of the test squares: 100 mm, and 4 in
SIZE = 2.8  # mm; type
RULER = (66.0, 8.0)  # mm; room of the small ruler: 50 mm above its line, 2 in below
APART = 3.0  # mm between a ruler and a piece


def check_squares(at: FloatArray, *, scale: float = 1.0) -> tuple[list[Stroke], list[Lettering]]:
    """Return a 100 mm and a 4 in square with one common corner, and their words.

    Parameters
    ----------
    at : (2,) float
        Lower left corner, mm.
    scale : float
        What the page is later drawn larger by: the squares come out true all the same.
    """
    ring = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
    strokes = [Stroke(at + side / scale * ring, "square") for side in (MM, INCHES)]
    words = ("Test squares: measure both,", "across and down.", "", "Small: 100 mm", "Large: 4 in")
    size = 3.4 / scale
    first = at + np.array([6.0, 60.0]) / scale
    return strokes, [
        Lettering(text, first - [0.0, 1.5 * size * row], size)
        for row, text in enumerate(words) if text
    ]  # fmt: skip


def _ruler(at: FloatArray, turn_deg: float) -> tuple[list[Stroke], list[Lettering]]:
    """Return a ruler of 50 mm and 2 in from the corner of its room, lying or standing."""
    angle = np.deg2rad(turn_deg)
    turn = np.round([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]], 15)
    corner = at + ([RULER[1], 0.0] if turn_deg else [0.0, 0.0])
    lines = [[[1.0, 4.0], [51.8, 4.0]]]
    lines += [[[1.0 + 10 * k, 4.0], [1.0 + 10 * k, 7.0 if k % 5 == 0 else 5.5]] for k in range(6)]
    lines += [[[1.0 + 12.7 * k, 4.0], [1.0 + 12.7 * k, 2.5 if k % 2 else 1.0]] for k in range(5)]
    words = (("50 mm", 4.8), ("2 in", 1.0))
    return (
        [Stroke(corner + np.array(line) @ turn, "square") for line in lines],
        [Lettering(text, corner + np.array([53.5, y]) @ turn, SIZE, turn_deg=turn_deg)
         for text, y in words],
    )  # fmt: skip


def _rulers_keep_off(board: Board, layout: Layout) -> shapely.Geometry:
    """Return where no ruler may lie: pieces, even where they are empty, words and joints' rings."""
    pieces = [shapely.Polygon(one.place(one.piece.cutting)).buffer(APART) for one in layout.laid]
    taken = [*pieces, *(word_box(text).buffer(1.0) for text in board.letterings)]
    taken += [shapely.LineString(s.points).buffer(1.0) for s in board.strokes if s.style == "mark"]
    return shapely.union_all(taken)


def _scale_check(
    taken: shapely.Geometry, layout: Layout, tile: tuple[int, int]
) -> tuple[list[Stroke], list[Lettering]]:
    """Return the ruler of a page where one is free; on one large sheet the squares, if they are."""
    low, high = layout.box(tile)
    free = shapely.difference(shapely.box(*(low + 1), *(high - 1)), taken)
    if layout.paper.is_one_sheet:
        spot = _corner_of(free, (INCHES + 2, INCHES + 2), low, high)
        if spot is not None:
            return check_squares(spot + 1.0)
    for turn, room in ((0.0, RULER), (90.0, RULER[::-1])):
        spot = _corner_of(free, room, low, high)
        if spot is not None:
            return _ruler(spot, turn)
    return [], []


def _corner_of(
    free: shapely.Geometry, room: tuple[float, float], low: FloatArray, high: FloatArray
) -> FloatArray | None:
    """Return where a box lies within a free area, as near to a corner of the page as it can."""
    axes = [np.arange(a + 1, b - size - 1, 2.0) for a, b, size in zip(low, high, room, strict=True)]
    spots = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    aside = np.minimum(spots - low, high - room - spots).sum(axis=1)
    spots = spots[np.argsort(aside, kind="stable")]
    shapely.prepare(free)
    for some in np.split(spots, range(AT_ONCE, len(spots), AT_ONCE)):
        fits = shapely.contains(free, shapely.box(*some.T, *(some + room).T))
        if fits.any():
            return np.asarray(some[np.argmax(fits)])
    return None


def pattern_pages(layout: Layout, facts: PrintFacts) -> tuple[SheetPage, ...]:
    """Return the pages of the pattern, true to scale, in reading order."""
    board = _board(layout)
    for laid in layout.laid:
        draw_lines(board, laid)
    joints = draw_joints(board, layout)
    for laid in layout.laid:
        write_words(board, laid)
    _draw_dots(board, joints)
    taken = _rulers_keep_off(board, layout)
    return tuple(_page(board, layout, tile, facts, taken) for tile in layout.tiles)


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


def _page(
    board: Board,
    layout: Layout,
    tile: tuple[int, int],
    facts: PrintFacts,
    taken: shapely.Geometry,
) -> SheetPage:
    """Cut one page out of the board."""
    paper, half = layout.paper, layout.paper.overlap / 2
    low, high = layout.box(tile)
    low, high = low - half, high + half
    shift = np.array([paper.margin, paper.foot]) - low
    added, words = _scale_check(taken, layout, tile)
    strokes = _clipped([*board.strokes, *added], low, high, shift)
    letterings = [
        Lettering(t.text, t.at + shift, t.size, t.align, t.is_bold, t.turn_deg)
        for t in [*board.letterings, *words]
        if _is_on(t, low, high)
    ]
    return SheetPage(
        f"page {layout.number(tile)}",
        paper.width,
        paper.height,
        (),
        tuple(strokes),
        (*letterings, *_foot(layout, tile, facts)),
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
    corners = shapely.get_coordinates(word_box(text))
    middle = 0.5 * (corners[0] + corners[2])
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
