"""Close the loop: correct the pieces until the arm that is sewn from them is the arm measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.correct.bench import (
    Bench,
    SewnTry,
    Tried,
    bench_of,
    round_of,
    with_girths,
)
from unroll.correct.least_changes import SeamSystem
from unroll.correct.on_bench import OnBench, Tell, as_laid, silent
from unroll.correct.on_paper import changes_on_paper
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.membrane_response import Response
from unroll.nouns import Cloth, Correction, DartLine, Laid, Make
from unroll.nouns.corrected import Miss
from unroll.nouns.fit import FIGURES, Fit, shortfall, worst_share
from unroll.sewn.fitting import cap_apart, fit_of

FARTHEST_MM = 15.0  # most that a flat point moves in the first round
LEAST_MM = 0.3  # a round that may move points by less than this is not worth filling
MOST_CLOSINGS = 4  # times a step that crosses the legs of darts is tried again with them closed
LEAST_GAIN = 0.05  # of what the slopes promise; a step that gains less is taken back
GOOD_GAIN, POOR_GAIN = 0.6, 0.3
WORTH_IT = 0.7  # a round that leaves more than this share of the squared misses is the last
SEWN_ROUNDS, AFTER_SEWING_ROUNDS = 4, 3
CAP_CLOSER = 1.6  # times less is let pass on the cap where it alone is left outside its limits
GOOD_SHARE, GOOD_CAP_SHARE = 0.4, 0.75  # of every limit: near enough not to sew again


@dataclass(frozen=True, eq=False)
class Standpoint:
    """A try with what is still wanted of it, and how far a round may go from it.

    Attributes
    ----------
    tried : Tried
    wanted : (r,) float
        What the readings are to gain, over what is let pass.
    farthest : float
        Most that a flat point may move in the next round, mm.
    """

    tried: Tried
    wanted: FloatArray
    farthest: float

    @property
    def cost(self) -> float:
        """Sum of squares of the misses over what is let pass."""
        return float(self.wanted @ self.wanted)


def corrected_filled(
    bench: Bench,
    first: Tried,
    *,
    rounds: int,
    aside: FloatArray | None = None,
) -> list[Tried]:
    """Return the tries of some rounds on the bench's own mesh, from the first one; each is better.

    Parameters
    ----------
    aside : (r,) float, optional
        What the readings want beyond what this mesh shows: by how much sewn pieces miss more.
    """
    here = _standpoint(bench, first, aside, FARTHEST_MM)
    tries = [first]
    for _ in range(rounds):
        found = _round(bench, here, aside)
        if found is None:
            break
        tries.append(found.tried)
        left, here = found.cost / here.cost, found
        bench, here = _narrowed(bench, here, aside)
        tries += [here.tried] if here is not found else []
        if left > WORTH_IT:
            break
    return tries


def _narrowed(
    bench: Bench, here: Standpoint, aside: FloatArray | None
) -> tuple[Bench, Standpoint]:
    """Return a bench that holds mouths which have grown too wide, and a place where they are not.

    Both as they are where there is none, or where the pieces fold.
    """
    held = bench.with_mouths_held(here.tried.points)
    if held is bench:
        return bench, here
    points = held.seams(here.tried.points).kept(here.tried.points)
    try:
        tried = held.filled(points, here.tried.filled)
    except UnrollError:
        return bench, here
    return held, _standpoint(held, tried, aside, here.farthest)


def _standpoint(
    bench: Bench, tried: Tried, aside: FloatArray | None, farthest: float
) -> Standpoint:
    return Standpoint(tried, bench.wanted(tried, aside), farthest)


def _round(bench: Bench, here: Standpoint, aside: FloatArray | None) -> Standpoint | None:
    """Return a better place, or None where there is none within reach."""
    response = bench.response(here.tried)
    seams = bench.seams(here.tried.points)
    reach = bench.reach(here.tried, seams, response)
    farthest, closings = here.farthest, MOST_CLOSINGS
    while farthest > LEAST_MM:
        change, promised = reach.change(here.wanted, farthest=farthest)
        moved = float(np.abs(change).max())
        tried = _tried(bench, here.tried, seams, response, change)
        if tried is None and closings:
            closed = np.union1d(seams.closed, bench.crossed(seams.kept(here.tried.points + change)))
            closings -= 1
            if len(closed) > len(seams.closed):  # the same step, with the dart closed up to there
                seams = bench.seams(here.tried.points, closed)
                reach = bench.reach(here.tried, seams, response)
                continue
        if tried is not None:
            there = _standpoint(bench, tried, aside, farthest)
            gain = (here.cost - there.cost) / max(here.cost - promised, 1e-9)
            if gain > LEAST_GAIN:
                wider = 2.0 if gain > GOOD_GAIN else 1.0 if gain > POOR_GAIN else 0.5
                return Standpoint(tried, there.wanted, max(wider * moved, LEAST_MM))
        farthest = 0.4 * min(farthest, moved)
    return None


def _tried(
    bench: Bench, here: Tried, seams: SeamSystem, response: Response, change: FloatArray
) -> Tried | None:
    """Return the pieces after a change, filled; None where they fold.

    Where only the mesh inside an outline folds, it is evened first.
    """
    points = seams.kept(here.points + change)
    start = here.filled + response.moved(points - here.points)
    try:
        return bench.filled(points, start)
    except UnrollError:
        points = bench.shapes.with_inside_evened(points)
    try:
        return bench.filled(points, start)
    except UnrollError:
        return None


def corrected_sewn(
    bench: Bench, tries: Sequence[Tried], *, spacing: float, tell: Tell
) -> list[SewnTry]:
    """Return the sewn tries: what the bench's own mesh got, then corrected by what sewing shows.

    Parameters
    ----------
    tries : sequence of Tried
        On the bench's own mesh; the best is the last.

    Notes
    -----
    Pieces that are cut, meshed anew and sewn hang a little differently from the bench's own mesh;
    what they miss more is added to what the readings want there. Pieces that cannot be sewn are
    passed over.
    """
    model, last = _first_sewn(bench, tries, spacing)
    if last is None:
        return []
    sewn = [last]
    for _ in range(SEWN_ROUNDS):
        if _is_near(last.fit):
            break
        if _is_cap_left(last.fit):
            bench = bench.with_cap_closer(CAP_CLOSER)
        aside = bench.readings.wanted_more(model.filled, model.miss, last.filled, last.miss)
        unfitted = model
        bench, model = with_wrist_refitted(bench, model, last.fit)
        found = corrected_filled(bench, model, rounds=AFTER_SEWING_ROUNDS, aside=aside)
        if len(found) == 1 and model is unfitted:
            break
        model = found[-1]
        tell("sewing the corrected pieces again")
        try:
            last = bench.sewn(model, spacing=spacing)
        except UnrollError:
            break
        sewn.append(last)
        kept, before = (worst_share(tried.fit) for tried in (last, sewn[-2]))
        if kept < 1.0 and kept > WORTH_IT * before:
            break
    return sewn


def with_wrist_refitted(bench: Bench, tried: Tried, fit: Fit) -> tuple[Bench, Tried]:
    """Return a bench, and the pieces on it, whose wrist is cut so that it is sewn as measured.

    Both as they are where the wrist comes out as it should, or where the pieces fold.

    Parameters
    ----------
    fit : Fit
        Of the pieces, sewn.
    """
    refitted = bench.with_wrist_of(fit)
    if refitted is bench:
        return bench, tried
    points = refitted.seams(tried.points).kept(tried.points)
    try:
        return refitted, refitted.filled(points, tried.filled)
    except UnrollError:
        return bench, tried


def _is_near(fit: Fit) -> bool:
    """Tell whether every figure is well within its limit; on the cap more sewing gains little."""
    return all(
        figure.share(fit) < (GOOD_CAP_SHARE if figure.key.startswith("cap_") else GOOD_SHARE)
        for figure in FIGURES
    )


def _is_cap_left(fit: Fit) -> bool:
    """Tell whether nothing but the cap is outside its limits."""
    outside = [figure.key for figure in FIGURES if figure.share(fit) > 1.0]
    return bool(outside) and all(key.startswith("cap_") for key in outside)


def _first_sewn(
    bench: Bench, tries: Sequence[Tried], spacing: float
) -> tuple[Tried, SewnTry | None]:
    """Return the last try that can be sewn, and its sewn pieces."""
    for tried in reversed(tries[1:]):
        try:
            return tried, bench.sewn(tried, spacing=spacing)
        except UnrollError:
            continue
    return tries[0], None


ROUNDS = 6


def correct(on: OnBench, shape: ArmShape, *, tell: Tell = silent) -> Correction:
    """Return pieces whose sewn and filled arm is the arm that was measured.

    Parameters
    ----------
    on : OnBench
    shape : ArmShape
        The measured arm.

    Notes
    -----
    The points of the flat pieces are moved, the seams kept edge by edge, until the filled shape
    matches: what each reading of the filled arm gains by each point is known from the balance of
    the cloth (one solution of its stiffness a reading), so a round is one system of equations and
    one filling. Then the pieces are cut, meshed anew and sewn, and what they still miss is taken
    into account. The best sewn pieces are kept; a step that folds a piece, or does not help, is
    shortened.
    """
    plain = on.plain
    bench, first = with_wrist_refitted(on.bench, on.first, plain.fit)
    tries = corrected_filled(bench, first, rounds=ROUNDS)
    tell(_how_near(tries[-1].miss))
    tell("sewing the corrected pieces")
    sewn = corrected_sewn(bench, tries, spacing=on.spacing, tell=tell)
    # within every limit first: a better sum with one limit missed is no better
    best = min((plain, *sewn), key=lambda tried: (max(worst_share(tried.fit), 1.0),
                                                  shortfall(tried.fit)))  # fmt: skip
    tell(_how_near(best.miss))
    before, after = on.laid, as_laid(bench, best, "corrected")
    oval = mesh_arm(_left(shape), edge=bench.edge, inner_share=bench.make.inner_share)
    mean, most = cap_apart(bench.arm, oval)
    return Correction(
        before=before,
        after=after,
        rounds=tuple(round_of(bench, tried) for tried in (*tries, plain, *sewn)),
        on_paper=changes_on_paper(
            before.flattenings, after.flattenings, (before.intakes, after.intakes)
        ),
        round_mean=mean,
        round_p95=most,
    )


def sketch(
    rounded: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    ease: float | None = None,
    edge: float = 18.0,
    rounds: int = 1,
) -> tuple[Laid, Miss]:
    """Return what correction will come to, in about a second: on a coarse mesh, not sewn anew.

    Parameters
    ----------
    rounded : ArmShape
        The left arm with round sections.
    darts : tuple of DartLine
        The dart layout, front to back.
    ease : float, optional
        Ease of the cap seam, mm; what the cloth takes without puckers when left out.
    edge : float
        Edge length of the mesh, mm.
    rounds : int
        Of correction.

    Returns
    -------
    laid : Laid
        Its filled shape is the bench's own mesh, with a card-backed wrist; the volume lies a
        percent or two inside, as chords of a coarse mesh do.
    miss : Miss
        What that shape misses of the arm that is wanted.

    Raises
    ------
    UnrollError
        When the layout cannot be laid flat.
    """
    backed = replace(cloth, ends="card")
    bench = bench_of(rounded, make, backed, darts, edge=edge, ease=ease)
    best = corrected_filled(bench, bench.plain(), rounds=rounds)[-1]
    sewn = bench.as_sewn(bench.laid(best.points), best.filled)
    fit = with_girths(fit_of(sewn, bench.arm), best.miss)
    seen = SewnTry(best.points, best.filled, best.problem, best.miss, sewn, fit)
    return as_laid(bench, seen, "corrected"), best.miss


def _left(shape: ArmShape) -> ArmShape:
    return replace(shape, measures=replace(shape.measures, side="left"))


def _how_near(miss: Miss) -> str:
    """Return how near a try comes, in a few words."""
    return (
        f"girths within {miss.worst_girth_percent:.1f} %, turned by {miss.swing_deg:.1f}°, "
        f"wrist within {miss.wrist_mm:.0f} mm, shoulder within {miss.cap_mean:.1f} mm"
    )
