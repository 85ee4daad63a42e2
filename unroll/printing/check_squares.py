"""The two squares on every page that show whether the printer kept the scale."""

from __future__ import annotations

import numpy as np

from unroll.printing.board import CELL, Board
from unroll.printing.styles import ABOVE, BELOW, text_width
from unroll.types import FloatArray, Lettering, Stroke

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
