"""Words set in columns: headings, paragraphs, lists and tables, one under the other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, Stroke
from unroll.paper.board import wrapped

TEXT = 3.0  # mm; about 8.5 point
HEAD = 4.2
LEADING = 1.38


class Column:
    """A column that is filled from its top.

    Parameters
    ----------
    left, top, width : float
        Where it starts, and how wide it is, mm.
    """

    def __init__(self, left: float, top: float, width: float) -> None:
        """Start at the top."""
        self.left, self.y, self.width = left, top, width
        self.letterings: list[Lettering] = []
        self.strokes: list[Stroke] = []

    def heading(self, text: str, *, size: float = HEAD) -> None:
        """Set a heading with some white above it."""
        self.y -= 0.9 * size
        for line in wrapped(text, self.width, size, True):
            self.y -= size
            self._put(line, self.left, size, True)
            self.y -= 0.3 * size
        self.y -= 0.35 * size

    def paragraph(self, text: str, *, size: float = TEXT, indent: float = 0.0) -> None:
        """Set a paragraph, broken into lines."""
        for line in wrapped(text, self.width - indent, size):
            self.y -= size
            self._put(line, self.left + indent, size)
            self.y -= (LEADING - 1) * size
        self.y -= 0.25 * size

    def item(self, mark: str, text: str, *, size: float = TEXT, indent: float = 5.5) -> None:
        """Set an item of a list: a mark, and a paragraph beside it."""
        self._put(mark, self.left, size, at_y=self.y - size)
        self.paragraph(text, size=size, indent=indent)

    def row(
        self,
        cells: Sequence[str],
        stops: Sequence[float],
        *,
        size: float = TEXT,
        is_bold: bool = False,
    ) -> None:
        """Set one row of a table; `stops` are the cells' left ends, mm from the column's."""
        widths = np.diff([*stops, self.width]) - 1.0
        broken = [wrapped(c, w, size, is_bold) for c, w in zip(cells, widths, strict=True)]
        for line in range(max(len(b) for b in broken)):
            self.y -= size
            for cell, stop in zip(broken, stops, strict=True):
                if line < len(cell):
                    self._put(cell[line], self.left + stop, size, is_bold)
            self.y -= (LEADING - 1) * size
        self.y -= 0.2 * size

    def rule(self) -> None:
        """Draw a thin line across."""
        self.y -= 0.6
        line = np.array([[self.left, self.y], [self.left + self.width, self.y]])
        self.strokes.append(Stroke(line, "thin"))
        self.y -= 0.8

    def room(self, height: float) -> FloatArray:
        """Leave room for a drawing; return its lower left corner."""
        self.y -= height
        return np.array([self.left, self.y])

    def _put(
        self, text: str, x: float, size: float, is_bold: bool = False, at_y: float | None = None
    ) -> None:
        at = np.array([x, self.y if at_y is None else at_y])
        self.letterings.append(Lettering(text, at, size, "left", is_bold))
