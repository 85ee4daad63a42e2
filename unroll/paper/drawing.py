"""One finished piece drawn on a board: lines first, then its words where there is room."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import lengths_along, part
from unroll.nouns import DartMark, FinishedPiece, LaidPiece, StitchingSide
from unroll.paper.board import Board
from unroll.units import Unit, format_length, format_small

ARROW = np.array([[-1.6, -4.5], [0.0, 0.0], [1.6, -4.5]])  # mm; a grain line's head, pointing up
ROOMY = 100.0  # mm; a piece narrower than this keeps its middle free for the label
LONGEST_GRAIN = 260.0  # mm
ENOUGH = 120.0  # mm; a longer grain line is no easier to lay by
CLEAR = 3.0  # mm between a grain line and any other line
LEAST_LINE = 5.0  # mm; a shorter piece of a reference line is not drawn
SCAN = 5000.0  # mm; beyond any piece
ARM = ("outer", "inner")
EDGE_INSIDE = 5.0  # mm from the stitching line to the middle of FRONT and BACK
EASE_INSIDE = 2.5  # mm from the stitching line to the row of dots
LABEL_SIZES = (4.0, 3.4, 2.9, 2.5)  # mm; the largest that fits
NAME_SIZE = 2.9  # mm; about 8 point
PIECES_KEPT = 32  # of which what is drawn is remembered: plan, pages, guide and files ask for it


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
    for line in reference_lines(piece).values():
        board.draw(laid.place(line), "reference")
    if piece.material == "cloth":
        grain = laid.place(grain_mark(piece))
        board.draw(grain, "grain")
        draw_heads(board, grain, "grain")


def reference_lines(piece: FinishedPiece) -> dict[str, FloatArray]:
    """Return a piece's reference lines as they are drawn: within the cloth that is sewn.

    The levels at which a cap was taped serve the drafting, not the sewing, and are left out.
    """
    inside = shapely.make_valid(shapely.Polygon(piece.stitching))
    found: dict[str, FloatArray] = {}
    for name, line in piece.lines.items():
        if name == "grain" or name.startswith("cap level") or len(line) < 2:
            continue
        within = shapely.line_merge(shapely.intersection(shapely.LineString(line), inside))
        parts = [part for part in shapely.get_parts(within) if part.geom_type == "LineString"]
        found |= {name if i == 0 else f"{name} {i + 1}": shapely.get_coordinates(part)
                  for i, part in enumerate(sorted(parts, key=lambda part: -part.length))
                  if part.length > LEAST_LINE}  # fmt: skip
    return found


@lru_cache(maxsize=PIECES_KEPT)
def grain_mark(piece: FinishedPiece) -> FloatArray:
    """Return the grain line as it is drawn, (2, 2) mm: clear of every other line and the label.

    A grain line may lie anywhere as long as its direction holds: it goes where there is most room
    between the piece's lines, near the piece's own grain; on a small piece it moves aside.
    """
    outline = piece.stitching
    line = piece.lines.get("grain", np.stack([outline.mean(axis=0), outline.mean(axis=0) + [0, 1]]))
    up = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    up = up if up[1] >= 0 else -up
    frame = np.array([[up[1], -up[0]], up])
    room = _room(piece, frame)
    across = outline @ frame[0]
    wish = line[0] @ frame[0] if np.ptp(across) > ROOMY else across.min() + 0.2 * np.ptp(across)
    best, found = -np.inf, np.array([[wish, -5.0], [wish, 5.0]])
    places = np.arange(across.min(), across.max(), 2.0)
    ends = np.stack([np.full_like(places, -SCAN), np.full_like(places, SCAN)], axis=1)
    whole = shapely.linestrings(np.stack([np.broadcast_to(places[:, None], ends.shape), ends], -1))
    for x, clear in zip(places, shapely.intersection(whole, room), strict=True):
        for free in shapely.get_parts(clear):
            size = min(0.92 * free.length, LONGEST_GRAIN)
            if size > 1.0 and (score := min(size, ENOUGH) - 0.5 * abs(x - wish)) > best:
                middle = shapely.get_coordinates(free).mean(axis=0)
                best, found = score, middle + size * np.array([[0.0, -0.5], [0.0, 0.5]])
    out: FloatArray = found @ frame
    return out


def _room(piece: FinishedPiece, frame: FloatArray) -> shapely.Geometry:
    """Return the inside of a piece less its lines, in coordinates (across, along) the grain."""
    lines = [*reference_lines(piece).values()]
    lines += [_inside(piece.sides[i], *span) for ease in piece.eases for i, *span in ease.runs]
    lines += [slit for mark in piece.notches for slit in mark.slits]
    inside = shapely.make_valid(shapely.Polygon(piece.stitching @ frame.T)).buffer(-CLEAR)
    drawn = [shapely.LineString(line @ frame.T).buffer(CLEAR) for line in lines]
    return shapely.difference(inside, shapely.union_all(drawn))


@lru_cache(maxsize=PIECES_KEPT)
def drawn_alone(piece: FinishedPiece) -> Board:
    """Return a board with one piece on it where it lies, lines and words."""
    laid = LaidPiece(piece, np.zeros(2))
    low, high = laid.place(piece.cutting).min(axis=0), laid.place(piece.cutting).max(axis=0)
    board = Board(low - 5, (float(high[0] - low[0]) + 10, float(high[1] - low[1]) + 10))
    draw_lines(board, laid)
    write_words(board, laid)
    return board


def write_words(board: Board, laid: LaidPiece) -> None:
    """Write a piece's edges, darts and label, then the names of its ease, lines and notches."""
    piece = laid.piece
    outline = laid.place(piece.stitching if piece.material == "cloth" else piece.cutting)
    _write_edges(board, laid, outline)
    for dart in piece.darts:
        near = laid.place(dart.point + 0.35 * (dart.mouth.mean(axis=0) - dart.point))
        _write_name(board, dart_words(dart, piece.unit), near, outline, 70.0)
    _write_label(board, laid, outline)
    for ease in piece.eases:
        side, start, end = ease.runs[len(ease.runs) // 2]
        middle = _inside(piece.sides[side], start, end, 10.0)
        near = laid.place(middle[len(middle) // 2])
        amount = f"ease in {format_small(ease.surplus, piece.unit)}"
        _write_name(board, [amount], near, outline, 40.0)
    for name, line in reference_lines(piece).items():
        if name not in piece.lines:
            continue  # a further part of one line
        near = laid.place(line[0] + 0.2 * (line[-1] - line[0]))
        _write_name(board, _line_words(piece, name), near, outline, 45.0)
    for mark in piece.notches:
        if not mark.name.startswith("dart") and f"{mark.name} line" not in piece.lines:
            inward = mark.slits[0, 1] - mark.slits[0, 0]
            inward = inward / np.linalg.norm(inward)
            seam = " seam" if piece.name not in ARM and mark.name in ("front", "back") else ""
            near = laid.place(mark.at + 8 * inward)
            _write_name(board, [mark.name + seam], near, outline, 22.0)


def dart_words(dart: DartMark, unit: Unit) -> list[str]:
    """Return what is written beside a dart: its name, intake, length, and how it is pressed."""
    return [
        dart.name,
        f"intake {format_length(dart.intake, unit)}",
        f"length {format_length(dart.length, unit)}",
        f"press {dart.pressed}",
    ]


def _line_words(piece: FinishedPiece, name: str) -> list[str]:
    """Return a reference line's name, and on the outer piece the girth that is made there."""
    if piece.name != "outer" or name not in piece.girths:
        return [name]
    return [name, f"finished girth {format_length(piece.girths[name], piece.unit)}"]


def _write_edges(board: Board, laid: LaidPiece, outline: FloatArray) -> None:
    """Write FRONT and BACK along the edges of the arm's long seams, twice each."""
    for side in laid.piece.sides if laid.piece.name in ARM else ():
        if side.seam in ("front seam", "back seam"):
            line = laid.place(_inside(side, 0.0, side.length, EDGE_INSIDE))
            for share in (0.3, 0.75):
                board.write_along(side.seam.split()[0].upper(), line, 3.4, outline, share)


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
    smallest = LABEL_SIZES[-1]
    board.write(
        name, middle, smallest, inside=outline, reach=reach, bold_first=smallest,
        bold_count=len(name), air=0.5, mind_joints=False,
    )  # fmt: skip


def _write_name(
    board: Board, lines: list[str], near: FloatArray, outline: FloatArray, reach: float
) -> None:
    """Write a short name near its thing, inside the piece; leave it out if there is no room."""
    for size in (NAME_SIZE, 2.5):
        if board.write(lines, near, size, inside=outline, reach=reach, air=0.6):
            return


def _draw_point(board: Board, at: FloatArray) -> None:
    """Draw a dart's point: a ring with a dot, unlike the crossed ring on the joints."""
    angle = np.linspace(0, 2 * np.pi, 25)
    for radius, style in ((1.8, "mark"), (0.3, "bold")):
        board.draw(at + radius * np.c_[np.cos(angle), np.sin(angle)], style)


def draw_heads(board: Board, line: FloatArray, style: str, size: float = 1.0) -> None:
    """Draw both heads of a grain line."""
    for tip, tail in ((line[-1], line[0]), (line[0], line[-1])):
        up = (tip - tail) / np.linalg.norm(tip - tail)
        board.draw(tip + size * ARROW @ np.array([[up[1], -up[0]], up]), style)


def _inside(side: StitchingSide, start: float, end: float, by: float = EASE_INSIDE) -> FloatArray:
    """Return a side's parallel inside the piece, between two distances along the side."""
    at = lengths_along(side.points)
    inner = side.points + by * np.stack([-side.tangents[:, 1], side.tangents[:, 0]], axis=1)
    along = lengths_along(inner)
    low, high = np.interp([start, end], at, along)
    return part(inner, float(low), float(high))
