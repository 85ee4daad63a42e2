"""The flat draft closed too: the least change of its numbers that brings the filled arm nearest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from unroll.correcting import targets_for, verdicts
from unroll.errors import UnrollError
from unroll.geometry.bounded_steps import bounded_step
from unroll.pipeline.closing_loop import silent
from unroll.pipeline.correcting_rounds import Tell
from unroll.pipeline.draft_bench import DraftBench, DrawnTry, draft_bench, pieces_of_draft
from unroll.pipeline.draft_numbers import Drawn, Manner, told
from unroll.pipeline.draft_words import helps
from unroll.types import ArmMeasures, Cloth, FloatArray, Make, Piece
from unroll.types.corrected import DraftClosing
from unroll.types.measures import Side

ROUNDS = 7
SHARES = (1.0, 0.5, 0.25, 0.125)  # of a step, tried in turn until one can be drawn and helps
WORTH_IT = 0.99  # a round that leaves more than this share of the cost is the last


def close_draft(
    measures: ArmMeasures,
    make: Make,
    cloth: Cloth,
    *,
    manner: Manner = "darts",
    spacing: float = 10.0,
    tell: Tell | None = None,
) -> DraftClosing:
    """Return a flat draft from changed numbers, and what it was and is once sewn and filled.

    Parameters
    ----------
    manner : {"ease", "darts"}
        How the draft's cap is fitted.
    spacing : float
        Edge length of the sewn mesh, mm.
    tell : callable, optional
        Is told the progress.

    Raises
    ------
    UnrollError
        When the draft of the measured numbers cannot be drawn or sewn.

    Notes
    -----
    The cap's height, what its darts take in and leave to ease, three widths, the length to the
    elbow and the elbow's wedge are changed by damped Gauss-Newton steps with Broyden's update
    towards the girths, the hang, the bend, the length and the shoulder of the measured arm. A
    change that the draft cannot be drawn with, or that does not help, is halved. The flat rules
    themselves stay: what they cannot reach is reported, and counts by its size only, so that it
    does not spoil the rest.
    """
    tell = tell or silent
    bench = draft_bench(measures, make, cloth, manner, spacing=spacing)
    tell("sewing and filling the draft as it is")
    first = best = bench.attempt(np.zeros(len(bench.numbers)))
    tell("seeing what each number of the draft does")
    slopes = bench.slopes(first)
    for number in range(ROUNDS):
        here = best
        best, slopes = _round(bench, here, slopes)
        tell(f"correcting the draft, round {number + 1}: hang off by {best.off.swing_deg:.1f}°")
        if best.cost > WORTH_IT * here.cost:
            break
    return _closed(bench, measures, first, best)


def _round(bench: DraftBench, here: DrawnTry, slopes: FloatArray) -> tuple[DrawnTry, FloatArray]:
    """Return the better of here and a step from it, and the slopes learnt on the way."""
    large = np.array([number.large for number in bench.numbers])
    most = np.array([number.most for number in bench.numbers])
    bounds = (np.maximum(-large, -most - here.changes), np.minimum(large, most - here.changes))
    step = bounded_step(slopes, here.miss, large, bounds)
    for share in SHARES:
        try:
            tried = bench.attempt(here.changes + share * step, here)
        except UnrollError:
            continue
        slopes = _learnt(slopes, share * step, tried.miss - here.miss, large)
        if tried.cost < here.cost:
            return tried, slopes
    return here, slopes


def _learnt(
    slopes: FloatArray, step: FloatArray, gained: FloatArray, large: FloatArray
) -> FloatArray:
    """Return the slopes corrected by what a step really did (Broyden's update, in large steps)."""
    moved, scaled = step / large, slopes * large
    size = float(moved @ moved)
    if size < 1e-16:
        return slopes
    return np.asarray((scaled + np.outer(gained - scaled @ moved, moved) / size) / large)


def _closed(
    bench: DraftBench, measures: ArmMeasures, first: DrawnTry, best: DrawnTry
) -> DraftClosing:
    was, now = bench.drawn(first.changes), bench.drawn(best.changes)
    changes = told(was, now, bench.manner)
    count = sum(change.name.startswith("dart ") for change in changes)
    reached, missed = verdicts(best.off, (), targets_for(count))
    # what verdicts say would help is for pieces that were laid flat
    short = tuple(line.partition(": ")[0] for line in missed)
    return DraftClosing(
        manner=bench.manner,
        pieces=_on_side(now, measures.side, bench.manner),
        changes=changes,
        before=first.off,
        after=best.off,
        uncorrected=_on_side(was, measures.side, bench.manner),
        wanted=bench.wanted,
        sewn_before=first.sewn,
        sewn_after=best.sewn,
        surplus=(first.surplus, best.surplus),
        reached=reached,
        missed=short,
        helps=helps(short, measures, bench.cloth, bench.manner, best.surplus),
    )


def _on_side(drawn: Drawn, side: Side, manner: Manner) -> tuple[Piece, ...]:
    """Return the pieces of a draft for the arm that was measured."""
    measures = replace(drawn.measures, side=side)
    return pieces_of_draft(replace(drawn, measures=measures), manner)
