"""Tables of many sheets: a row each, headed by the sheet's keys; and the sizes of one sheet."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from unroll.errors import SheetFaults
from unroll.sheets.faults import Fault, Path, in_sheet_order
from unroll.sheets.schema import ArmTable, ClothTable, DoubleTable, MakeTable, SheetTable
from unroll.sheets.toml_text import ParsedText

MOST_ROWS = 1000
MOST_COLUMNS = 200
MOST_IN_LIST = 20  # cap arcs, girths or darts of one row
BETWEEN = "|"  # readings of one measure in one cell
COUNTS = ("dart_count", "most_darts")
TEXTS = ("owner", "date", "name", "paper", "outline", "unit")
UNCLEAR = {
    "name": "owner, or cloth.name, or sheet for the folder's name",
    "width": "armhole.width or cloth.width",
    "girth": "armhole.girth, or upper_arm_girth and the like",
    "height": "armhole.height or cap_height",
    "length": "shoulder_to_elbow and the like",
    "depth": "wrist_depth or double.depth",
}
# Keys that stand alone at the head of a column, and the table that each belongs to.
PLAIN: dict[str, Path] = {
    key: (*table, key)
    for table, model in ((("double",), DoubleTable), (("make",), MakeTable),
                         (("cloth",), ClothTable), (("arm",), ArmTable), ((), SheetTable))
    for key in model.model_fields if key not in UNCLEAR
}  # fmt: skip
# A row as a table holds it: its line, from 1, and its cells.
Cells = tuple[int, Sequence[object]]


@dataclass(frozen=True)
class TableRow:
    """One row of a table.

    Attributes
    ----------
    line : int
        From 1.
    name : str
        What the row calls itself; "" where it has no name.
    parsed : ParsedText
        Its values as a sheet has them; every entry stands on the row's line.
    """

    line: int
    name: str
    parsed: ParsedText


def table_rows(cells: Iterable[Cells]) -> tuple[TableRow, ...]:
    """Return a table's rows as sheets.

    Parameters
    ----------
    cells : iterable of (int, sequence)
        Lines and cells; the first row that is not empty heads the columns with the sheet's keys,
        plain ("wrist_girth") or with dots ("arm.cap_arcs.1.up", "cloth.width"). A column "sheet"
        names each row's folder.

    Raises
    ------
    SheetFaults
        When a column is no key of the sheet, stands twice, or none gives the unit; when the table
        is empty or too large.
    """
    heads, rows = _headed(cells, "sheet")
    if ("unit",) not in heads:
        raise SheetFaults(['the table has no column unit; expected one that says "in", "cm" or '
                           '"mm" in each row'])  # fmt: skip
    return tuple(_row(heads, row, "sheet", {}) for row in rows)


def size_rows(cells: Iterable[Cells], base: ParsedText) -> tuple[TableRow, ...]:
    """Return a table of sizes as sheets: the base sheet, with what each row says otherwise.

    Parameters
    ----------
    cells : iterable of (int, sequence)
        As for `table_rows`, with a column "size" and none for the unit.
    base : ParsedText

    Raises
    ------
    SheetFaults
        As for `table_rows`; when there is no column "size", or one gives another unit.
    """
    heads, rows = _headed(cells, "size")
    if ("size",) not in heads:
        raise SheetFaults(['the table of sizes has no column size; expected one that names each'])
    if ("unit",) in heads:
        raise SheetFaults(["the table of sizes has a column unit; expected none, for its lengths "
                           "are in the sheet's own unit"])  # fmt: skip
    given = {key: value for key, value in (base.data or {}).items() if key != "sizes"}
    return tuple(_row(heads, row, "size", given) for row in rows)


def own_sizes(base: ParsedText) -> tuple[TableRow, ...]:
    """Return the sizes that a sheet lists itself in `[sizes]`: name to what each has otherwise.

    Raises
    ------
    SheetFaults
        When a size is no table.

    Examples
    --------
    >>> from unroll.sheets.toml_text import parse_text
    >>> sheet = parse_text('unit = "cm"\\n[arm]\\nwrist_girth = 15\\n[sizes]\\nL.wrist_girth = 16')
    >>> [(row.name, row.parsed.data["arm"], row.line) for row in own_sizes(sheet)]
    [('L', {'wrist_girth': 16}, 5)]
    """
    data = dict(base.data or {})
    sizes = data.pop("sizes", {})
    if not isinstance(sizes, Mapping) or not all(isinstance(v, Mapping) for v in sizes.values()):
        raise SheetFaults(["sizes is no table of sizes; expected a line each: "
                           'L = { upper_arm_girth = "31" }'])  # fmt: skip
    rows = []
    for name, changes in list(sizes.items())[:MOST_ROWS]:
        line = base.lines.get(("sizes", name), 0)
        cells = [value for _, value in _flat(changes)]
        heads, faults = _paths([key for key, _ in _flat(changes)], line, "size")
        if faults:
            raise SheetFaults(in_sheet_order(faults))
        rows.append(_row(heads, (line, [*cells, name]), "size", data))
    return tuple(rows)


def _flat(values: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, object]]:
    """Yield the values of nested tables under keys with dots."""
    for key, value in values.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value


def _headed(cells: Iterable[Cells], naming: str) -> tuple[list[Path | None], list[Cells]]:
    """Return the path that each column gives, and the rows below that are not empty."""
    filled = [(line, row) for line, row in cells if any(_text(cell) for cell in row)]
    if len(filled) < 2:
        raise SheetFaults(["the table has no row below its heads; expected a row for each "
                           f"{naming}"])  # fmt: skip
    if len(filled) - 1 > MOST_ROWS:
        raise SheetFaults([f"the table has {len(filled) - 1} rows; expected at most {MOST_ROWS}"])
    line, heads = filled[0]
    if len(heads) > MOST_COLUMNS:
        raise SheetFaults([f"the table has {len(heads)} columns; expected at most "
                           f"{MOST_COLUMNS} (another kind of file?)"])  # fmt: skip
    paths, faults = _paths([_text(head) for head in heads], line, naming)
    if faults:
        raise SheetFaults(in_sheet_order(faults))
    return paths[:-1], filled[1:]


def _paths(
    heads: Sequence[str], line: int, naming: str
) -> tuple[list[Path | None], list[Fault]]:
    """Return where each column's values go, the row's name last, and what is wrong with heads."""
    paths: list[Path | None] = []
    faults: list[Fault] = []
    for head in heads:
        path, text = _path_of(head, naming)
        if not text and path is not None and path in paths:
            text = f"column {head} stands twice; keep one"
        if text:
            faults.append(Fault(line, text))
        paths.append(path)
    return [*paths, (naming,)], faults


def _path_of(head: str, naming: str) -> tuple[Path | None, str]:
    """Return where a column's values go, and what is wrong with its head."""
    key = re.sub(r"[\s_]+", "_", head.strip().lower())
    if not key:
        return None, ""
    if key == naming:
        return (naming,), ""
    if key in UNCLEAR:
        return None, f"column {head} could be several things; write {UNCLEAR[key]}"
    first, *rest = key.split(".")
    is_table = bool(rest) and first in SheetTable.model_fields
    start = (first,) if is_table else PLAIN.get(first)
    if start is None:
        return None, (f"column {head} is no key of the sheet; expected one such as wrist_girth, "
                      "cap_arcs.1.up or cloth.width (mistyped?)")  # fmt: skip
    places = tuple(int(part) - 1 if part.isdecimal() else part for part in rest)
    if any(isinstance(place, int) and not 0 <= place < MOST_IN_LIST for place in places):
        return None, f"column {head} has a place beyond 1 to {MOST_IN_LIST}"
    return (*start, *places), ""


def _row(
    heads: Sequence[Path | None], row: Cells, naming: str, base: Mapping[str, Any]
) -> TableRow:
    """Return one row as a sheet of its own, over what the base has."""
    line, cells = row
    data: dict[str, Any] = deepcopy(dict(base))
    lines: dict[Path, int] = {}
    name = owner = ""
    for path, cell in zip(heads, cells, strict=False):
        if path is None or (isinstance(cell, str) and not cell.strip()) or cell is None:
            continue
        if path == (naming,):
            name = _text(cell)
            continue
        owner = _text(cell) if path == ("owner",) else owner
        data = _with(data, path, _value(cell, path))
        lines |= {path[:length]: line for length in range(1, len(path) + 1)}
    data = _listed(data)
    lines |= {(key,): line for key in data}
    return TableRow(line, name or owner, ParsedText(data, lines))


def _with(data: Any, path: Path, value: object) -> Any:
    """Return nested data with one value put in; lists are kept by place until they are whole."""
    if not path:
        return value
    if isinstance(data, list):
        data = dict(enumerate(data))
    kept = dict(data) if isinstance(data, Mapping) else {}
    kept[path[0]] = _with(kept.get(path[0]), path[1:], value)
    return kept


def _listed(data: Any) -> Any:
    """Return nested data with tables that are headed by places turned into lists."""
    if not isinstance(data, Mapping):
        return data
    if data and all(isinstance(key, int) for key in data):
        return [_listed(data.get(place, {})) for place in range(max(data) + 1)]
    return {str(key): _listed(value) for key, value in data.items()}


def _value(cell: object, path: Path) -> object:
    """Return a cell's value as a sheet would have it."""
    key = path[-1]
    if isinstance(cell, datetime.datetime):
        cell = cell.date()
    if key in TEXTS:
        return _text(cell)
    if isinstance(cell, str):
        parts = [part.strip() for part in cell.split(BETWEEN)]
        cell = parts if len(parts) > 1 else parts[0]
    if key in COUNTS and not isinstance(cell, bool):
        text = _text(cell)
        return int(text) if text.isdecimal() and len(text) < 4 else cell
    return cell


def _text(cell: object) -> str:
    """Return a cell as text; a whole number as a spreadsheet has it loses its point."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return "" if cell is None else str(cell).strip()
