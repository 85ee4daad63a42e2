"""Everything that goes to the printer and the cutting table, as names and contents."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure as Canvas
from matplotlib.font_manager import FontProperties
from matplotlib.patches import PathPatch
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D

from unroll.disk.pattern_files import dxf_text, svg_text
from unroll.maths.arrays import FloatArray
from unroll.nouns import Lettering, Ready, SheetPage
from unroll.paper.board import FONT, STYLES, LineStyle, text_width, written

POINTS_PER_MM = 72 / 25.4
SETTINGS: Any = {"pdf.fonttype": 42, "path.simplify": False, "pdf.compression": 6}


def pdf_bytes(pages: Sequence[SheetPage], *, title: str = "Pieces ready to cut") -> bytes:
    """Return the pages as one PDF, true to scale.

    Fonts are embedded; with SOURCE_DATE_EPOCH set, the same pages give the same bytes.
    """
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
        figure = page_figure(page)
        figure.savefig(
            stream, format="png", dpi=dots_per_inch, metadata={"Software": "unroll"}
        )
    return stream.getvalue()


def page_figure(page: SheetPage) -> Canvas:
    """Return a page as a figure of its exact size, one unit a millimetre."""
    figure = Canvas(figsize=(page.width / 25.4, page.height / 25.4), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, page.width)
    axes.set_ylim(0, page.height)
    axes.set_axis_off()
    if page.patches:
        axes.add_collection(
            PolyCollection(
                [patch.points for patch in page.patches],
                facecolors=[str(patch.grey) for patch in page.patches],
                edgecolors="none",
            )
        )
    for name, style in STYLES.items():
        lines = [stroke.points for stroke in page.strokes if stroke.style == name]
        if lines:
            axes.add_collection(_collection(lines, style))
    for text in page.letterings:
        _write(axes, text)
    return figure


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


def _write(axes: Axes, text: Lettering) -> None:
    words, fonts = written(text.text)
    if fonts != (FONT,):
        _draw_letters(axes, text, words, fonts)
        return
    axes.text(
        float(text.at[0]),
        float(text.at[1]),
        words,
        fontsize=text.size * POINTS_PER_MM,
        family=FONT,
        weight="bold" if text.is_bold else "normal",
        ha={"left": "left", "middle": "center", "right": "right"}[text.align],
        va="baseline",
        rotation=text.turn_deg,
        rotation_mode="anchor",
        parse_math=False,
        color="black",
    )


def _draw_letters(axes: Axes, text: Lettering, words: str, fonts: tuple[str, ...]) -> None:
    """Draw letters as shapes: a PDF cannot hold every kind of font that a machine may have."""
    font = FontProperties(family=fonts, weight="bold" if text.is_bold else "normal")
    share = {"left": 0.0, "middle": 0.5, "right": 1.0}[text.align]
    back = -share * text_width(text.text, text.size, text.is_bold)
    place = Affine2D().translate(back, 0.0).rotate_deg(text.turn_deg).translate(*text.at)
    letters = TextPath((0.0, 0.0), words, size=text.size, prop=font)
    axes.add_patch(PathPatch(place.transform_path(letters), facecolor="black", linewidth=0.0))


Files = dict[str, bytes | str]


def print_files(ready: Ready) -> Files:
    """Return pattern and guide as PDF, the cut pieces as SVG and DXF, thumbnails as PNG."""
    thumbnails = {
        f"thumbnails/{page.name.replace(' ', '_')}.png": png_bytes(page, dots_per_inch=36.0)
        for page in ready.pattern
    }
    return {
        "pattern.pdf": pdf_bytes(ready.pattern),
        "cut_pieces.svg": svg_text(ready.finished),
        "cut_pieces.dxf": dxf_text(ready.finished),
        "sewing_guide.pdf": pdf_bytes(ready.guide, title="Order of sewing"),
        **thumbnails,
    }
