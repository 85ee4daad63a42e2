"""Everything that goes to the printer and the cutting table, as names and contents."""

from __future__ import annotations

from html import escape

from unroll.files.pattern_files import dxf_text, svg_text
from unroll.files.print_files import pdf_bytes, png_bytes
from unroll.printing import step_pictures
from unroll.reporting.html import picture
from unroll.types import Ready, Sheet
from unroll.types.shown import Figure, Section

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


def guide_section(ready: Ready, sheet: Sheet) -> Section:
    """Return the order of sewing as a section of the report, a drawing a step."""
    steps = "".join(
        f"<li><strong>{escape(step.name)}.</strong> {escape(step.text)}"
        f"{picture(Figure(step.name, png_bytes(page, dots_per_inch=96.0)))}</li>"
        for step, page in step_pictures(ready.finished, sheet, facts=ready.facts)
    )
    return Section("sewing-order", "The order of sewing", f"<ol>{steps}</ol>")
