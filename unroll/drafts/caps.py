"""The outer arm's cap in its two manners: raised by the ease, or fitted with darts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.drafts.darts import DartLegs
from unroll.drafts.half_caps import DartTask, HalfCap, HalfTask, Level, draw_half, half_width_at
from unroll.drafts.layout import Layout, at_upper_arm, inner_side, lay_out, outer_top
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMeasures, DartChoice, Make, Notice
from unroll.units import Unit, format_small

APART = 100.0  # mm between the middles of two darts: common practice, no source
NARROWEST_TONGUE = 40.0  # mm of cap seam left between two darts


def default_places(count: int, half_armhole: float, intake: float) -> tuple[float, ...]:
    """Return where darts lie by default: net distance from the shoulder point, front to back, mm.

    Two darts lie about 100 mm apart with the cap spread open, and leave at least 40 mm of seam
    between them; three and four are spread over the armhole's upper half.
    """
    if count == 2:
        offset = min(max(0.5 * (APART - intake), 0.5 * NARROWEST_TONGUE), 0.6 * half_armhole)
        return (offset, -offset)
    shares = {0: (), 1: (0.0,), 3: (0.3, 0.0, -0.3), 4: (0.32, 0.12, -0.12, -0.32)}
    if count not in shares:
        raise UnrollError(f"dart_count is {count}; the flat draft places 0 to 4 darts")
    return tuple(half_armhole * share for share in shares[count])


def place_darts(make: Make, half_armhole: float, surplus: float) -> tuple[DartTask, ...]:
    """Return the darts, front to back, with the surplus shared between those left free."""
    count = dart_count(make)
    fixed, left = fixed_intake(make), max(_free_darts(make), 1)
    free = max(surplus - fixed, 0.0) / left
    mean = (fixed + free * _free_darts(make)) / max(count, 1)
    places = default_places(count, half_armhole, mean)
    tasks = []
    for index in range(count):
        choice = make.darts[index] if index < len(make.darts) else None
        at = choice.at if choice and choice.at is not None else places[index]
        intake = choice.intake if choice and choice.intake is not None else free
        tasks.append(DartTask(index, at, intake, choice.length if choice else None))
    return tuple(sorted(tasks, key=lambda t: -t.at))


def dart_count(make: Make) -> int:
    """Return how many darts the draft is drawn with."""
    return make.dart_count if make.dart_count is not None else len(make.darts) or 2


def are_intakes_free(make: Make) -> bool:
    """Tell whether any dart is left to take in what the cap seam has too much."""
    return _free_darts(make) > 0


def fixed_intake(make: Make) -> float:
    """Return what the darts whose intake the sheet fixes take in together, mm."""
    return sum(c.intake for c in make.darts[: dart_count(make)] if c.intake is not None)


def _free_darts(make: Make) -> int:
    count = dart_count(make)
    return count - sum(choice.intake is not None for choice in make.darts[:count])


def darts_on_half(darts: tuple[DartTask, ...], side: int) -> tuple[DartTask, ...]:
    """Return the darts of one half, from the middle outward, with distances counted outward."""
    mine = [d for d in darts if d.at * side > 0 or d.at == 0]
    out = [DartTask(d.number, abs(d.at), d.intake, d.length) for d in mine if d.intake > 1e-9]
    return tuple(sorted(out, key=lambda d: d.at))


FLIP = np.array([-1.0, 1.0])
WIDEST = 60.0  # mm of intake beyond which a dart is hard to sew: our judgement, no source
ROUNDS = 100
MEMORY = 5  # rounds that are mixed
NEAR = 10.0  # mm: mixing from farther off may end in an odd cap that also meets everything
CLOSE = 1e-4  # mm


@dataclass(frozen=True, eq=False)
class Cap:
    """The outer's top in the drafting frame, from back to front over the shoulder.

    Attributes
    ----------
    runs : tuple of (k, 2) float
        Parts of the cap seam from the back mid-height point to the front one.
    legs : tuple of ((k, 2), (k, 2)) float
        Between each two runs a dart: the leg down to its point, the leg up from it.
    back_side, front_side : (k, 2) float
        Sides from the mid-height point down to the upper-arm line.
    darts : tuple of DartChoice
        Place, intake and (where the sheet fixes it) length that each was drawn with, front to
        back.
    notices : tuple of Notice
    """

    runs: tuple[FloatArray, ...]
    legs: tuple[tuple[FloatArray, FloatArray], ...]
    back_side: FloatArray
    front_side: FloatArray
    darts: tuple[DartChoice, ...] = ()
    notices: tuple[Notice, ...] = ()


def plain_cap(layout: Layout, top: float) -> FloatArray:
    """Return the armhole's upper half, spread to the outer's width and raised to `top`, (k, 2).

    The spread keeps the outer's distance from the inner at the mid-height line; both steps are
    plain scalings, so that the cap stays as smooth as the armhole.
    """
    edge, mid = layout.edge, layout.mid_height
    reach = {side: side * outer_top(layout, side)[0, 0] for side in (1, -1)}
    x, y = edge.upper.T
    spread = np.where(x >= 0, reach[1] / edge.front[0], reach[-1] / -edge.back[0])
    return np.column_stack([x * spread, mid + (y - mid) * (top - mid) / (0.0 - mid)])


def ease_cap(layout: Layout, make: Make) -> Cap:
    """Draw the cap over the armhole's upper half, raised by the ease.

    Raises
    ------
    UnrollError
        When a negative ease would leave no cap above the mid-height line.
    """
    if make.cap_ease <= layout.mid_height:
        raise UnrollError(
            f"cap_ease is {make.cap_ease:.0f} mm; expected more than {layout.mid_height:.0f} mm "
            "(it lowers the cap below the middle of the armhole)"
        )
    cap = plain_cap(layout, make.cap_ease)
    return Cap((cap,), (), outer_top(layout, -1), outer_top(layout, 1))


def dart_cap(
    layout: Layout, measures: ArmMeasures, make: Make, *, eased_in: float = 0.0,
    unit: Unit = "mm",
) -> Cap:  # fmt: skip
    """Draw the cap to the measured height and arcs, and take its surplus in with darts.

    Parameters
    ----------
    eased_in : float
        What the darts leave in the cap seam, mm.
    unit : {"in", "cm", "mm"}
        Of the notices.

    Notes
    -----
    Unknown are the surplus at the cap seam, the open width of the outline on the upper levels
    (measured arc plus darts) and the width of the darts on the lower level (drafted width less
    arc). Each is corrected by its own error, round after round, until the cap seam with the darts
    closed is as long as the armhole's upper half (and what is to be eased in) and each level has
    its arc.
    """
    top = measures.cap_height - measures.armhole.height
    if top <= layout.mid_height + 20.0:
        raise UnrollError(
            f"cap_height is {measures.cap_height:.0f} mm; expected more than "
            f"{0.5 * measures.armhole.height + 20:.0f} mm, for an armhole "
            f"{measures.armhole.height:.0f} mm high (measured over the outside of the arm?)"
        )
    tasks = tuple(_half_task(layout, measures, top, side) for side in (1, -1))
    best = _solve(layout, make, tasks, eased_in)
    return _whole(best, _notices(layout, tasks, best, unit))


def drawn_darts(
    measures: ArmMeasures, make: Make, *, eased_in: float = 0.0
) -> tuple[DartChoice, ...]:
    """Return the darts that the cap is drawn with, front to back, so that a sheet could fix them.

    Raises
    ------
    UnrollError
        As `draft`.
    """
    return dart_cap(lay_out(measures, make), measures, make, eased_in=eased_in).darts


def _half_task(layout: Layout, measures: ArmMeasures, top: float, side: int) -> HalfTask:
    """Gather what one half of the cap (front 1, back −1) has to reach."""
    plain = plain_cap(layout, top)
    middle = int(np.argmax(plain[:, 1]))
    base = plain[middle:] if side > 0 else plain[: middle + 1][::-1]
    flip = np.array([side, 1.0])
    ruled = outer_top(layout, side) * flip
    line = np.concatenate([base * flip, ruled[1:]])
    slope, bend = at_upper_arm(layout, side)
    levels: list[Level] = []
    for index, arc in enumerate(sorted(measures.cap_arcs, key=lambda a: a.up)):
        height = layout.underarm + arc.up
        wanted = 0.5 * arc.length - beside_armhole(layout, height, side)
        is_low = index == 0 or height <= layout.mid_height
        is_outline = not is_low or wanted > half_width_at(line, height)
        levels.insert(0, Level(height, wanted, is_outline))
    if any(x.is_outline and x.height <= layout.mid_height for x in levels):
        levels = [Level(x.height, x.half_width, True) for x in levels]
    return HalfTask(base * flip, ruled, slope * flip, bend * flip, tuple(levels))


def beside_armhole(layout: Layout, height: float, side: int) -> float:
    """Return the inner arm's width beside the armhole on a level, on one side, mm.

    Below the mid-height line a tape from armhole edge to armhole edge also passes over the two
    horns of the inner arm.
    """
    if height >= layout.mid_height:
        return 0.0
    top = inner_side(layout, side) * np.array([side, 1.0])
    lower = layout.edge.lower if side > 0 else layout.edge.lower[::-1]
    horn = lower[: int(np.argmin(lower[:, 1])) + 1] * np.array([side, 1.0])
    return max(half_width_at(top, height) - half_width_at(horn, height), 0.0)


@dataclass(frozen=True, eq=False)
class _Round:
    """One round of the solution: what was drawn and what it still misses.

    The errors stand for the unknowns in order: surplus at the cap seam (0 where the sheet fixes
    every intake, so that nothing is left to take it in), then for each level of the front half and
    of the back half its open width (or, where the darts meet it, their width). `surplus` is what
    the seam has too much in either case, mm.
    """

    errors: FloatArray
    gains: FloatArray
    surplus: float
    halves: tuple[HalfCap, ...]
    darts: tuple[DartTask, ...]

    @property
    def worst(self) -> float:
        return float(np.abs(self.errors).max())


def _solve(
    layout: Layout, make: Make, tasks: tuple[HalfTask, ...], eased_in: float
) -> _Round:
    """Correct every unknown by its own error until all are met."""
    armhole = layout.edge.upper_length + eased_in
    levels = [level for task in tasks for level in task.levels]
    surplus = max(fixed_intake(make), 60.0)
    unknowns = np.array(
        [surplus, *(x.half_width + surplus / 6 if x.is_outline else surplus / 12 for x in levels)]
    )
    most = np.array(
        [2.0 * armhole, *(2.5 * x.half_width if x.is_outline else armhole for x in levels)]
    )
    best, trail = _draw(armhole, make, tasks, unknowns), list[tuple[FloatArray, FloatArray]]()
    drawn = best
    for _ in range(ROUNDS):
        if drawn.worst < CLOSE:
            break
        if drawn.worst > min(3.0 * best.worst, NEAR):
            trail.clear()  # far off, or swinging: go on by plain steps
        trail.append((unknowns, drawn.gains * drawn.errors))
        unknowns = np.clip(_mixed(trail[-MEMORY:]), 1e-6, most)
        drawn = _draw(armhole, make, tasks, unknowns)
        best = drawn if drawn.worst < best.worst else best
    return best


def _mixed(trail: list[tuple[FloatArray, FloatArray]]) -> FloatArray:
    """Return the next unknowns from the last ones and their steps.

    Notes
    -----
    D. G. Anderson's mixing (J. ACM 12, 1965, doi 10.1145/321296.321305): the steps of the last
    rounds are combined so that they would cancel if all were linear.
    """
    places, steps = (np.array(column) for column in zip(*trail, strict=True))
    following = places[-1] + steps[-1]
    if len(trail) == 1:
        return np.asarray(following)
    turned, moved = np.diff(steps, axis=0).T, np.diff(places, axis=0).T
    weights = np.linalg.lstsq(turned, steps[-1], rcond=1e-6)[0]
    return np.asarray(following - (moved + turned) @ weights)


def _draw(
    armhole: float, make: Make, tasks: tuple[HalfTask, ...], unknowns: FloatArray
) -> _Round:
    """Draw both halves with given unknowns and measure what they miss.

    `armhole` is how long the cap seam is to be with the darts closed, mm.
    """
    darts = place_darts(make, 0.5 * armhole, float(unknowns[0]))
    front = len(tasks[0].levels)
    parts = (unknowns[1 : 1 + front], unknowns[1 + front :])
    mine = [darts_on_half(darts, side) for side in (1, -1)]
    halves = tuple(
        draw_half(task, here, part, part)
        for task, here, part in zip(tasks, mine, parts, strict=True)
    )
    surplus = sum(half.net_length for half in halves) - armhole
    errors, gains = [surplus if are_intakes_free(make) else 0.0], [0.6]
    for task, here, half, part in zip(tasks, mine, halves, parts, strict=True):
        count = sum(0.5 if dart.at == 0 else 1.0 for dart in here)
        line = np.concatenate([task.base, task.side[1:]])
        for level, gap, value in zip(task.levels, half.gaps, part, strict=True):
            if level.is_outline:
                errors.append(level.half_width + gap - value)
                gains.append(0.8)
            else:
                surplus = half_width_at(line, level.height) - level.half_width
                errors.append(surplus - gap)
                gains.append(0.4 / count if count else 0.0)
    return _Round(np.array(errors), np.array(gains), surplus, halves, darts)


def _notices(
    layout: Layout, tasks: tuple[HalfTask, ...], best: _Round, unit: Unit
) -> tuple[Notice, ...]:
    """Say where the cap left a rule or missed a measure."""
    found = []
    for level in tasks[0].levels if tasks[0].is_flared else ():
        ruled = 2.0 * (half_width_at(tasks[0].side, level.height) - level.half_width)
        if level.height <= layout.mid_height and ruled < -1.0:
            found.append(Notice("cap_arcs", (
                f"the cap arc {format_small(level.height - layout.underarm, unit)} above the "
                f"underarm asks for {format_small(-ruled, unit)} more cloth than the ruled side "
                "gives; the outer's side is let out to meet it")))
    if abs(best.surplus) > 0.01:
        found.append(Notice("darts", (
            f"the cap seam comes out {format_small(abs(best.surplus), unit, decimals=1)} too "
            f"{'long' if best.surplus > 0 else 'short'} for the armhole with these darts")))
    missed = np.abs(best.errors[1:]).max() if len(best.errors) > 1 else 0.0
    if missed > 0.01:
        found.append(Notice("cap_arcs", (
            "the cap arcs could not all be met: the worst is out by "
            f"{format_small(2.0 * missed, unit, decimals=1)}")))
    widest = max((d.intake for d in best.darts), default=0.0)
    if widest > WIDEST:
        found.append(Notice("darts", (
            f"each dart takes in up to {format_small(widest, unit)}, more than is easily sewn to a "
            "fine point; more darts would share it")))
    return tuple(found)


def _whole(best: _Round, notices: tuple[Notice, ...]) -> Cap:
    """Put front and back half together, from back to front."""
    front, back = best.halves
    darts = best.darts
    back_runs = [run[::-1] * FLIP for run in reversed(back.runs)]
    back_darts = [_turned(legs) for legs in reversed(back.darts)]
    front_darts = [(legs.near[::-1], legs.far) for legs in front.darts]
    if any(d.at == 0 and d.intake > 1e-9 for d in darts):
        middle = (back_darts[-1][0], front_darts[0][1])
        runs = [*back_runs, *front.runs]
        legs = [*back_darts[:-1], middle, *front_darts[1:]]
    else:
        tongue = np.concatenate([back_runs[-1], front.runs[0][1:]])
        runs = [*back_runs[:-1], tongue, *front.runs[1:]]
        legs = [*back_darts, *front_darts]
    return Cap(
        tuple(runs), tuple(legs), back.side * FLIP, front.side,
        tuple(DartChoice(d.at, d.length, d.intake) for d in darts), notices,
    )


def _turned(legs: DartLegs) -> tuple[FloatArray, FloatArray]:
    """Return a back dart's legs in the order of travel from back to front."""
    return legs.far[::-1] * FLIP, legs.near * FLIP
