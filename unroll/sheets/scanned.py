"""A scan's measures taken into a sheet, and a sheet written out with them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import numpy as np

from unroll.errors import UnrollError
from unroll.nouns import ArmMeasures, Notice
from unroll.nouns.scan import ScannedArm
from unroll.sheets.blank import blank_sheet
from unroll.sheets.estimates import height_by_girth
from unroll.sheets.faults import Fault
from unroll.units import Unit, format_length, parse_length

REQUIRED = ("inner_elbow_to_wrist", "upper_arm_girth", "wrist_girth", "shoulder_to_inner_elbow")
LENGTHS = (
    "shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist", "upper_arm_girth",
    "upper_arm_up", "elbow_girth", "forearm_girth", "forearm_down", "wrist_girth", "wrist_width",
    "wrist_depth", "cap_height", "shoulder_length",
)  # fmt: skip
RATIOS = ("upper_arm_ratio", "elbow_ratio", "forearm_ratio")
MOST_EDGE_POINTS = 64
LONGEST_ROW = 60


@dataclass(frozen=True)
class Added:
    """What a scan put into a sheet, and what of it was left out again.

    Attributes
    ----------
    paths : frozenset of path
    notices : tuple of Notice
    """

    paths: frozenset[tuple[str | int, ...]] = frozenset()
    notices: tuple[Notice, ...] = ()

    @property
    def droppable(self) -> frozenset[tuple[str | int, ...]]:
        """What the sheet can do without, for it is then estimated."""
        return frozenset(path for path in self.paths if path[-1] not in REQUIRED)

    def without(
        self, paths: Collection[tuple[str | int, ...]], data: Mapping[str, Any],
        faults: Iterable[Fault],
    ) -> tuple[dict[str, Any], Added]:  # fmt: skip
        """Return the sheet's values without some that are at fault, and what is left."""
        kept = deepcopy(dict(data))
        for arm, name in paths:
            kept[str(arm)].pop(name, None)
        told = [Notice(str(fault.path[1]), f"the scan's {fault.text}; it is estimated instead")
                for fault in faults if fault.path[:2] in paths]  # fmt: skip
        return kept, Added(self.paths - frozenset(paths), (*self.notices, *told))


def taken_over(data: Mapping[str, Any], found: ScannedArm) -> tuple[dict[str, Any], Added]:
    """Return a sheet's values with a scan's in the places that it leaves out."""
    out = deepcopy(dict(data))
    arms = [name for name in ("arm", "left_arm", "right_arm") if name in out]
    name = f"{found.side}_arm" if f"{found.side}_arm" in arms else "arm"
    if not arms:
        out["arm"] = {}
    table = out.get(name)
    if not isinstance(table, dict):
        return out, Added()
    given = {key for key, value in table.items() if not _is_blank(value)}
    unit: Unit = out["unit"] if out.get("unit") in ("in", "cm", "mm") else "cm"
    values = {key: value for key, value in _entries(found, table, unit).items() if key not in given}
    table |= values
    return out, Added(frozenset((name, key) for key in values))


def _is_blank(value: object) -> bool:
    """Tell whether an entry stands for what was not measured: "", or tables of nothing else."""
    if isinstance(value, list):
        return all(map(_is_blank, value))
    if isinstance(value, dict):
        return all(map(_is_blank, value.values()))
    return value == ""


def _entries(found: ScannedArm, table: Mapping[str, Any], unit: Unit) -> dict[str, Any]:
    """Return what a scan has for a sheet's arm, as the sheet would write it."""
    values = dict(found.values)
    along, girth = np.array([(s.along, s.girth) for s in found.sections]).T
    for name, sign, level in (("upper_arm_girth", -1.0, "upper_arm_up"),
                              ("forearm_girth", 1.0, "forearm_down")):  # fmt: skip
        told = _told(table.get(level), unit)
        if told is not None:  # where the maker says that it was taped
            values[name] = float(np.interp(found.limb.along(sign * told), along, girth))
    if "shoulder_to_elbow" not in values:
        plate = table.get("armhole")
        height = _told(plate.get("height"), unit) if isinstance(plate, dict) else None
        height = height or height_by_girth(values["upper_arm_girth"])[0]
        values["shoulder_to_inner_elbow"] = height + found.limb.elbow
    out: dict[str, Any] = {
        name: value if name in RATIOS else f"{value:.3f} mm" for name, value in values.items()
    }
    if found.cap_arcs:
        out["cap_arcs"] = [{"up": f"{arc.up:.3f} mm", "length": f"{arc.length:.3f} mm"}
                           for arc in found.cap_arcs]  # fmt: skip
    if found.girths:
        out["girths"] = [
            {"up" if level.down < 0.0 else "down": f"{abs(level.down):.3f} mm",
             "girth": f"{level.girth:.3f} mm", "ratio": level.ratio} for level in found.girths
        ]  # fmt: skip
    if found.armhole is not None:
        out["armhole"] = {"outline": [[f"{x:.3f} mm", f"{y:.3f} mm"] for x, y in found.armhole]}
    return out


def _told(value: object, unit: Unit) -> float | None:
    """Return a length of the sheet where it is one plain reading, mm."""
    if isinstance(value, bool) or not isinstance(value, int | float | str) or value == "":
        return None
    try:
        return parse_length(value, unit)
    except UnrollError:
        return None


def filled_sheet(data: Mapping[str, Any], arms: Iterable[ArmMeasures], unit: Unit) -> str:
    """Return a sheet like the blank one with an arm's measures written in, ready to be corrected.

    Parameters
    ----------
    data : mapping
        The maker's own sheet, parsed; its cloth and make are kept.
    arms : iterable of ArmMeasures
        What was estimated is left blank.
    unit : {"in", "cm", "mm"}
    """
    whole = dict(data) | {"unit": unit}
    if _given(whole.get("scan")):  # it is written into another folder than the scan lies in
        whole["scan"] = {key: one for key, one in whole["scan"].items() if key != "file"}
    names = [name for name in ("arm", "left_arm", "right_arm") if name in whole] or ["arm"]
    whole |= {name: {**_given(whole.get(name)), **_written(measures, unit)}
              for name, measures in zip(names, arms, strict=True)}  # fmt: skip
    text = blank_sheet(unit)
    if names[0] != "arm":
        text = text.replace("\n[arm] ", f"\n[{names[0]}] ", 1)
    lines = list(_filled_lines(text.splitlines(), whole))
    for name in [*names[1:], *(n for n in ("trial", "scan") if whole.get(n))]:
        lines += ["", f"[{name}]", *(f"{key} = {_toml(v)}" for key, v in whole[name].items())]
    return "\n".join(lines) + "\n"


def _given(table: object) -> dict[str, Any]:
    return {k: v for k, v in table.items() if not _is_blank(v)} if isinstance(table, dict) else {}


def _written(measures: ArmMeasures, unit: Unit) -> dict[str, Any]:
    """Return an arm's entries of the sheet; the plate's shape is written in points."""

    def said(mm: float) -> str:
        if unit != "in":
            return f"{mm / (10.0 if unit == 'cm' else 1.0):.2f}".rstrip("0").rstrip(".")
        return format_length(mm, "in", denominator=32).removesuffix(" in")

    out: dict[str, Any] = {
        name: said(getattr(measures, name))
        for name in LENGTHS if not measures.is_estimated(name)
    }
    out |= {name: round(getattr(measures, name), 3) for name in RATIOS}
    out["cap_arcs"] = [{"up": said(a.up), "length": said(a.length)} for a in measures.cap_arcs]
    out["girths"] = [
        {"up" if level.down < 0.0 else "down": said(abs(level.down)), "girth": said(level.girth)}
        for level in measures.girths
    ]
    plate = measures.armhole
    if plate.outline is not None:
        step = max(1, len(plate.outline) // MOST_EDGE_POINTS)
        out["armhole"] = {"outline": [[said(x), said(y)] for x, y in plate.outline[::step]]}
    else:
        out["armhole"] = {
            kind: said(getattr(plate, kind)) for kind in ("width", "height", "girth")
            if not measures.is_estimated(f"armhole {kind}")
        }  # fmt: skip
    return out


def _filled_lines(rows: list[str], whole: Mapping[str, Any]) -> Iterator[str]:
    """Yield a blank sheet's lines, each entry with the value that it has, its comment kept."""
    table: Mapping[str, Any] = whole
    skipping = False
    for row in rows:
        if skipping:
            skipping = not row.startswith("]")
            continue
        if heading := re.match(r"\[(\w+)\]", row):
            table = _given(whole.get(heading[1]))
        entry = re.match(r"(\w+) = ((?:\"[^\"]*\"|\{.*\}|\[.*\]|\[)\s*)(#.*)?$", row)
        if entry is None or _is_blank(table.get(entry[1], "")):
            yield row
            continue
        value = f"{entry[1]} = {_toml(table[entry[1]])}"
        if len(value) > LONGEST_ROW:
            yield from _long_entry(entry[1], table[entry[1]])
        else:
            yield f"{value:34}{entry[3] or ''}".rstrip()
        skipping = row.rstrip() == f"{entry[1]} = [" or row.split("#")[0].rstrip().endswith("= [")


def _long_entry(name: str, value: object) -> Iterator[str]:
    """Yield a list, or a table of one list, in several lines."""
    opening, closing, items = f"{name} = [", "]", value
    if isinstance(value, Mapping):
        ((key, items),) = value.items()
        opening, closing = f"{name} = {{ {key} = [", "] }"
    yield opening
    each = 4 if isinstance(value, Mapping) else 1
    rows = [_toml(item) for item in items] if isinstance(items, list) else []
    for k in range(0, len(rows), each):
        yield f"  {', '.join(rows[k : k + each])},"
    yield closing


def _toml(value: object) -> str:
    """Return a value as TOML writes it, on one line."""
    if isinstance(value, Mapping):
        inside = ", ".join(f"{key} = {_toml(one)}" for key, one in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return repr(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{text}"'
