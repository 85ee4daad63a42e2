"""The flat draft closed too: the least change of its numbers that brings the filled arm nearest."""

from __future__ import annotations

import numpy as np

from unroll.correct.draft_bench import (
    DraftBench,
    Drawn,
    DrawnTry,
    Manner,
    draft_bench,
    drawn_with,
    pieces_of_draft,
    told,
)
from unroll.correct.on_bench import Tell, silent
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.bounded_steps import bounded_step
from unroll.nouns import ArmMeasures, Cloth, Make, verdicts_of
from unroll.nouns.corrected import DraftCorrection
from unroll.units import Unit, format_small


def helps(
    measures: ArmMeasures, cloth: Cloth, manner: Manner, surplus: float, unit: Unit = "mm"
) -> tuple[str, ...]:
    """Return what would help a corrected draft that falls short, one line each.

    Parameters
    ----------
    surplus : float
        Cap seam less armhole, mm.
    """
    out = []
    most = 0.01 * cloth.eases_percent[1] * 0.5 * measures.armhole.girth
    if manner == "ease" and surplus > most:
        out.append(
            f"the eased cap's seam stays {format_small(surplus, unit)} longer than the armhole, "
            f"and {cloth.name} eases in {format_small(most, unit)} at most: no number of this "
            "draft mends that; "
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


ROUNDS = 7
SHARES = (1.0, 0.5, 0.25, 0.125)  # of a step, tried in turn until one can be drawn and helps
WORTH_IT = 0.99  # a round that leaves more than this share of the cost is the last


def correct_draft(
    measures: ArmMeasures,
    make: Make,
    cloth: Cloth,
    *,
    manner: Manner = "darts",
    spacing: float = 10.0,
    tell: Tell = silent,
    unit: Unit = "mm",
) -> DraftCorrection:
    """Return a flat draft from changed numbers, and what it was and is once sewn and filled.

    Parameters
    ----------
    manner : {"ease", "darts"}
        How the draft's cap is fitted.
    spacing : float
        Edge length of the sewn mesh, mm.
    tell : callable, optional
        Is told the progress.
    unit : {"in", "cm", "mm"}
        Of what is told to help.

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
    bench = draft_bench(measures, make, cloth, manner, spacing=spacing)
    first, best = nearest(bench, tell=tell)
    return _closed(bench, Drawn(measures, make), first, best, unit)


def nearest(bench: DraftBench, *, tell: Tell = silent) -> tuple[DrawnTry, DrawnTry]:
    """Return a bench's draft as it is and with its numbers changed, sewn and filled.

    Raises
    ------
    UnrollError
        When the unchanged draft cannot be drawn or sewn.
    """
    tell("sewing and filling the draft as it is")
    first = best = bench.attempt(np.zeros(len(bench.numbers)))
    tell("seeing what each number of the draft does")
    slopes = bench.slopes(first)
    for number in range(ROUNDS):
        here = best
        best, slopes = _round(bench, here, slopes)
        tell(f"correcting the draft, round {number + 1}: hang off by {best.fit.swing_deg:.1f}°")
        if best.cost > WORTH_IT * here.cost:
            break
    return first, best


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
    bench: DraftBench, plain: Drawn, first: DrawnTry, best: DrawnTry, unit: Unit
) -> DraftCorrection:
    was, now = plain, drawn_with(plain, bench.named(best.changes))
    changes, measures = told(was, now, bench.manner), plain.measures
    found = verdicts_of(best.fit)
    is_short = not all(verdict.is_met for verdict in found)
    return DraftCorrection(
        manner=bench.manner,
        pieces=pieces_of_draft(now, bench.manner),
        changes=changes,
        before=first.fit,
        after=best.fit,
        uncorrected=pieces_of_draft(was, bench.manner),
        wanted=bench.wanted,
        sewn_before=first.sewn,
        sewn_after=best.sewn,
        surplus=(first.surplus, best.surplus),
        verdicts=found,
        helps=helps(measures, bench.cloth, bench.manner, best.surplus, unit) if is_short else (),
    )
