"""The cover sheet: what the arm measures, test squares, page map, cut list, what is needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from unroll.finish.finishing import cut_words
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import signed_area
from unroll.nouns import CutPlan, FinishedPiece, Patch, PrintFacts, Sheet, SheetPage, Stroke
from unroll.paper.board import Board
from unroll.paper.columns import TEXT, Column
from unroll.paper.layouts import SIZES, Layout, Paper
from unroll.paper.tiling import INCHES, check_squares
from unroll.paper.wording import (
    CAUTIONS_IN_SHORT,
    SOURCES,
    area_words,
    filling_words,
    length_words,
    made_to,
    named_arms,
    printing_lines,
    width_words,
)
from unroll.units import Unit, format_length

EDGE = 12.0  # mm; white border of text pages
# Type sizes, and how many faults are named, tried until the cover fits its page; more are counted.
FITS = ((1.0, 4), (0.94, 4), (0.88, 4), (0.86, 4), (0.86, 2), (0.86, 1))
BETWEEN = 9.0  # mm between the two columns
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
    for shrink, most in FITS:
        size = width / shrink, height / shrink
        page, lowest = _composed(
            finished, plan, layout, sheet, _shortened(facts, most), size, scale * shrink
        )
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
    scale: float,
) -> tuple[SheetPage, float]:
    """Set the cover on a page of the given size; return it and how far down it reaches."""
    width, height = size
    head = Column(EDGE, height - EDGE + 4, width - 2 * EDGE)
    _title(head, finished, sheet, facts)
    wide = max(INCHES / scale + 2, (head.width - BETWEEN) / 2)
    left = Column(EDGE, head.y, wide)
    right = Column(EDGE + wide + BETWEEN, head.y, head.width - wide - BETWEEN)
    _printing(left, layout, scale, sheet.unit)
    _cut_list(left, finished)
    right.heading("Page map")
    drawing = _page_map(right, layout, 0.26 * height)
    _legend(right, finished, layout)
    _needs(right, finished, plan, sheet, facts)
    right.heading("Take care")
    for line in CAUTIONS_IN_SHORT:
        right.item("–", line)
    parts = (head, left, right)
    page = SheetPage(
        "cover",
        width,
        height,
        (),
        tuple(s for c in parts for s in c.strokes) + tuple(drawing.strokes),
        tuple(t for c in parts for t in c.letterings) + tuple(drawing.letterings),
    )
    return page, min(left.y, right.y)


def _title(
    head: Column, finished: Sequence[FinishedPiece], sheet: Sheet, facts: PrintFacts
) -> None:
    """Set the title, what the finished arms measure, and what is outside limits."""
    head.heading(f"Pattern for {' and '.join(named_arms(finished))}", size=7.0)
    made = SOURCES.get(finished[0].source, "") if finished else ""
    tool = f"unroll {facts.version}".strip() + (f", {made}" if made else "")
    words = [sheet.owner and f"for {sheet.owner}", sheet.date, sheet.cloth.name, tool]
    head.paragraph(" · ".join(word for word in words if word), size=3.4)
    head.rule()
    for arm in sheet.arms:
        whose = "The finished arm" if len(sheet.arms) == 1 else f"The finished {arm.side} arm"
        listed = " · ".join(f"{name} {format_length(mm, sheet.unit)}" for name, mm in made_to(arm))
        head.paragraph(f"{whose} is to measure: {listed}.", size=3.4)
        if arm.estimated:
            many = len(arm.estimated)
            head.paragraph(f"Not taken but guessed: {many} of its measures; the report names "
                           f"{'it' if many == 1 else 'them'}.", size=3.4)  # fmt: skip
    if facts.verdict:
        head.paragraph(facts.verdict, size=3.4)
    if facts.faults:
        head.heading("Outside limits: what it is, and what would help")
        for line in facts.faults:
            head.item("!", line)
    head.rule()


def _shortened(facts: PrintFacts, most: int) -> PrintFacts:
    """Return the facts with the first faults, and how many more there are."""
    more = len(facts.faults) - most
    counted = (f"and {more} more",) if more > 0 else ()
    return replace(facts, faults=(*facts.faults[:most], *counted))


def _printing(column: Column, layout: Layout, scale: float, unit: Unit) -> None:
    """Tell how to print; draw the test squares where the pattern comes off the same printer."""
    column.heading("Print and check")
    count = len(layout.tiles)
    column.paragraph(f"{count} pattern page{'s' if count > 1 else ''} besides this sheet.")
    lines = printing_lines(layout.paper, unit)
    for number, line in enumerate(lines, start=1):
        column.item(f"{number}", line)
    if not layout.paper.is_one_sheet:
        strokes, letterings = check_squares(column.room(INCHES / scale + 1), scale=scale)
        column.strokes += strokes
        column.letterings += letterings


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


def _legend(
    column: Column, finished: Sequence[FinishedPiece], layout: Layout
) -> None:
    """Show the lines that these pieces have, and no others."""
    column.heading("Lines")
    for style, text, is_used in (
        ("cutting", "cut here", True),
        ("stitching", "sew here", any(s.allowance > 0 for p in finished for s in p.sides)),
        ("fold", "fold of a dart", any(d.fold is not None for p in finished for d in p.darts)),
        ("ease", "ease in along the dots", any(p.eases for p in finished)),
        ("reference", "line of a girth or level", any(len(p.lines) > 1 for p in finished)),
        ("grain", "grain: along the selvedge", any(p.material == "cloth" for p in finished)),
        ("joint", "where pages join", len(layout.tiles) > 1),
    ):
        if is_used:
            _legend_line(column, style, text)
    x, y = column.left + 8.0, column.y - 0.62 * TEXT
    if any(piece.darts for piece in finished):
        angle = np.linspace(0, 2 * np.pi, 25)
        for radius, style in ((1.5, "mark"), (0.25, "bold")):
            ring = radius * np.c_[np.cos(angle), np.sin(angle)] + [x, y]
            column.strokes.append(Stroke(ring, style))
        column.paragraph("point of a dart", indent=20.0)
        y = column.y - 0.62 * TEXT
    for way in (-6.0, 3.0, 6.0):
        column.strokes.append(Stroke(np.array([[x + way, y + 1.4], [x + way, y - 1.4]]), "notch"))
    column.paragraph("notch: one in front, two at the back", indent=20.0)


def _legend_line(column: Column, style: str, text: str) -> None:
    y = column.y - 0.62 * TEXT
    column.strokes.append(Stroke(np.array([[0.0, y], [16.0, y]]) + [column.left, 0], style))
    if style == "grain":
        for end, back in ((0.0, 2.4), (16.0, -2.4)):
            head = np.array([[back, 0.9], [0.0, 0.0], [back, -0.9]])
            column.strokes.append(Stroke(head + [column.left + end, y], style))
    column.paragraph(text, indent=20.0)


def cut_numbers(finished: Sequence[FinishedPiece]) -> dict[int, int]:
    """Return the number of each piece in the cut list, by the piece's identity."""
    return {id(piece): number for number, piece in enumerate(finished, start=1)}


def _cut_list(column: Column, finished: Sequence[FinishedPiece]) -> None:
    column.heading("Cut list")
    alike: dict[tuple[str, str], list[FinishedPiece]] = {}
    for piece in finished:  # those of two unlike arms stand in one row
        alike.setdefault((piece.name, piece.material), []).append(piece)
    first = 6.0 if len(alike) == len(finished) else 14.0
    stops = (0.0, first, 0.44 * column.width, 0.56 * column.width)
    column.row(("", "piece", "of", "how many"), stops, is_bold=True)
    column.rule()
    numbers = cut_numbers(finished)
    for (name, material), pieces in alike.items():
        listed = ", ".join(str(numbers[id(piece)]) for piece in pieces)
        column.row((listed, name, material, _how_many(pieces)), stops)
    if any(piece.cut_turned_over for piece in finished):
        column.paragraph("Mirrored: turn the paper over, printed side down.")


def _how_many(pieces: Sequence[FinishedPiece]) -> str:
    """Return how many to cut of one piece, or of the like pieces of two unlike arms."""
    each = {piece.arm: cut_words((piece.cut_as_drawn, piece.cut_turned_over)) for piece in pieces}
    if len(each) == 1:
        return each[pieces[0].arm]
    if len(set(each.values())) == 1:
        return f"each arm: {each[pieces[0].arm]}"
    return ", ".join(f"{words} ({arm})" for arm, words in each.items())


def _needs(
    column: Column,
    finished: Sequence[FinishedPiece],
    plan: CutPlan,
    sheet: Sheet,
    facts: PrintFacts,
) -> None:
    """List what is needed: cloth, card, filling, thread."""
    column.heading("You need")
    column.item(
        "–",
        f"{sheet.cloth.name}, {width_words(plan.width, sheet)} wide: "
        f"{length_words(plan.length, sheet)}, washed and pressed (buy 5 % more for shrinking)",
    )
    arms = 2 if any(p.arm == "both" for p in finished) or len({p.arm for p in finished}) > 1 else 1
    filling = filling_words(facts, sheet, arms=arms)
    if filling:
        column.item("–", f"filling for {'two arms' if arms == 2 else 'one arm'}: about {filling}")
    card = [p for p in finished if p.material == "card"]
    if card:
        area = sum(abs(signed_area(p.cutting)) * (p.cut_as_drawn + p.cut_turned_over) for p in card)
        column.item("–", f"stiff card for the ends: about {area_words(area, sheet)}")
    column.item("–", "strong thread, pins, a long needle, a tape measure")
