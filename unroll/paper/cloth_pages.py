"""Many arms on one length of cloth: drawn true to scale, and as pages with a key to its numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from unroll.maths.polylines import signed_area
from unroll.maths.quiet_places import quiet_place
from unroll.nouns import ClothPlan, CutPlan, LaidPiece, Lettering, Patch, SheetPage, Stroke
from unroll.paper.board import text_width
from unroll.paper.columns import Column
from unroll.paper.cover import EDGE, scaled
from unroll.paper.layouts import SIZES
from unroll.paper.plan_page import DRAWN_GREY, TURNED_GREY
from unroll.paper.wording import length_words, width_words

LARGEST_TYPE = 36.0  # mm on the cloth
KEY_ROOM = 62.0  # mm under a drawing
THIN = 0.3  # mm that a drawn outline may stray


def share_used(plan: ClothPlan) -> float:
    """Return the share of the cloth that pieces cover."""
    area = sum(
        abs(signed_area(one.piece.cutting)) for lay in plan.lays for one in lay.laid
    )
    return float(area / (plan.width * plan.length))


def cloth_page(plan: ClothPlan) -> SheetPage:
    """Return all lays on their cloth as one drawing, one unit a millimetre, from the bottom up."""
    width, length = plan.width, plan.length
    ring = np.array([[0, 0], [width, 0], [width, length], [0, length], [0, 0]], dtype=float)
    pages, start = [], 0.0
    for lay in plan.lays:
        pages.append(_drawn(plan, lay, start))
        start += lay.length + plan.gap
    return SheetPage(
        f"cut plan, {plan.cloth}", width, length,
        tuple(patch for page in pages for patch in page.patches),
        (Stroke(ring, "thin"), *(stroke for page in pages for stroke in page.strokes)),
        tuple(text for page in pages for text in page.letterings),
    )  # fmt: skip


def lay_pages(plan: ClothPlan) -> tuple[SheetPage, ...]:
    """Return a page for each lay, small, with what it needs and whose pieces lie on it."""
    pages, start = [], 0.0
    for number, lay in enumerate(plan.lays, start=1):
        pages.append(_page(plan, lay, number, start))
        start += lay.length + plan.gap
    return tuple(pages)


def _page(plan: ClothPlan, lay: CutPlan, number: int, start: float) -> SheetPage:
    width, height = SIZES["a4"]
    head = Column(EDGE, height - EDGE + 2, width - 2 * EDGE)
    head.heading(f"Cut plan, lay {number} of {len(plan.lays)}", size=7.0)
    head.paragraph(
        f"{plan.cloth}, {width_words(plan.width, plan)} wide, right side up: "
        f"{length_words(plan.length, plan)} for all, {100 * share_used(plan):.0f} % of it used. "
        f"This lay runs from {length_words(start, plan)} to "
        f"{length_words(start + lay.length, plan)}. Grain along the selvedge. Dark pieces are "
        "mirrored: turn the paper over for them.",
        size=3.4,
    )
    room = np.array([width - 2 * EDGE, head.y - EDGE - KEY_ROOM])
    scale = float(min(room[0] / plan.width, room[1] / lay.length))
    drawing = scaled(_drawn(plan, lay, 0.0), scale)
    shift = np.array([EDGE, head.y - 4 - lay.length * scale])
    ring = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
    frame = Stroke(ring * [plan.width * scale, lay.length * scale] + shift, "thin")
    key = Column(EDGE, shift[1] - 5, width - 2 * EDGE)
    numbers = sorted({plan.owners[id(one.piece)] for one in lay.laid})
    key.paragraph(" · ".join(f"{n} {plan.names[n - 1]}" for n in numbers), size=3.2)
    key.paragraph("L: left arm, R: right arm.", size=3.2)
    return SheetPage(
        f"lay {number}", width, height,
        tuple(Patch(p.points + shift, p.grey) for p in drawing.patches),
        (frame, *head.strokes, *(Stroke(s.points + shift, s.style) for s in drawing.strokes)),
        (*head.letterings, *key.letterings,
         *(replace(text, at=text.at + shift) for text in drawing.letterings)),
    )  # fmt: skip


def _drawn(plan: ClothPlan, lay: CutPlan, start: float) -> SheetPage:
    """Return one lay, true to scale, from a place along the cloth."""
    up = np.array([0.0, start])
    patches, strokes, letterings = [], [], []
    for one in lay.laid:
        line = shapely.Polygon(one.place(one.piece.cutting) + up).exterior.simplify(THIN)
        outline = shapely.get_coordinates(line)
        patches.append(Patch(outline[:-1], TURNED_GREY if one.is_turned_over else DRAWN_GREY))
        strokes.append(Stroke(outline, "medium"))
        letterings += _written(plan, one, outline[:-1])
    return SheetPage(
        "lay", plan.width, lay.length, tuple(patches), tuple(strokes), tuple(letterings)
    )


def _written(plan: ClothPlan, one: LaidPiece, outline: np.ndarray) -> list[Lettering]:
    """Return a piece's words: on it in full, or its sheet's number alone where it is small."""
    place, room = quiet_place(outline, [])
    whole = plan.label_of(one)
    for text in (whole, whole.split()[0]):
        size = min(LARGEST_TYPE, 1.7 * room * LARGEST_TYPE / text_width(text, LARGEST_TYPE))
        if size > 14.0 or text != whole:
            break
    return [Lettering(text, place - [0.0, 0.36 * size], size, "middle")]
