"""From a sheet's text to the Sheet, or to all its faults at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from unroll.maths.arrays import FloatArray
from unroll.nouns import Cloth, DartChoice, Double, DraftTable, Make, Sheet, TrialMeasures
from unroll.nouns.scan import LANDMARKS, ScanHints, ScannedArm
from unroll.sheets.arm_reading import ArmInput, Tracings, read_arm
from unroll.sheets.faults import Fault, Lines, line_of, refusal
from unroll.sheets.harmony import sides_notices
from unroll.sheets.limits import limit_faults, seam_name, slip_faults
from unroll.sheets.scanned import Added, taken_over
from unroll.sheets.schema import (
    ClothTable,
    DoubleTable,
    MakeTable,
    OwnDraftTable,
    SheetTable,
    TrialTable,
    check_form,
)
from unroll.sheets.toml_text import ParsedText, parse_text

ARM_TABLES = ("arm", "left_arm", "right_arm")


def read_sheet(
    text: str,
    *,
    outlines: Mapping[str, FloatArray] | None = None,
    outline_faults: Mapping[str, str] | None = None,
    scanned: ScannedArm | None = None,
) -> Sheet:
    """Return the sheet that `text` writes out, complete, in mm.

    Parameters
    ----------
    text : str
        The sheet, TOML.
    outlines : mapping of str to (k, 2) float, optional
        Traced armholes by the file name that the sheet gives: x forward, y up, mm.
    outline_faults : mapping of str to str, optional
        By file name, why a traced armhole could not be read.
    scanned : ScannedArm, optional
        A scan of the arm: its measures stand in for those that the sheet leaves out.

    Returns
    -------
    Sheet
        One arm, called "left", where the sheet has `[arm]`: it serves both, the right being its
        mirror image; else the left and the right arm.

    Raises
    ------
    SheetFaults
        When anything is wrong: all faults at once, a line each, in the order of the sheet.

    Examples
    --------
    >>> sheet = read_sheet('''
    ... unit = "in"
    ... [arm]
    ... shoulder_to_elbow = "13 3/8"
    ... inner_elbow_to_wrist = 9.25
    ... upper_arm_girth = ["11 1/4", "11 1/4", 11.5]
    ... wrist_girth = "6 1/8"
    ... ''')
    >>> sheet.arms[0].upper_arm_girth, sheet.arms[0].is_estimated("elbow_girth")
    (285.75, True)
    """
    return read_parsed(
        parse_text(text), outlines=outlines, outline_faults=outline_faults, scanned=scanned
    )


def read_parsed(
    parsed: ParsedText,
    *,
    outlines: Mapping[str, FloatArray] | None = None,
    outline_faults: Mapping[str, str] | None = None,
    scanned: ScannedArm | None = None,
) -> Sheet:
    """Return the sheet of values that were read already; see `read_sheet`.

    Parameters
    ----------
    parsed : ParsedText
        From a sheet's text, or from a row of a table.

    Raises
    ------
    SheetFaults
        When anything is wrong: all faults at once, a line each, in the order of the sheet.
    """
    if parsed.data is None:
        raise refusal(parsed.faults)
    tracings = Tracings(outlines or {}, outline_faults or {})
    data, added = (parsed.data, Added()) if scanned is None else taken_over(parsed.data, scanned)
    while True:
        table, arms, faults = _checked(replace(parsed, data=data), tracings)
        odd = {fault.path[:2] for fault in faults} & added.droppable
        if not odd:
            break
        data, added = added.without(odd, data, faults)
    if faults:
        raise refusal(faults)
    sheet = _sheet_of(table, arms)
    return replace(sheet, notices=(*sheet.notices, *added.notices))


def scan_hints(text: str) -> ScanHints:
    """Return what a sheet says of its scan; the faults of its table wait for `read_sheet`.

    Examples
    --------
    >>> scan_hints('unit = "cm"\\n[scan]\\nunit = "m"\\nbend = 15').unit
    'm'
    """
    return hints_of(parse_text(text))


def hints_of(parsed: ParsedText) -> ScanHints:
    """Return the same of a sheet that was read already; see `scan_hints`."""
    table = _scan_table(parsed)[0].scan
    if table is None:
        return ScanHints()
    landmarks = {name: at for name in LANDMARKS for at in [getattr(table, name)] if at is not None}
    return ScanHints(table.unit, table.side, landmarks, table.axis, table.bend)


def _checked(
    parsed: ParsedText, tracings: Tracings
) -> tuple[SheetTable, list[ArmInput], list[Fault]]:
    """Return a sheet's table, its arms, and every fault of them."""
    data = parsed.data or {}
    table, faults = check_form(data, parsed.lines)
    faults += [*parsed.faults, *_table_faults(data, parsed.lines)]
    arms = [
        ArmInput(arm, name, table.unit, parsed.lines, parsed.unread)
        for name in ARM_TABLES for arm in [getattr(table, name)] if arm is not None
    ]
    faults += [fault for arm in arms for fault in arm.missing(faults)]
    if data.get("unit") == table.unit:  # without a unit, no value can be judged
        slips = list(slip_faults(table, parsed.lines))
        if slips:  # whatever else is wrong follows from it
            raise refusal(slips[:1])
        faults += limit_faults(table, parsed.lines)
        faults += [fault for arm in arms for fault in arm.check(faults, tracings)]
    return table, arms, faults


def outline_names(parsed: ParsedText) -> tuple[str, ...]:
    """Return the files of traced armholes that a sheet names; none where it cannot be read.

    Examples
    --------
    >>> outline_names(parse_text('[arm]\\narmhole = { outline = "plate.svg" }'))
    ('plate.svg',)
    """
    data = parsed.data or {}
    arms = [data[name] for name in ARM_TABLES if isinstance(data.get(name), dict)]
    plates = [arm["armhole"] for arm in arms if isinstance(arm.get("armhole"), dict)]
    names = [plate.get("outline") for plate in plates]
    return tuple(dict.fromkeys(name for name in names if isinstance(name, str) and name))


def scan_faults(parsed: ParsedText) -> list[Fault]:
    """Return what is wrong in form with what a sheet says of its scan."""
    return _scan_table(parsed)[1]


def _scan_table(parsed: ParsedText) -> tuple[SheetTable, list[Fault]]:
    return check_form({"unit": "cm", "scan": (parsed.data or {}).get("scan", {})}, parsed.lines)


def scan_name(parsed: ParsedText) -> str:
    """Return the file of the scan that a sheet names; "" where it names none.

    Examples
    --------
    >>> scan_name(parse_text('[scan]\\nfile = "arm.obj"'))
    'arm.obj'
    """
    table = (parsed.data or {}).get("scan")
    name = table.get("file", "") if isinstance(table, dict) else ""
    return name.strip() if isinstance(name, str) else ""


def _sheet_of(table: SheetTable, inputs: list[ArmInput]) -> Sheet:
    """Return the sheet, complete."""
    arms = [read_arm(arm) for arm in inputs]
    notices = [notice for arm in arms for notice in arm.notices]
    if len(arms) == 2:
        notices += sides_notices(arms[0].measures, arms[1].measures, table.unit)
    return Sheet(
        tuple(arm.measures for arm in arms), _cloth(table.cloth), _make(table.make),
        table.unit, table.owner, table.date, tuple(notices), _trial(table.trial),
        _draft(table.draft),
        _double(table.double),
    )


def _table_faults(data: Mapping[str, Any], lines: Lines) -> Iterator[Fault]:
    there = [name for name in ARM_TABLES if name in data]
    if not there:
        yield Fault(0, "the sheet has no arm; expected a table [arm], or [left_arm] and "
                       "[right_arm]")
    elif "arm" in there and len(there) > 1:
        yield Fault(line_of((there[1],), lines), f"[{there[1]}] stands beside [arm]; expected "
                    "[arm] alone for two equal arms, or [left_arm] and [right_arm]")
    elif there in (["left_arm"], ["right_arm"]):
        other = "right_arm" if there == ["left_arm"] else "left_arm"
        yield Fault(line_of((there[0],), lines), f"[{there[0]}] stands without [{other}]; expected "
                    "both, or [arm] for two equal arms")


def _given(**values: Any) -> dict[str, Any]:
    """Return the values that the sheet gives; the rest keep the type's defaults."""
    return {name: value for name, value in values.items() if value not in (None, "")}


def _cloth(cloth: ClothTable) -> Cloth:
    return Cloth(**_given(**dict(cloth)))


def _double(double: DoubleTable) -> Double | None:
    if double.between_armholes is None:
        return None
    return Double(double.between_armholes, double.depth, double.round_both_arms)


def _trial(trial: TrialTable | None) -> TrialMeasures | None:
    if trial is None:
        return None
    taped = {name: getattr(trial, f"{name}_girth") for name in ("upper_arm", "elbow", "forearm")}
    return TrialMeasures(
        tuple((name, reading.mm) for name, reading in taped.items() if reading is not None),
        tuple(
            (arc.up, arc.length.mm) for arc in trial.cap_arcs
            if arc.up is not None and arc.length is not None
        ),
        trial.hang_outward, trial.hang_forward,
    )  # fmt: skip


def _draft(table: OwnDraftTable) -> DraftTable:
    plain = ("drawn", "arm", "turned_over", "square", "card", "outer_length", "closes_within")
    names = {"outer": "outer", "inner": "inner", "armhole base": "armhole_base",
             "wrist base": "wrist_base"}  # fmt: skip
    numbers = {piece: getattr(table, key) for piece, key in names.items()}
    corners = {"outer": table.outer_corners, "inner": table.inner_corners}
    return DraftTable(
        **_given(**{name: getattr(table, name) for name in plain}),
        pieces={piece: number for piece, number in numbers.items() if number is not None},
        corners={piece: tuple(four) for piece, four in corners.items() if four is not None},
    )


def _make(make: MakeTable) -> Make:
    values = dict(make)
    if make.inner_share is not None:
        values["inner_share"] = Fraction(make.inner_share)
    values["darts"] = tuple(DartChoice(dart.at, dart.length, dart.intake) for dart in make.darts)
    values["seam_allowances"] = {
        seam_name(name): mm for name, mm in make.seam_allowances.items() if mm is not None
    }
    values["widest_point_deg"] = values.pop("widest_point")
    values["paper"] = make.paper.lower()
    return Make(**_given(**values))
