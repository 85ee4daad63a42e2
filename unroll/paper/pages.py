"""Pages at true scale, the cover sheet and the cut plan, as drawing values."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.nouns import CutPlan, FinishedPiece, PrintFacts, Sheet, SheetPage
from unroll.paper.cover import cover_page
from unroll.paper.layouts import Paper, lay_out, paper_called
from unroll.paper.plan_page import plan_page
from unroll.paper.tiling import pattern_pages


def pages(
    finished: Sequence[FinishedPiece],
    plan: CutPlan,
    sheet: Sheet,
    *,
    paper: Paper | str,
    facts: PrintFacts | None = None,
) -> tuple[SheetPage, ...]:
    """Return everything that is printed: cover sheet, cut plan, and the pattern at true scale.

    Parameters
    ----------
    finished : sequence of FinishedPiece
    plan : CutPlan
        The cloth pieces laid on the sheet's cloth.
    sheet : Sheet
        Owner, date, cloth.
    paper : Paper or str
        "a4", "a3", "letter", "tabloid", "a0" or "roll".
    facts : PrintFacts, optional
        Version, filling, cautions, and what is outside limits.

    Raises
    ------
    UnrollError
        When the paper is unknown, or a piece does not fit the one sheet.
    """
    paper = paper_called(paper) if isinstance(paper, str) else paper
    facts = facts or PrintFacts()
    layout = lay_out(finished, paper)
    return (
        cover_page(finished, plan, layout, sheet, facts),
        plan_page(finished, plan, sheet, paper),
        *pattern_pages(layout, facts),
    )
