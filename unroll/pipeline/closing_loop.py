"""Close the loop: correct the pieces until the arm that is sewn from them is the arm measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from unroll.correcting import (
    changes_in_words,
    changes_on_paper,
    shortfall,
    targets_for,
    verdicts,
)
from unroll.errors import UnrollError
from unroll.lofting import ArmShape, mesh_arm
from unroll.pipeline.correcting_rounds import Tell, corrected_filled, corrected_sewn
from unroll.pipeline.correction_bench import (
    Bench,
    SewnTry,
    Tried,
    bench_of,
    pieces_of,
    progress,
    round_of,
    rounded_shape,
)
from unroll.sewing import fill_rest_mesh, sew
from unroll.standing_off import stand_off
from unroll.types import ArmMesh, Cloth, DartLine, Make
from unroll.types.corrected import Closing, Round
from unroll.types.sewn import Sewn

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
    apart = stand_off(_as_filled(round_arm, bench.cloth), oval_arm)
    off = stand_off(sewn_after, round_arm)
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
        before=stand_off(sewn_before, round_arm),
        after=off,
        after_oval=stand_off(sewn_after, oval_arm),
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
