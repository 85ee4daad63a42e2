"""What each entry may be at all: outside these limits it is no arm, and the sheet is refused."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from unroll.sheets.faults import Fault, Lines, Path, line_of, path_name
from unroll.sheets.fields import Reading, shown
from unroll.sheets.schema import (
    ArmTable,
    CapArcTable,
    ClothTable,
    DoubleTable,
    MakeTable,
    SheetTable,
    TrialTable,
)
from unroll.sheets.survey import survey_range
from unroll.units import MM_PER_UNIT, UNITS, Unit, format_length

# House limits, mm: from a doll's arm to twice the largest in the survey.
LENGTH_LIMITS: Mapping[str, tuple[float, float]] = {
    "shoulder_to_elbow": (60.0, 800.0),
    "shoulder_to_inner_elbow": (60.0, 800.0),
    "inner_elbow_to_wrist": (40.0, 600.0),
    "upper_arm_girth": (60.0, 1200.0),
    "upper_arm_up": (5.0, 600.0),
    "elbow_girth": (50.0, 1000.0),
    "forearm_girth": (50.0, 1000.0),
    "forearm_down": (5.0, 500.0),
    "wrist_girth": (40.0, 600.0),
    "wrist_width": (12.0, 250.0),
    "wrist_depth": (8.0, 200.0),
    "cap_height": (20.0, 600.0),
    "shoulder_length": (20.0, 400.0),
}
# From the plumb line at the shoulder point, either way.
STANCE_LIMITS: Mapping[str, tuple[float, float]] = {
    "underarm_inside": (-150.0, 150.0), "underarm_behind": (-150.0, 150.0),
    "front_inside": (-150.0, 150.0),
    "elbow_outward": (-300.0, 400.0), "elbow_forward": (-300.0, 300.0),
    "wrist_outward": (-400.0, 600.0), "wrist_forward": (-400.0, 600.0),
}
ARMHOLE_LIMITS: Mapping[str, tuple[float, float]] = {
    "width": (20.0, 400.0), "height": (20.0, 500.0), "girth": (70.0, 1500.0),
}
RATIO_LIMITS = (0.5, 2.0)
BEND_LIMITS_DEG = (0.0, 70.0)
HANG_LIMITS_DEG = (-60.0, 60.0)
SLOPE_LIMITS_DEG = (-10.0, 60.0)
CLOTH_LIMITS: Mapping[str, tuple[float, float]] = {
    "stretch_percent": (0.01, 60.0),
    "bias_stretch_percent": (0.01, 120.0),
    "gives_percent": (0.1, 60.0),
    "pressure_kpa": (0.05, 50.0),
    "filling_g_per_litre": (1.0, 500.0),
    "weighs_g_per_m2": (5.0, 2000.0),
}
DOUBLE_LIMITS: Mapping[str, tuple[float, float]] = {
    "between_armholes": (60.0, 900.0), "depth": (40.0, 900.0), "round_both_arms": (300.0, 4000.0),
}
EASES_LIMITS_PERCENT = (0.0, 60.0)
CLOTH_WIDTH_LIMITS = (200.0, 5000.0)
MAKE_LENGTH_LIMITS: Mapping[str, tuple[float, float]] = {
    "cap_ease": (0.0, 150.0), "seam_allowance": (0.0, 60.0), "round_to": (0.05, 26.0),
    "widest_dart": (20.0, 200.0), "narrowest_tongue": (10.0, 80.0),
}
POINT_LIMITS_DEG = (20.0, 90.0)
SHARE_LIMITS = (0.15, 0.6)
DART_LIMITS: Mapping[str, tuple[float, float]] = {
    "at": (-400.0, 400.0), "length": (10.0, 300.0), "intake": (1.0, 150.0),
}
DRAFT_LIMITS: Mapping[str, tuple[float, float]] = {
    "square": (10.0, 300.0), "card": (50.0, 70.0), "outer_length": (60.0, 1400.0),
    "closes_within": (0.0, 5.0),
}
MOST_DARTS = 4
MOST_DARTS_LIMITS = (2, MOST_DARTS)
PAPERS = ("a4", "a3", "a0", "letter", "tabloid", "roll")
SEAMS = ("front seam", "back seam", "cap seam", "underarm seam", "outer wrist", "inner wrist")

_UNIT_WORDS: Mapping[Unit, str] = {"in": "inches", "cm": "cm", "mm": "mm"}


def likely_slip(field: str, mm: float, unit: Unit) -> str:
    """Return the slip that would explain a value outside the survey's range, or "".

    Parameters
    ----------
    field : str
        Field of the sheet.
    mm : float
        The value, mm.
    unit : {"in", "cm", "mm"}
        Unit of the sheet.

    Examples
    --------
    >>> likely_slip("wrist_girth", 15.8, "mm"), likely_slip("wrist_girth", 15.8, "cm")
    ('cm written as mm', 'decimal point slipped')
    """
    seen = survey_range(field)
    if seen is None or seen[0] <= mm <= seen[1]:
        return ""
    number = mm / float(MM_PER_UNIT[unit])
    for other in UNITS:
        if seen[0] <= number * float(MM_PER_UNIT[other]) <= seen[1]:
            return f"{_UNIT_WORDS[other]} written as {_UNIT_WORDS[unit]}"
    slipped = any(seen[0] <= mm * factor <= seen[1] for factor in (0.1, 10.0))
    return "decimal point slipped" if slipped else ""


# What bodies have, from a child of about three to the very largest, mm: wide of the surveys
# (house values), to tell a whole sheet in another unit. Lengths and wrist tell a child from an
# adult in inches; the softer girths and the plate only join in.
BODY_LENGTHS: Mapping[str, tuple[float, float]] = {
    "shoulder_to_elbow": (165.0, 500.0), "shoulder_to_inner_elbow": (155.0, 480.0),
    "inner_elbow_to_wrist": (120.0, 360.0), "wrist_girth": (95.0, 300.0),
}
BODY_GIRTHS: Mapping[str, tuple[float, float]] = {
    "upper_arm_girth": (125.0, 750.0), "elbow_girth": (120.0, 550.0),
    "forearm_girth": (120.0, 520.0), "wrist_width": (33.0, 100.0), "wrist_depth": (22.0, 80.0),
    "cap_height": (60.0, 330.0), "shoulder_length": (60.0, 230.0),
    "armhole width": (40.0, 240.0), "armhole height": (50.0, 270.0),
    "armhole girth": (150.0, 800.0),
}
# smaller over larger girth, wide of any arm's
ANY_TAPER: Mapping[tuple[str, str], tuple[float, float]] = {
    ("elbow_girth", "upper_arm_girth"): (0.45, 1.2),
    ("forearm_girth", "upper_arm_girth"): (0.4, 1.25),
    ("wrist_girth", "elbow_girth"): (0.3, 0.95), ("wrist_girth", "forearm_girth"): (0.3, 0.95),
    ("wrist_girth", "upper_arm_girth"): (0.2, 0.95),
}


def slip_faults(table: SheetTable, lines: Lines) -> Iterator[Fault]:
    """Yield a fault where the sheet as a whole is in another unit, or two girths are swapped."""
    arms = [(name, arm) for name in ("arm", "left_arm", "right_arm")
            for arm in [getattr(table, name)] if arm is not None]
    yield from _unit_faults([_lengths_of(arm) for _, arm in arms], table.unit, lines)
    for name, arm in arms:
        yield from _swap_faults(_lengths_of(arm), (name,), table.unit, lines)


def _lengths_of(arm: ArmTable) -> dict[str, float]:
    readings = {name: getattr(arm, name) for name in ArmTable.model_fields}
    readings |= {f"armhole {k}": getattr(arm.armhole, k) for k in ("width", "height", "girth")}
    return {name: reading.mm for name, reading in readings.items() if isinstance(reading, Reading)}


def _unit_faults(
    arms: Sequence[Mapping[str, float]], unit: Unit, lines: Lines
) -> Iterator[Fault]:
    values = [(name, mm) for arm in arms for name, mm in arm.items()]
    lengths = [(name, mm) for name, mm in values if name in BODY_LENGTHS]
    if len(lengths) < 2 or _share_on_a_body(lengths, 1.0) > 0.4:
        return
    for other in UNITS:
        factor = float(MM_PER_UNIT[other] / MM_PER_UNIT[unit])
        if _share_on_a_body(lengths, factor) >= 0.75 and _share_on_a_body(values, factor) >= 0.75:
            told = ", ".join(f"{name} {mm / float(MM_PER_UNIT[unit]):.4g}"
                             for name, mm in lengths[:3])
            yield Fault(line_of(("unit",), lines),
                        f"these look like {_UNIT_WORDS[other]} in a sheet that says {unit} "
                        f'({told}); write unit = "{other}" if they are', ("unit",))
            return


def _share_on_a_body(values: Sequence[tuple[str, float]], factor: float) -> float:
    """Return the share of lengths, all times `factor`, that bodies have."""
    ranges = {**BODY_LENGTHS, **BODY_GIRTHS}
    known = [(ranges[name], factor * mm) for name, mm in values if name in ranges]
    return sum(low <= mm <= high for (low, high), mm in known) / len(known)


def _swap_faults(
    values: Mapping[str, float], at: Path, unit: Unit, lines: Lines
) -> Iterator[Fault]:
    """Yield a fault where the wrist is not the slimmest, and changed about with another is."""
    others = [name for name in ("upper_arm_girth", "elbow_girth", "forearm_girth")
              if name in values]
    wrist = values.get("wrist_girth")
    if wrist is None or not any(wrist > 0.95 * values[name] for name in others):
        return
    for other in others:  # first the pair farthest apart
        if _tapers({**values, "wrist_girth": values[other], other: wrist}):
            path: Path = (*at, "wrist_girth")
            yield Fault(line_of(path, lines),
                        f"{path_name(path)} {show(wrist, unit)} and {other} "
                        f"{show(values[other], unit)} look swapped; the wrist is the slimmest "
                        "part of an arm", path)
            return


def _tapers(values: Mapping[str, float]) -> bool:
    return all(low <= values[name] / values[whole] <= high
               for (name, whole), (low, high) in ANY_TAPER.items()
               if name in values and values.get(whole))


def limit_faults(table: SheetTable, lines: Lines) -> Iterator[Fault]:
    """Yield a fault for each entry outside its limits."""
    check = _Check(table.unit, lines)
    for name in ("arm", "left_arm", "right_arm"):
        arm = getattr(table, name)
        if arm is not None:
            yield from _arm_faults(arm, (name,), check)
    yield from _cloth_faults(table.cloth, check)
    yield from _double_faults(table.double, check)
    yield from _make_faults(table.make, check)
    if table.trial is not None:
        yield from _trial_faults(table.trial, check)
    for name, limits in DRAFT_LIMITS.items():
        yield from check.length(("draft", name), getattr(table.draft, name), limits)
    if table.scan is not None:
        yield from check.plain(("scan", "bend"), table.scan.bend, BEND_LIMITS_DEG,
                               "degrees (of the elbow)")


class _Check:
    """The unit and the lines, to word a fault."""

    def __init__(self, unit: Unit, lines: Lines) -> None:
        self.unit = unit
        self.lines = lines

    def length(
        self, path: Path, value: Reading | float | None, limits: tuple[float, float]
    ) -> Iterator[Fault]:
        if value is None:
            return
        readings = value.readings if isinstance(value, Reading) else (value,)
        for place, mm in enumerate(readings, 1):
            if not limits[0] <= mm <= limits[1]:
                which = f" reading {place}" if len(readings) > 1 else ""
                cause = _cause(path, mm, self.unit)
                low = show_least(limits[0], mm, self.unit).removesuffix(self.unit).strip()
                high = show_most(limits[1], mm, self.unit)
                yield self.fault(path, f"{which} is {show(mm, self.unit)}; expected {low} to "
                                       f"{high} ({cause})")

    def plain(
        self, path: Path, value: float | None, limits: tuple[float, float], what: str
    ) -> Iterator[Fault]:
        if value is not None and not limits[0] <= value <= limits[1]:
            yield self.fault(path, f" is {float(value):g}; expected {limits[0]:g} to "
                                   f"{limits[1]:g} {what}")

    def fault(self, path: Path, text: str) -> Fault:
        return Fault(line_of(path, self.lines), path_name(path) + text, path)


def show(mm: float, unit: Unit) -> str:
    """Return a length in the sheet's unit."""
    return format_length(mm, unit)


def show_about(mm: float, unit: Unit) -> str:
    """Return a length that is only about so long, no finer than that: whole millimetres.

    Examples
    --------
    >>> show_about(41.6, "mm"), show_about(41.6, "cm"), show_about(41.6, "in")
    ('42 mm', '4.2 cm', '1 5/8 in')
    """
    return show(round(mm) if unit == "mm" else mm, unit)


def show_least(least: float, value: float, unit: Unit) -> str:
    """Return a lower limit, rounded up to what the sheet shows and never looking like `value`.

    Examples
    --------
    >>> show_least(92.04, 91.6, "cm"), show_least(92.4, 60.0, "cm")
    ('9.3 cm', '9.3 cm')
    """
    return _rounded_away(least, value, unit, math.ceil, 1)


def show_most(most: float, value: float, unit: Unit) -> str:
    """Return an upper limit, rounded down to what the sheet shows, never looking like `value`.

    Examples
    --------
    >>> show_most(186.0, 186.04, "mm"), show_most(100.0, 200.0, "in")
    ('185.9 mm', '3 7/8 in')
    """
    return _rounded_away(most, value, unit, math.floor, -1)


def _rounded_away(
    limit: float, value: float, unit: Unit, rounded: Callable[[float], int], step: int
) -> str:
    fine = {"in": 25.4 / 16.0, "cm": 1.0, "mm": 0.1}[unit]  # as `format_length` shows it
    count = rounded(round(limit / fine, 6))
    while show(count * fine, unit) == show(value, unit):
        count += step
    return show(count * fine, unit)


def show_range(limits: tuple[float, float], unit: Unit, *, denominator: int = 8) -> str:
    """Return two lengths as a range in the sheet's unit, inches in parts of `denominator`.

    Examples
    --------
    >>> show_range((20.0, 2000.0), "mm")
    '20 to 2000 mm'
    """
    low, high = (format_length(limit, unit, denominator=denominator) for limit in limits)
    return f"{low.removesuffix(unit).strip()} to {high}"


def _cause(path: Path, mm: float, unit: Unit) -> str:
    if mm <= 0.0 and path[-1] not in STANCE_LIMITS:
        return "a length is more than nothing; mistyped?"
    slip = likely_slip(str(path[-1]), mm, unit)
    return f"{slip}?" if slip else "wrong unit?"


def _arm_faults(arm: ArmTable, at: Path, check: _Check) -> Iterator[Fault]:
    for name, limits in (*LENGTH_LIMITS.items(), *STANCE_LIMITS.items()):
        yield from check.length((*at, name), getattr(arm, name), limits)
    for name, limits in ARMHOLE_LIMITS.items():
        yield from check.length((*at, "armhole", name), getattr(arm.armhole, name), limits)
    yield from _arc_faults(arm.cap_arcs, at, check)
    for name in ("upper_arm_ratio", "elbow_ratio", "forearm_ratio"):
        yield from check.plain((*at, name), getattr(arm, name), RATIO_LIMITS, "(width over depth)")
    for name in ("shoulder_slope_front", "shoulder_slope_back"):
        yield from check.plain((*at, name), getattr(arm, name), SLOPE_LIMITS_DEG, "degrees")


def _arc_faults(arcs: list[CapArcTable], at: Path, check: _Check) -> Iterator[Fault]:
    for place, arc in enumerate(arcs):
        here = (*at, "cap_arcs", place)
        yield from check.length((*here, "up"), arc.up, (1.0, 400.0))
        yield from check.length((*here, "length"), arc.length, (10.0, 1200.0))


def _trial_faults(trial: TrialTable, check: _Check) -> Iterator[Fault]:
    for name in ("upper_arm_girth", "elbow_girth", "forearm_girth"):
        yield from check.length(("trial", name), getattr(trial, name), LENGTH_LIMITS[name])
    yield from _arc_faults(trial.cap_arcs, ("trial",), check)
    for name in ("hang_outward", "hang_forward"):
        yield from check.plain(("trial", name), getattr(trial, name), HANG_LIMITS_DEG, "degrees")


def _double_faults(double: DoubleTable, check: _Check) -> Iterator[Fault]:
    for name, limits in DOUBLE_LIMITS.items():
        yield from check.length(("double", name), getattr(double, name), limits)
    if double.between_armholes is None and (double.depth or double.round_both_arms):
        path: Path = ("double", "depth" if double.depth else "round_both_arms")
        yield check.fault(path, " stands without between_armholes; expected both (the tape goes "
                                "from arm to arm)")


def _cloth_faults(cloth: ClothTable, check: _Check) -> Iterator[Fault]:
    units = {
        "pressure_kpa": "kPa", "filling_g_per_litre": "grams a litre",
        "weighs_g_per_m2": "grams a square metre",
    }  # fmt: skip
    for name, limits in CLOTH_LIMITS.items():
        what = units.get(name, "percent")
        yield from check.plain(("cloth", name), getattr(cloth, name), limits, what)
    yield from check.length(("cloth", "width"), cloth.width, CLOTH_WIDTH_LIMITS)
    if cloth.eases_percent is not None:
        path: Path = ("cloth", "eases_percent")
        low, high = cloth.eases_percent
        yield from check.plain(path, low, EASES_LIMITS_PERCENT, "percent")
        yield from check.plain(path, high, EASES_LIMITS_PERCENT, "percent")
        if low > high:
            yield check.fault(path, f" is [{low:g}, {high:g}]; expected the smaller first")


def _make_faults(make: MakeTable, check: _Check) -> Iterator[Fault]:
    for name, limits in MAKE_LENGTH_LIMITS.items():
        yield from check.length(("make", name), getattr(make, name), limits)
    share = None if make.inner_share is None else float(make.inner_share)
    yield from check.plain(("make", "inner_share"), share, SHARE_LIMITS,
                           "(the inner arm's share of the girth)")
    yield from _seam_faults(make, check)
    yield from _dart_faults(make, check)
    yield from _dart_limit_faults(make, check)
    if make.paper and make.paper.lower() not in PAPERS:
        yield check.fault(("make", "paper"), f' is "{make.paper}"; expected one of '
                                             f"{', '.join(PAPERS)}")


def _seam_faults(make: MakeTable, check: _Check) -> Iterator[Fault]:
    for name, value in make.seam_allowances.items():
        path: Path = ("make", "seam_allowances", name)
        if seam_name(name) not in SEAMS:
            yield check.fault(path, " is not a seam; expected one of "
                              + ", ".join(seam.replace(" ", "_") for seam in SEAMS))
        yield from check.length(path, value, MAKE_LENGTH_LIMITS["seam_allowance"])


def _dart_faults(make: MakeTable, check: _Check) -> Iterator[Fault]:
    if make.dart_count is not None and not 0 <= make.dart_count <= MOST_DARTS:
        yield check.fault(("make", "dart_count"), f" is {shown(make.dart_count)}; expected 0 to "
                                                  f"{MOST_DARTS}")
    if len(make.darts) > MOST_DARTS:
        yield check.fault(("make", "darts"), f" lists {len(make.darts)} darts; expected at most "
                                             f"{MOST_DARTS}")
    if make.dart_count is not None and make.darts and make.dart_count != len(make.darts):
        yield check.fault(("make", "dart_count"), f" is {make.dart_count} but darts lists "
                                                  f"{len(make.darts)}; leave one of them out")
    for place, dart in enumerate(make.darts):
        for name, limits in DART_LIMITS.items():
            path: Path = ("make", "darts", place, name)
            yield from check.length(path, getattr(dart, name), limits)
        if dart.length and dart.intake and dart.intake >= 2.0 * dart.length:
            yield check.fault(
                ("make", "darts", place, "intake"),
                f" is {show(dart.intake, check.unit)}; its legs, {show(dart.length, check.unit)} "
                "long, cannot span that (is length and intake swapped?)")


def _dart_limit_faults(make: MakeTable, check: _Check) -> Iterator[Fault]:
    yield from check.plain(("make", "widest_point"), make.widest_point, POINT_LIMITS_DEG,
                           "degrees (between a dart's legs)")
    most, fixed = make.most_darts, len(make.darts) or make.dart_count or 0
    if most is None:
        return
    low, high = MOST_DARTS_LIMITS
    if not low <= most <= high:
        yield check.fault(("make", "most_darts"), f" is {shown(most)}; expected {low} to "
                                                  f"{high}")
    elif most < fixed <= high:
        rival = "darts lists" if make.darts else "dart_count is"
        yield check.fault(("make", "most_darts"), f" is {most} but {rival} {fixed}; leave one of "
                                                  "them out")


def seam_name(key: str) -> str:
    """Return the seam's name for a key of the sheet: `front_seam` is "front seam"."""
    return key.replace("_", " ")
