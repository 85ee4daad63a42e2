"""Choose the dart layout by what its corrected and filled shape will be: coarse, then fine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.correct.laying import path_length, usual_ease
from unroll.correct.layout_trials import (
    OUTER_SEAM,
    FilledArm,
    Ground,
    Outcome,
    Plan,
    darts_of,
    limits_of,
    outcome_of,
    search_edge,
)
from unroll.correct.on_bench import Tell, silent
from unroll.errors import UnrollError
from unroll.flat.cutting import cut_panel
from unroll.flat.flattening import flatten
from unroll.nouns import Cloth, DartLine, LayoutTrial, Make
from unroll.nouns.corrected import LayoutLimits
from unroll.nouns.fit import FIGURES
from unroll.workers import Each

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
    ground = _with_inner_flat(_ground(shape.rounded, make, cloth, limits or limits_of(make)))
    tried: list[Outcome] = []
    plans = _plans(ground)
    _try_lengths(ground, plans[:FIRST_LOOK], each, tell, tried)
    yield _in_order(tried)
    _try_lengths(ground, plans[FIRST_LOOK:], each, tell, tried)
    yield _in_order(tried)
    _refine(ground, _worth_refining(tried), each, tell, tried)
    yield _in_order(tried)


def preferred(trials: Sequence[LayoutTrial], place: int) -> tuple[LayoutTrial, ...]:
    """Return the layouts with one of them proposed, those before it left out: they folded."""
    taken = replace(trials[place], offered=True, chosen=True)
    return (taken, *(replace(trial, chosen=False) for trial in trials[place + 1:]))


def keeps_to_cap(trial: LayoutTrial) -> bool:
    """Tell whether a layout can be sewn, and its cap is foretold within what is let pass."""
    caps = [figure for figure in FIGURES if figure.attribute.startswith("cap_")]
    return not trial.excess and all(figure.share(trial.miss) <= 1.0 for figure in caps)


def untried_layout(
    rounded: ArmShape, make: Make, cloth: Cloth
) -> tuple[tuple[DartLine, ...], float | None]:
    """Return the darts that a search would begin with, and the ease of the cap seam, mm.

    None leaves the ease to the cloth. Nothing is laid flat: to be shown while a search goes on.
    """
    ground = _ground(rounded, make, cloth, limits_of(make))
    return darts_of(ground, _plans(ground)[0]), make.cap_ease if make.cap == "ease" else None


def _ground(rounded: ArmShape, make: Make, cloth: Cloth, limits: LayoutLimits) -> Ground:
    arm = mesh_arm(rounded, edge=search_edge(rounded), inner_share=make.inner_share)
    half = 0.5 * path_length(arm, "cap seam")
    return Ground(rounded, make, cloth, limits, half, usual_ease(cloth, arm))


def _with_inner_flat(ground: Ground) -> Ground:
    """Return the ground with the inner panel laid flat; one that folds is left to each trial."""
    edge = search_edge(ground.rounded)
    arm = mesh_arm(ground.rounded, edge=edge, inner_share=ground.make.inner_share)
    try:
        inner_flat = flatten(cut_panel(arm, "inner"), energy=ground.make.weave)
    except UnrollError:
        return ground
    return replace(ground, inner_flat=inner_flat)


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
    ground: Ground, plans: Sequence[Plan], each: Each, tell: Tell, tried: list[Outcome]
) -> None:
    """Try plans, and shorter ones where none of a number holds.

    Where none holds at all the cap is left without darts: there is always a layout.
    """
    for share in SHORTER:
        counts = {outcome.plan.count for outcome in tried}
        near = tried[0].arm if tried else None
        left = [(_shortened(plan, share), near) for plan in plans if plan.count not in counts]
        _try(ground, left, each, tell, tried)
    if not tried and any(plan.count for plan in plans):
        _try(ground, [(Plan(0, 0.0, 0.0), None)], each, tell, tried)
    if not tried:
        raise UnrollError(
            "no dart layout can be laid flat on this cap, not even without darts; expected one "
            "that can (are the cap's arcs far longer than its armhole?)"
        )


def _try(
    ground: Ground,
    plans: Sequence[tuple[Plan, FilledArm | None]],
    each: Each,
    tell: Tell,
    tried: list[Outcome],
) -> list[Outcome | None]:
    """Add what comes of each plan to what came of those before; None where it folds.

    Parameters
    ----------
    plans : sequence of (Plan, FilledArm or None)
        Each with the filled arm to start from.
    """
    found = list(each(_one_outcome, [(ground, plan, near) for plan, near in plans]))
    for outcome in found:
        if outcome is not None:
            tried.append(outcome)
            mean = outcome.trial.miss.cap_mean
            tell(f"{outcome.plan.name}: the shoulder within {mean:.1f} mm")
    return found


def _one_outcome(given: tuple[Ground, Plan, FilledArm | None]) -> Outcome | None:
    return outcome_of(*given)


def _worth_refining(tried: Sequence[Outcome]) -> list[Outcome]:
    """Return what came of plans of different numbers of darts that a walk may better.

    The proposed one and those with less to sew where it is good, else the best few.
    """
    proposed = _in_order(tried)[0]
    best = sorted(_best_of_counts(tried).values(), key=lambda outcome: _rank(outcome.trial))
    if _is_good(proposed):
        # and what is less to sew: it may be good as well once it is refined
        easier = _sewing(proposed)
        best = [
            one for one in best
            if one.trial.darts == proposed.darts or _sewing(one.trial) < easier
        ]  # fmt: skip
    return [one for one in best[:MOST_REFINED] if one.plan.count > 1]


def _refine(
    ground: Ground, walks: Sequence[Outcome], each: Each, tell: Tell, tried: list[Outcome]
) -> None:
    """Walk from coarse plans, a number at a time; all of them and both ways side by side."""
    best = list(walks)
    for name, step in FINE_STEPS.items():
        moves = [
            (walk, replace(here.plan, **{name: getattr(here.plan, name) + sign * step}))
            for walk, here in enumerate(best)
            if not (name == "side" and here.plan.count < 3)
            and not (name == "ease" and ground.make.cap == "ease")
            for sign in (1.0, -1.0)
        ]
        found = _try(ground, [(plan, best[walk].arm) for walk, plan in moves], each, tell, tried)
        for (walk, _), outcome in zip(moves, found, strict=True):
            if outcome is not None and _rank(outcome.trial) < _rank(best[walk].trial):
                best[walk] = outcome


def _shortened(plan: Plan, share: float) -> Plan:
    return replace(plan, length=share * plan.length, side=share * plan.side)


def _rank(trial: LayoutTrial) -> tuple[float, float]:
    # what differs in the last bits only is alike: the order is the same on every processor
    return round(trial.excess, 6), round(trial.score, 6)


def _best_of_counts(tried: Sequence[Outcome]) -> dict[int, Outcome]:
    best: dict[int, Outcome] = {}
    for outcome in tried:
        count = outcome.plan.count
        if count not in best or _rank(outcome.trial) < _rank(best[count].trial):
            best[count] = outcome
    return best


def _in_order(tried: Sequence[Outcome]) -> tuple[LayoutTrial, ...]:
    """Return the layouts to choose from, the proposed one first, then all others."""
    offered = _offered([outcome.trial for outcome in _best_of_counts(tried).values()])
    darts = [trial.darts for trial in offered]
    others = [outcome.trial for outcome in tried if outcome.trial.darts not in darts]
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
