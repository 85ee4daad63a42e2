"""The main job: a sheet in, everything that the maker needs out."""

from __future__ import annotations

from unroll.pipeline.unrolling import Tell, unroll_arm
from unroll.types import ArmMeasures, ArmResult, MakeResult, Sheet
from unroll.version import VERSION

FINE_EDGE_MM = 5.0
PREVIEW_EDGE_MM = 12.0


def silent(_message: str) -> None:
    """Say nothing."""


def make_result(sheet: Sheet, *, edge: float = FINE_EDGE_MM, tell: Tell = silent) -> MakeResult:
    """Make every arm of a sheet.

    Parameters
    ----------
    sheet : Sheet
    edge : float
        Edge length of the mesh, mm.
    tell : callable
        Is told each step in a few words, for a progress display.

    Raises
    ------
    UnrollError
        When the measures make no arm.
    """
    arms = tuple(make_arm(measures, sheet, edge=edge, tell=tell) for measures in sheet.arms)
    return MakeResult(sheet, arms, VERSION)


def make_arm(measures: ArmMeasures, sheet: Sheet, *, edge: float, tell: Tell) -> ArmResult:
    """Make one arm of a sheet."""
    unrolled = unroll_arm(measures, sheet.make, sheet.cloth, edge=edge, tell=tell)
    return ArmResult(
        measures=measures,
        arm=unrolled.arm,
        tape=unrolled.tape,
        distortions=unrolled.distortions,
        undarted=unrolled.undarted,
        pieces={"unrolled": unrolled.pieces},
        seams=(),
        advice=unrolled.advice,
        extra={"trials": unrolled.trials},
    )
