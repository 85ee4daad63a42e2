"""Everything that goes to the printer and the cutting table, as names and contents."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.files.pattern_files import dxf_text, svg_text
from unroll.files.print_files import pdf_bytes
from unroll.types import FinishedPiece, SheetPage

Files = dict[str, bytes | str]


def print_files(
    finished: Sequence[FinishedPiece], pattern: Sequence[SheetPage], guide: Sequence[SheetPage]
) -> Files:
    """Return the pattern and the sewing guide as PDF, and the cut pieces as SVG and DXF."""
    return {
        "pattern.pdf": pdf_bytes(pattern), "cut_pieces.svg": svg_text(finished),
        "cut_pieces.dxf": dxf_text(finished),
        "sewing_guide.pdf": pdf_bytes(guide, title="Order of sewing"),
    }
