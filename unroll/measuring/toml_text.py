"""TOML text to values, with syntax faults told in a maker's words and the rest still read."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from unroll.measuring.faults import Fault, Path
from unroll.measuring.toml_lines import key_lines

_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_ENTRY = re.compile(r"""^\s*(?:\{\s*)?["']?([\w-]+)["']?\s*=\s*(.*?)\s*(?:#.*)?$""")
_CURLY = re.compile("[“”„‘’]")


@dataclass(frozen=True)
class ParsedText:
    """A sheet's text, parsed as far as it can be.

    Attributes
    ----------
    data : dict or None
        The values; None when the text breaks off and nothing more can be read.
    lines : dict of path to int
        Where each entry stands.
    faults : tuple of Fault
        Syntax faults.
    unread : frozenset of str
        Keys whose lines could not be read; not to be called missing.
    """

    data: dict[str, Any] | None
    lines: dict[Path, int] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    unread: frozenset[str] = frozenset()


def parse_text(text: str) -> ParsedText:
    """Return the values and line numbers of a TOML text.

    A line that cannot be read becomes a fault and is taken out, and the rest is read again, so
    that all faults come at once.
    """
    rows = text.replace("\r\n", "\n").split("\n")
    faults: list[Fault] = []
    unread: set[str] = set()
    while True:
        joined = "\n".join(rows)
        try:
            data = tomllib.loads(joined)
        except tomllib.TOMLDecodeError as error:
            fault, can_go_on = _syntax_fault(str(error), rows)
            faults.append(fault)
            if not can_go_on:
                return ParsedText(None, {}, tuple(faults))
            if entry := _ENTRY.match(rows[fault.line - 1]):
                unread.add(entry[1])
            rows[fault.line - 1] = ""
        else:
            return ParsedText(data, key_lines(joined), tuple(faults), frozenset(unread))


def _syntax_fault(message: str, rows: list[str]) -> tuple[Fault, bool]:
    """Return the fault, and whether the rest can be read without its line."""
    place = _PLACE.search(message)
    what = message[: place.start()] if place else message
    at = int(place[1]) if place and place[1] else len(rows)
    while at > 1 and not rows[at - 1].strip():
        at -= 1
    if what.startswith("Unclosed") or not (place and place[1]):
        opened = _line_left_open(rows, at)
        if opened:
            name = _key_at(rows[opened - 1])
            return Fault(opened, f"{name} opens a bracket that is never closed; "
                                 "end the list with ] or }"), False
    # without a table's header, what follows would land in the table before it
    can_go_on = bool(rows[at - 1].strip()) and not rows[at - 1].lstrip().startswith("[")
    return Fault(at, _cause(what, rows, at)), can_go_on


def _line_left_open(rows: list[str], at: int) -> int:
    """Return the last line up to `at` that opens more brackets than the lines to `at` close."""
    depth = 0
    for line in range(at, 0, -1):
        row = re.sub(r"\"[^\"]*\"|'[^']*'|#.*", "", rows[line - 1])
        if re.match(r"\s*\[\[?[\w. -]+\]\]?\s*$", row):
            continue  # a table's header
        depth += row.count("[") + row.count("{") - row.count("]") - row.count("}")
        if depth > 0 and "=" in row:
            return line
    return 0


def _key_at(row: str) -> str:
    entry = _ENTRY.match(row)
    return entry[1] if entry else row.strip()[:30]


def _cause(what: str, rows: list[str], at: int) -> str:
    row = rows[at - 1]
    entry = _ENTRY.match(row)
    name, value = (entry[1], entry[2]) if entry else ("", "")
    if what.startswith("Cannot overwrite") or what.startswith("Duplicate inline"):
        return _given_twice(name, rows, at)
    if what.startswith("Cannot declare"):
        return f"{row.strip()} stands twice; keep one table of that name"
    if _CURLY.search(row):
        return f"{name or row.strip()} has curly quote marks; use straight ones: \""
    if row.strip().startswith("["):
        return f"{row.strip()} is not a table's name; expected one such as [arm]"
    if not entry:
        return f'"{row.strip()[:40]}" has no "="; expected name = value'
    if not value:
        return f'{name} has no value; write one, or "" for what was not measured'
    if value.count('"') % 2 or value.count("'") % 2 or re.match(r'^".*""$', value):
        return (f"{name} = {value} has quote marks that do not pair; leave the inch mark out, "
                f"or write it between single quotes: {name} = '3 5/8\"'")
    return (f"{name} = {value} cannot be read; put a fraction, a decimal comma or a unit "
            f'between quotes: {name} = "3 5/8"')


def _given_twice(name: str, rows: list[str], at: int) -> str:
    earlier = [line for line in range(1, at) if _key_at(rows[line - 1]) == name]
    seen = f" (first on line {earlier[-1]})" if earlier else ""
    return (f"{name} is given a second time{seen}; write repeated readings as a list: "
            f"{name} = [15.8, 15.9, 15.8]")
