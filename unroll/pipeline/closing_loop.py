"""Close the loop: correct the pieces until the arm that is sewn from them is the arm measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from unroll.correcting import (
    Slopes,
    changes_in_words,
    halfway,
    improved,
    learnt,
    probes,
    slopes,
    targets_for,
    verdicts,
)
from unroll.errors import UnrollError
from unroll.lofting import ArmShape, mesh_arm
from unroll.pipeline.correction_bench import (
    Bench,
    Tried,
    bench_of,
    best_of,
    pieces_of,
    progress,
    rounded_shape,
)
from unroll.sewing import fill_rest_mesh, sew
from unroll.standing_off import stand_off
from unroll.types import ArmMesh, Cloth, DartLine, Make
from unroll.types.corrected import Closing, Correction, Miss, Round
from unroll.types.sewn import Sewn

Tell = Callable[[str], None]
Attempt = Callable[[Correction, Tried], Tried]
COARSE_EDGE_MM = 12.0
COARSE_ROUNDS, SEWN_ROUNDS = 5, 5
MOST_SHORTENINGS, SHORTER = 6, 0.95
WORTH_IT = 0.97  # a round that leaves more than this share of the cost is the last


def silent(_message: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Known:
    """What an earlier loop learnt, to start from.

    Attributes
    ----------
    correction : Correction
    slopes : Slopes
    """

    correction: Correction
    slopes: Slopes


def close_loop(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float = 8.0,
    spacing: float = 8.0,
    ease: float | None = None,
    known: Known | None = None,
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
        Edge length of the mesh that is laid flat, and of the one that is sewn, mm. With 12 and 12
        it takes half the time and misses the hang by half a degree more.
    ease : float, optional
        Ease of the cap seam, mm; what the cloth takes without puckers when left out.
    known : Known, optional
        What was learnt on a like layout; spares the probing.
    tell : callable, optional
        Is told the progress.

    Raises
    ------
    UnrollError
        When the layout cannot be laid flat at all.

    Notes
    -----
    The surface that is laid flat is changed by fifteen numbers until the filled shape matches:
    first on a coarse mesh that is filled without being cut, where each number's effect is probed
    once, then on pieces that are cut, meshed anew and sewn. The best round is kept; a step that
    folds anything, or does not help, is halved.
    """
    tell = tell or silent
    rounded = rounded_shape(shape.measures)
    tell("laying flat, sewing and filling")

    def bench(edge: float, darts: tuple[DartLine, ...]) -> Bench:
        return bench_of(rounded, make, cloth, darts, edge=edge, ease=ease)

    def attempt_filled(made: Bench) -> Tried:
        return made.filled(Correction())

    def attempt_sewn(made: Bench) -> Tried:
        return made.sewn(Correction(), None, spacing=spacing)

    coarse, first = _fitting(partial(bench, max(edge, COARSE_EDGE_MM)), darts, attempt_filled, tell)
    tries, known = correct_filled(coarse, known, tell, first=first)
    fine, plain = _fitting(partial(bench, edge), coarse.darts, attempt_sewn, tell)
    more = correct_sewn(fine, plain, known, spacing, tell)
    rounds = [coarse.round_of(t) for t in tries] + [fine.round_of(t) for t in (plain, *more)]
    return closing_of(shape, rounded, fine, (plain, best_of([plain, *more])), rounds, spacing)


def _fitting(
    make: Callable[[tuple[DartLine, ...]], Bench],
    darts: tuple[DartLine, ...],
    attempt: Callable[[Bench], Tried],
    tell: Tell,
) -> tuple[Bench, Tried]:
    """Return a bench and its first try; darts that fold on its mesh are shortened a little."""
    for _ in range(MOST_SHORTENINGS):
        try:
            bench = make(darts)
            return bench, attempt(bench)
        except UnrollError as error:
            folds = error
            tell("shortening the darts, which close before their points")
            darts = tuple(replace(dart, length=SHORTER * dart.length) for dart in darts)
    raise folds


def correct_filled(
    bench: Bench,
    known: Known | None,
    tell: Tell,
    *,
    rounds: int = COARSE_ROUNDS,
    first: Tried | None = None,
) -> tuple[list[Tried], Known]:
    """Correct on the bench's own mesh, filled without being cut.

    Parameters
    ----------
    known : Known or None
        What a like layout taught; it is probed here otherwise.
    first : Tried, optional
        The uncorrected try, where it is known.

    Returns
    -------
    list of Tried
        All tries in order.
    Known
        The best correction and the slopes learnt on the way.
    """
    first = first or bench.filled(Correction())
    if known is None:
        tell("seeing what each change does")
        probed = [_probed(bench, first, choices) for choices in probes(first.correction)]
        return _descend(bench.filled, [first], slopes(first.miss, probed), rounds, tell)
    tries = [first, *_approached(bench.filled, first, known.correction)]
    return _descend(bench.filled, tries, known.slopes, rounds, tell)


def _probed(
    bench: Bench, first: Tried, choices: Sequence[tuple[Correction, float]]
) -> tuple[Miss, float] | None:
    """Return the miss of the first choice that does not fold, and its step."""
    for correction, step in choices:
        try:
            return bench.filled(correction, first).miss, step
        except UnrollError:
            continue
    return None


def _approached(attempt: Attempt, plain: Tried, correction: Correction) -> list[Tried]:
    """Try a correction that a like layout taught, or as much of it as does not fold."""
    for _ in range(3):
        try:
            return [attempt(correction, plain)]
        except UnrollError:
            correction = halfway(plain.correction, correction)
    return []


def correct_sewn(
    bench: Bench,
    plain: Tried,
    known: Known,
    spacing: float,
    tell: Tell,
    *,
    rounds: int = SEWN_ROUNDS,
) -> list[Tried]:
    """Correct on pieces that are cut, meshed and sewn, from an earlier loop's correction."""

    def attempt(correction: Correction, near: Tried) -> Tried:
        return bench.sewn(correction, near, spacing=spacing)

    tries = _approached(attempt, plain, known.correction)
    return _descend(attempt, tries or [plain], known.slopes, rounds, tell)[0]


def _descend(
    attempt: Attempt, tries: list[Tried], known: Slopes, rounds: int, tell: Tell
) -> tuple[list[Tried], Known]:
    """Step from the best try while it helps; steps that fold or do not help are halved."""
    for _ in range(rounds):
        here = best_of(tries)
        wanted = improved(here.correction, here.miss, known)
        for _ in range(3):
            try:
                tried = attempt(wanted, here)
            except UnrollError:
                wanted = halfway(here.correction, wanted)
                continue
            tries.append(tried)
            known = learnt(known, (here.correction, here.miss), (tried.correction, tried.miss))
            if tried.cost < here.cost:
                break
            wanted = halfway(here.correction, wanted)
        best = best_of(tries)
        tell(progress(best.miss))
        if best.cost > WORTH_IT * here.cost:
            break
    return tries, Known(best_of(tries).correction, known)


def closing_of(
    shape: ArmShape,
    rounded: ArmShape,
    bench: Bench,
    tries: tuple[Tried, Tried],
    rounds: list[Round],
    spacing: float,
) -> Closing:
    """Return the loop's answer from the uncorrected and the best try."""
    measures, (plain, best) = shape.measures, tries
    before = pieces_of(plain.flattenings, measures, bench.make, source="unrolled")
    after = pieces_of(best.flattenings, measures, bench.make, source="corrected")
    sewn = [tried.sewn for tried in tries if tried.sewn is not None]
    if measures.side == "right":
        sewn[0] = sew(before, cloth=bench.cloth, spacing=spacing)
        sewn[1] = sew(after, cloth=bench.cloth, spacing=spacing, start=sewn[0])
    sewn_before, sewn_after = (
        replace(s, source=p[0].source) for s, p in zip(sewn, (before, after), strict=True)
    )
    side = replace(rounded, measures=replace(rounded.measures, side=measures.side))
    round_arm = mesh_arm(side, edge=bench.edge, inner_share=bench.make.inner_share)
    oval_arm = mesh_arm(shape, edge=bench.edge, inner_share=bench.make.inner_share)
    apart = stand_off(_as_filled(round_arm, bench.cloth), oval_arm)
    off, intakes = stand_off(sewn_after, round_arm), bench.intakes(best)
    reached, short = verdicts(off, intakes, targets_for(len(bench.darts)))
    return Closing(
        pieces=after,
        uncorrected=before,
        correction=best.correction,
        rounds=tuple(rounds),
        darts=bench.darts,
        ease=bench.ease,
        intakes=intakes,
        wanted=oval_arm,
        rounded=round_arm,
        sewn_before=sewn_before,
        sewn_after=sewn_after,
        before=stand_off(sewn_before, round_arm),
        after=off,
        after_oval=stand_off(sewn_after, oval_arm),
        round_mean=apart.cap_mean,
        round_p95=apart.cap_p95,
        reached=reached,
        missed=short,
        changes=changes_in_words(best.correction, intakes, ease=bench.ease),
    )


def _as_filled(arm: ArmMesh, cloth: Cloth) -> Sewn:
    """Return an arm as cloth that was never laid flat would fill to."""
    return fill_rest_mesh(arm, cloth=cloth)
