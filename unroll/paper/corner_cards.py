"""The corner cards that give a photograph its scale: one page, to be printed true to size."""

from __future__ import annotations

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, Patch, SheetPage, Stroke
from unroll.paper.layouts import paper_called
from unroll.photos.cards import CARD_MM, CARDS, RIM_MM, card_cells

WIDE = CARD_MM + 2.0 * RIM_MM
SQUARE_MM = 50.0
WORDS = (
    "Print at 100 % (actual size). Measure the square: 50 mm across and down.",
    "A card's black square is 60 mm; if yours is not, write what you measure in the sheet:",
    '[draft]  card = "59.5 mm". Cut the four cards out along the thin lines.',
    "Lay one near each corner of the paper pieces, flat, on none of them, on a plain floor that is",
    "darker or lighter than the paper. Stand over it, hold the telephone level, take one picture.",
)


def card_page(paper: str) -> SheetPage:
    """Return the page of the four corner cards and a test square of 50 mm.

    Parameters
    ----------
    paper : str
        Name of the printer's paper.

    Raises
    ------
    UnrollError
        When the paper is unknown, or a roll.
    """
    size = paper_called(paper)
    if not size.height:
        raise UnrollError('paper is "roll"; the corner cards want a sheet: a4, letter, a3, ...')
    left = 0.5 * size.width - WIDE
    top = size.height - size.margin
    patches: list[Patch] = []
    strokes: list[Stroke] = []
    for number in CARDS:
        low = np.array([left + WIDE * (number % 2), top - WIDE * (1 + number // 2)])
        strokes.append(_box(low, WIDE, "thin"))
        patches += _cells(number, low + RIM_MM)
    letters = [
        Lettering(text, np.array([left, top - 2.0 * WIDE - 7.0 - 5.2 * row]), 3.4)
        for row, text in enumerate(WORDS)
    ]
    letters += [
        Lettering(f"card {number}", np.array([left + WIDE * (number % 2) + 4.0,
                                              top - WIDE * (1 + number // 2) + 4.0]), 3.0)
        for number in CARDS
    ]  # fmt: skip
    foot = top - 2.0 * WIDE - 7.0 - 5.2 * len(WORDS) - SQUARE_MM
    strokes.append(_box(np.array([left, max(foot, 4.0)]), SQUARE_MM, "square"))
    letters.append(Lettering("50 mm", np.array([left + 19.0, max(foot, 4.0) + 24.0]), 3.4))
    return SheetPage(
        "corner cards", size.width, size.height, tuple(patches), tuple(strokes), tuple(letters)
    )


def _box(low: FloatArray, side: float, style: str) -> Stroke:
    ring = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
    return Stroke(low + side * ring, style)


def _cells(number: int, low: FloatArray) -> list[Patch]:
    """Return a card's black cells, runs of them in a row as one: no white hairs between them."""
    cells, side, out = card_cells(number) == 0, CARD_MM / 6.0, []
    for row, black in enumerate(cells):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], black.astype(int), [0]])))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            corner = low + [start * side, CARD_MM - (row + 1) * side]
            wide = (end - start) * side
            # the rows overlap by a hair, where the one above is black too
            up = side + (0.05 if row and cells[row - 1, start:end].all() else 0.0)
            box = np.array([[0, 0], [wide, 0], [wide, up], [0, up]])
            out.append(Patch(corner + box, 0.0))
    return out
