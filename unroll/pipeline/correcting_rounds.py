"""Rounds of correction: change the flat pieces, fill them, keep what helps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from unroll.correcting import SeamSystem, Targets, shares
from unroll.errors import UnrollError
from unroll.geometry.membrane_response import Response
from unroll.pipeline.correction_bench import Bench, SewnTry, Tried
from unroll.types import FloatArray

Tell = Callable[[str], None]
FARTHEST_MM = 15.0  # most that a flat point moves in the first round
LEAST_MM = 0.3  # a round that may move points by less than this is not worth filling
LEAST_GAIN = 0.05  # of what the slopes promise; a step that gains less is taken back
GOOD_GAIN, POOR_GAIN = 0.6, 0.3
WORTH_IT = 0.85  # a round that leaves more than this share of the squared misses is the last
SEWN_ROUNDS, AFTER_SEWING_ROUNDS = 4, 3
GOOD_SHARE = 0.75  # of every limit: near enough not to sew again


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
        if left > WORTH_IT:
            break
    return tries


def _standpoint(
    bench: Bench, tried: Tried, aside: FloatArray | None, farthest: float
) -> Standpoint:
    return Standpoint(tried, bench.wanted(tried, aside), farthest)


def _round(bench: Bench, here: Standpoint, aside: FloatArray | None) -> Standpoint | None:
    """Return a better place, or None where there is none within reach."""
    response = bench.response(here.tried)
    seams = bench.seams(here.tried.points)
    reach = bench.reach(seams, response)
    farthest = here.farthest
    while farthest > LEAST_MM:
        change, promised = reach.change(here.wanted, farthest=farthest)
        moved = float(np.abs(change).max())
        tried = _tried(bench, here.tried, seams, response, change)
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
    """Return the pieces after a change, filled; None where they fold."""
    points = seams.kept(here.points + change)
    try:
        return bench.filled(points, here.filled + response.moved(points - here.points))
    except UnrollError:
        return None


def corrected_sewn(
    bench: Bench, tries: Sequence[Tried], *, spacing: float, targets: Targets, tell: Tell
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
        if max(shares(last.off, targets)) < GOOD_SHARE:
            break
        aside = bench.readings.overall(model.miss, last.miss)
        found = corrected_filled(bench, model, rounds=AFTER_SEWING_ROUNDS, aside=aside)
        if len(found) == 1:
            break
        model = found[-1]
        tell("sewing the corrected pieces again")
        try:
            last = bench.sewn(model, spacing=spacing)
        except UnrollError:
            break
        sewn.append(last)
        kept, before = (max(shares(tried.off, targets)) for tried in (last, sewn[-2]))
        if kept < 1.0 and kept > WORTH_IT * before:
            break
    return sewn


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
