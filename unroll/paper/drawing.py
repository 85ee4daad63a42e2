"""One finished piece drawn on a board: lines first, then its words where there is room."""

from __future__ import annotations

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import crossings, lengths_along, part
from unroll.nouns import FinishedPiece, LaidPiece, StitchingSide
from unroll.paper.board import Board

ARROW = np.array([[-1.6, -4.5], [0.0, 0.0], [1.6, -4.5]])  # mm; a grain line's head, pointing up
ROOMY = 100.0  # mm; a piece narrower than this keeps its middle free for the label
LONGEST_GRAIN = 260.0  # mm
EASE_INSIDE = 2.5  # mm from the stitching line to the row of dots
LABEL_SIZES = (4.0, 3.4, 2.9, 2.5)  # mm; the largest that fits
NAME_SIZE = 2.9  # mm; about 8 point


def draw_lines(board: Board, laid: LaidPiece) -> None:
    """Draw every line of a piece: cutting, stitching, darts, notches, ease, grain, references."""
    piece = laid.piece
    board.draw_loop(laid.place(piece.cutting), "cutting")
    for side in piece.sides:
        if side.allowance > 0 or side.seam.startswith("dart"):
            board.draw(laid.place(side.points), "stitching")
    for dart in piece.darts:
        if dart.fold is not None:
            board.draw(laid.place(dart.fold), "fold")
        _draw_point(board, laid.place(dart.point))
    for mark in piece.notches:
        for slit in mark.slits:
            board.draw(laid.place(slit), "notch")
    for ease in piece.eases:
        for index, start, end in ease.runs:
            board.draw(laid.place(_inside(piece.sides[index], start, end)), "ease")
    for name, line in piece.lines.items():
        if name != "grain":
            board.draw(laid.place(line), "reference")
    if piece.material == "cloth":
        grain = laid.place(grain_mark(piece))
        board.draw(grain, "grain")
        _draw_heads(board, grain)


def grain_mark(piece: FinishedPiece) -> FloatArray:
    """Return the grain line as it is drawn, (2, 2): shorter than the piece, clear of the label.

    A grain line may lie anywhere as long as its direction holds: on a small piece it moves aside.
    """
    outline = piece.stitching
    line = piece.lines.get("grain", np.stack([outline.mean(axis=0), outline.mean(axis=0) + [0, 1]]))
    up = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    up = up if up[1] >= 0 else -up
    aside = np.array([-up[1], up[0]])
    across = (outline - line[0]) @ aside
    shift = 0.0 if np.ptp(across) > ROOMY else across.min() + 0.2 * np.ptp(across)
    start = line[0] + shift * aside
    reach = np.stack([start - 2000 * up, start + 2000 * up])
    at = np.sort(crossings(reach, np.vstack([outline, outline[:1]]))[:, 0]) - 2000
    low, high = at[0], at[-1]
    size = min(0.6 * (high - low), LONGEST_GRAIN)
    middle = 0.5 * (low + high)
    out: FloatArray = start + up * (middle + size * np.array([[-0.5], [0.5]]))
    return out


def drawn_alone(piece: FinishedPiece, move: FloatArray) -> Board:
    """Return a board with one piece on it, unturned, lines and words."""
    laid = LaidPiece(piece, move)
    low, high = laid.place(piece.cutting).min(axis=0), laid.place(piece.cutting).max(axis=0)
    board = Board(low - 5, (float(high[0] - low[0]) + 10, float(high[1] - low[1]) + 10))
    draw_lines(board, laid)
    write_words(board, laid)
    return board


def write_words(board: Board, laid: LaidPiece) -> None:
    """Write a piece's label, then the names of its lines, darts, ease and notches."""
    piece = laid.piece
    outline = laid.place(piece.stitching if piece.material == "cloth" else piece.cutting)
    _write_label(board, laid, outline)
    for dart in piece.darts:
        near = laid.place(dart.point + 0.35 * (dart.mouth.mean(axis=0) - dart.point))
        _write_name(board, [dart.name, f"press {dart.pressed}"], near, outline, 70.0)
    for ease in piece.eases:
        side, start, end = ease.runs[len(ease.runs) // 2]
        middle = _inside(piece.sides[side], start, end, 10.0)
        near = laid.place(middle[len(middle) // 2])
        _write_name(board, [f"ease in {ease.surplus:.0f} mm"], near, outline, 40.0)
    for name, line in piece.lines.items():
        if name != "grain":
            near = laid.place(line[0] + 0.2 * (line[-1] - line[0]))
            _write_name(board, [name], near, outline, 45.0)
    for mark in piece.notches:
        if mark.name.startswith("dart"):
            continue
        inward = mark.slits[0, 1] - mark.slits[0, 0]
        inward = inward / np.linalg.norm(inward)
        _write_name(board, [mark.name], laid.place(mark.at + 8 * inward), outline, 22.0)


def _write_label(board: Board, laid: LaidPiece, outline: FloatArray) -> None:
    """Write as much of the label as finds room within the outline, in the largest type that does.

    A piece too small for its whole label keeps its name and how many to cut; the cut list has the
    rest.
    """
    lines = laid.piece.label
    if not lines:
        return
    middle = outline.mean(axis=0)
    reach = float(np.ptp(outline, axis=0).max())
    name = lines[0].split()
    wholes = [(lines[:count], 1) for count in (len(lines), 4, 3, 2)]
    narrow = [([*name, *lines[1:2]], len(name)), (lines[:1], 1), (name, len(name))]
    for mind in (True, False):
        for words, bold in [*wholes, *narrow]:
            for size in LABEL_SIZES:
                if board.write(
                    words, middle, size, inside=outline, reach=reach, bold_first=1.4 * size,
                    bold_count=bold, air=1.5, mind_joints=mind,
                ):  # fmt: skip
                    return


def _write_name(
    board: Board, lines: list[str], near: FloatArray, outline: FloatArray, reach: float
) -> None:
    """Write a short name near its thing, inside the piece; leave it out if there is no room."""
    for size in (NAME_SIZE, 2.5):
        if board.write(lines, near, size, inside=outline, reach=reach, air=0.6):
            return


def _draw_point(board: Board, at: FloatArray) -> None:
    """Draw a dart's point: a small circle with a cross."""
    angle = np.linspace(0, 2 * np.pi, 25)
    board.draw(at + 1.6 * np.c_[np.cos(angle), np.sin(angle)], "mark")
    for way in ([3.0, 0.0], [0.0, 3.0]):
        board.draw(np.stack([at - way, at + way]), "mark")


def _draw_heads(board: Board, line: FloatArray) -> None:
    """Draw both heads of a grain line."""
    for tip, tail in ((line[-1], line[0]), (line[0], line[-1])):
        up = (tip - tail) / np.linalg.norm(tip - tail)
        turn = np.array([[up[1], -up[0]], up])
        board.draw(tip + ARROW @ turn, "grain")


def _inside(side: StitchingSide, start: float, end: float, by: float = EASE_INSIDE) -> FloatArray:
    """Return a side's parallel inside the piece, between two distances along the side."""
    at = lengths_along(side.points)
    inner = side.points + by * np.stack([-side.tangents[:, 1], side.tangents[:, 0]], axis=1)
    along = lengths_along(inner)
    low, high = np.interp([start, end], at, along)
    return part(inner, float(low), float(high))
