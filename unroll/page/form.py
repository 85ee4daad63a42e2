"""What the page asks for: every entry of the sheet, in groups, with its words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from unroll.nouns.scan import LANDMARKS
from unroll.paper.measuring_guide import TAPES
from unroll.sheets.blank import blank_sheet
from unroll.sheets.limits import SEAMS
from unroll.sheets.schema import (
    ArmTable,
    CapArcTable,
    ClothTable,
    DartTable,
    DoubleTable,
    GirthTable,
    MakeTable,
    OwnDraftTable,
    ScanTable,
    SheetTable,
    TrialTable,
)
from unroll.units import Unit

Path = tuple[str | int, ...]

TABLES: dict[str, type[BaseModel]] = {
    "arm": ArmTable, "left_arm": ArmTable, "right_arm": ArmTable,
    "cloth": ClothTable, "make": MakeTable, "trial": TrialTable, "double": DoubleTable,
    "scan": ScanTable, "draft": OwnDraftTable,
}  # fmt: skip
ROWS: dict[str, type[BaseModel]] = {
    "cap_arcs": CapArcTable, "girths": GirthTable, "darts": DartTable,
}  # fmt: skip
MOST_ROWS = 12
CHOICES = {
    "unit": ("in", "cm", "mm"),
    "cap": ("darts", "ease"),
    "ends": ("card", "cloth"),
    "weave": ("woven", "even"),
    "paper": ("a4", "a3", "letter", "tabloid", "a0", "roll"),
    "unit scan": ("m", "cm", "mm", "in"),
    "side": ("left", "right"),
    "drawn": ("stitching", "cutting"),
    "arm draft": ("left", "right"),
    "turned_over": ("true", "false"),
}


@dataclass(frozen=True)
class Group:
    """Entries that are asked for together.

    Attributes
    ----------
    title : str
    table : str
        "arm" stands for whichever arm is shown.
    names : tuple of str
    is_folded : bool
        Whether it is shut at first: few makers need it.
    note : str
        Said under the title.
    """

    title: str
    table: str
    names: tuple[str, ...]
    is_folded: bool = False
    note: str = ""


GROUPS = (
    Group("A scan of the arm, in place of the tape", "scan", ("unit", "side", *LANDMARKS, "bend"),
          True, "What you measure yourself goes before it. Places are x; y; z in the scan's own "
          "numbers; those that you leave out are found."),
    Group("Lengths", "arm",
          ("shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist")),
    Group("Girths, level all round", "arm",
          ("upper_arm_girth", "upper_arm_up", "elbow_girth", "forearm_girth", "forearm_down",
           "wrist_girth", "wrist_width", "wrist_depth", "girths")),
    Group("Cap: above the level of the underarm", "arm", ("cap_height", "cap_arcs")),
    Group("The double's armhole", "arm", ("armhole",),
          note="Any one of the three will do; more are better. Or give its outline: a file, or "
               "points."),
    Group("How the armhole stands and the arm hangs", "arm",
          ("underarm_inside", "underarm_behind", "front_inside", "elbow_outward", "elbow_forward",
           "wrist_outward", "wrist_forward"), True,
          "Distances from a plumb line at the shoulder point; a minus sign for the other way."),
    Group("Shoulder, for the piece that joins", "arm",
          ("shoulder_length", "shoulder_slope_front", "shoulder_slope_back"), True),
    Group("Width over depth of the arm", "arm",
          ("upper_arm_ratio", "elbow_ratio", "forearm_ratio"), True,
          "Leave these out unless you know better."),
    Group("The double, for the tape round both arms", "double", tuple(DoubleTable.model_fields),
          True),
    Group("Darts and cap", "make",
          ("cap", "cap_ease", "dart_count", "darts", "widest_dart", "narrowest_tongue",
           "widest_point", "most_darts", "inner_share"), True),
    Group("Cutting and printing", "make",
          ("seam_allowance", "seam_allowances", "round_to", "paper", "weave"), True),
    Group("Cloth and filling", "cloth", tuple(ClothTable.model_fields), True),
)  # fmt: skip
TRIAL = Group(
    "What your sewn trial measures", "trial", tuple(TrialTable.model_fields), False,
    "Sew a trial of the corrected pieces, fill it, measure it where you measured the arm.",
)  # fmt: skip
DRAFT = Group(
    "When one thing was taken for another", "draft", tuple(OwnDraftTable.model_fields), True,
    "Outlines and corners by the numbers in the picture.",
)  # fmt: skip

# What the blank sheet says in more than one line, or not at all.
_HELP = {
    "cap_arcs": "front to back over the outside, armhole edge to armhole edge; up is its level "
                "straight above the underarm",
    "girths": "further girths, as many as you like: down or up, from the inner elbow; best "
              "half-way from the fullest forearm to the wrist, and level with the underarm",
    "front_inside": "half-way down: how much nearer to the double's middle the armhole's front "
                    "edge stands than its back edge",
    "wrist_width": "across, thumb side to little-finger side, between two books that just touch",
    "wrist_depth": "palm side to back of the hand, likewise",
    "armhole": "width front to back, height underarm to shoulder, girth along its edge",
    "shoulder_slope_back": "degrees below level, at the back",
    "wrist_forward": "the wrist's middle, forward of the line",
    "wrist_outward": "the wrist's middle, outward of the line",
    "cap": '"darts" take in what a flat cap has too much of; "ease" gathers it',
    "darts": "places run along the cap seam from the shoulder, plus to the front",
    "seam_allowances": "where a seam's allowance differs",
    "narrowest_tongue": "least cloth between two darts",
    "widest_dart": "widest dart that you would sew, across at the seam",
    "hang_outward": "degrees that the trial hangs away from the body",
    "hang_forward": "degrees that it hangs forward",
    "upper_arm_girth trial": "round the trial where you measured the upper arm",
    "elbow_girth trial": "round the trial's elbow",
    "forearm_girth trial": "round the trial where you measured the forearm",
    "unit scan": "of the scan's numbers; guessed by its size if left out",
    "side": "which arm was scanned; told by the way its elbow bends if left out",
    "shoulder": "the scan's shoulder point, at the top of the armhole's edge",
    "underarm": "lowest point of the scan's armhole",
    "elbow_point": "the scan's elbow behind; it counts by its level along the arm",
    "elbow_crease": "the scan's elbow in front; it counts by its level along the arm",
    "wrist": "where the scan's arm ends, above the hand; it counts by its level along the arm",
    "bend": "degrees that the elbow shall bend; the scan's own bend if left out",
    "drawn": "which line the outlines are",
    "arm draft": "which arm the draft is for, right side up",
    "turned_over": "true where they show the back of the pieces",
    "square": "true side of the test square in the drawing",
    "card": "measured side of a corner card's black square",
    "outer_length": "from the top of the cap to the wrist: everything is scaled to it",
    "closes_within": "gaps between lines that are closed",
    "outer": "number of the outer's outline",
    "inner": "number of the inner's outline",
    "armhole_base": "number of its outline",
    "wrist_base": "number of its outline",
    "outer_corners": "the cap's two ends and the wrist's two corners, in any order: 1; 6; 7; 10",
    "inner_corners": "likewise, of the inner",
    "cap_arcs trial": "over the trial's cap, at the levels where you measured the arm",
}  # fmt: skip
_LABELS = {"shoulder": "shoulder point", "bend": "elbow's bend",
           "narrowest_tongue": "narrowest gap", "widest_point": "widest angle",
           "eases_percent": "eases, percent", "gives_percent": "gives, percent",
           "stretch_percent": "stretch, percent", "bias_stretch_percent": "bias stretch, percent",
           "filling_g_per_litre": "filling, g a litre", "weighs_g_per_m2": "weighs, g a m²",
           "pressure_kpa": "firmness, kPa"}
_LINE = re.compile(r"^(\w+) = .*?#\s+(.*)$")
_NUMBER = {tape.key: tape.number for tape in TAPES}
_MUST = {tape.key for tape in TAPES if tape.is_must}


def described(unit: Unit) -> list[dict[str, Any]]:
    """Return the groups of the form as plain values.

    Returns
    -------
    list of dict
        Each with "title", "table", "folded", "note" and "fields"; a field has "name", "label",
        "help", "number" (of its tape), "must", "choices", "kind" ("line" or "rows") and, where it
        is made of parts, their names in "parts".
    """
    help_ = help_lines(unit)
    return [
        {"title": group.title, "table": group.table, "folded": group.is_folded,
         "note": group.note, "fields": [_field(name, group.table, help_) for name in group.names]}
        for group in (*GROUPS, TRIAL, DRAFT)
    ]  # fmt: skip


def _field(name: str, table: str, help_: Mapping[str, str]) -> dict[str, Any]:
    in_arm = table == "arm"
    return {
        "name": name, "label": _LABELS.get(name, name.replace("_", " ")),
        "help": help_.get(f"{name} {table}", help_.get(name, "")),
        "number": _NUMBER.get(name) if in_arm else None,
        "must": name in _MUST and in_arm,
        "choices": CHOICES.get(f"{name} {table}", CHOICES.get(name)),
        "kind": "rows" if name in ROWS else "line",
        "parts": _parts(name),
    }  # fmt: skip


def _parts(name: str) -> list[str]:
    if name in ROWS:
        return list(ROWS[name].model_fields)
    if name == "seam_allowances":
        return [seam.replace(" ", "_") for seam in SEAMS]
    return ["width", "height", "girth", "outline"] if name == "armhole" else []


def help_lines(unit: Unit) -> dict[str, str]:
    """Return what the blank sheet says of each entry, by its name.

    Examples
    --------
    >>> help_lines("cm")["elbow_girth"]
    'around elbow point and crease'
    """
    found = (_LINE.match(line) for line in blank_sheet(unit).splitlines())
    said = {match[1]: _without_number(match[2]) for match in found if match}
    return {**said, **_HELP}


def _without_number(text: str) -> str:
    text = re.sub(r"^\d+ +", "", text)
    return re.sub(r"^required(?: \(or 2\))?: ", "", text).strip()


def is_entry(path: Path) -> bool:
    """Tell whether the sheet has an entry at `path` that the page may write.

    A traced armhole's file and a scan's are none: no name of a file comes from the page.

    Examples
    --------
    >>> is_entry(("arm", "cap_arcs", 0, "up")), is_entry(("arm", "nonsense"))
    (True, False)
    """
    if len(path) == 1:
        return path[0] in ("unit", "owner", "date") and path[0] in SheetTable.model_fields
    table, name, *rest = path
    if table not in TABLES or not isinstance(name, str) or name not in TABLES[table].model_fields:
        return False
    if table == "scan":
        return name not in ("file", "axis") and not rest
    if name in ROWS:
        return _is_row(ROWS[name], rest)
    parts = _parts(name)
    return len(rest) == 1 and rest[0] in parts if parts else not rest


def _is_row(row: type[BaseModel], rest: list[str | int]) -> bool:
    if len(rest) != 2 or not isinstance(rest[0], int) or isinstance(rest[0], bool):
        return False
    return 0 <= rest[0] < MOST_ROWS and rest[1] in row.model_fields
