"""The sewing guide: a drawing and a few sentences a step, from this arm's own pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns import FinishedPiece, Lettering, Patch, PrintFacts, Sheet, SheetPage, Stroke
from unroll.paper.board import Board
from unroll.paper.columns import Column
from unroll.paper.cover import EDGE, scaled, text_size
from unroll.paper.layouts import Paper, paper_called
from unroll.paper.sketches import Sketch, sketch_of
from unroll.paper.wording import CAUTIONS, Step, steps

PER_PAGE = 4
MOST_CAUTIONS = 3  # that find room under the steps
HEAD_ROOM = 37.0  # mm
DRAWING = 0.44  # of the width


def sewing_guide(
    finished: Sequence[FinishedPiece],
    sheet: Sheet,
    *,
    facts: PrintFacts | None = None,
    paper: Paper | str = "a4",
) -> tuple[SheetPage, ...]:
    """Return the pages of the sewing guide, for the first arm among the pieces.

    Parameters
    ----------
    finished : sequence of FinishedPiece
    sheet : Sheet
    facts : PrintFacts, optional
        For the amount of filling, and what these pieces need.
    paper : Paper or str
        Paper of the text pages.
    """
    paper = paper_called(paper) if isinstance(paper, str) else paper
    pieces = _one_arm(finished)
    facts = facts or PrintFacts()
    if guessed := sum(len(arm.estimated) for arm in sheet.arms):
        text = f"{guessed} measures of the sheet are guesses: sew a trial first and tape it"
        facts = replace(facts, cautions=(text, *facts.cautions))
    numbered = list(enumerate(steps(tuple(pieces.values()), sheet, facts), start=1))
    groups = [numbered[i : i + PER_PAGE] for i in range(0, len(numbered), PER_PAGE)]
    if len(groups[-1]) == PER_PAGE or len(facts.cautions) > MOST_CAUTIONS:
        groups.append([])  # the cautions get a page of their own
    intro = _whose(finished, " ".join(part for part in (sheet.owner, sheet.date) if part))
    return tuple(
        _page(group, pieces, intro, facts, paper, index, len(groups))
        for index, group in enumerate(groups)
    )


def step_pictures(
    finished: Sequence[FinishedPiece], sheet: Sheet, *, facts: PrintFacts | None = None
) -> tuple[tuple[Step, SheetPage], ...]:
    """Return each step with its drawing as a small page of its own, 90 by 70 mm."""
    pieces = _one_arm(finished)
    out = []
    for step in steps(tuple(pieces.values()), sheet, facts or PrintFacts()):
        patches, strokes, words = _placed(
            sketch_of(step.drawing, pieces), np.array([4.0, 4.0]), np.array([82.0, 62.0])
        )
        page = SheetPage(step.name, 90.0, 70.0, tuple(patches), tuple(strokes), tuple(words))
        out.append((step, page))
    return tuple(out)


def _one_arm(finished: Sequence[FinishedPiece]) -> dict[str, FinishedPiece]:
    arm = finished[0].arm
    return {p.name: p for p in finished if p.arm == arm and p.material == "cloth"}


def _page(
    group: list[tuple[int, Step]],
    pieces: dict[str, FinishedPiece],
    intro: str,
    facts: PrintFacts,
    paper: Paper,
    index: int,
    count: int,
) -> SheetPage:
    width, height, scale = text_size(paper)
    head = Column(EDGE, height - EDGE + 2, width - 2 * EDGE)
    head.heading("Sewing guide", size=7.0)
    head.paragraph(intro, size=3.4)
    row = (height - EDGE - HEAD_ROOM - 8) / PER_PAGE
    patches: list[Patch] = []
    strokes: list[Stroke] = list(head.strokes)
    words: list[Lettering] = list(head.letterings)
    for place, (number, step) in enumerate(group):
        top = height - HEAD_ROOM - place * row
        room = np.array([DRAWING * width - EDGE - 4, row - 10])
        low = np.array([EDGE, top - row + 6])
        some = _placed(sketch_of(step.drawing, pieces), low, room)
        patches += some[0]
        strokes += some[1]
        words += some[2]
        column = Column(DRAWING * width + 6, top, width - EDGE - DRAWING * width - 6)
        column.heading(f"{number}  {step.name}", size=4.6)
        column.paragraph(step.text, size=3.4)
        words += column.letterings
        strokes.append(Stroke(np.array([[EDGE, top], [width - EDGE, top]]), "faint"))
    if index == count - 1:
        words += _cautions(height - HEAD_ROOM - len(group) * row, width, facts.cautions)
    foot = f"page {index + 1} of {count}"
    words.append(Lettering(foot, np.array([EDGE, 7.0]), 3.0))
    page = SheetPage(
        f"guide {index + 1}", width, height, tuple(patches), tuple(strokes), tuple(words)
    )
    return scaled(page, scale)


def _cautions(top: float, width: float, cautions: Sequence[str]) -> list[Lettering]:
    """Set what these pieces need beside what always holds."""
    half = (width - 3 * EDGE) / 2
    left, right = Column(EDGE, top, half), Column(2 * EDGE + half, top, half)
    left.heading("When sewing these pieces")
    for line in cautions or ("Nothing out of the ordinary.",):
        left.item("–", line)
    right.heading("Take care")
    for line in CAUTIONS:
        right.item("–", line)
    return left.letterings + right.letterings


def _whose(finished: Sequence[FinishedPiece], owner: str) -> str:
    """Say which arm is sewn by this guide, and what holds for the other."""
    arms = list(dict.fromkeys(piece.arm for piece in finished))
    name = f" for {owner}" if owner else ""
    if arms[0] == "both":
        return f"Both arms{name}: sew two alike, the second from the mirrored pieces."
    if len(arms) == 1:
        return f"The {arms[0]} arm{name}."
    return (
        f"The {arms[0]} arm{name}. The {arms[1]} arm is sewn alike; its own amounts are on its "
        "pieces."
    )


def _placed(
    sketch: Sketch, low: FloatArray, room: FloatArray
) -> tuple[list[Patch], list[Stroke], list[Lettering]]:
    """Fit a sketch into a place, centred, and write its words where there is room."""
    points = np.concatenate([p for p, _ in sketch.strokes])
    first, span = points.min(axis=0), np.ptp(points, axis=0)
    # words may stand above or below the lines
    room, low = room - [0.0, 8.0], low + [0.0, 4.0]
    scale = float(np.min(room / span))
    shift = low + (room - span * scale) / 2 - first * scale
    board = Board(low - [2.0, 5.0], (room[0] + 4, room[1] + 10))
    for line, style in sketch.strokes:
        board.draw(line * scale + shift, style)
    for text, at in sketch.words:
        board.write([text], at * scale + shift, 2.9, reach=30.0, air=0.4)
    patches = [Patch(line * scale + shift, grey) for line, grey in sketch.patches]
    return patches, board.strokes, board.letterings
