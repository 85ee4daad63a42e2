"""Everything that goes to the printer and the cutting table, as names and contents."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import matplotlib
import numpy as np
from matplotlib.artist import Artist
from matplotlib.backend_bases import RendererBase
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure as Canvas
from matplotlib.font_manager import FontProperties
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.textpath import TextPath, text_to_path
from matplotlib.transforms import Affine2D, Transform

from unroll.disk.pattern_svg import svg_text
from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, Ready, SheetPage
from unroll.paper.board import FONT, STYLES, LineStyle, text_width, written

POINTS_PER_MM = 72 / 25.4
SETTINGS: Any = {"pdf.fonttype": 3, "path.simplify": False, "pdf.compression": 6}


def pdf_bytes(pages: Sequence[SheetPage], *, title: str = "Pieces ready to cut") -> bytes:
    """Return the pages as one PDF, true to scale.

    Fonts are embedded; with SOURCE_DATE_EPOCH set, the same pages give the same bytes.
    """
    from matplotlib.backends.backend_pdf import PdfPages  # only here: it takes long to load

    stream = io.BytesIO()
    facts = {"Title": title, "Creator": "unroll", "Producer": "matplotlib", "Author": None}
    with matplotlib.rc_context(SETTINGS), PdfPages(stream, metadata=facts) as book:
        for page in pages:
            book.savefig(page_figure(page))
    return stream.getvalue()


def png_bytes(page: SheetPage, *, dots_per_inch: float = 50.0) -> bytes:
    """Return one page as a PNG picture."""
    stream = io.BytesIO()
    with matplotlib.rc_context({"path.simplify": False}):
        figure, place = _drawn(page)
        _draw_letters(figure, place, page.letterings)
        figure.savefig(
            stream, format="png", dpi=dots_per_inch, metadata={"Software": "unroll"}
        )
    return stream.getvalue()


def page_figure(page: SheetPage) -> Canvas:
    """Return a page as a figure of its exact size, its words as text."""
    figure, place = _drawn(page)
    _draw_letters(figure, place, [text for text in page.letterings if not _is_common(text)])
    figure.add_artist(_Words([text for text in page.letterings if _is_common(text)], place))
    return figure


def _is_common(text: Lettering) -> bool:
    """Tell whether the common font has all letters of a line."""
    return written(text.text)[1] == (FONT,)


def _drawn(page: SheetPage) -> tuple[Canvas, Transform]:
    """Return a page without its words, and the way from millimetres to the figure.

    There are no axes: making their ticks took as long as drawing a page.
    """
    figure = Canvas(figsize=(page.width / 25.4, page.height / 25.4), facecolor="white")
    place = Affine2D().scale(1 / 25.4) + figure.dpi_scale_trans
    if page.patches:
        figure.add_artist(
            PolyCollection(
                [patch.points for patch in page.patches],
                facecolors=[str(patch.grey) for patch in page.patches],
                edgecolors="none",
                transform=place,
            )
        )
    for name, style in STYLES.items():
        lines = [stroke.points for stroke in page.strokes if stroke.style == name]
        if lines:
            collection = _collection(lines, style)
            collection.set_transform(place)
            figure.add_artist(collection)
    return figure, place


def _collection(lines: list[FloatArray], style: LineStyle) -> LineCollection:
    """Return lines of one style; matplotlib reads dashes in widths of the line."""
    width = style.width * POINTS_PER_MM
    dashes = (0, tuple(dash / style.width for dash in style.dashes)) if style.dashes else "solid"
    round_or_flat = "round" if style.is_dotted or not style.dashes else "butt"
    return LineCollection(
        lines,
        linewidths=width,
        colors=style.colour or str(style.grey),
        linestyles=dashes,
        capstyle=round_or_flat,
        joinstyle="miter",
    )


class _Words(Artist):
    """Lines of text in the common font, each drawn where it stands.

    A figure's own texts measure themselves once more before they are drawn.
    """

    def __init__(self, texts: Sequence[Lettering], place: Transform) -> None:
        super().__init__()
        self._texts, self._place = texts, place

    def draw(self, renderer: RendererBase) -> None:
        for text in self._texts:
            words, _ = written(text.text)
            x, y = self._place.transform(_moved(text).transform((0.0, 0.0)))
            context = renderer.new_gc()
            renderer.draw_text(context, x, y, words, _font_of(text), text.turn_deg)
            context.restore()


def _font_of(text: Lettering) -> FontProperties:
    weight = "bold" if text.is_bold else "normal"
    return FontProperties(family=FONT, weight=weight, size=text.size * POINTS_PER_MM)


def _moved(text: Lettering) -> Transform:
    """Return the way from a line's own start to where it stands on its page, mm."""
    share = {"left": 0.0, "middle": 0.5, "right": 1.0}[text.align]
    back = -share * text_width(text.text, text.size, text.is_bold)
    return Affine2D().translate(back, 0.0).rotate_deg(text.turn_deg).translate(*text.at)


def _draw_letters(figure: Canvas, place: Transform, texts: Sequence[Lettering]) -> None:
    """Draw words as one shape: quicker than text, and no PDF holds every font of a machine."""
    if texts:
        shape = Path.make_compound_path(*(_shape_of(text) for text in texts))
        figure.add_artist(
            PathPatch(shape, facecolor="black", linewidth=0.0, transform=place)
        )


def _shape_of(text: Lettering) -> Path:
    """Return the outlines of a lettering's characters where they stand, mm."""
    words, fonts = written(text.text)
    place = _moved(text)
    if _is_common(text):
        return place.transform_path(_in_common_font(words, text.size, text.is_bold))
    font = FontProperties(family=fonts, weight="bold" if text.is_bold else "normal")
    return place.transform_path(TextPath((0.0, 0.0), words, size=text.size, prop=font))


def _in_common_font(words: str, size: float, is_bold: bool) -> Path:
    """Return the outlines of a line of text from 0, each character made once."""
    shapes, at = [], 0.0
    for character in words:
        outline, advance = _character(character, is_bold)
        points = size * (np.asarray(outline.vertices, dtype=float) + [at, 0.0])
        shapes.append(Path(points, outline.codes))
        at += advance
    return Path.make_compound_path(*shapes)


@lru_cache(maxsize=4096)
def _character(character: str, is_bold: bool) -> tuple[Path, float]:
    """Return a character's outline at size 1, and how far it moves on."""
    font = FontProperties(family=FONT, weight="bold" if is_bold else "normal")
    points, codes = text_to_path.get_text_path(font, character)
    outline = np.asarray(points, dtype=float).reshape(-1, 2) / text_to_path.FONT_SCALE
    return Path(outline, np.asarray(codes, dtype=np.uint8)), text_width(character, 1.0, is_bold)


Files = dict[str, bytes | str]


def print_files(ready: Ready) -> Files:
    """Return pattern and guide as PDF, the cut pieces as SVG and DXF, thumbnails as PNG."""
    return pattern_files(ready) | piece_files(ready) | guide_files(ready)


def pattern_files(ready: Ready) -> Files:
    """Return the pattern as PDF, with its pages as thumbnails."""
    thumbnails = {
        f"thumbnails/{page.name.replace(' ', '_')}.png": png_bytes(page, dots_per_inch=36.0)
        for page in ready.pattern
    }
    return {"pattern.pdf": pdf_bytes(ready.pattern), **thumbnails}


def piece_files(ready: Ready) -> Files:
    """Return the cut pieces as SVG and DXF."""
    from unroll.disk.pattern_dxf import dxf_text  # only here: it takes long to load

    return {
        "cut_pieces.svg": svg_text(ready.finished),
        "cut_pieces.dxf": dxf_text(ready.finished),
    }


def guide_files(ready: Ready) -> Files:
    """Return the guide to sewing the pieces as PDF."""
    return {"sewing_guide.pdf": pdf_bytes(ready.guide, title="Order of sewing")}
