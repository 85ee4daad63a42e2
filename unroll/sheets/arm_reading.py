"""One arm of the sheet: checked, its missing measures estimated, its oddities noted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import Armhole, ArmMeasures, CapArc, Notice, Side
from unroll.sheets.armholes import traced_armhole
from unroll.sheets.estimates import DEFAULT_SLOPE_DEG, Completing, complete, plate_of
from unroll.sheets.faults import Fault, Lines, Path, faulty_names, line_of, path_name
from unroll.sheets.harmony import harmony_notices, spread_notices, survey_notices
from unroll.sheets.limits import show
from unroll.sheets.plausibility import (
    DEFAULT_RATIOS,
    ArmValues,
    chord_at,
    missing_faults,
    plausibility_faults,
)
from unroll.sheets.schema import ArmTable
from unroll.units import Unit

TRACING_TOLERANCE = 0.05  # of a measure; A4 on Letter, printed "to fit", is off by 0.059
MEASURE_NAMES = tuple(
    name for name in ArmTable.model_fields
    if name not in ("cap_arcs", "armhole", "shoulder_slope_front", "shoulder_slope_back")
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
        return [*faults, *plausibility_faults(values)]

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
                yield Fault(here, f"{name} {tracings.faults[outline]}", path)
                return
            if outline not in tracings.outlines:
                yield Fault(here, f'{name} names "{outline}", which is not there', path)
                return
        points = tracings.outlines[outline] if isinstance(outline, str) else outline
        try:
            self.tracing = traced_armhole(points)
        except UnrollError as error:
            yield Fault(here, f"{name} {error}", path)
            return
        yield from self._against_the_tape(here)

    def _against_the_tape(self, here: int) -> Iterator[Fault]:
        """Yield a fault where the tracing's size is not what the tape found on the plate."""
        for name, traced in self._traced_sizes().items():
            kind = name.split()[1]
            reading = getattr(self.table.armhole, kind)
            if reading is None or abs(traced / reading.mm - 1.0) <= TRACING_TOLERANCE:
                continue
            yield Fault(here, f"{path_name((self.name, 'armhole', 'outline'))} has a {kind} of "
                              f"{show(traced, self.unit)}; expected {name} "
                              f"{show(reading.mm, self.unit)} (drawn or scanned at another "
                              "scale?)")


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
    measures = _measures(arm, done, plate, arcs)
    left_out = [arc for arc in taped if arc not in arcs]
    return ReadArm(measures, tuple(_notices(arm, done, measures, left_out)))


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
    return ArmMeasures(side=side, cap_arcs=arcs, armhole=plate, estimated=tuple(ranked),
                       **named, **slopes)


def _notices(
    arm: ArmInput, done: Completing, measures: ArmMeasures, left_out: list[CapArc]
) -> Iterator[Notice]:
    """Yield what fights first, with what was taken; then what is odd; then what is usual."""
    prefix = "" if arm.name == "arm" else f"{arm.name.removesuffix('_arm')} arm: "
    for notice in done.notices:
        yield Notice(notice.name, prefix + notice.text)
    for arc in left_out:
        yield Notice("cap_arcs", f"{prefix}the cap arc {show(arc.length, arm.unit)} long at "
                                 f"{show(arc.up, arm.unit)} does not go over an armhole "
                                 f"{show(measures.armhole.height, arm.unit)} high; it is left out "
                                 "(measured up the arm's slope, or lines mixed up?)")
    weighed = {notice.name for notice in done.notices}
    yield from harmony_notices(measures, prefix, arm.unit, weighed)
    yield from spread_notices(arm.table, prefix, arm.unit)
    yield from survey_notices(done.arm, prefix)
    taken = [f"{name} {value:g}" for name, value in DEFAULT_RATIOS.items() if name not in done.arm]
    taken += [f"{name} {DEFAULT_SLOPE_DEG:g} degrees"
              for name in ("shoulder_slope_front", "shoulder_slope_back")
              if getattr(arm.table, name) is None]
    if taken:
        yield Notice("", f"{prefix}not given, so taken as usual: {', '.join(taken)} (house values)")
