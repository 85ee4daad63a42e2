"""Joints between pages: a dotted line, and circles that meet when the pages are joined."""

from __future__ import annotations

import numpy as np

from unroll.printing.board import Board
from unroll.printing.layouts import Layout
from unroll.printing.styles import ABOVE, BELOW, text_width
from unroll.types import FloatArray, Lettering, Stroke

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
