"""Pictures of the flat draft: its pieces, the overlay, walked seams, the cap level by level."""

from unroll.picturing_draft.levels import levels_figure
from unroll.picturing_draft.overlays import overlay_figure
from unroll.picturing_draft.pieces import draft_figure
from unroll.picturing_draft.seams import walked_figure

__all__ = ["draft_figure", "levels_figure", "overlay_figure", "walked_figure"]
