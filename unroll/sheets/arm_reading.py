"""One arm of the sheet: checked, its missing measures estimated, its oddities noted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import (
    Armhole,
    ArmMeasures,
    CapArc,
    Estimate,
    GirthLevel,
    Notice,
    Side,
    Stance,
    tapered,
)
from unroll.nouns.measures import USUAL_RATIOS
from unroll.sheets.armholes import traced_armhole
from unroll.sheets.completing import Completing
from unroll.sheets.estimates import DEFAULT_SLOPE_DEG, complete, plate_of
from unroll.sheets.faults import Fault, Lines, Path, faulty_names, line_of, path_name
from unroll.sheets.harmony import (
    harmony_notices,
    spread_notices,
    survey_notices,
    untold_stance,
)
from unroll.sheets.limits import LENGTH_LIMITS, RATIO_LIMITS, STANCE_LIMITS, show, show_range
from unroll.sheets.plausibility import (
    ArmValues,
    chord_at,
    missing_faults,
    plausibility_faults,
)
from unroll.sheets.schema import ArmTable, GirthTable
from unroll.units import Unit, inches_first

CLOSEST_GIRTHS_MM = 3.0  # closer together, one level was measured twice
REPEATED = 0.03  # of a girth, by which two readings of one level may differ
TRACING_TOLERANCE = 0.05  # of a measure; A4 on Letter, printed "to fit", is off by 0.059
MEASURE_NAMES = tuple(
    name for name in ArmTable.model_fields
    if name not in ("cap_arcs", "girths", "armhole", "shoulder_slope_front", "shoulder_slope_back",
                    *STANCE_LIMITS)
)


@dataclass(frozen=True)
class Tracings:
    """Traced armholes by file name, and why others could not be read."""

    outlines: Mapping[str, FloatArray]
    faults: Mapping[str, str]


@dataclass(frozen=True)
class ReadArm:
    """One arm, complete, with what is to be said of it."""

    measures: ArmMeasures
    notices: tuple[Notice, ...]


class ArmInput:
    """One arm's table, with its traced armhole once it is checked.

    Parameters
    ----------
    table : ArmTable
    name : str
        "arm", "left_arm" or "right_arm".
    unit : {"in", "cm", "mm"}
    lines : mapping of path to int
    unread : frozenset of str
        Keys whose lines could not be read.
    """

    def __init__(
        self, table: ArmTable, name: str, unit: Unit, lines: Lines, unread: frozenset[str]
    ) -> None:
        """Hold the table."""
        self.table, self.name, self.unit, self.lines = table, name, unit, lines
        self.unread = unread
        self.tracing: Armhole | None = None

    def check(self, known: Iterable[Fault], tracings: Tracings) -> list[Fault]:
        """Return the faults between the arm's measures, beside those already `known`."""
        faulty = faulty_names(known, (self.name,))
        faults: list[Fault] = []
        outline = self.table.armhole.outline
        if outline is not None and "armhole outline" not in faulty:
            faults += self._trace(outline, tracings)
        values = self.values(faulty=faulty)
        return [*faults, *plausibility_faults(values), *girth_faults(values)]

    def missing(self, known: Iterable[Fault]) -> Iterator[Fault]:
        """Yield a fault for each required measure that is not there, nor `known` as faulty."""
        yield from missing_faults(self.values(faulty=faulty_names(known, (self.name,))),
                                  self.unread)

    def values(self, *, faulty: frozenset[str] = frozenset()) -> ArmValues:
        """Return the arm's sound measures."""
        return ArmValues(self.table, (self.name,), self.unit, self.lines, faulty=faulty,
                         traced=self._traced_sizes())

    def _traced_sizes(self) -> dict[str, float]:
        plate = self.tracing
        if plate is None:
            return {}
        return {"armhole width": plate.width, "armhole height": plate.height,
                "armhole girth": plate.girth}

    def _trace(
        self, outline: str | list[list[float]], tracings: Tracings
    ) -> Iterator[Fault]:
        path: Path = (self.name, "armhole", "outline")
        name, here = path_name(path), line_of(path, self.lines)
        if isinstance(outline, str):
            if outline in tracings.faults:
                said = inches_first(tracings.faults[outline], self.unit)
                yield Fault(here, f"{name} {said}", path)
                return
            if outline not in tracings.outlines:
                yield Fault(here, f'{name} names "{outline}", which is not there', path)
                return
        points = tracings.outlines[outline] if isinstance(outline, str) else outline
        try:
            self.tracing = traced_armhole(points)
        except UnrollError as error:
            yield Fault(here, f"{name} {inches_first(str(error), self.unit)}", path)
            return
        yield from self._against_the_tape(here)

    def _against_the_tape(self, here: int) -> Iterator[Fault]:
        """Yield a fault where the tracing's size is not what the tape found on the plate."""
        for name, traced in self._traced_sizes().items():
            kind = name.split()[1]
            reading = getattr(self.table.armhole, kind)
            if reading is None or abs(traced / reading.mm - 1.0) <= TRACING_TOLERANCE:
                continue
            path: Path = (self.name, "armhole", "outline")
            yield Fault(here, f"{path_name(path)} has a {kind} of {show(traced, self.unit)}; "
                              f"expected {name} {show(reading.mm, self.unit)} (drawn or scanned "
                              "at another scale?)", path)


def read_arm(arm: ArmInput) -> ReadArm:
    """Return the arm, complete, from an input that has no faults of its own."""
    measured = arm.values()
    taped = tuple(sorted(
        (CapArc(arc.up, arc.length.mm) for arc in arm.table.cap_arcs
         if arc.up is not None and arc.length is not None),
        key=lambda arc: arc.up,
    ))
    done = complete(measured, taped)
    plate = arm.tracing or plate_of(done)
    arcs = tuple(arc for arc in taped if goes_over(arc, plate))
    girths = _girths(arm)
    lie_on = _once(level for level in girths if _lies_on(level, done, plate))
    measures = _with_taper(replace(_measures(arm, done, plate, arcs), girths=lie_on))
    notices = [
        *_notices(arm, done, measures, [arc for arc in taped if arc not in arcs]),
        *_beyond(arm, [level for level in girths if level not in lie_on]),
    ]
    return ReadArm(measures, tuple(notices))


def _girths(arm: ArmInput) -> tuple[GirthLevel, ...]:
    """Return the further girths, from the shoulder down."""
    girths = (
        GirthLevel(down, row.girth.mm, row.ratio)
        for row in arm.table.girths for down in [_down(row)]
        if down is not None and row.girth is not None
    )
    return tuple(sorted(girths, key=lambda level: level.down))


def _once(girths: Iterable[GirthLevel]) -> tuple[GirthLevel, ...]:
    """Return girths from the shoulder down without those that were taken again at a level."""
    kept: list[GirthLevel] = []
    for level in girths:
        if not kept or level.down - kept[-1].down >= CLOSEST_GIRTHS_MM:
            kept.append(level)
    return tuple(kept)


def _lies_on(level: GirthLevel, done: Completing, plate: Armhole) -> bool:
    """Tell whether a girth lies between the underarm and the wrist, apart from the usual ones."""
    highest = done["shoulder_to_inner_elbow"] - plate.height + CLOSEST_GIRTHS_MM
    usual = (0.0, done["forearm_down"], -done["upper_arm_up"], done["inner_elbow_to_wrist"])
    apart = min(abs(level.down - other) for other in usual)
    return -highest <= level.down <= usual[-1] and apart >= CLOSEST_GIRTHS_MM


def _beyond(arm: ArmInput, girths: list[GirthLevel]) -> Iterator[Notice]:
    for level in girths:
        yield Notice("girths", f"the girth of {show(level.girth, arm.unit)} lies above the "
                               "underarm, beyond the wrist, or at the level of another girth; "
                               "it is left out")


def goes_over(arc: CapArc, plate: Armhole) -> bool:
    """Tell whether an arc can run over a cap on this plate from edge to edge."""
    return arc.up < plate.height and arc.length > chord_at(arc.up, plate.width, plate.height)


def _measures(
    arm: ArmInput, done: Completing, plate: Armhole, arcs: tuple[CapArc, ...]
) -> ArmMeasures:
    side: Side = "right" if arm.name == "right_arm" else "left"
    slopes = {
        f"{name}_deg": DEFAULT_SLOPE_DEG if given is None else given
        for name in ("shoulder_slope_front", "shoulder_slope_back")
        for given in [getattr(arm.table, name)]
    }
    named = {name: done[name] for name in MEASURE_NAMES}
    order = {name: place for place, name in enumerate((*MEASURE_NAMES, "armhole width"))}
    ranked = sorted(done.estimates, key=lambda estimate: order.get(estimate.name, len(order)))
    stance = Stance(**{name: done.values.get(name) for name in STANCE_LIMITS})
    return ArmMeasures(side=side, cap_arcs=arcs, armhole=plate, estimated=tuple(ranked),
                       stance=stance, **named, **slopes)  # type: ignore[arg-type]


def _with_taper(measures: ArmMeasures) -> ArmMeasures:
    """Return the measures with the half-way girth that the loft takes, where none was measured."""
    known, length = measures.forearm_girths, measures.inner_elbow_to_wrist
    between = tapered(known, length)
    if len(known) > 2 or not between:
        return measures
    half_way = 0.5 * (measures.forearm_down + length)
    level = GirthLevel(*min(between, key=lambda level: abs(level[0] - half_way)))
    estimate = Estimate(
        level.name, level.girth,
        "from forearm_girth and wrist_girth, by the usual taper of modelled arms; measure one "
        "half-way between them (girths)")
    return replace(measures, estimated=(*measures.estimated, estimate))


def _down(row: GirthTable) -> float | None:
    """Return how far below the inner elbow a girth lies, mm."""
    return row.down if row.down is not None else None if row.up is None else -row.up


def girth_faults(arm: ArmValues) -> Iterator[Fault]:
    """Yield the faults of the further girths."""
    levels = {"elbow_girth": (0.0, arm.get("elbow_girth"))}
    for name, girth, sign in (("forearm_down", "forearm_girth", 1.0),
                              ("upper_arm_up", "upper_arm_girth", -1.0)):  # fmt: skip
        if name in arm:
            levels[arm.show(name)] = sign * arm[name], arm.get(girth)
    for place, row in enumerate(arm.table.girths):
        if f"girths {place + 1}" in arm.faulty:
            continue
        path: Path = (*arm.at, "girths", place)
        faults = list(_girth_faults(row, arm, levels))
        yield from (Fault(line_of(path, arm.lines), f"girths {place + 1} {text}", path)
                    for text in faults)
        down = _down(row)
        if down is not None and row.girth is not None and not faults:
            levels[f"girths {place + 1}"] = down, row.girth.mm


def _girth_faults(
    row: GirthTable, arm: ArmValues, levels: Mapping[str, tuple[float, float | None]]
) -> Iterator[str]:
    if row == GirthTable():
        return
    if row.girth is None or (row.up is None) == (row.down is None):
        yield ("needs a girth, and either down or up, its level below or above the inner elbow: "
               '{ down = "4", girth = "8" }')
        return
    limits = LENGTH_LIMITS["upper_arm_girth"][1], LENGTH_LIMITS["wrist_girth"][0]
    if not limits[1] <= row.girth.mm <= limits[0]:
        yield (f"girth is {show(row.girth.mm, arm.unit)}; expected "
               f"{show_range(limits[::-1], arm.unit)} (wrong unit?)")
    if row.ratio is not None and not RATIO_LIMITS[0] <= row.ratio <= RATIO_LIMITS[1]:
        yield (f"ratio is {row.ratio:g}; expected {RATIO_LIMITS[0]:g} to {RATIO_LIMITS[1]:g} "
               "(width over depth)")
    yield from _level_faults(row, arm, levels)


def _level_faults(
    row: GirthTable, arm: ArmValues, levels: Mapping[str, tuple[float, float | None]]
) -> Iterator[str]:
    given = row.down if row.down is not None else row.up
    down, word = _down(row), "down" if row.down is not None else "up"
    if down is None or given is None:
        return
    if given < 0.0:
        yield (f"{word} is {show(given, arm.unit)}; expected more than nothing (write "
               f"{'up' if word == 'down' else 'down'} for the other way)")
    length, front = arm.get("inner_elbow_to_wrist"), arm.get("shoulder_to_inner_elbow")
    if length is not None and down > length - CLOSEST_GIRTHS_MM:
        yield (f"down is {show(down, arm.unit)}; expected less than "
               f"{arm.show('inner_elbow_to_wrist')} (measured from the wrist?)")
    height = arm.get("armhole height")
    if front is not None and height is not None and -down > front - height + CLOSEST_GIRTHS_MM:
        yield (f"up is {show(-down, arm.unit)}; expected up to {show(front - height, arm.unit)}, "
               "the height of the underarm above the inner elbow: higher up no tape goes round the "
               "arm (a cap arc?)")
    for name, (other, girth) in levels.items():
        if abs(down - other) < CLOSEST_GIRTHS_MM and not _is_repeated(row, girth):
            yield (f"lies at the level of {name}; leave one of them out, and write repeated "
                   "readings as a list: girth = [20.4, 20.6]")


def _is_repeated(row: GirthTable, girth: float | None) -> bool:
    """Tell whether a girth says again what was taped at its level: no harm is done."""
    return (girth is not None and row.girth is not None
            and abs(row.girth.mm - girth) < REPEATED * girth)


def _notices(
    arm: ArmInput, done: Completing, measures: ArmMeasures, left_out: list[CapArc]
) -> Iterator[Notice]:
    """Yield what fights first, with what was taken; then what is odd; then what is usual."""
    prefix = "" if arm.name == "arm" else f"{arm.name.removesuffix('_arm')} arm: "
    for notice in done.notices:
        yield Notice(notice.name, prefix + notice.text, fights=True)
    for arc in left_out:
        yield Notice("cap_arcs", f"{prefix}the cap arc {show(arc.length, arm.unit)} long at "
                                 f"{show(arc.up, arm.unit)} does not go over an armhole "
                                 f"{show(measures.armhole.height, arm.unit)} high; it is left out "
                                 "(measured up the arm's slope, or lines mixed up?)", fights=True)
    weighed = {notice.name for notice in done.notices}
    yield from harmony_notices(measures, prefix, arm.unit, weighed)
    yield from spread_notices(arm.table, prefix, arm.unit)
    yield from survey_notices(done.arm, prefix)
    for text in untold_stance(measures, arm.unit):
        yield Notice("", prefix + text)
    ratios = [f"{name} {value:g}" for name, value in USUAL_RATIOS.items() if name not in done.arm]
    if ratios:
        yield Notice("", f"{prefix}not given, so taken from modelled arms: {', '.join(ratios)} "
                         "(two arms in three lie within 0.07; measure yours between two books)")
    slopes = [f"{name} {DEFAULT_SLOPE_DEG:g} degrees"
              for name in ("shoulder_slope_front", "shoulder_slope_back")
              if getattr(arm.table, name) is None]
    if slopes:
        yield Notice("", f"{prefix}not given, so taken as usual: {', '.join(slopes)} (usual "
                         "values, no source)")
