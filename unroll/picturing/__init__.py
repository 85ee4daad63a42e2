"""Pictures: the arm in 3D with seams and heat map, heat maps on the flat pieces, the pieces."""

from unroll.picturing.arms import arm_figure
from unroll.picturing.encoding import png_bytes, svg_bytes
from unroll.picturing.filled_models import filled_model, gap_span
from unroll.picturing.flat import heat_figure, pieces_figure
from unroll.picturing.heat import give_percent, heat_legend, heat_top
from unroll.picturing.models import arm_model

__all__ = [
    "arm_figure",
    "arm_model",
    "filled_model",
    "gap_span",
    "give_percent",
    "heat_figure",
    "heat_legend",
    "heat_top",
    "pieces_figure",
    "png_bytes",
    "svg_bytes",
]
