"""The cover sheet: page map, cut list, what is needed, order of sewing, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import signed_area
from unroll.nouns import CutPlan, FinishedPiece, Patch, PrintFacts, Sheet, SheetPage, Stroke
from unroll.paper.board import Board
from unroll.paper.columns import TEXT, Column
from unroll.paper.layouts import SIZES, Layout, Paper
from unroll.paper.wording import CAUTIONS, filling_words, length_words, printing_lines, steps

EDGE = 12.0  # mm; white border of text pages
SHRINK = (1.0, 0.94, 0.88)  # type sizes tried until the cover fits its page
MOST_LINES = 4  # faults and cautions named on the cover; more are counted
BETWEEN = 9.0  # mm between the two columns
LEGEND = (
    ("cutting", "cut here"),
    ("stitching", "sew here (stitching line, dart legs)"),
    ("fold", "fold of a dart"),
    ("ease", "ease in between these notches"),
    ("reference", "reference line: elbow, upper arm, ..."),
    ("grain", "grain: along the selvedge"),
    ("joint", "joint between pages"),
)


def text_size(paper: Paper) -> tuple[float, float, float]:
    """Return width and height of text pages as they are composed, and the scale to the paper.

    Text pages are composed about as wide as A4; on larger home papers they are scaled up. What
    goes on one large sheet gets its text pages on A4.
    """
    width, height = SIZES["a4"] if paper.is_one_sheet else (paper.width, paper.height)
    scale = 1.0 if width < 230 else width / SIZES["a4"][0]
    return width / scale, height / scale, scale


def scaled(page: SheetPage, scale: float) -> SheetPage:
    """Return a page drawn larger."""
    if scale == 1.0:
        return page
    return replace(
        page,
        width=page.width * scale,
        height=page.height * scale,
        patches=tuple(Patch(p.points * scale, p.grey) for p in page.patches),
        strokes=tuple(Stroke(s.points * scale, s.style) for s in page.strokes),
        letterings=tuple(replace(t, at=t.at * scale, size=t.size * scale) for t in page.letterings),
    )


def cover_page(
    finished: Sequence[FinishedPiece],
    plan: CutPlan,
    layout: Layout,
    sheet: Sheet,
    facts: PrintFacts,
) -> SheetPage:
    """Return the cover sheet; its type shrinks a little where there is much to say."""
    width, height, scale = text_size(layout.paper)
    for shrink in SHRINK:
        size = width / shrink, height / shrink
        page, lowest = _composed(finished, plan, layout, sheet, facts, size)
        if lowest >= EDGE - 3:
            break
    return scaled(page, scale * shrink)


def _composed(
    finished: Sequence[FinishedPiece],
    plan: CutPlan,
    layout: Layout,
    sheet: Sheet,
    facts: PrintFacts,
    size: tuple[float, float],
) -> tuple[SheetPage, float]:
    """Set the cover on a page of the given size; return it and how far down it reaches."""
    width, height = size
    column = (width - 2 * EDGE - BETWEEN) / 2
    head = Column(EDGE, height - EDGE + 4, width - 2 * EDGE)
    _title(head, finished, sheet, facts)
    left = Column(EDGE, head.y, column)
    right = Column(EDGE + column + BETWEEN, head.y, column)
    _printing(left, layout)
    left.heading("Page map")
    drawing = _page_map(left, layout, 0.3 * height)
    _legend(left)
    _cut_list(right, finished)
    _needs(right, finished, plan, sheet, facts)
    right.heading("Sew in this order")
    for number, step in enumerate(steps(finished, sheet, facts), start=1):
        right.item(f"{number}", f"{step.name}: {step.short}")
    fuller, emptier = (left, right) if left.y < right.y else (right, left)
    emptier.heading("Take care")
    for line in CAUTIONS:
        emptier.item("–", line)
    parts = (head, left, right)
    page = SheetPage(
        "cover",
        width,
        height,
        (),
        tuple(s for c in parts for s in c.strokes) + tuple(drawing.strokes),
        tuple(t for c in parts for t in c.letterings) + tuple(drawing.letterings),
    )
    return page, min(fuller.y, emptier.y)


def _title(
    head: Column, finished: Sequence[FinishedPiece], sheet: Sheet, facts: PrintFacts
) -> None:
    """Set the title, and faults or cautions under it."""
    arms = sorted({piece.arm for piece in finished})
    which = {"both": "both arms", "left": "left arm", "right": "right arm"}
    name = " and ".join(which[arm] for arm in arms)
    head.heading(f"{name[0].upper()}{name[1:]}: pieces ready to cut", size=7.0)
    source = finished[0].label[-1] if finished and finished[0].label else f"unroll {facts.version}"
    words = [sheet.owner and f"for {sheet.owner}", sheet.date, sheet.cloth.name, source]
    head.paragraph(" · ".join(word for word in words if word), size=3.4)
    if facts.faults:
        head.rule()
        head.heading("Outside limits: what it is, and what would help")
        for line in _shortened(facts.faults):
            head.item("!", line)
    for line in _shortened(facts.cautions):
        head.item("–", line)
    head.rule()


def _shortened(lines: Sequence[str]) -> list[str]:
    """Return the first lines, and how many more there are."""
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], *([f"and {more} more"] if more > 0 else [])]


def _printing(column: Column, layout: Layout) -> None:
    column.heading("Print and check")
    count = len(layout.tiles)
    column.paragraph(f"{count} pattern page{'s' if count > 1 else ''} besides this sheet.")
    lines = printing_lines(layout.paper.name, layout.paper.is_one_sheet)
    for number, line in enumerate(lines, start=1):
        column.item(f"{number}", line)


def _page_map(column: Column, layout: Layout, most: float) -> Board:
    """Draw the pages with the pieces on them, small."""
    tile = np.array(layout.paper.tile)
    span = tile * [layout.columns, layout.rows]
    scale = min(column.width / span[0], most / span[1])
    low = column.room(span[1] * scale + 2) + [(column.width - span[0] * scale) / 2, 0]
    board = Board(low, (span[0] * scale, span[1] * scale))

    def small(points: FloatArray) -> FloatArray:
        return np.asarray((points - layout.corner) * scale + low)

    for one in layout.tiles:
        a, b = (small(p) for p in layout.box(one))
        board.draw_loop(np.array([a, [b[0], a[1]], b, [a[0], b[1]]]), "faint")
    for laid in layout.laid:
        board.draw_loop(small(laid.place(laid.piece.cutting)), "medium")
    for one in layout.tiles:
        a, b = (small(p) for p in layout.box(one))
        frame = np.array([a, [b[0], a[1]], b, [a[0], b[1]]])
        near = np.array([a[0] + 4, b[1] - 4])
        for size in (3.4, 2.8):
            number = [str(layout.number(one))]
            if board.write(number, near, size, inside=frame, bold_first=size, air=0.2):
                break
    for laid in layout.laid:
        outline = small(laid.place(laid.piece.cutting))
        board.write([laid.piece.name], outline.mean(axis=0), 2.8, inside=outline, air=0.2)
    return board


def _legend(column: Column) -> None:
    column.heading("Lines")
    for style, text in LEGEND:
        y = column.y - 0.62 * TEXT
        column.strokes.append(Stroke(np.array([[0.0, y], [16.0, y]]) + [column.left, 0], style))
        if style == "grain":
            for end, back in ((0.0, 2.4), (16.0, -2.4)):
                head = np.array([[back, 0.9], [0.0, 0.0], [back, -0.9]])
                column.strokes.append(Stroke(head + [column.left + end, y], style))
        column.paragraph(text, indent=20.0)
    x, y = column.left + 8.0, column.y - 0.62 * TEXT
    for way in (3.0, 6.0):
        column.strokes.append(Stroke(np.array([[x + way, y + 1.4], [x + way, y - 1.4]]), "notch"))
    column.strokes.append(Stroke(np.array([[x - 6.0, y + 1.4], [x - 6.0, y - 1.4]]), "notch"))
    column.paragraph("notch: single at the front, double at the back", indent=20.0)


def cut_numbers(finished: Sequence[FinishedPiece]) -> dict[int, int]:
    """Return the number of each piece in the cut list, by the piece's identity."""
    return {id(piece): number for number, piece in enumerate(finished, start=1)}


def _cut_list(column: Column, finished: Sequence[FinishedPiece]) -> None:
    column.heading("Cut list")
    stops = (0.0, 6.0, 0.5 * column.width, 0.64 * column.width)
    column.row(("", "piece", "of", "how many"), stops, is_bold=True)
    column.rule()
    numbers = cut_numbers(finished)
    for piece in finished:
        many = f"{piece.cut_as_drawn}"
        if piece.cut_turned_over:
            many += f" + {piece.cut_turned_over} turned over"
        name = piece.name if piece.arm == "both" else f"{piece.name}, {piece.arm}"
        column.row((str(numbers[id(piece)]), name, piece.material, many), stops)


def _needs(
    column: Column,
    finished: Sequence[FinishedPiece],
    plan: CutPlan,
    sheet: Sheet,
    facts: PrintFacts,
) -> None:
    """List what is needed: cloth, card, filling, thread."""
    column.heading("You need")
    width = length_words(plan.width, sheet)
    column.item(
        "–",
        f"{sheet.cloth.name}, {width} wide: {length_words(plan.length, sheet)}, washed and pressed "
        "(buy 5 % more for shrinking)",
    )
    arms = 2 if any(p.arm == "both" for p in finished) or len({p.arm for p in finished}) > 1 else 1
    filling = filling_words(facts, sheet, arms=arms)
    if filling:
        column.item("–", f"filling for {'two arms' if arms == 2 else 'one arm'}: about {filling}")
    card = [p for p in finished if p.material == "card"]
    if card:
        area = sum(abs(signed_area(p.cutting)) * (p.cut_as_drawn + p.cut_turned_over) for p in card)
        column.item("–", f"stiff card for the ends: about {area / 100:.0f} cm²")
    column.item("–", "strong thread, pins, a long needle")
