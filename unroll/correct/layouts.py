"""Choose the dart layout by what its corrected and filled shape will be: coarse, then fine."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.correct.bench import bench_of
from unroll.correct.laying import path_length, usual_ease
from unroll.correct.loop import FARTHEST_MM, Tell, silent
from unroll.correct.rulers import missed
from unroll.errors import UnrollError
from unroll.nouns import Cloth, DartChoice, DartLine, Intake, LayoutTrial, Make
from unroll.nouns.corrected import LayoutLimits
from unroll.units import Unit, format_small

# Runs a function on each item, here or on other cores; answers come in the items' order.
Each = Callable[[Callable[..., Any], Iterable[Any]], Iterable[Any]]

SEARCH_EDGE_MM = 15.0
FORETOLD_RESERVE = 0.5  # dearer than in a round: a first step that goes far promises too much
# Mouths as shares of the cap edge from the shoulder to its end, lengths as shares of the cap's.
COARSE = {
    2: ((0.36, 0.8), (0.46, 0.72)),
    3: ((0.46, 0.82), (0.58, 0.76)),
    4: ((0.54, 0.84), (0.66, 0.76)),
}
OUTER_SEAM_LENGTH = 1.6
FIRST_LOOK = 2  # plans
FINE_STEPS = {"length": 0.08, "spread": 0.07, "side": 0.12, "ease": 0.3}
SHORTER = (1.0, 0.85, 0.7)  # where darts close before their points
MOST_REFINED = 2  # numbers of darts
MOST_OFFERED = 3
# What the slopes foretell is a little more than what correction then leaves.
GOOD_MEAN_MM, GOOD_P95_MM = 1.3, 3.3
OUTER_SEAM = "outer seam"
MARGIN = 0.95  # share of a limit that the search keeps to
OVER_MM, OVER_DEG = 0.5, 0.5  # less than that is not printed, so it is not told either


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


@dataclass(frozen=True, eq=False)
class Ground:
    """What every trial of a search starts from.

    Attributes
    ----------
    rounded : ArmShape
        The left arm with round sections.
    make : Make
    cloth : Cloth
    limits : LayoutLimits
    edge_length : float
        Of the cap seam from the shoulder to its end, mm.
    ease : float
        What the cloth takes into the cap seam without puckers, mm.
    """

    rounded: ArmShape
    make: Make
    cloth: Cloth
    limits: LayoutLimits
    edge_length: float
    ease: float


def layout_steps(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    *,
    limits: LayoutLimits | None = None,
    each: Each = map,
    tell: Tell = silent,
) -> Iterator[tuple[LayoutTrial, ...]]:
    """Yield the dart layouts after a first look, after the coarse search and after the fine one.

    Each time those to choose from come first, the proposed one foremost, then the others. Whoever
    is in a hurry stops earlier; nobody takes a layout by another rule.

    Parameters
    ----------
    shape : ArmShape
        The measured arm.
    make : Make
        The sheet may fix the number of darts, and place and length of each.
    limits : LayoutLimits, optional
        What can be sewn; as the sheet says it where left out.
    each : callable
        Runs trials, which do not know of each other: `map`, or the like on other cores.

    Raises
    ------
    UnrollError
        When no layout can be laid flat, not even without darts.

    Notes
    -----
    Every layout is laid flat and filled on a coarse mesh. How the filled shape answers a change of
    the flat points says, to first order, what correcting them will reach; layouts are compared by
    that. Over twelve layouts of the demo this foretold the order of the corrected ones with a
    correlation of about 0.9, at a third of the work.
    """
    ground = _ground(shape.rounded, make, cloth, limits or limits_of(make))
    trials: list[tuple[Plan, LayoutTrial]] = []
    plans = _plans(ground)
    _try_lengths(ground, plans[:FIRST_LOOK], each, tell, trials)
    yield _in_order(trials)
    _try_lengths(ground, plans[FIRST_LOOK:], each, tell, trials)
    yield _in_order(trials)
    _refine(ground, _worth_refining(trials), each, tell, trials)
    yield _in_order(trials)


def preferred(trials: Sequence[LayoutTrial], place: int) -> tuple[LayoutTrial, ...]:
    """Return the layouts with one of them proposed, those before it left out: they folded."""
    taken = replace(trials[place], offered=True, chosen=True)
    return (taken, *(replace(trial, chosen=False) for trial in trials[place + 1:]))


def untried_layout(
    rounded: ArmShape, make: Make, cloth: Cloth
) -> tuple[tuple[DartLine, ...], float | None]:
    """Return the darts that a search would begin with, and the ease of the cap seam, mm.

    None leaves the ease to the cloth. Nothing is laid flat: to be shown while a search goes on.
    """
    ground = _ground(rounded, make, cloth, limits_of(make))
    return _darts_of(ground, _plans(ground)[0]), make.cap_ease if make.cap == "ease" else None


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
    darts: Sequence[DartLine], intakes: Sequence[Intake], limits: LayoutLimits, unit: Unit = "mm"
) -> tuple[str, ...]:
    """Return why a layout cannot be sewn, one plain line each."""
    out = []
    for intake in intakes:
        if intake.width > limits.intake + OVER_MM and not intake.is_seam:
            over = format_small(intake.width - limits.intake, unit)
            out.append(
                f"{intake.name} takes in {format_small(intake.width, unit)}, {over} more than "
                "one dart may"
            )
        if intake.point_deg > limits.point_deg + OVER_DEG:
            out.append(
                f"{intake.name} comes to a point of {intake.point_deg:.0f}°; "
                f"at most {limits.point_deg:.0f}°"
            )
    places = sorted(dart.at for dart in darts)
    for one, other in zip(places[:-1], places[1:], strict=True):
        if other - one < limits.tongue - OVER_MM:
            out.append(
                f"two darts lie {format_small(other - one, unit)} apart; expected "
                f"{format_small(limits.tongue, unit)} between"
            )
    return tuple(out)


def fault_help(make: Make) -> str:
    """Return what would bring darts within what can be sewn.

    Examples
    --------
    >>> fault_help(Make())
    'one dart more (most_darts), or darts that may take in more, would help'
    >>> fault_help(Make(dart_count=1))
    'another dart, or leaving the darts to the search, would help'
    """
    if make.darts or make.dart_count is not None:
        return "another dart, or leaving the darts to the search, would help"
    return "one dart more (most_darts), or darts that may take in more, would help"


def trial_of(ground: Ground, plan: Plan) -> LayoutTrial | None:
    """Lay a plan flat, fill it and foretell its correction; None where it folds or does not fit."""
    make, ease = ground.make, plan.ease * ground.ease
    most = 0.01 * MARGIN * ground.cloth.eases_percent[1] * 2.0 * ground.edge_length
    try:
        bench = bench_of(
            ground.rounded, make, ground.cloth, _darts_of(ground, plan), edge=SEARCH_EDGE_MM,
            ease=make.cap_ease if make.cap == "ease" else min(ease, most),
        )  # fmt: skip
        first = bench.plain()
        response = bench.response(first)
        reach = bench.reach(first, bench.seams(first.points), response)
    except UnrollError:
        return None
    wanted = bench.wanted(first)
    change, _ = reach.change(wanted, farthest=FARTHEST_MM, reserve=FORETOLD_RESERVE)
    intakes = bench.intakes(first.points + change)
    return LayoutTrial(
        name=plan.name,
        darts=bench.darts,
        ease=bench.ease,
        intakes=intakes,
        miss=missed(bench.readings.ruler, first.filled + response.moved(change)),
        faults=faults_of(bench.darts, intakes, ground.limits),
        excess=excess_of(bench.darts, intakes, ground.limits),
    )


def _ground(rounded: ArmShape, make: Make, cloth: Cloth, limits: LayoutLimits) -> Ground:
    arm = mesh_arm(rounded, edge=SEARCH_EDGE_MM, inner_share=make.inner_share)
    half = 0.5 * path_length(arm, "cap seam")
    return Ground(rounded, make, cloth, limits, half, usual_ease(cloth, arm))


def _plans(ground: Ground) -> list[Plan]:
    """Return the coarse plans: of the number that the sheet asks for, else of every number."""
    make, limits = ground.make, ground.limits
    if make.cap != "darts":
        return [Plan(0, 0.0, 0.0)]
    fixed = len(make.darts) or make.dart_count
    if fixed is not None:
        return _coarse(fixed)
    counts = range(2, limits.most_darts + 1)
    outer = [Plan(1, 0.0, OUTER_SEAM_LENGTH)] if limits.outer_seam else []
    return [plan for count in counts for plan in _coarse(count)] + outer


def _coarse(count: int) -> list[Plan]:
    if count == 0:
        return [Plan(0, 0.0, 0.0)]
    if count == 1:
        return [Plan(1, 0.0, length) for length in (0.84, 0.7)]
    return [Plan(count, spread, length) for spread, length in COARSE[min(count, 4)]]


def _try_lengths(
    ground: Ground,
    plans: Sequence[Plan],
    each: Each,
    tell: Tell,
    trials: list[tuple[Plan, LayoutTrial]],
) -> None:
    """Try plans, and shorter ones where none of a number holds.

    Where none holds at all the cap is left without darts: there is always a layout.
    """
    for share in SHORTER:
        counts = {plan.count for plan, _ in trials}
        left = [_shortened(plan, share) for plan in plans if plan.count not in counts]
        _try(ground, left, each, tell, trials)
    if not trials and any(plan.count for plan in plans):
        _try(ground, [Plan(0, 0.0, 0.0)], each, tell, trials)
    if not trials:
        raise UnrollError(
            "no dart layout can be laid flat on this cap, not even without darts; expected one "
            "that can (are the cap's arcs far longer than its armhole?)"
        )


def _try(
    ground: Ground,
    plans: Sequence[Plan],
    each: Each,
    tell: Tell,
    trials: list[tuple[Plan, LayoutTrial]],
) -> list[LayoutTrial | None]:
    """Add each plan's trial to those before, and return them; None where it folds."""
    found = list(each(_one_trial, [(ground, plan) for plan in plans]))
    for plan, trial in zip(plans, found, strict=True):
        if trial is not None:
            trials.append((plan, trial))
            tell(f"{plan.name}: the shoulder within {trial.miss.cap_mean:.1f} mm")
    return found


def _one_trial(both: tuple[Ground, Plan]) -> LayoutTrial | None:
    return trial_of(*both)


def _worth_refining(
    trials: Sequence[tuple[Plan, LayoutTrial]],
) -> list[tuple[Plan, LayoutTrial]]:
    """Return the plans of different numbers of darts that a walk may better.

    The proposed one and those with less to sew where it is good, else the best few.
    """
    proposed = _in_order(trials)[0]
    best = sorted(_best_of_counts(trials).values(), key=lambda pair: _rank(pair[1]))
    if _is_good(proposed):
        # and what is less to sew: it may be good as well once it is refined
        easier = _sewing(proposed)
        best = [p for p in best if p[1].darts == proposed.darts or _sewing(p[1]) < easier]
    return [pair for pair in best[:MOST_REFINED] if pair[0].count > 1]


def _refine(
    ground: Ground,
    walks: Sequence[tuple[Plan, LayoutTrial]],
    each: Each,
    tell: Tell,
    trials: list[tuple[Plan, LayoutTrial]],
) -> None:
    """Walk from coarse plans, a number at a time; all of them and both ways side by side."""
    best = list(walks)
    for name, step in FINE_STEPS.items():
        moves = [
            (walk, replace(plan, **{name: getattr(plan, name) + sign * step}))
            for walk, (plan, _) in enumerate(best)
            if not (name == "side" and plan.count < 3)
            and not (name == "ease" and ground.make.cap == "ease")
            for sign in (1.0, -1.0)
        ]
        found = _try(ground, [plan for _, plan in moves], each, tell, trials)
        for (walk, plan), trial in zip(moves, found, strict=True):
            if trial is not None and _rank(trial) < _rank(best[walk][1]):
                best[walk] = plan, trial


def _darts_of(ground: Ground, plan: Plan) -> tuple[DartLine, ...]:
    """Return the darts of a plan, front to back, with what the sheet fixes."""
    places = np.linspace(1.0, -1.0, plan.count) if plan.count > 1 else np.zeros(plan.count)
    out = []
    choices = [*ground.make.darts, *[DartChoice()] * plan.count]
    for place, choice in zip(places, choices, strict=False):
        middle = 1.0 - (1.0 - plan.side) * abs(place) if plan.count > 2 else 1.0
        at = float(place) * plan.spread * ground.edge_length
        length = plan.length * middle * ground.rounded.surface.cap_length
        out.append(
            DartLine(
                at if choice.at is None else choice.at,
                length if choice.length is None else choice.length,
                plan.lean,
            )
        )
    return tuple(out)


def _shortened(plan: Plan, share: float) -> Plan:
    return replace(plan, length=share * plan.length, side=share * plan.side)


def _rank(trial: LayoutTrial) -> tuple[float, float]:
    # what differs in the last bits only is alike: the order is the same on every processor
    return round(trial.excess, 6), round(trial.score, 6)


def _best_of_counts(
    trials: Sequence[tuple[Plan, LayoutTrial]],
) -> dict[int, tuple[Plan, LayoutTrial]]:
    best: dict[int, tuple[Plan, LayoutTrial]] = {}
    for plan, trial in trials:
        if plan.count not in best or _rank(trial) < _rank(best[plan.count][1]):
            best[plan.count] = plan, trial
    return best


def _in_order(trials: Sequence[tuple[Plan, LayoutTrial]]) -> tuple[LayoutTrial, ...]:
    """Return the layouts to choose from, the proposed one first, then all others."""
    offered = _offered([trial for _, trial in _best_of_counts(trials).values()])
    darts = [trial.darts for trial in offered]
    others = [trial for _, trial in trials if trial.darts not in darts]
    return (*offered, *sorted(others, key=_rank))


def _offered(trials: list[LayoutTrial]) -> list[LayoutTrial]:
    """Return two or three layouts to choose from, the proposed one first.

    The one that comes nearest, and those with less to sew; where there is none, the next nearest.
    """
    sound = [t for t in trials if not t.excess] or [min(trials, key=_rank)]
    near = sorted(sound, key=_rank)
    easier = sorted((t for t in near[1:] if _sewing(t) < _sewing(near[0])), key=_rank)
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
