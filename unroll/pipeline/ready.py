"""Pieces ready to cut: finished, checked, laid on cloth, tiled on pages."""

from __future__ import annotations

import numpy as np

from unroll.errors import UnrollError
from unroll.laying import cut_plan
from unroll.piecing import best_pieces, check_truing, finish
from unroll.printing import pages, sewing_guide
from unroll.types import ArmResult, FinishedPiece, MakeResult, PrintFacts, Ready

MM3_PER_LITRE = 1e6


def get_ready(
    result: MakeResult, *, paper: str | None = None, source: str | None = None, force: bool = False
) -> Ready:
    """Finish the pieces of every arm and lay them on cloth and paper.

    Parameters
    ----------
    result : MakeResult
    paper : str, optional
        The sheet's paper by default.
    source : str, optional
        "corrected", "unrolled", "drafted-ease" or "drafted-darts"; the best that exists by default.
    force : bool
        Print in spite of a seam that does not true; every page then says so.

    Raises
    ------
    UnrollError
        When a seam is wrong and `force` is off, the paper is unknown, or the cloth is too narrow.
    """
    sheet = result.sheet
    finished = tuple(
        piece for arm in result.arms for piece in _finish(result, arm, source)
    )
    truing = check_truing(finished, sheet)
    faults = truing.faults
    if faults and not force:
        raise UnrollError(
            "nothing is printed while a seam is wrong (force it to print all the same):\n"
            + "\n".join(faults)
        )
    cautions = (*truing.cautions, *_cautions(result))
    facts = PrintFacts(result.version, _litres(result), faults, cautions)
    plan = cut_plan(finished, sheet.cloth.width)
    page_size = paper or sheet.make.paper
    return Ready(
        finished, plan, pages(finished, plan, sheet, paper=page_size, facts=facts),
        sewing_guide(finished, sheet, facts=facts, paper=page_size), facts, faults,
    )


def _finish(
    result: MakeResult, arm: ArmResult, source: str | None
) -> tuple[FinishedPiece, ...]:
    pieces = best_pieces(arm.pieces, cap=result.sheet.make.cap, source=source)
    side = "both" if len(result.arms) == 1 else arm.measures.side
    return finish(pieces, result.sheet, arm=side, version=result.version)


def _litres(result: MakeResult) -> float:
    """Return the room inside one arm, litres."""
    arm = result.arms[0].arm.mesh
    corners = arm.vertices[arm.faces]
    return float(abs(np.linalg.det(corners).sum())) / 6.0 / MM3_PER_LITRE


def _cautions(result: MakeResult) -> tuple[str, ...]:
    return tuple(
        f"{row.name}: {row.note}" for arm in result.arms for row in arm.tape if row.note
    )
