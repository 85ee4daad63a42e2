"""Sew and fill every set of pieces, and measure how far each stands off the arm."""

from __future__ import annotations

from collections.abc import Mapping

from unroll.pipeline.unrolling import Tell
from unroll.sewing import sew
from unroll.standing_off import plain_words, stand_off
from unroll.types import ArmMesh, Cloth, Filled, Piece

SPACING_MM = 11.0  # girths differ by less than 0.3 mm from those of a mesh twice as fine
SEWN_TOGETHER = ("outer", "inner", "armhole base", "wrist base")
WORDS = {
    "unrolled": "the unrolled pieces", "corrected": "the corrected pieces",
    "drafted-ease": "the flat draft with ease", "drafted-darts": "the flat draft with darts",
}


def fill_arm(
    sets: Mapping[str, tuple[Piece, ...]], cloth: Cloth, target: ArmMesh, *,
    spacing: float = SPACING_MM, tell: Tell,
) -> Filled:
    """Sew and fill each set of pieces of one arm.

    Raises
    ------
    UnrollError
        When a set cannot be sewn to a closed shape.
    """
    sewn, standoffs = {}, {}
    for source, pieces in sets.items():
        tell(f"sewing and filling {WORDS.get(source, source)}")
        together = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
        sewn[source] = sew(together, cloth=cloth, spacing=spacing)
        standoffs[source] = stand_off(sewn[source], target)
    return Filled(sewn, standoffs, plain_words(list(standoffs.values())))
