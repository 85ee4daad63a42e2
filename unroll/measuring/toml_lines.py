"""Line numbers for a TOML text: where each key, table and list entry stands."""

from __future__ import annotations

import re

from unroll.measuring.faults import Path

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


class _Scan:
    """One walk through a text; a parser that keeps places and forgets values."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.lines: dict[Path, int] = {}
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
        line = self.text.count("\n", 0, self.at) + 1
        for length in range(1, len(path) + 1):  # a dotted key also places what holds it
            self.lines.setdefault(path[:length], line)

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
