"""Changes to a sheet's text: what is typed stands there as typed, and comments stay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, InlineTable, Item, Table

from unroll.errors import UnrollError
from unroll.nouns.scan import LANDMARKS
from unroll.page.form import ROWS, Path, is_entry
from unroll.sheets.fields import MOST_POINTS, MOST_READINGS
from unroll.sheets.limits import SEAMS
from unroll.sheets.schema import ArmTable, CapArcTable, DartTable, DoubleTable, GirthTable
from unroll.units import Unit

LONGEST = 400  # characters of an entry
LONGEST_OUTLINE = 40_000
COUNTS = ("dart_count", "most_darts")
LISTS = ("eases_percent",)
# Plain numbers of these carry no unit.
_NO_LENGTH = re.compile(r"ratio|slope|percent|share|count|most_darts|kpa|g_per|hang_|point")
_HEADER = re.compile(r"^\[\[?[\w. -]+\]\]?\s*(?:#.*)?$")
_PLAIN_NUMBER = re.compile(r"-?(?:0|[1-9]\d*)(?:\.\d+)?")
_BARE = re.compile(r"[\d\s.,/+⁄\u00bc-\u00be\u2150-\u215e-]+")


def parsed(text: str) -> tomlkit.TOMLDocument:
    """Return a sheet's text as a document that keeps its comments.

    Raises
    ------
    UnrollError
        When it is not TOML.
    """
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise UnrollError(
            f"the sheet cannot be changed here while it has a slip in its writing: {error}; mend "
            "it in a text editor"
        ) from None


def entries(text: str) -> dict[str, str]:
    """Return every entry of a sheet as the page shows it, by its path joined with "."

    Examples
    --------
    >>> entries('[arm]\\nwrist_girth = ["6 1/4", 6.25]')
    {'arm.wrist_girth': '6 1/4; 6.25'}
    """
    out: dict[str, str] = {}
    _gather(parsed(text), "", out)
    return out


def _gather(holder: Any, before: str, out: dict[str, str]) -> None:
    pairs = holder.items() if hasattr(holder, "items") else enumerate(holder)
    for key, item in pairs:
        path = f"{before}{key}"
        if hasattr(item, "items") or (isinstance(item, list) and str(key) in ROWS):
            _gather(item, f"{path}.", out)
        elif path.endswith("outline") and isinstance(item, list):
            out[path] = "\n".join(_listed(point) for point in item)
        else:
            out[path] = _listed(item)


def _listed(item: Any) -> str:
    if isinstance(item, list):
        return "; ".join(_said(part) for part in item)
    return _said(item)


def _said(item: Any) -> str:
    """Return a value as it was typed: a number with its own digits."""
    if isinstance(item, str):
        return str(item)
    if isinstance(item, bool):
        return str(item).lower()
    return item.as_string().strip() if isinstance(item, Item) else str(item)


def typed(path: Path, text: str) -> Any:
    """Return what is written into the sheet for a typed text.

    Readings are parted by semicolons. Nothing is worked out: a fraction stays a fraction.

    Raises
    ------
    UnrollError
        When the text is far too long, or an outline is not made of points.

    Examples
    --------
    >>> typed(("arm", "wrist_girth"), "6 1/4; 6 3/8"), typed(("make", "dart_count"), "2")
    (['6 1/4', '6 3/8'], 2)
    """
    if path[-1] == "outline":
        return _outline(text)
    if len(text) > LONGEST:
        raise UnrollError(f"an entry has {len(text)} characters; expected at most {LONGEST}")
    text = " ".join(text.split())
    if path[-1] in COUNTS and text.isdecimal() and len(text) < 4:
        return int(text)
    if path[0] == "draft" and text in ("true", "false"):
        return text == "true"
    if path[0] == "draft" and ";" not in text:
        return _number(text)
    if ";" not in text or path[-1] in ("name", "owner", "date"):
        return text
    parts = [part.strip() for part in text.split(";") if part.strip()][: MOST_READINGS + 1]
    if path[0] in ("scan", "draft"):
        return [_number(part) for part in parts]
    return parts if len(parts) > 1 or path[-1] in LISTS else "".join(parts)


def _number(text: str) -> Any:
    """Return a number with its own digits, else the text."""
    plain = text.replace("\u2212", "-").replace(",", ".")
    return tomlkit.value(plain) if _PLAIN_NUMBER.fullmatch(plain) else text


def with_scan(text: str, name: str) -> str:
    """Return the sheet's text naming another scan, or none; what it said of another goes with it.

    Examples
    --------
    >>> with_scan('[scan]\\nfile = "a.obj"\\nside = "left"\\nbend = 15', "b.obj")
    '[scan]\\nfile = "b.obj"\\nbend = 15'
    """
    document = parsed(text)
    table = _table(document, "scan")
    for key in ("unit", "side", "axis", *LANDMARKS):
        table.pop(key, None)
    if name:
        table["file"] = name
    else:
        table.pop("file", None)
    return tomlkit.dumps(document)


def _outline(text: str) -> Any:
    if len(text) > LONGEST_OUTLINE:
        raise UnrollError(
            f"the outline has {len(text)} characters; expected at most {LONGEST_OUTLINE}"
        )
    rows = [re.split(r"[;\s]+", row.strip()) for row in text.splitlines() if row.strip()]
    if any(len(row) != 2 for row in rows) or len(rows) > MOST_POINTS:
        raise UnrollError(
            "the outline cannot be read; expected a point a line, x and y parted by a blank: "
            "0 0, then -12.5 -3"
        )
    return rows or ""


def changed(text: str, path: Path, value: Any) -> str:
    """Return the sheet's text with one entry written anew.

    Raises
    ------
    UnrollError
        When the sheet has no such entry, or its text is not TOML.

    Examples
    --------
    >>> changed('[arm]\\nwrist_girth = ""   # at the bone', ("arm", "wrist_girth"), "6 1/4")
    '[arm]\\nwrist_girth = "6 1/4"   # at the bone'
    """
    if not is_entry(path):
        raise UnrollError(f"{'.'.join(map(str, path))} is not an entry of the sheet")
    document = parsed(text)
    holder, *inside = path[:-1] or (None,)
    place: Any = document if holder is None else _table(document, str(holder))
    for depth, key in enumerate(inside, start=1):
        place = _inside(place, key, path[depth + 1])
    name = path[-1]
    if value == "" and name not in place:
        return text
    place[name] = value
    return tomlkit.dumps(document)


def _table(document: tomlkit.TOMLDocument, name: str) -> Any:
    if not isinstance(document.get(name), Table | InlineTable):
        document[name] = tomlkit.table()
    return document[name]


def _inside(place: Any, key: str | int, following: str | int) -> Any:
    """Return what lies at a key, made where it is missing or blank."""
    if isinstance(key, int):
        while len(place) <= key:
            place.append(tomlkit.inline_table())
        return place[key]
    if isinstance(following, int):
        if not isinstance(place.get(key), list):
            place[key] = tomlkit.array()
    elif not isinstance(place.get(key), Table | InlineTable):
        place[key] = tomlkit.inline_table()
    return place[key]


def with_rows(text: str, path: Path, rows: Sequence[dict[str, str]]) -> str:
    """Return the sheet's text with a whole list of rows, such as its darts, written anew."""
    document = parsed(text)
    array: Array = tomlkit.array()
    for row in rows:
        table = tomlkit.inline_table()
        table.update(row)
        array.append(table)
    _table(document, str(path[0]))[str(path[1])] = array
    return tomlkit.dumps(document)


def in_unit(text: str, unit: Unit) -> str:
    """Return the sheet's text with another unit; lengths that carried none keep the old one.

    Examples
    --------
    >>> in_unit('unit = "in"\\n[arm]\\nwrist_girth = "6 1/4"\\nelbow_ratio = 1.1', "cm")
    'unit = "cm"\\n[arm]\\nwrist_girth = "6 1/4 in"\\nelbow_ratio = 1.1'
    """
    document = parsed(text)
    before = str(document.get("unit", unit))
    if before != unit:
        for name, table in document.items():
            if isinstance(table, Table):
                _give_unit(table, before, str(name))
    document["unit"] = unit
    return tomlkit.dumps(document)


def _give_unit(holder: Any, unit: str, name: str) -> None:
    pairs = list(holder.items()) if hasattr(holder, "items") else list(enumerate(holder))
    for key, item in pairs:
        inside = name if isinstance(key, int) else str(key)
        if isinstance(item, list) or hasattr(item, "items"):
            _give_unit(item, unit, inside)
        elif _is_length(inside) and _BARE.fullmatch(_said(item)) and re.search(r"\w", _said(item)):
            holder[key] = f"{_said(item)} {unit}"


_LENGTHS = {
    *ArmTable.model_fields, *GirthTable.model_fields, *CapArcTable.model_fields,
    *DartTable.model_fields, *DoubleTable.model_fields, "outline", "width", "height", "cap_ease",
    "widest_dart", "narrowest_tongue", "seam_allowance", "round_to",
    *(seam.replace(" ", "_") for seam in SEAMS),
}  # fmt: skip


def _is_length(name: str) -> bool:
    return name in _LENGTHS and not _NO_LENGTH.search(name)


def unlike(text: str) -> str:
    """Return the sheet's text with a table for each arm, both as the one was.

    Examples
    --------
    >>> unlike('[arm]\\nwrist_girth = 6\\n')
    '[left_arm]\\nwrist_girth = 6\\n\\n[right_arm]\\nwrist_girth = 6\\n'
    """
    before, block, after = _cut_out(text, "arm")
    left = block.replace("[arm]", "[left_arm]", 1)
    right = block.replace("[arm]", "[right_arm]", 1)
    return f"{before}{left.rstrip()}\n\n{right.rstrip()}\n{after and chr(10)}{after}"


def alike(text: str) -> str:
    """Return the sheet's text with one table for both arms: the left one's.

    Examples
    --------
    >>> alike('[left_arm]\\nwrist_girth = 6\\n\\n[right_arm]\\nwrist_girth = 7\\n')
    '[arm]\\nwrist_girth = 6\\n'
    """
    before, _, after = _cut_out(text, "right_arm")
    text = f"{before.rstrip()}\n{after and chr(10)}{after}"
    before, block, after = _cut_out(text, "left_arm")
    return before + block.replace("[left_arm]", "[arm]", 1) + after


def _cut_out(text: str, table: str) -> tuple[str, str, str]:
    """Return what stands before a table, the table, and what stands after it."""
    parsed(text)
    rows = text.splitlines(keepends=True)
    heads = [k for k, row in enumerate(rows) if _HEADER.match(row.rstrip())]
    found = [k for k in heads if re.match(rf"\[{table}\]", rows[k])]
    if not found:
        raise UnrollError(f"the sheet has no table [{table}]; expected one to part or to join")
    end = next((k for k in heads if k > found[0]), len(rows))
    return "".join(rows[: found[0]]), "".join(rows[found[0]: end]), "".join(rows[end:])
