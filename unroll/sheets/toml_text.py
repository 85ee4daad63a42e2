"""TOML text to values, with syntax faults told in a maker's words and the rest still read."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from dataclasses import dataclass, field
from typing import Any

from unroll.sheets.faults import Fault, Path

MOST_LINES = 3000
MOST_KEYS = 500  # a blank sheet has some 60
MOST_ENTRIES = 20_000  # keys and places in lists; a traced armhole has three a point
MOST_SYNTAX_FAULTS = 20  # the text is read again after each
DEEPEST = 20
_SHORT = 300  # characters of a line that are looked at to say what is wrong with it

_BARE = re.compile(r"[^,\]}\n#]*")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY_PART = re.compile(r"[ \t]*([A-Za-z0-9_-]+|\"(?:[^\"\\]|\\.)*\"|'[^']*')[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:[^"\\]|\\.)*"|\'[^\']*\'', re.DOTALL
)


def key_lines(text: str) -> dict[Path, int]:
    """Return the line, from 1, of every key, table and list entry of a valid TOML text.

    Parameters
    ----------
    text : str
        TOML that a parser has accepted.

    Returns
    -------
    dict of path to int
        A path is the keys and list places from the top: `("arm", "cap_arcs", 1, "up")`.

    Examples
    --------
    >>> key_lines('unit = "cm"\\n[arm]\\nwrist_girth = [15.8,\\n  15.9]')[("arm", "wrist_girth", 1)]
    4
    """
    return _Scan(text).document()


class _Crowd(Exception):
    """The text holds more than any sheet does; not worth reading on."""


class _Scan:
    """One walk through a text; a parser that keeps places and forgets values."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.breaks = [found.start() for found in re.finditer("\n", self.text)]
        self.lines: dict[Path, int] = {}
        self.keys = 0
        self.tables: dict[Path, int] = {}

    def document(self) -> dict[Path, int]:
        table: Path = ()
        self.skip()
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self.header()
            else:
                self.entry(table)
            self.skip()
        return self.lines

    def note(self, path: Path) -> None:
        line = bisect_left(self.breaks, self.at) + 1
        for length in range(1, len(path) + 1):  # a dotted key also places what holds it
            self.lines.setdefault(path[:length], line)
        self.keys += isinstance(path[-1], str) if path else 0
        if self.keys > MOST_KEYS:
            raise _Crowd(f"the sheet has more than {MOST_KEYS} names (another kind of file?)")
        if len(self.lines) > MOST_ENTRIES:
            raise _Crowd(f"the sheet has more than {MOST_ENTRIES} entries (a traced armhole of too "
                         "many points?)")

    def skip(self) -> None:
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def header(self) -> Path:
        start = self.at
        double = self.text.startswith("[[", self.at)
        self.at += 2 if double else 1
        path = self.key()
        after = self.at + (2 if double else 1)
        if double:
            self.tables[path] = self.tables.get(path, -1) + 1
            path = (*path, self.tables[path])
        self.at = start
        self.note(path)
        self.at = after
        return path

    def key(self) -> Path:
        parts: list[str] = []
        while found := _KEY_PART.match(self.text, self.at):
            self.at = found.end()
            part = found[1]
            parts.append(part[1:-1] if part[0] in "\"'" else part)
            if not self.text.startswith(".", self.at):
                break
            if len(parts) == DEEPEST:
                raise ValueError("too many tables within tables")
            self.at += 1
        return tuple(parts)

    def entry(self, table: Path) -> None:
        start = self.at
        path = (*table, *self.key())
        after, self.at = self.at + 1, start
        self.note(path)
        self.at = after  # past the "="
        self.skip()
        self.value(path)

    def value(self, path: Path) -> None:
        if self.text.startswith("[", self.at):
            self.array(path)
        elif self.text.startswith("{", self.at):
            self.inline_table(path)
        else:
            found = _STRING.match(self.text, self.at) or _BARE.match(self.text, self.at)
            self.at = max(found.end() if found else 0, self.at + 1)

    def array(self, path: Path) -> None:
        self.at += 1
        place = 0
        self.skip()
        while not self.text.startswith("]", self.at):
            self.note((*path, place))
            self.value((*path, place))
            place += 1
            self.comma()
        self.at += 1

    def inline_table(self, path: Path) -> None:
        self.at += 1
        self.skip()
        while not self.text.startswith("}", self.at):
            self.entry(path)
            self.comma()
        self.at += 1

    def comma(self) -> None:
        self.skip()
        if self.text.startswith(",", self.at):
            self.at += 1
            self.skip()


_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_ENTRY = re.compile(r"""^\s*(?:\{\s*)?["']?([\w-]+)["']?\s*=\s*(.*?)\s*(?:#.*)?$""")
_WORDS = re.compile(r"^[\s{]*((?:[A-Za-z][\w-]*[ \t]*)+)")
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
    if len(rows) > MOST_LINES:
        return ParsedText(None, {}, (Fault(0, f"the sheet has {len(rows)} lines; expected at most "
                                              f"{MOST_LINES} (another kind of file?)"),))
    faults: list[Fault] = []
    unread: set[str] = set()
    while True:
        joined = "\n".join(rows)
        try:
            data = tomllib.loads(joined)
            lines = key_lines(joined)
        except tomllib.TOMLDecodeError as error:
            fault, mended = _syntax_fault(str(error), rows)
            faults.append(fault)
            if len(faults) == MOST_SYNTAX_FAULTS and mended is not None:
                faults.append(Fault(fault.line + 1, "the rest is not looked at; mend these lines "
                                                    "first (another kind of file?)"))
                mended = None
            if mended is None:
                return ParsedText(None, {}, tuple(faults))
            if not mended and (words := _WORDS.match(rows[fault.line - 1][:_SHORT])):
                unread.add("_".join(words[1].split()))
            last = _closing_line(rows, fault.line) or fault.line
            rows[fault.line - 1:last] = [mended] + [""] * (last - fault.line)
        except _Crowd as crowd:
            return ParsedText(None, {}, (*faults, Fault(0, str(crowd))))
        except (ValueError, RecursionError):  # what the parser lets through of Python's own limits
            return ParsedText(None, {}, (*faults, Fault(0, "the sheet holds a number too long or a "
                                                           "list too deep to read"),))
        else:
            return ParsedText(data, lines, tuple(faults), frozenset(unread))


def _syntax_fault(message: str, rows: list[str]) -> tuple[Fault, str | None]:
    """Return the fault, and what to put in its line's place to read on; None to stop there."""
    place = _PLACE.search(message)
    what = message[: place.start()] if place else message
    has_line = place is not None and place[1] is not None
    at = int(place[1]) if place is not None and place[1] else _last_written(rows)
    if what == "Expected \"'\"":  # an open single quote runs on to the end
        at = _line_with_odd_quotes(rows) or at
    elif opened := _opening_line(what, rows, at, has_line):
        return Fault(opened, f"{_key_at(rows[opened - 1])} opens a bracket that is never closed; "
                             "end the list with ] or }"), None
    row = rows[at - 1]
    if what.startswith("Unclosed array") and row.strip().startswith("{"):
        return Fault(at, "the entry before this one has no comma after it; put one after its }"
                     ), f",{row}"
    # without a table's header, what follows would land in the table before it
    mended = None if not row.strip() or row.lstrip().startswith("[") else ""
    return Fault(at, _cause(what, rows, at)), mended


def _last_written(rows: list[str]) -> int:
    return next((line for line in range(len(rows), 0, -1) if rows[line - 1].strip()), 1)


def _line_with_odd_quotes(rows: list[str]) -> int:
    bare = [re.sub(r"\"[^\"]*\"|#.*", "", row) for row in rows]
    return next((line for line, row in enumerate(bare, 1) if row.count("'") % 2), 0)


def _opening_line(what: str, rows: list[str], at: int, has_line: bool) -> int:
    """Return the line of a bracket that is never closed, where that is what is wrong; else 0."""
    row = rows[at - 1]
    if row.lstrip().startswith("{"):
        return 0  # the row of a list of tables: what is wrong lies in it
    if _starts_anew(row):  # a new entry amid an open list, or one that opens a list itself
        opened = _line_left_open(rows, at - 1) or _line_left_open(rows, at)
    else:
        opened = _line_left_open(rows, at) if what.startswith("Unclosed") or not has_line else 0
    return 0 if opened and _closing_line(rows, opened) else opened


def _starts_anew(row: str) -> bool:
    return re.match(r"\s*(?:[\w-]+\s*=|\[[\w.]+\]\s*$)", row) is not None


def _depth(row: str) -> int:
    """Return how many more brackets a row opens than it closes."""
    bare = re.sub(r"\"[^\"]*\"|'[^']*'|#.*", "", row)
    return sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")


def _closing_line(rows: list[str], opened: int) -> int:
    """Return the line that closes what line `opened` opens; 0 if a new entry comes first."""
    depth = 0
    for line in range(opened, len(rows) + 1):
        if line > opened and _starts_anew(rows[line - 1]):
            return 0
        depth += _depth(rows[line - 1])
        if depth <= 0:
            return line
    return 0


def _line_left_open(rows: list[str], at: int) -> int:
    """Return the last line up to `at` that opens more brackets than the lines to `at` close."""
    depth = 0
    for line in range(at, 0, -1):
        row = rows[line - 1]
        if re.match(r"\s*\[\[?[\w. -]+\]\]?\s*$", row):
            continue  # a table's header
        depth += _depth(row)
        if depth > 0 and "=" in row:
            return line
    return 0


def _key_at(row: str) -> str:
    entry = _ENTRY.match(row[:_SHORT])
    return entry[1] if entry else row.strip()[:30]


def _cause(what: str, rows: list[str], at: int) -> str:
    row = rows[at - 1][:_SHORT]
    entry = _ENTRY.match(row)
    name, value = (entry[1], entry[2]) if entry else ("", "")
    if what.startswith("Cannot overwrite") or what.startswith("Duplicate inline"):
        return _given_twice(name, rows, at)
    if what.startswith("Cannot declare"):
        return f"{row.strip()} stands twice; keep one table of that name"
    if _CURLY.search(row):
        return f"{name or row.strip()} has curly quote marks; use straight ones: \""
    if any(not character.isprintable() and character != "\t" for character in row):
        return f"{name or 'the line'} holds a control character; type the line anew"
    if what.startswith("Unescaped"):
        return f"{name} has a backslash; write / instead, or put the text between single quotes"
    if row.strip().startswith("["):
        return f"{row.strip()} is not a table's name; expected one such as [arm]"
    if not entry and "=" in row and (words := _WORDS.match(row)) and " " in words[1].strip():
        return f"{words[1].strip()} is not one word; expected {'_'.join(words[1].split())}"
    if not entry:
        return f'"{row.strip()[:40]}" has no "="; expected name = value'
    if not value:
        return f'{name} has no value; write one, or "" for what was not measured'
    if value.count('"') % 2 or value.count("'") % 2 or re.match(r'^".*""$', value):
        return (f"{name} = {value} has quote marks that do not pair; leave the inch mark out, "
                f"or write it between single quotes: {name} = '3 5/8\"'")
    if value.startswith("["):
        return (f"{name} = {value} cannot be read; put commas between readings, and quotes round "
                f'fractions: {name} = [15.8, "15 3/4"]')
    if re.match(r"[-+]?\.\d", value):
        return f"{name} = {value} cannot be read; put a digit before the point: 0.5"
    return (f"{name} = {value} cannot be read; put a fraction, a decimal comma or a unit "
            f'between quotes: {name} = "3 5/8"')


def _given_twice(name: str, rows: list[str], at: int) -> str:
    earlier = [line for line in range(1, at) if _key_at(rows[line - 1]) == name]
    seen = f" (first on line {earlier[-1]})" if earlier else ""
    return (f"{name} is given a second time{seen}; write repeated readings as a list: "
            f"{name} = [15.8, 15.9, 15.8]")
