"""Pictures of a correction: pieces, hang, layouts, and how far its figures can be trusted."""

from unroll.picturing_corrected.certainty import certainty_figure
from unroll.picturing_corrected.hanging import hang_figure
from unroll.picturing_corrected.layouts import layouts_figure
from unroll.picturing_corrected.overlays import overlay_figure, redrawn_figure

__all__ = [
    "certainty_figure",
    "hang_figure",
    "layouts_figure",
    "overlay_figure",
    "redrawn_figure",
]
