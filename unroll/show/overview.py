"""Many sheets on one page and in one table: verdicts, figures, cloth, pages, warnings."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from unroll.nouns import FIGURES, ClothPlan, GradedMeasure, Made
from unroll.paper.cloth_pages import share_used
from unroll.paper.wording import length_words, width_words
from unroll.show.phrases import amount, length
from unroll.show.report import rendered
from unroll.units import Unit

SMALL = (110.0, 96.0)  # pixels that the largest arm's pieces take
APART = 20.0  # mm between pieces
MOST_LINES = 12  # of faults that the terminal tells
STATES = {"within": "within limits", "outside": "outside limits", "not made": "not made"}
RISKY = "=+-@\t\r"  # what a spreadsheet takes for a formula, at the start of a cell


@dataclass(frozen=True)
class Cell:
    """One cell of the table: what is read, and what it is sorted by."""

    text: str
    sort: str
    is_over: bool = False


@dataclass(frozen=True)
class Line:
    """One sheet's line.

    Attributes
    ----------
    made : Made
    state : str
    figures : tuple of Cell
        In the order of `FIGURES`.
    cloth : Cell
    picture : Markup
        Its pieces, small, all sheets at one scale; "" where nothing was made.
    """

    made: Made
    state: str
    figures: tuple[Cell, ...]
    cloth: Cell
    picture: Markup


def overview_html(
    made: Sequence[Made],
    *,
    title: str,
    files: dict[str, str],
    plans: Sequence[ClothPlan] = (),
    links: Sequence[str] = (),
    sizes: Sequence[str] = (),
    grading: Sequence[GradedMeasure] = (),
) -> str:
    """Return the overview as one page; it holds its pictures, and links to each sheet's report.

    Parameters
    ----------
    made : sequence of Made
    title : str
    files : dict of str to str
        The page's templates, style sheets and program by file name.
    plans : sequence of ClothPlan
    links : sequence of str
        Files beside the page.
    sizes : sequence of str
        Names of the sizes that `grading` has values for.
    grading : sequence of GradedMeasure
    """
    unit: Unit = next((one.unit for one in made if not one.faults), "mm")
    heads = [(f.heading, amount(f, f.limit, unit)) for f in FIGURES]
    return rendered(
        files, "overview.html.j2", title=title, lines=_lines(made), heads=heads,
        told=_counted(made),
        cloths=[cloth_line(plan) for plan in plans],
        links=[link for link in links if not link.startswith("nest")],
        nests=[link for link in links if link.startswith("nest")],
        sizes=sizes, grading=grading_cells(grading, unit), unit=unit,
        own_style=Markup(files["overview.css"]), sorting=Markup(files["sorting.js"]),
    )  # fmt: skip


def many_lines(made: Sequence[Made], plans: Sequence[ClothPlan]) -> list[str]:
    """Return what is said once all is made: counts, what failed and why, the cloth."""
    failed = [one for one in made if one.faults]
    lines = [f"{one.name} ({one.source}): {fault}" for one in failed for fault in one.faults]
    more = len(lines) - MOST_LINES
    return [
        ", ".join(_counted(made)), *lines[:MOST_LINES],
        *([f"and {more} more; the overview has them all"] if more > 0 else []),
        *map(cloth_line, plans),
    ]  # fmt: skip


def _counted(made: Sequence[Made]) -> list[str]:
    counts = {text: sum(one.state == state for one in made) for state, text in STATES.items()}
    return [f"{count} {text}" for text, count in counts.items() if count]


def cloth_line(plan: ClothPlan) -> str:
    """Return what all sheets of one kind of cloth need together."""
    return (
        f"{plan.cloth}, {width_words(plan.width, plan)} wide: {length_words(plan.length, plan)} "
        f"for {_many(len(set(plan.owners.values())))}, {100 * share_used(plan):.0f} % of it used"
    )


def _many(count: int) -> str:
    return f"{count} sheet{'s' * (count != 1)}"


def overview_csv(made: Sequence[Made]) -> str:
    """Return the overview as CSV: figures unrounded, lengths in mm, lines joined by " | "."""
    heads = ["sheet", "source", "owner", "state", "verdict", *(figure.key for figure in FIGURES),
             "cloth", "cloth_width_mm", "cloth_length_mm", "pages", "warnings", "faults",
             "report"]  # fmt: skip
    return _csv(heads, (
        [one.name, one.source, one.owner, one.state, one.verdict,
         *(one.figures.get(figure.key, "") for figure in FIGURES),
         one.cloth, one.cloth_width or "", one.cloth_length or "", one.pages or "",
         " | ".join(one.warnings), " | ".join(one.faults),
         "" if one.faults else f"{one.name}/report.html"]
        for one in made
    ))  # fmt: skip


def grading_csv(rows: Sequence[GradedMeasure], sizes: Sequence[str]) -> str:
    """Return every measure of every piece in every size, mm, and each step from size to size."""
    steps = [f"{one} to {two}" for one, two in zip(sizes, sizes[1:], strict=False)]
    return _csv(["piece", "measure", *sizes, *steps], (
        [row.piece, row.name,
         *(_rounded(value) for value in row.values), *(_rounded(step) for step in _steps(row))]
        for row in rows
    ))  # fmt: skip


def grading_cells(
    rows: Sequence[GradedMeasure], unit: Unit = "mm"
) -> list[tuple[str, str, list[str]]]:
    """Return each measure's values as text, in mm or inches, with the step from the size before."""

    def said(mm: float) -> str:
        return length(mm, "in") if unit == "in" else f"{mm:.1f}"

    def stepped(mm: float | None) -> str:
        return "" if mm is None else f" ({'-' if mm < 0 else '+'}{said(abs(mm))})"

    out = []
    for row in rows:
        steps = [None, *_steps(row)]
        cells = [
            "" if value is None else said(value) + stepped(step)
            for value, step in zip(row.values, steps, strict=True)
        ]
        out.append((row.piece, row.name, cells))
    return out


def _steps(row: GradedMeasure) -> list[float | None]:
    return [
        None if one is None or two is None else two - one
        for one, two in zip(row.values, row.values[1:], strict=False)
    ]


def _rounded(value: float | None) -> str:
    return "" if value is None else f"{value:.3f}"


def _csv(heads: Sequence[str], rows: Iterator[Sequence[object]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_harmless(heads))
    writer.writerows(_harmless(row) for row in rows)
    return stream.getvalue()


def _harmless(row: Sequence[object]) -> list[object]:
    return [
        f"'{cell}" if isinstance(cell, str) and cell.startswith(tuple(RISKY)) and not _number(cell)
        else cell for cell in row
    ]  # fmt: skip


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _lines(made: Sequence[Made]) -> list[Line]:
    spans = [_span(one) for one in made if one.outlines]
    largest = np.max(spans, axis=0) if spans else np.ones(2)
    scale = float(np.min(np.array(SMALL) / largest))
    return [
        Line(one, STATES[one.state], _figures(one), _cloth(one), _picture(one, scale))
        for one in made
    ]


def _figures(one: Made) -> tuple[Cell, ...]:
    cells = []
    for figure in FIGURES:
        value = one.figures.get(figure.key)
        cells.append(
            Cell("", "-1") if value is None
            else Cell(amount(figure, value, one.unit), f"{value:.4f}", value > figure.limit)
        )  # fmt: skip
    return tuple(cells)


def _cloth(one: Made) -> Cell:
    if not one.cloth_length:
        return Cell("", "-1")
    return Cell(length(one.cloth_length, one.unit), f"{one.cloth_length:.1f}")


def _span(one: Made) -> tuple[float, float]:
    sizes = [np.ptp(np.array(outline), axis=0) for outline in one.outlines]
    return (
        float(sum(size[0] for size in sizes) + APART * (len(sizes) - 1)),
        float(max(size[1] for size in sizes)),
    )


def _picture(one: Made, scale: float) -> Markup:
    """Return the pieces in a row as an SVG element, y turned downwards."""
    if not one.outlines:
        return Markup("")
    wide, high = _span(one)
    paths, left = [], 0.0
    for outline in map(np.array, one.outlines):
        low, high_end = outline.min(axis=0), outline.max(axis=0)
        placed = (outline - [low[0], high_end[1]]) * [1.0, -1.0] + [left, 0.0]
        steps = "L".join(f"{x:.0f} {y:.0f}" for x, y in placed)
        paths.append(f'<path d="M{steps}Z"/>')
        left += float(high_end[0] - low[0]) + APART
    return Markup(
        f'<svg class="small" aria-hidden="true" width="{wide * scale:.0f}" '
        f'height="{high * scale:.0f}" viewBox="0 0 {wide:.0f} {high:.0f}">{"".join(paths)}</svg>'
    )  # only numbers go in
