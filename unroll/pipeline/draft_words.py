"""What a corrected hand draft does not reach, and what would help, in a maker's words."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.pipeline.draft_numbers import Manner
from unroll.types import ArmMeasures, Cloth


def out_of_reach(
    missed: Sequence[str], measures: ArmMeasures, cloth: Cloth, manner: Manner, surplus: float
) -> tuple[str, ...]:
    """Return what is missed, one line each, and then what would help.

    Parameters
    ----------
    missed : sequence of str
        As verdicts give them; what they say would help is for laid-out pieces and left out.
    surplus : float
        Cap seam less armhole, mm.
    """
    if not missed:
        return ()
    lines = [line.partition(": ")[0] for line in missed]
    return (*lines, *_helps(measures, cloth, manner, surplus))


def _helps(measures: ArmMeasures, cloth: Cloth, manner: Manner, surplus: float) -> list[str]:
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
            "three taped over the cap would bring it nearer"
        )
    return [
        *out,
        "what is left is beyond straight rules: the pieces of `unroll make` are corrected all over",
    ]
