"""A nest of sizes on one large sheet, true to scale, each size with a line of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, Nest, SheetPage, Stroke
from unroll.paper.board import SIZE_STYLES, Board
from unroll.paper.drawing import draw_heads, grain_mark
from unroll.paper.tiling import INCHES, check_squares

EDGE = 15.0  # mm; white around the drawing
KEY = 120.0  # mm; width of the column beside it
POINT = 1.8  # mm; radius of the ring at a dart's point
SIZE, HEADING = 5.0, 8.0  # mm; type


def styles_of(sizes: Sequence[str]) -> dict[str, str]:
    """Return the style of each size's lines, by its name; of at most 16 sizes."""
    return dict(zip(sizes, SIZE_STYLES, strict=False))


def nest_page(nest: Nest, styles: Mapping[str, str]) -> SheetPage:
    """Return a nest as one page: cutting lines, notches and dart points of every size.

    Parameters
    ----------
    nest : Nest
    styles : mapping of str to str
        By the size's name; see `styles_of`.
    """
    loops = [laid.place(laid.piece.cutting) for laid in nest.laid]
    low = np.min([loop.min(axis=0) for loop in loops], axis=0)
    high = np.max([loop.max(axis=0) for loop in loops], axis=0)
    key_height = 3 * HEADING + 9.0 * len(nest.sizes) + INCHES + 24.0
    height = float(max(high[1] - low[1], key_height) + 2 * EDGE)
    shift = np.array([EDGE, height - EDGE]) - [low[0], high[1]]
    width = float(high[0] - low[0] + 3 * EDGE + KEY)
    board = Board(np.zeros(2), (width, height))
    for size, laid, loop in zip(nest.sizes, nest.laid, loops, strict=True):
        style = styles[size]
        board.draw_loop(loop + shift, style)
        for mark in laid.piece.notches:
            for slit in mark.slits:
                board.draw(laid.place(slit) + shift, style)
        for dart in laid.piece.darts:
            _draw_point(board, laid.place(dart.point) + shift, style)
    if nest.material == "cloth":
        grain = nest.laid[0].place(grain_mark(nest.laid[0].piece)) + shift
        board.draw(grain, "grain")
        draw_heads(board, grain, "grain")
    _write_key(board, nest, styles, np.array([width - EDGE - KEY, height - EDGE]))
    name = f"{nest.title}, {len(nest.sizes)} sizes"
    return SheetPage(
        name, width, height, strokes=tuple(board.strokes), letterings=tuple(board.letterings)
    )


def _draw_point(board: Board, at: FloatArray, style: str) -> None:
    """Draw a small cross at a dart's point, in the size's own line."""
    for way in ([POINT, 0.0], [0.0, POINT]):
        board.draw(np.stack([at - way, at + way]), style)


def _write_key(
    board: Board, nest: Nest, styles: Mapping[str, str], corner: FloatArray
) -> None:
    """Write what is drawn, the line of each size, and test squares; `corner` is upper left."""
    whose = "both arms" if nest.arm == "both" else f"{nest.arm} arm"
    about = (f"{whose}, {len(nest.sizes)} sizes", "cutting lines, true to scale")
    y = corner[1]
    for row, text in enumerate((nest.title.upper(), *about)):
        size = SIZE if row else HEADING
        y -= 1.4 * size
        board.letterings.append(
            Lettering(text, np.array([corner[0], y]), size, is_bold=row == 0)
        )
    y -= 4.0
    for name in nest.sizes:
        y -= 9.0
        swatch = corner * [1, 0] + [[0.0, y + 1.8], [45.0, y + 1.8]]
        board.strokes.append(Stroke(swatch, styles[name]))
        board.letterings.append(
            Lettering(name, np.array([corner[0] + 50.0, y]), SIZE, is_bold=True)
        )
    strokes, letterings = check_squares(np.array([corner[0], y - 14.0 - INCHES]))
    board.strokes += strokes
    board.letterings += letterings
