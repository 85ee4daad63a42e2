"""What two reports of one sheet say otherwise: python -m tests.study_reports OLD.json NEW.json.

Prints the lists and the keys of their rows that are gone, new, or of another kind, and how far the
figures under the same key lie apart. Rows are matched by their words (names, sources, arms), so
that an order that changed is no difference.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from statistics import median
from typing import Any

Row = Mapping[str, Any]
NAMING = ("arm", "name", "source", "piece", "seam", "measure", "level_mm", "panel", "figure",
          "start", "end")  # fmt: skip


def rows_of(value: Any) -> list[Row]:
    """Return a list's rows, or the value as the one row of its own."""
    if isinstance(value, list):
        return [row if isinstance(row, dict) else {"text": row} for row in value]
    return [value] if isinstance(value, dict) else [{"value": value}]


def keys_of(rows: list[Row]) -> dict[str, str]:
    """Return every key of some rows with the kind of its values."""
    kinds: dict[str, str] = {}
    for row in rows:
        for key, value in row.items():
            kind = "number" if isinstance(value, int | float) else type(value).__name__
            if value is not None and kinds.get(key, "") != "number":
                kinds[key] = kind
            kinds.setdefault(key, "")
    return kinds


def named(row: Row) -> tuple[str, ...]:
    """Return what tells a row from the others of its list."""
    return tuple(f"{key}={row[key]}" for key in NAMING if isinstance(row.get(key), str))


def moved(old: list[Row], new: list[Row], key: str) -> list[float]:
    """Return by how many per cent numbers under one key moved, in rows that both have."""
    before: dict[tuple[str, ...], list[Row]] = {}
    for row in old:
        before.setdefault(named(row), []).append(row)
    out = []
    for row in new:
        match = before.get(named(row), [])
        if len(match) != 1 or not all(isinstance(r.get(key), int | float) for r in (row, match[0])):
            continue
        was, now = float(match[0][key]), float(row[key])
        out.append(100.0 * abs(now - was) / max(abs(was), abs(now), 1e-9))
    return out


def differences(old: Row, new: Row) -> Iterator[tuple[str, str]]:
    """Yield each list with what is otherwise in it."""
    for name in dict.fromkeys([*old, *new]):
        if name not in new or name not in old:
            yield name, "new" if name in new else "gone"
            continue
        first, second = rows_of(old[name]), rows_of(new[name])
        one, two = keys_of(first), keys_of(second)
        said = []
        if len(first) != len(second):
            said.append(f"{len(second)} rows (was {len(first)})")
        if first and second:
            said += [f"`{key}` gone" for key in one if key not in two]
            said += [f"`{key}` new" for key in two if key not in one]
            said += [f"`{key}` is {two[key]} (was {one[key]})" for key in one
                     if one[key] and two.get(key) and two[key] != one[key]]  # fmt: skip
        shifts = {key: moved(first, second, key) for key in one if two.get(key) == "number"}
        much = {key: median(by) for key, by in shifts.items() if by and median(by) > 0.5}
        said += [f"`{key}` {by:.0f} % otherwise" for key, by in much.items()]
        if said:
            yield name, "; ".join(said)


def main() -> int:
    """Print the table."""
    old, new = (json.loads(Path(word).read_text("utf8")) for word in sys.argv[1:3])
    print("| list | otherwise |\n|---|---|")
    for name, said in differences(old, new):
        print(f"| `{name}` | {said} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
