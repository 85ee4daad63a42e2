"""Close the loop: correct the pieces until the arm that is sewn from them is the arm measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.correct.bench import (
    Bench,
    SewnTry,
    Tried,
    bench_of,
    pieces_of,
    progress,
    round_of,
    rounded_shape,
)
from unroll.correct.flat_shapes import SeamSystem
from unroll.correct.verdicts import (
    Targets,
    changes_in_words,
    changes_on_paper,
    shares,
    shortfall,
    targets_for,
    verdicts,
)
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.membrane_response import Response
from unroll.nouns import ArmMesh, Cloth, DartLine, Make, Sewn
from unroll.nouns.corrected import Closing, Round
from unroll.sewn.fitting import fit_of
from unroll.sewn.rest_meshes import fill_rest_mesh
from unroll.sewn.sewing import sew

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


ROUNDS = 6
MOST_SHORTENINGS, SHORTER = 6, 0.95


def silent(_message: str) -> None:
    """Say nothing."""


def close_loop(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float = 10.0,
    spacing: float = 8.0,
    ease: float | None = None,
    tell: Tell | None = None,
) -> Closing:
    """Return corrected pieces, and what they were and are once sewn and filled.

    Parameters
    ----------
    shape : ArmShape
        The measured arm.
    darts : tuple of DartLine
        The dart layout, front to back; see `search_layouts`.
    edge, spacing : float
        Edge length of the mesh that is laid flat and corrected, and of the one that is sewn, mm.
    ease : float, optional
        Ease of the cap seam, mm; what the cloth takes without puckers when left out.
    tell : callable, optional
        Is told the progress.

    Raises
    ------
    UnrollError
        When the layout cannot be laid flat at all.

    Notes
    -----
    The points of the flat pieces are moved, the seams kept edge by edge, until the filled shape
    matches: what each reading of the filled arm gains by each point is known from the balance of
    the cloth (one solution of its stiffness a reading), so a round is one system of equations and
    one filling. Then the pieces are cut, meshed anew and sewn, and what they still miss is taken
    into account. The best sewn pieces are kept; a step that folds a piece, or does not help, is
    shortened.
    """
    tell = tell or silent
    rounded = rounded_shape(shape.measures)
    tell("laying flat, sewing and filling")
    bench, first, plain = _fitting(
        lambda lines: bench_of(rounded, make, cloth, lines, edge=edge, ease=ease),
        darts,
        spacing,
        tell,
    )
    targets = targets_for(len(bench.darts))
    tries = corrected_filled(bench, first, rounds=ROUNDS)
    tell(progress(tries[-1].miss))
    tell("sewing the corrected pieces")
    sewn = corrected_sewn(bench, tries, spacing=spacing, targets=targets, tell=tell)
    best = min((plain, *sewn), key=lambda tried: shortfall(tried.off, targets))
    tell(progress(best.miss))
    rounds = tuple(round_of(bench, tried, targets) for tried in (*tries, plain, *sewn))
    return closing_of(shape, rounded, bench, (plain, best), rounds, spacing)


def _fitting(
    make: Callable[[tuple[DartLine, ...]], Bench],
    darts: tuple[DartLine, ...],
    spacing: float,
    tell: Tell,
) -> tuple[Bench, Tried, SewnTry]:
    """Return a bench, its pieces filled and sewn; darts that fold are shortened a little."""
    for _ in range(MOST_SHORTENINGS):
        try:
            bench = make(darts)
            first = bench.plain()
            return bench, first, bench.sewn(first, spacing=spacing)
        except UnrollError as error:
            folds = error
            tell("shortening the darts, which close before their points")
            darts = tuple(replace(dart, length=SHORTER * dart.length) for dart in darts)
    raise folds


def closing_of(
    shape: ArmShape,
    rounded: ArmShape,
    bench: Bench,
    tries: tuple[SewnTry, SewnTry],
    rounds: tuple[Round, ...],
    spacing: float,
) -> Closing:
    """Return the loop's answer from the uncorrected and the best try."""
    measures, (plain, best) = shape.measures, tries
    laid, corrected = bench.laid(plain.points), bench.laid(best.points)
    before = pieces_of(laid, measures, bench.make, source="unrolled")
    after = pieces_of(corrected, measures, bench.make, source="corrected")
    sewn = [plain.sewn, best.sewn]
    if measures.side == "right":
        sewn[0] = sew(before, cloth=bench.cloth, spacing=spacing)
        sewn[1] = sew(after, cloth=bench.cloth, spacing=spacing, start=sewn[0])
    sewn_before, sewn_after = (
        replace(s, source=p[0].source) for s, p in zip(sewn, (before, after), strict=True)
    )
    side = replace(rounded, measures=replace(rounded.measures, side=measures.side))
    round_arm = mesh_arm(side, edge=bench.edge, inner_share=bench.make.inner_share)
    oval_arm = mesh_arm(shape, edge=bench.edge, inner_share=bench.make.inner_share)
    apart = fit_of(_as_filled(round_arm, bench.cloth), oval_arm)
    off = fit_of(sewn_after, round_arm)
    asked, intakes = bench.intakes(plain.points), bench.intakes(best.points)
    on_paper = changes_on_paper(laid, corrected, (asked, intakes))
    reached, short = verdicts(off, intakes, targets_for(len(bench.darts)))
    return Closing(
        pieces=after,
        uncorrected=before,
        flattenings=corrected,
        rounds=rounds,
        darts=bench.darts,
        ease=bench.ease,
        intakes=intakes,
        wanted=oval_arm,
        rounded=round_arm,
        sewn_before=sewn_before,
        sewn_after=sewn_after,
        before=fit_of(sewn_before, round_arm),
        after=off,
        after_oval=fit_of(sewn_after, oval_arm),
        round_mean=apart.cap_mean,
        round_p95=apart.cap_p95,
        reached=reached,
        missed=short,
        on_paper=on_paper,
        changes=changes_in_words(on_paper, intakes, ease=bench.ease),
    )


def _as_filled(arm: ArmMesh, cloth: Cloth) -> Sewn:
    """Return an arm as cloth that was never laid flat would fill to."""
    return fill_rest_mesh(arm, cloth=cloth)
