"""The same arm by the flat rules: drafted, walked, compared with the unrolled pieces."""

from __future__ import annotations

from unroll.comparing import compare, tape_draft
from unroll.drafting import draft, draft_notices, ease_advice
from unroll.types import ArmMeasures, Cloth, Comparison, Drafted, Make, Piece
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
