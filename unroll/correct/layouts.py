"""Choose the dart layout by what its corrected and filled shape says: coarse, then fine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.arms.lofting import ArmShape
from unroll.correct.bench import (
    Bench,
    Tried,
    bench_of,
    carried,
    path_length,
    rounded_shape,
    usual_ease,
)
from unroll.correct.loop import Tell, close_loop, corrected_filled, silent
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import Cloth, DartChoice, DartLine, Make
from unroll.nouns.corrected import Closing, Intake, LayoutLimits, LayoutTrial

SEARCH_EDGE_MM = 13.0
SEARCH_ROUNDS = 3
# Mouths as shares of the cap edge from the shoulder to its end, lengths as shares of the cap's.
COARSE = {
    2: ((0.36, 0.8), (0.46, 0.72)),
    3: ((0.46, 0.82), (0.58, 0.76)),
    4: ((0.54, 0.84), (0.66, 0.76)),
}
OUTER_SEAM_LENGTH = 1.6
FINE_STEPS = {"length": 0.08, "spread": 0.07, "side": 0.12, "ease": 0.4}
SHORTER = (1.0, 0.85, 0.7)  # where darts close before their points
MOST_REFINED = 2  # numbers of darts
MOST_OFFERED = 3
GOOD_MEAN_MM, GOOD_P95_MM = 1.2, 3.0  # on the search's mesh, which flatters a little
OUTER_SEAM = "outer seam"
MARGIN = 0.95  # share of a limit that the search keeps to
FAULT_HELP = "another dart, or leaving the darts to the search, would help"


@dataclass(frozen=True)
class Plan:
    """A layout in shares of the cap.

    Attributes
    ----------
    count : int
    spread : float
        Mouth of the outermost dart, share of the cap edge from the shoulder to its end.
    length : float
        Of the longest dart, share of the cap's.
    side : float
        Of three or more darts, the outermost's length as a share of the longest: the fullest place
        lies nearer to it.
    lean : float
        How far the dart points draw in, as in a dart line.
    ease : float
        Of the cap seam, as a multiple of what the cloth takes without puckers.
    """

    count: int
    spread: float
    length: float
    side: float = 0.8
    lean: float = 0.75
    ease: float = 1.0

    @property
    def name(self) -> str:
        """Words for it."""
        if self.count == 1 and self.length > 1.2:
            return OUTER_SEAM
        return "no dart" if self.count == 0 else f"{self.count} dart{'s' * (self.count > 1)}"


def search_layouts(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    *,
    limits: LayoutLimits | None = None,
    tell: Tell | None = None,
) -> tuple[LayoutTrial, ...]:
    """Return the dart layouts that were tried, the offered ones first, the proposed one foremost.

    Parameters
    ----------
    shape : ArmShape
        The measured arm.
    make : Make
        The sheet may fix the number of darts, and place and length of each.
    limits : LayoutLimits, optional
        What can be sewn; as the sheet says it where left out.

    Raises
    ------
    UnrollError
        When no layout can be laid flat.

    Notes
    -----
    Every layout is laid flat, corrected for a few rounds on a coarse mesh and filled, so that what
    is compared is what its corrected pieces come to.
    """
    search = _Search(shape, make, cloth, limits or limits_of(make), tell or silent)
    best = search.best_of_counts()
    if not best:
        raise UnrollError(
            "no dart layout can be laid flat on this cap; expected one that can "
            "(are the cap's arcs far longer than its armhole?)"
        )
    offered = _offered(best)
    rest = [t for t in search.trials if not any(t.darts == o.darts for o in offered)]
    return (*offered, *rest)


def close_best(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    *,
    edge: float = 10.0,
    spacing: float = 8.0,
    limits: LayoutLimits | None = None,
    tell: Tell | None = None,
) -> Closing:
    """Search the layouts and close the loop with the proposed one; see `close_loop`.

    What the corrected pieces ask of the maker beyond her limits stands among what is missed.
    """
    limits = limits or limits_of(make)
    layouts = search_layouts(shape, make, cloth, limits=limits, tell=tell)
    best = layouts[0]
    closing = close_loop(
        shape,
        make,
        cloth,
        best.darts,
        edge=edge,
        spacing=spacing,
        ease=best.asked_ease,
        tell=tell,
    )
    offered = tuple(t for t in layouts if t.offered)
    faults = faults_of(closing.darts, closing.intakes, limits)
    missed = (*closing.missed, *(f"{fault}: {FAULT_HELP}" for fault in faults))
    return replace(closing, layouts=offered, missed=missed)


def limits_of(make: Make) -> LayoutLimits:
    """Return what the maker can sew, as her sheet says it.

    Examples
    --------
    >>> limits_of(Make(widest_dart=80.0)).intake
    80.0
    """
    return LayoutLimits(
        intake=make.widest_dart,
        tongue=make.narrowest_tongue,
        point_deg=make.widest_point_deg,
        most_darts=make.most_darts,
    )


def excess_of(
    darts: Sequence[DartLine], intakes: Sequence[Intake], limits: LayoutLimits
) -> float:
    """Return by how much a layout is beyond what can be sewn, mm and degrees added up.

    A little is kept free below the limits, since the last corrections move a mouth by some mm.
    """
    widths = [i.width - MARGIN * limits.intake for i in intakes if not i.is_seam]
    angles = [i.point_deg - MARGIN * limits.point_deg for i in intakes]
    places = np.sort([dart.at for dart in darts])
    tongues = limits.tongue - np.diff(places)
    return float(sum(max(0.0, over) for over in (*widths, *angles, *tongues)))


def faults_of(
    darts: Sequence[DartLine], intakes: Sequence[Intake], limits: LayoutLimits
) -> tuple[str, ...]:
    """Return why a layout cannot be sewn, one plain line each."""
    out = []
    for intake in intakes:
        if intake.width > limits.intake and not intake.is_seam:
            out.append(f"{intake.name} takes in {intake.width:.0f} mm; at most {limits.intake:.0f}")
        if intake.point_deg > limits.point_deg:
            out.append(
                f"{intake.name} comes to a point of {intake.point_deg:.0f}°; "
                f"at most {limits.point_deg:.0f}°"
            )
    places = sorted(dart.at for dart in darts)
    for one, other in zip(places[:-1], places[1:], strict=True):
        if other - one < limits.tongue:
            out.append(
                f"two darts lie {other - one:.0f} mm apart; expected {limits.tongue:.0f} between"
            )
    return tuple(out)


class _Search:
    """The layouts tried so far on one arm."""

    def __init__(
        self, shape: ArmShape, make: Make, cloth: Cloth, limits: LayoutLimits, tell: Tell
    ) -> None:
        self.make, self.cloth, self.limits, self.tell = make, cloth, limits, tell
        self.rounded = rounded_shape(shape.measures)
        bare = bench_of(self.rounded, make, cloth, (), edge=SEARCH_EDGE_MM)
        self.edge_length = 0.5 * path_length(bare.arm, "cap seam")
        self.ease = usual_ease(cloth, bare.arm)
        self.cap_length = self.rounded.surface.cap_length
        self.trials: list[LayoutTrial] = []
        self.near: tuple[FloatArray, FloatArray] | None = None

    def counts(self) -> tuple[int, ...]:
        """Return the numbers of darts to look at, -1 being the outer seam."""
        if self.make.cap != "darts":
            return (0,)
        fixed = len(self.make.darts) or self.make.dart_count
        if fixed is not None:
            return (fixed,)
        return (*range(2, self.limits.most_darts + 1), *((-1,) if self.limits.outer_seam else ()))

    def best_of_counts(self) -> list[LayoutTrial]:
        """Return the best layout of each number of darts that can be laid flat."""
        best: dict[int, tuple[Plan, LayoutTrial]] = {}
        for count in self.counts():
            found: list[tuple[Plan, LayoutTrial]] = []
            for share in SHORTER:
                plans = [_shortened(plan, share) for plan in self._coarse_plans(count)]
                found += [t for t in map(self.trial, plans) if t is not None]
                if found:
                    break
            if found:
                best[count] = min(found, key=lambda pair: _rank(pair[1]))
        for count in sorted(best, key=lambda c: _rank(best[c][1]))[:MOST_REFINED]:
            if count > 1:
                best[count] = self._refined(*best[count])
        return [trial for _, trial in best.values()]

    def _refined(self, plan: Plan, best: LayoutTrial) -> tuple[Plan, LayoutTrial]:
        """Return the best layout met on a walk from a coarse one, a number at a time."""
        for name, step in FINE_STEPS.items():
            if name == "side" and plan.count < 3:
                continue
            for sign in (1.0, -1.0):
                moved = replace(plan, **{name: getattr(plan, name) + sign * step})
                tried = self.trial(moved)
                if tried is not None and _rank(tried[1]) < _rank(best):
                    plan, best = tried
                    break
        return plan, best

    def trial(self, plan: Plan) -> tuple[Plan, LayoutTrial] | None:
        """Lay a plan flat, correct it and fill it; None where it folds or does not fit the cap."""
        darts = self.darts_of(plan)
        ease = self.make.cap_ease if self.make.cap == "ease" else plan.ease * self.ease
        try:
            bench = bench_of(
                self.rounded, self.make, self.cloth, darts, edge=SEARCH_EDGE_MM, ease=ease
            )
            tried = self._corrected(bench)
        except UnrollError:
            return None
        trial = _trial(plan.name, bench, tried, ease, self.limits)
        self.trials.append(trial)
        self.tell(f"{plan.name}: shoulder within {trial.miss.cap_mean:.1f} mm")
        return plan, trial

    def darts_of(self, plan: Plan) -> tuple[DartLine, ...]:
        """Return the darts of a plan, front to back, with what the sheet fixes."""
        places = np.linspace(1.0, -1.0, plan.count) if plan.count > 1 else np.zeros(plan.count)
        out = []
        choices = [*self.make.darts, *[DartChoice()] * plan.count]
        for place, choice in zip(places, choices, strict=False):
            middle = 1.0 - (1.0 - plan.side) * abs(place) if plan.count > 2 else 1.0
            at = float(place) * plan.spread * self.edge_length
            length = plan.length * middle * self.cap_length
            out.append(
                DartLine(
                    at if choice.at is None else choice.at,
                    length if choice.length is None else choice.length,
                    plan.lean,
                )
            )
        return tuple(out)

    def _coarse_plans(self, count: int) -> list[Plan]:
        if count == -1:
            return [Plan(1, 0.0, OUTER_SEAM_LENGTH)]
        if count == 0:
            return [Plan(0, 0.0, 0.0)]
        if count == 1:
            return [Plan(1, 0.0, length) for length in (0.84, 0.7)]
        return [Plan(count, spread, length) for spread, length in COARSE[min(count, 4)]]

    def _corrected(self, bench: Bench) -> Tried:
        """Correct a layout, filling it from the shape that another one took."""
        start = None
        if self.near is not None:
            start = carried(*self.near, bench.arm.mesh.vertices)
        first = bench.plain(start)
        if self.near is None:
            self.near = bench.arm.mesh.vertices, first.filled
        return corrected_filled(bench, first, rounds=SEARCH_ROUNDS)[-1]


def _shortened(plan: Plan, share: float) -> Plan:
    return replace(plan, length=share * plan.length, side=share * plan.side)


def _rank(trial: LayoutTrial) -> tuple[float, float]:
    return trial.excess, trial.score


def _trial(
    name: str, bench: Bench, tried: Tried, asked_ease: float, limits: LayoutLimits
) -> LayoutTrial:
    intakes = bench.intakes(tried.points)
    trial = LayoutTrial(
        name,
        bench.darts,
        asked_ease,
        bench.ease,
        intakes,
        tried.miss,
        faults=faults_of(bench.darts, intakes, limits),
        excess=excess_of(bench.darts, intakes, limits),
    )
    return replace(trial, text=_words(trial))


def _words(trial: LayoutTrial) -> str:
    widths = ", ".join(f"{intake.width:.0f}" for intake in trial.intakes)
    takes = f", taking in {widths} mm" if widths else ""
    return (
        f"{trial.name}{takes}: the shoulder comes within {trial.miss.cap_mean:.1f} mm on average, "
        f"{trial.miss.cap_p95:.1f} mm nearly everywhere"
    )


def _offered(trials: list[LayoutTrial]) -> list[LayoutTrial]:
    """Return two or three layouts to choose from, the proposed one first.

    The one that comes nearest, and those with less to sew; where there is none, the next nearest.
    """
    sound = [t for t in trials if not t.excess] or [min(trials, key=_rank)]
    near = sorted(sound, key=lambda t: t.score)
    easier = sorted((t for t in near[1:] if _sewing(t) < _sewing(near[0])), key=lambda t: t.score)
    kept = [near[0], *easier[: MOST_OFFERED - 1]]
    kept += [t for t in near if t not in kept][: 2 - len(kept)] if len(kept) < 2 else []
    good = sorted((t for t in kept if _is_good(t)), key=_sewing)
    chosen = good[0] if good else kept[0]
    marked = [replace(t, offered=True, chosen=t is chosen) for t in kept]
    return sorted(marked, key=lambda t: not t.chosen)


def _sewing(trial: LayoutTrial) -> float:
    """Return how much there is to sew, in darts; a long seam counts as two and a half."""
    return 2.5 if trial.name == OUTER_SEAM else float(len(trial.darts))


def _is_good(trial: LayoutTrial) -> bool:
    return (
        not trial.excess
        and trial.miss.cap_mean <= GOOD_MEAN_MM
        and trial.miss.cap_p95 <= GOOD_P95_MM
    )
