"""The cut plan drawn: pieces on cloth, numbered as in the cut list."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray
from unroll.nouns import CutPlan, FinishedPiece, Patch, Sheet, SheetPage
from unroll.paper.board import Board
from unroll.paper.columns import Column
from unroll.paper.cover import EDGE, cut_numbers, scaled, text_size
from unroll.paper.drawing import draw_heads, grain_mark
from unroll.paper.layouts import Paper
from unroll.paper.wording import length_words, width_words

NUMBER_SIZES = (4.0, 3.4, 2.8, 2.4)  # mm
TURNED_GREY, DRAWN_GREY = 0.82, 0.95


def plan_page(
    finished: Sequence[FinishedPiece], plan: CutPlan, sheet: Sheet, paper: Paper
) -> SheetPage:
    """Return a page with the cut plan, and a key to its numbers."""
    width, height, scale = text_size(paper)
    head = Column(EDGE, height - EDGE + 2, width - 2 * EDGE)
    head.heading("Cut plan", size=7.0)
    head.paragraph(
        f"{sheet.cloth.name}, {width_words(plan.width, sheet)} wide, right side up: "
        f"{length_words(plan.length, sheet)} are needed. Grain along the selvedge. Dark pieces are "
        "mirrored: turn the paper over for them.",
        size=3.4,
    )
    room = np.array([width - 2 * EDGE, head.y - EDGE - 50])
    tall = plan.length * min(room[0] / plan.width, room[1] / plan.length)
    low = np.array([EDGE, head.y - 10 - tall])
    board, patches = _drawing(finished, plan, sheet, low, room)
    key = Column(EDGE, low[1] - 10, width - 2 * EDGE)
    numbers = cut_numbers(finished)
    laid = [p for p in finished if any(one.piece is p for one in plan.laid)]
    names = [f"{numbers[id(p)]} {p.name}" + ("" if p.arm == "both" else f" {p.arm}") for p in laid]
    key.paragraph(" · ".join(names), size=3.2)
    key.paragraph("L: left arm, R: right arm.", size=3.2)
    page = SheetPage(
        "cut plan",
        width,
        height,
        tuple(patches),
        (*head.strokes, *key.strokes, *board.strokes),
        (*head.letterings, *key.letterings, *board.letterings),
    )
    return scaled(page, scale)


def _drawing(
    finished: Sequence[FinishedPiece],
    plan: CutPlan,
    sheet: Sheet,
    low: FloatArray,
    room: FloatArray,
) -> tuple[Board, list[Patch]]:
    """Draw the cloth, its pieces and its two measures."""
    scale = float(min(room[0] / plan.width, room[1] / plan.length))
    board = Board(low - 12, (room[0] + 24, room[1] + 24))

    def small(points: FloatArray) -> FloatArray:
        return points * scale + low

    numbers = cut_numbers(finished)
    cloth = np.array([[0, 0], [plan.width, 0], [plan.width, plan.length], [0, plan.length]])
    board.draw_loop(small(cloth), "thin")
    patches = []
    for one in plan.laid:
        outline = small(one.place(one.piece.cutting))
        patches.append(Patch(outline, TURNED_GREY if one.is_turned_over else DRAWN_GREY))
        board.draw_loop(outline, "medium")
    for one in plan.laid:
        outline = small(one.place(one.piece.cutting))
        text = f"{numbers[id(one.piece)]}{one.arm[:1].upper()}"
        if _write_number(board, text, outline):
            _draw_grain(board, small(one.place(grain_mark(one.piece))), outline)
    _measures(board, plan, sheet, low, scale)
    return board, patches


def _write_number(board: Board, text: str, outline: FloatArray) -> bool:
    """Write a piece's number on it, or close beside it; tell whether it is on it."""
    middle = outline.mean(axis=0)
    for size in NUMBER_SIZES:
        # the edges that were drawn keep off what is written by themselves
        if board.write([text], middle, size, inside=outline, air=0.0, bold_first=size):
            return True
    board.write([text], middle, NUMBER_SIZES[-1], reach=20.0, air=0.3, bold_first=NUMBER_SIZES[-1])
    return False


def _draw_grain(board: Board, line: FloatArray, outline: FloatArray) -> None:
    """Draw a small grain arrow beside the number, as long as there is room for."""
    inside = shapely.Polygon(outline)
    middle, half = line.mean(axis=0), 0.5 * (line[1] - line[0])
    for share in (1.0, 0.6, 0.35):
        for aside in (0.0, 4.0, -4.0, 8.0, -8.0, 12.0, -12.0):
            at = middle + [aside, 0.0]
            arrow = np.stack([at - share * half, at + share * half])
            low, high = arrow.min(axis=0) - [1.4, 0.5], arrow.max(axis=0) + [1.4, 0.5]
            if board.is_free(low, high) and inside.contains(shapely.box(*low, *high)):
                board.draw(arrow, "thin")
                draw_heads(board, arrow, "thin", 0.45)
                return


def _measures(board: Board, plan: CutPlan, sheet: Sheet, low: FloatArray, scale: float) -> None:
    """Write width and length beside the cloth."""
    high = low + scale * np.array([plan.width, plan.length])
    across = np.array([0.5 * (low[0] + high[0]), low[1] - 4])
    board.write([f"{width_words(plan.width, sheet)}, selvedge to selvedge"], across, 3.2, reach=20)
    up = np.array([low[0] + 20, high[1] + 5])
    board.write([f"length {length_words(plan.length, sheet)}"], up, 3.2, reach=20)
