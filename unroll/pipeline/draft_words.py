"""What would help a corrected hand draft that falls short, in a maker's words."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.pipeline.draft_numbers import Manner
from unroll.types import ArmMeasures, Cloth


def helps(
    missed: Sequence[str], measures: ArmMeasures, cloth: Cloth, manner: Manner, surplus: float
) -> tuple[str, ...]:
    """Return what would help a corrected draft, one line each; none where nothing is missed.

    Parameters
    ----------
    missed : sequence of str
    surplus : float
        Cap seam less armhole, mm.
    """
    if not missed:
        return ()
    out = []
    most = 0.01 * cloth.eases_percent[1] * 0.5 * measures.armhole.girth
    if manner == "ease" and surplus > most:
        out.append(
            f"the eased cap's seam stays {surplus:.0f} mm longer than the armhole, and "
            f"{cloth.name} eases in {most:.0f} mm at most: no number of this draft mends that; "
            'draft it with darts (cap = "darts" in the sheet)'
        )
    if manner == "darts" and not measures.cap_arcs:
        out.append(
            "the sheet has no cap_arcs, so the draft has to guess the shoulder's roundness: two or "
            "three taped over the cap would bring the shoulder nearer"
        )
    return (
        *out,
        "cut the pieces that unroll make prints: they are corrected all over, not by straight "
        "rules",
    )
