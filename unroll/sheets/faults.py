"""A fault of the sheet: the line it stands on and what is wrong, in one line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from unroll.errors import SheetFaults, one_line

Path = tuple[str | int, ...]
Lines = Mapping[Path, int]

MOST_FAULTS = 12  # of faults that are told at once
LONGEST = 400  # letters of one; a sheet's own words in it may have any length


@dataclass(frozen=True)
class Fault:
    """One fault.

    Attributes
    ----------
    line : int
        Line of the sheet, from 1; 0 for the sheet as a whole.
    text : str
        What, its value, the limit, the likely cause.
    path : path
        The entry it is about; () where it is about none.
    """

    line: int
    text: str
    path: Path = ()

    def __str__(self) -> str:
        """Return the fault as the maker reads it."""
        text = one_line(self.text)
        text = text if len(text) <= LONGEST else f"{text[:LONGEST - 3]}..."
        return f"line {self.line}: {text}" if self.line else text


def line_of(path: Path, lines: Lines) -> int:
    """Return the line of `path`, or of the nearest thing that holds it; 0 if there is none."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 0


def faulty_names(faults: Iterable[Fault], at: Path) -> frozenset[str]:
    """Return the names under `at` that have faults: "wrist_girth", "armhole width", "cap_arcs 2".

    Examples
    --------
    >>> sorted(faulty_names([Fault(7, "...", ("arm", "cap_arcs", 1, "up"))], ("arm",)))
    ['cap_arcs', 'cap_arcs 2', 'cap_arcs 2 up']
    """
    names: set[str] = set()
    for fault in faults:
        rest = fault.path[len(at):]
        if fault.path[:len(at)] == at and rest:
            names |= {path_name(("", *rest[:k])).strip() for k in range(1, len(rest) + 1)}
    return frozenset(names)


def in_sheet_order(faults: Iterable[Fault]) -> list[str]:
    """Return the faults as text, first line first, each said once, and no more than are read."""
    lines = list(dict.fromkeys(str(fault) for fault in sorted(faults, key=lambda f: f.line)))
    rest = len(lines) - MOST_FAULTS
    return lines if rest <= 0 else [*lines[:MOST_FAULTS], f"and {rest} more"]


def refusal(faults: Iterable[Fault]) -> SheetFaults:
    """Return all faults as the one error that refuses a sheet."""
    ordered = sorted(faults, key=lambda fault: fault.line)
    places = [(fault.path, str(replace(fault, line=0))) for fault in ordered]
    return SheetFaults(in_sheet_order(ordered), places)


def path_name(path: Path) -> str:
    """Return what the maker calls the entry at `path`.

    Examples
    --------
    >>> path_name(("arm", "cap_arcs", 1, "up")), path_name(("left_arm", "wrist_girth"))
    ('cap_arcs 2 up', 'left_arm wrist_girth')
    """
    hidden = {"arm", "cloth", "make"}
    kept = path[1:] if len(path) > 1 and path[0] in hidden else path
    return " ".join(str(part + 1) if isinstance(part, int) else part for part in kept)
