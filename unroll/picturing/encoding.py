"""Figures as bytes that repeat: no dates, no versions, no random names."""

from __future__ import annotations

import io

from matplotlib import rc_context
from matplotlib.figure import Figure


def png_bytes(figure: Figure, *, dots_per_inch: int = 120) -> bytes:
    """Return a figure as PNG; the same figure always gives the same bytes."""
    stream = io.BytesIO()
    # "Software" carries matplotlib's version unless it is emptied.
    figure.savefig(stream, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return stream.getvalue()


def svg_bytes(figure: Figure) -> bytes:
    """Return a figure as SVG with text kept as text; the same figure gives the same bytes."""
    stream = io.BytesIO()
    with rc_context({"svg.hashsalt": "unroll", "svg.fonttype": "none", "path.simplify": False}):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    return stream.getvalue()
