"""What can go wrong, as one clear line each: the thing, its value, the limit, the likely cause."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def one_line(text: object) -> str:
    """Return a text that any terminal and file takes: what cannot be printed becomes "?".

    Examples
    --------
    >>> one_line("a\\nb\\ud800.toml")
    'a?b?.toml'
    """
    return "".join(c if c.isprintable() else "?" for c in str(text))


class UnrollError(ValueError):
    """A fault that the maker can mend; its text is one line she understands."""


class SheetFaults(UnrollError):
    """All faults of a sheet at once, a line each.

    Parameters
    ----------
    lines : sequence of str
        One fault a line, in the order of the sheet.
    places : sequence of (path, text), optional
        The entry that each is about, and what is wrong with it without its line.
    """

    def __init__(
        self,
        lines: Sequence[str],
        places: Sequence[tuple[tuple[str | int, ...], str]] = (),
    ) -> None:
        """Join the lines into one text."""
        self.lines, self.places = tuple(lines), tuple(places)
        super().__init__("\n".join(self.lines))


class NotConverged(UnrollError):
    """A solver that stopped early; carries its best answer as `best`."""

    def __init__(self, message: str, best: Any) -> None:
        """Keep the message and the best answer."""
        self.best = best
        super().__init__(message)
