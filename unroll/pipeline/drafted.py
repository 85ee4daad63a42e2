"""The same arm by the flat rules: drafted, walked, compared with the unrolled pieces."""

from __future__ import annotations

from dataclasses import replace

from unroll.comparing import compare, tape_draft
from unroll.drafting import draft, draft_notices, ease_advice
from unroll.pipeline.draft_closing import close_draft
from unroll.pipeline.filled import SPACING_MM
from unroll.pipeline.unrolling import Tell
from unroll.types import ArmMeasures, Cloth, Comparison, Drafted, Make, Piece
from unroll.types.corrected import DraftClosing
from unroll.walking import place_notches, walk


def draft_arm(measures: ArmMeasures, make: Make, cloth: Cloth) -> Drafted:
    """Draft one arm in both manners, place its notches and walk its seams."""
    pieces = {
        f"drafted-{manner}": place_notches(draft(measures, make, manner=manner))
        for manner in ("ease", "darts")
    }
    return Drafted(
        advice=ease_advice(measures, make, cloth),
        notices=draft_notices(measures, make, manner="darts"),
        pieces=pieces,
        walked={source: walk(those, cloth=cloth) for source, those in pieces.items()},
        tape={source: tape_draft(those, measures) for source, those in pieces.items()},
    )


def compare_arm(
    drafted: Drafted, unrolled: tuple[Piece, ...], measures: ArmMeasures
) -> dict[str, Comparison]:
    """Return the comparison of each manner of the draft with the unrolled pieces."""
    return {
        source: compare(pieces, unrolled, measures) for source, pieces in drafted.pieces.items()
    }


def redraft_arm(measures: ArmMeasures, make: Make, cloth: Cloth, *, tell: Tell) -> DraftClosing:
    """Correct the draft's numbers in the manner that the sheet asks for, and walk its seams.

    Raises
    ------
    UnrollError
        When the draft cannot be drawn or sewn.
    """
    found = close_draft(measures, make, cloth, manner=make.cap, spacing=SPACING_MM, tell=tell)
    pieces = place_notches(found.pieces)
    return replace(found, pieces=pieces, walked=walk(pieces, cloth=cloth))
