"""A board on which lines are drawn first and words find a free place afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor
from unicodedata import bidirectional

import numpy as np
import shapely
from anyascii import anyascii
from matplotlib import ft2font
from matplotlib.font_manager import FontEntry, FontProperties, findfont, fontManager, get_font
from matplotlib.textpath import text_to_path
from PIL import Image, ImageDraw

from unroll.maths import polylines
from unroll.maths.arrays import BoolArray, FloatArray, IntArray, numbered
from unroll.nouns import Lettering, Stroke

FONT = "DejaVu Sans"  # comes with matplotlib, so that every machine draws the same page
ABOVE, BELOW = 0.78, 0.24  # of the size: how far type reaches over and under its base line


@dataclass(frozen=True)
class LineStyle:
    """How a line is drawn: width and dashes in mm, grey from 0 (black) to 1, or a colour."""

    width: float
    dashes: tuple[float, ...] = ()
    grey: float = 0.0
    is_dotted: bool = False
    colour: str = ""  # "#rrggbb" instead of the grey; dashes tell the lines apart without it


# Of the sizes in a nest: our own. The second round of dashes is drawn twice as thick.
_DASHES: tuple[tuple[float, ...], ...] = (
    (), (6.0, 2.0), (1.6, 1.2), (9.0, 2.0, 1.5, 2.0), (14.0, 3.0),
    (8.0, 1.5, 1.0, 1.5, 1.0, 1.5), (3.5, 1.0), (0.6, 2.2),
)  # fmt: skip
_COLOURS = (
    "#26323a", "#8a3324", "#1b5a7a", "#4f6d2f", "#6a3d7c", "#94620a", "#0f6b66", "#a8325f",
)
SIZE_STYLES = {
    f"size {8 * row + k + 1}": LineStyle(0.35 * (row + 1), dashes, colour=colour)
    for row in (0, 1)
    for k, (dashes, colour) in enumerate(zip(_DASHES, _COLOURS, strict=True))
}

STYLES = {
    "cutting": LineStyle(0.5),
    "stitching": LineStyle(0.25, (3.5, 1.8)),
    "notch": LineStyle(0.5),
    "grain": LineStyle(0.35),
    "reference": LineStyle(0.18, (7.0, 1.5, 1.0, 1.5)),
    "fold": LineStyle(0.18, (1.2, 1.6)),
    "ease": LineStyle(0.7, (0.01, 2.0), is_dotted=True),
    "joint": LineStyle(0.18, (0.6, 1.8), 0.3),
    "square": LineStyle(0.15),
    "mark": LineStyle(0.25),
    "bold": LineStyle(0.9),
    "medium": LineStyle(0.4),
    "thin": LineStyle(0.2),
    "faint": LineStyle(0.2, (), 0.6),
    **SIZE_STYLES,
}


@lru_cache(maxsize=4096)
def written(text: str) -> tuple[str, tuple[str, ...]]:
    """Return a text as it can be drawn on this machine, and the fonts that draw it.

    Characters that `FONT` lacks come from another installed font; those that none has are spelt
    in Latin letters, which a reader of the name can at least say.

    Examples
    --------
    >>> written("Åsa Žukova")
    ('Åsa Žukova', ('DejaVu Sans',))
    """
    if text.isascii():
        return text, (FONT,)
    lacking = _lacking(findfont(FONT), frozenset(text) - {"\n"})
    turned = frozenset(c for c in text if bidirectional(c) in ("R", "AL"))
    fonts = [FONT]
    for font in sorted(fontManager.ttflist, key=_preference) if lacking else ():
        found = lacking - _lacking(font.fname, lacking)
        if found:
            fonts.append(font.name)
            lacking -= found
    spelt = lacking if hasattr(ft2font, "__libraqm_version__") else lacking | turned
    return "".join(_in_latin(c) if c in spelt else c for c in text), tuple(fonts)


def _in_latin(character: str) -> str:
    """Return a character's sound, or a picture sign's name: "(thread)"."""
    sound: str = anyascii(character)
    return f"({sound.strip(':')})" if sound.startswith(":") else sound


def _preference(font: FontEntry) -> tuple[bool, bool, str]:
    """Upright fonts of common weight first; then by name, so that a machine decides alike."""
    return font.style != "normal", font.weight not in (400, "normal", "regular"), font.name


def _lacking(path: str, characters: frozenset[str]) -> frozenset[str]:
    """Return the characters that a font has no glyph for; all where it cannot be drawn with."""
    if "lastresort" in path.lower().replace(" ", ""):
        return characters  # it draws a box for everything
    try:
        font = get_font(path)
    except (OSError, RuntimeError):  # pictures instead of outlines, or a broken file
        return characters
    return frozenset(c for c in characters if not font.get_char_index(ord(c)))


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, is_bold: bool = False) -> float:
    """Return the width of a line of text, mm, at a size in mm."""
    text, fonts = written(text)
    if fonts == (FONT,):
        return sum(_advance(character, is_bold) for character in text) * size
    font = FontProperties(family=fonts, size=100, weight="bold" if is_bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return float(width) * size / 100


@lru_cache(maxsize=4096)
def _advance(character: str, is_bold: bool) -> float:
    """Return how far a character of the common font moves on, over the type's size.

    Drawing brings some pairs a little closer: a line is never wider than its characters. Laying
    each line out to measure it took a tenth of all printing.
    """
    font = get_font(findfont(FontProperties(family=FONT, weight="bold" if is_bold else "normal")))
    font.set_size(100, 72)
    glyph = font.load_char(ord(character))
    return float(glyph.linearHoriAdvance) / 65536 / 100


def wrapped(text: str, width: float, size: float, is_bold: bool = False) -> list[str]:
    """Return a text broken at spaces into lines no wider than `width` mm."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, is_bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


LEADING = 1.3  # of the type's size, from base line to base line
CELL = 1.0  # mm; grid on which free places are sought


class Board:
    """Strokes and letterings on an area, with a grid of what is already inked.

    Parameters
    ----------
    corner : (2,) float
        Lower left corner, mm.
    size : (float, float)
        Width and height, mm.
    """

    def __init__(self, corner: FloatArray, size: tuple[float, float]) -> None:
        """Start with nothing drawn."""
        self.corner = np.array(corner, dtype=float)
        shape = int(np.ceil(size[1] / CELL)) + 1, int(np.ceil(size[0] / CELL)) + 1
        self.inked: BoolArray = np.zeros(shape, dtype=bool)
        self.kept: BoolArray = np.zeros(shape, dtype=bool)
        self.strokes: list[Stroke] = []
        self.letterings: list[Lettering] = []

    def draw(self, points: FloatArray, style: str) -> None:
        """Draw a line, and remember where it lies."""
        self.strokes.append(Stroke(points, style))
        self.ink(points)

    def draw_loop(self, points: FloatArray, style: str) -> None:
        """Draw a closed line."""
        self.draw(np.vstack([points, points[:1]]), style)

    def ink(self, points: FloatArray) -> None:
        """Mark the cells along a line, and their neighbours, as taken."""
        counts = np.maximum(2, (polylines.chords(points) / (0.5 * CELL)).astype(int) + 2)
        chord, number = numbered(counts)
        share = number / (counts[chord] - 1)
        places = points[chord] + share[:, None] * np.diff(points, axis=0)[chord]
        j, i = np.floor((places - self.corner) / CELL).astype(int).T
        for row in (-1, 0, 1):
            for column in (-1, 0, 1):
                self._take_cells(i + row, j + column)

    def _take_cells(self, i: IntArray, j: IntArray) -> None:
        is_in = (i >= 0) & (j >= 0) & (i < self.inked.shape[0]) & (j < self.inked.shape[1])
        self.inked[i[is_in], j[is_in]] = True

    def keep_free(self, low: FloatArray, high: FloatArray) -> None:
        """Keep words out of a rectangle (a joint between pages)."""
        self.kept[self._window(low, high)] = True

    def take(self, low: FloatArray, high: FloatArray) -> None:
        """Mark a rectangle as taken by words."""
        self.inked[self._window(low, high)] = True

    def write(
        self,
        lines: Sequence[str],
        near: FloatArray,
        size: float,
        *,
        inside: FloatArray | None = None,
        reach: float = 60.0,
        bold_first: float = 0.0,
        bold_count: int = 1,
        air: float = 1.0,
        mind_joints: bool = True,
    ) -> bool:
        """Write lines of text at the free place nearest to `near`; tell whether there was one.

        Parameters
        ----------
        lines : sequence of str
            Left-aligned under each other.
        near : (2,) float
            Where the middle of the text would best lie, mm.
        size : float
            Type size, mm.
        inside : (k, 2) float, optional
            Outline within which the text must lie.
        reach : float
            How far from `near` the text's middle may lie, mm.
        bold_first : float
            Size of the first lines, bold, mm; 0 for lines like the others.
        bold_count : int
            How many lines are bold.
        air : float
            White around the text, mm.
        mind_joints : bool
            Whether the joints between pages are kept free.
        """
        bold = bold_count if bold_first else 0
        sizes = [bold_first] * bold + [size] * (len(lines) - bold)
        widths = [
            text_width(text, one, index < bold)
            for index, (text, one) in enumerate(zip(lines, sizes, strict=True))
        ]
        box = max(widths), sum(sizes[1:]) * LEADING + sizes[0] * (ABOVE + BELOW)
        place = self._free_place(np.array(box) + 2 * air, near, inside, reach, mind_joints)
        if place is None:
            return False
        low = place + air
        base = low[1] + box[1] - sizes[0] * ABOVE
        for index, (text, one) in enumerate(zip(lines, sizes, strict=True)):
            base -= LEADING * one if index else 0.0
            at = np.array([low[0], base])
            self.letterings.append(Lettering(text, at, one, "left", index < bold))
        self.take(place, place + np.array(box) + 2 * air)
        return True

    def write_along(
        self, text: str, line: FloatArray, size: float, inside: FloatArray, share: float
    ) -> bool:
        """Write bold text along a line, centred on it, at the free place nearest to a share of it.

        Parameters
        ----------
        text : str
        line : (k, 2) float
            What the text's middle follows, mm.
        size : float
            Type size, mm.
        inside : (j, 2) float
            Outline within which the text must lie.
        share : float
            Where it would best stand, from 0 to 1.
        """
        half = np.array([text_width(text, size, True) + 2.0, size * (ABOVE + BELOW) + 1.0]) / 2
        steps = [np.arange(-reach, reach + 0.4, 0.4) for reach in half]
        grid = np.stack(np.meshgrid(*steps), axis=-1).reshape(-1, 2)
        area, whole = shapely.Polygon(inside), polylines.length(line)
        for at in sorted(np.arange(0.06, 0.95, 0.01), key=lambda one: abs(one - share)):
            way = polylines.direction_at(line, at * whole)
            way = way if way[0] > 1e-6 or (abs(way[0]) <= 1e-6 and way[1] > 0) else -way
            turn = np.array([way, [-way[1], way[0]]])
            middle = polylines.point_at(line, at * whole)
            spots = middle + grid @ turn
            j, i = np.floor((spots - self.corner) / CELL).astype(int).T
            if min(i.min(), j.min()) < 0 or i.max() >= len(self.inked):
                continue
            if j.max() >= self.inked.shape[1] or (self.inked[i, j] | self.kept[i, j]).any():
                continue
            if shapely.contains_xy(area, spots).all():
                start = [1.0 - half[0], -size * (ABOVE - BELOW) / 2] @ turn
                angle = float(np.degrees(np.arctan2(way[1], way[0])))
                self.letterings.append(
                    Lettering(text, middle + start, size, "left", True, angle)
                )
                self.inked[i, j] = True
                return True
        return False

    def _free_place(
        self,
        box: FloatArray,
        near: FloatArray,
        inside: FloatArray | None,
        reach: float,
        mind_joints: bool,
    ) -> FloatArray | None:
        """Return the lower left corner of the free box whose middle is nearest to `near`."""
        low, high = near - reach - box / 2, near + reach + box / 2
        rows, columns = self._window(low, high)
        taken = self.inked[rows, columns].copy()
        if mind_joints:
            taken |= self.kept[rows, columns]
        start = self.corner + CELL * np.array([columns.start, rows.start])
        if inside is not None:
            taken |= ~_filled((inside - start) / CELL - 0.5, *taken.shape)
        wide, tall = (int(np.ceil(v / CELL)) for v in box)
        total = np.zeros((taken.shape[0] + 1, taken.shape[1] + 1))
        total[1:, 1:] = taken.cumsum(axis=0).cumsum(axis=1)
        if taken.shape[0] < tall or taken.shape[1] < wide:
            return None
        sums = (
            total[tall:, wide:]
            - total[:-tall, wide:]
            - total[tall:, :-wide]
            + total[:-tall, :-wide]
        )
        i, j = np.nonzero(sums < 0.5)
        if len(i) == 0:
            return None
        corners = start + CELL * np.stack([j, i], axis=1)
        off = np.linalg.norm(corners + box / 2 - near, axis=1)
        best = int(np.argmin(off))
        return corners[best] if off[best] <= reach else None

    def is_free(self, low: FloatArray, high: FloatArray) -> bool:
        """Tell whether nothing is inked within a rectangle."""
        return not bool(self.inked[self._window(low, high)].any())

    def _window(self, low: FloatArray, high: FloatArray) -> tuple[slice, slice]:
        rows, columns = self.inked.shape
        x, y = float(self.corner[0]), float(self.corner[1])
        return (
            slice(
                _within(floor((low[1] - y) / CELL), rows), _within(ceil((high[1] - y) / CELL), rows)
            ),
            slice(
                _within(floor((low[0] - x) / CELL), columns),
                _within(ceil((high[0] - x) / CELL), columns),
            ),
        )


def _filled(outline: FloatArray, rows: int, columns: int) -> BoolArray:
    """Return the cells, (rows, columns), in an outline (k, 2) of columns and rows, or on it."""
    area = Image.new("1", (columns, rows))
    ImageDraw.Draw(area).polygon(outline.ravel().tolist(), fill=1)
    return np.asarray(area)


def _within(cell: int, most: int) -> int:
    return min(max(cell, 0), most)
