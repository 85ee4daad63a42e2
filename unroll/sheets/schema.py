"""The sheet's form: which tables it has, which keys each takes, and of what kind."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator
from pydantic_core import ErrorDetails

from unroll.sheets.faults import Fault, Lines, Path, line_of, path_name
from unroll.sheets.fields import (
    Amount,
    ArmSide,
    Cap,
    Count,
    DartLimit,
    Degrees,
    Drawn,
    Eases,
    Ends,
    FourCorners,
    Length,
    Number,
    Outline,
    Percent,
    Point,
    Points,
    Ratio,
    Readings,
    Rounding,
    ScanSide,
    ScanUnit,
    Share,
    Text,
    Weave,
    YesNo,
    shown,
)


class _Table(BaseModel):
    """A table of the sheet; keys it does not know are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class CapArcTable(_Table):
    """One cap arc."""

    up: Length = None
    length: Readings = None


class GirthTable(_Table):
    """A girth at a level of the maker's choice."""

    up: Length = None
    down: Length = None
    girth: Readings = None
    ratio: Ratio = None


class ArmholeTable(_Table):
    """The armhole plate."""

    width: Readings = None
    height: Readings = None
    girth: Readings = None
    outline: Outline = None


class ArmTable(_Table):
    """One arm's measures."""

    shoulder_to_elbow: Readings = None
    shoulder_to_inner_elbow: Readings = None
    inner_elbow_to_wrist: Readings = None
    upper_arm_girth: Readings = None
    upper_arm_up: Readings = None
    elbow_girth: Readings = None
    forearm_girth: Readings = None
    forearm_down: Readings = None
    girths: list[GirthTable] = []
    wrist_girth: Readings = None
    wrist_width: Readings = None
    wrist_depth: Readings = None
    cap_height: Readings = None
    cap_arcs: list[CapArcTable] = []
    armhole: ArmholeTable = ArmholeTable()
    shoulder_length: Readings = None
    shoulder_slope_front: Degrees = None
    shoulder_slope_back: Degrees = None
    upper_arm_ratio: Ratio = None
    elbow_ratio: Ratio = None
    forearm_ratio: Ratio = None
    underarm_inside: Readings = None
    underarm_behind: Readings = None
    front_inside: Readings = None
    elbow_outward: Readings = None
    elbow_forward: Readings = None
    wrist_outward: Readings = None
    wrist_forward: Readings = None

    @model_validator(mode="before")
    @classmethod
    def _leave_out_empty(cls, data: Any) -> Any:
        # a blank sheet's `cap_arcs = ""` and the like stand for "not measured" too
        if not isinstance(data, Mapping):
            return data
        whole = {"cap_arcs", "armhole", "girths"}
        return {key: value for key, value in data.items() if not (key in whole and value == "")}


class ClothTable(_Table):
    """The cloth and the filling."""

    name: Text = ""
    stretch_percent: Percent = None
    bias_stretch_percent: Percent = None
    gives_percent: Percent = None
    eases_percent: Eases = None
    ends: Ends = None
    width: Length = None
    pressure_kpa: Amount = None
    filling_g_per_litre: Amount = None
    weighs_g_per_m2: Amount = None


class DartTable(_Table):
    """One dart that the sheet fixes."""

    at: Length = None
    length: Length = None
    intake: Length = None


class MakeTable(_Table):
    """How the arm is to be made."""

    inner_share: Share = None
    cap: Cap = None
    cap_ease: Length = None
    dart_count: Count = None
    darts: list[DartTable] = []
    widest_dart: Length = None
    narrowest_tongue: Length = None
    widest_point: Degrees = None
    most_darts: DartLimit = None
    seam_allowance: Length = None
    seam_allowances: dict[str, Length] = {}
    round_to: Rounding = None
    paper: Text = ""
    weave: Weave = None


class TrialTable(_Table):
    """What was measured on a sewn and filled trial."""

    upper_arm_girth: Readings = None
    elbow_girth: Readings = None
    forearm_girth: Readings = None
    cap_arcs: list[CapArcTable] = []
    hang_outward: Degrees = None
    hang_forward: Degrees = None


class OwnDraftTable(_Table):
    """What is to be known of drawings and photographs of the maker's own draft."""

    drawn: Drawn = None
    arm: ArmSide = None
    turned_over: YesNo = None
    square: Length = None
    card: Length = None
    outer_length: Length = None
    closes_within: Length = None
    outer: Number = None
    inner: Number = None
    armhole_base: Number = None
    wrist_base: Number = None
    outer_corners: FourCorners = None
    inner_corners: FourCorners = None


class ScanTable(_Table):
    """Which file a scan of the arm is, and what is known of it; the rest is found on it."""

    file: Text = ""
    unit: ScanUnit = None
    side: ScanSide = None
    shoulder: Point = None
    underarm: Point = None
    elbow_point: Point = None
    elbow_crease: Point = None
    wrist: Point = None
    axis: Points = ()
    bend: Degrees = None


class DoubleTable(_Table):
    """The double itself, for the tape round both arms."""

    between_armholes: Length = None
    depth: Length = None
    round_both_arms: Length = None


class SheetTable(_Table):
    """The whole sheet."""

    unit: Literal["in", "cm", "mm"]
    owner: Text = ""
    date: Text = ""
    arm: ArmTable | None = None
    left_arm: ArmTable | None = None
    right_arm: ArmTable | None = None
    cloth: ClothTable = ClothTable()
    make: MakeTable = MakeTable()
    trial: TrialTable | None = None
    draft: OwnDraftTable = OwnDraftTable()
    scan: ScanTable | None = None
    double: DoubleTable = DoubleTable()
    sizes: dict[str, dict[str, Any]] = {}  # read by sheets/tables.py; one arm needs none of it


_TABLES: dict[str, type[_Table]] = {
    "arm": ArmTable,
    "left_arm": ArmTable,
    "right_arm": ArmTable,
    "cloth": ClothTable,
    "make": MakeTable,
    "trial": TrialTable,
    "draft": OwnDraftTable,
    "scan": ScanTable,
    "double": DoubleTable,
    "armhole": ArmholeTable,
    "cap_arcs": CapArcTable,
    "girths": GirthTable,
    "darts": DartTable,
}


def check_form(data: Mapping[str, Any], lines: Lines) -> tuple[SheetTable, list[Fault]]:
    """Return what of the sheet is sound in form, and the faults of the rest.

    Parameters
    ----------
    data : mapping
        The parsed TOML.
    lines : mapping of path to int
        Where each entry stands.

    Returns
    -------
    table : SheetTable
        The sheet without the entries at fault.
    faults : list of Fault
        One for each entry that is unknown, of the wrong kind or not readable.

    Notes
    -----
    Entries at fault are taken out and the rest is checked again, so that faults between measures
    are found in the same run.
    """
    unit = data.get("unit")
    context = {"unit": unit if unit in ("in", "cm", "mm") else "cm"}
    faults: list[Fault] = []
    kept: dict[str, Any] = dict(data)
    while True:
        try:
            return SheetTable.model_validate(kept, context=context), faults
        except ValidationError as error:
            details = error.errors(include_url=False)
        paths = [_sheet_path(detail["loc"]) for detail in details]
        faults += [
            Fault(line_of(path, lines), _as_text(detail, path), path)
            for detail, path in zip(details, paths, strict=True)
        ]
        kept = {"unit": context["unit"], **_without(kept, paths)}


def _sheet_path(loc: Path) -> Path:
    return tuple(part for part in loc if part != "[key]")


def _without(data: Mapping[str, Any], paths: list[Path]) -> dict[str, Any]:
    """Return a copy of nested `data` with the entries at `paths` taken out."""

    gone = set(paths)

    def copy(value: Any, at: Path) -> Any:
        if isinstance(value, Mapping):
            return {k: copy(v, (*at, k)) for k, v in value.items() if (*at, k) not in gone}
        if isinstance(value, list):  # an empty table holds the place, so that lines still tally
            return [{} if (*at, i) in gone else copy(v, (*at, i)) for i, v in enumerate(value)]
        return value

    kept: dict[str, Any] = copy(data, ())
    return kept


def _as_text(detail: ErrorDetails, path: Path) -> str:
    name, kind = path_name(path), detail["type"]
    if kind == "sheet":
        return f"{name} {detail['ctx']['text']}"
    if kind == "extra_forbidden":
        return _unknown_key(path)
    if kind == "missing":
        return f'{name} is missing; write {name} = "cm" (or "in", or "mm") on the first line'
    if kind == "literal_error":
        return f"{name} is {shown(detail['input'])}; expected {detail['ctx']['expected']}"
    if kind in ("list_type", "dict_type", "model_type", "model_attributes_type"):
        return _wrong_kind(name, kind, detail["input"], path)
    return f"{name} is {shown(detail['input'])}; {detail['msg'].lower()}"


def _wrong_kind(name: str, kind: str, value: object, path: Path) -> str:
    if kind == "list_type":
        return f"{name} is {shown(value)}; expected a list of tables: [ {{ ... }}, {{ ... }} ]"
    if len(path) == 1:
        return f"{name} is {shown(value)}; expected a table with the heading [{name}]"
    return f"{name} is {shown(value)}; expected a table between braces: {{ ... }}"


def _unknown_key(path: Path) -> str:
    key = str(path[-1])
    holder = next((str(part) for part in reversed(path[:-1]) if isinstance(part, str)), "")
    model = _TABLES.get(holder, SheetTable)
    known = list(model.model_fields)
    # at the top, where names are few and short, a likeness by chance is likelier
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.6 if len(path) > 1 else 0.75)
    elsewhere = list(_holders_of(key))
    where = f"[{holder}]" if len(path) == 2 else holder or "the sheet"
    if elsewhere:
        return f"{key} is not a key of {where}; {elsewhere[0]}"
    if key == "side":
        return (
            f"side is not a key of {where}; leave it out: [arm] is for two arms alike, "
            "[left_arm] and [right_arm] for two that differ"
        )
    if near:
        return f"{key} is not a key of {where}; did you mean {near[0]}?"
    return f"{key} is not a key of {where}; expected one of {', '.join(known)}"


def _holders_of(key: str) -> Iterator[str]:
    for name, model in _TABLES.items():
        if key in model.model_fields and model is not ScanTable:  # which few sheets have
            place = f"[{name}]" if name in ("arm", "cloth", "make") else name
            yield f"it belongs in {place}"
    if key in ("cloth", "make", "arm", "left_arm", "right_arm"):
        yield f"it is a table of its own, [{key}]"
    elif key in SheetTable.model_fields:
        yield "it belongs at the top of the sheet, before any table"
