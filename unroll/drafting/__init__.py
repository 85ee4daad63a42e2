"""Draft one arm by the flat rules that a maker uses on paper: five pieces from a sheet."""

from unroll.drafting.advising import draft_notices, ease_advice, ease_percent
from unroll.drafting.caps import drawn_darts
from unroll.drafting.dart_places import are_intakes_free
from unroll.drafting.darts import dart_angle_rad, dart_intakes
from unroll.drafting.layout import inner_width
from unroll.drafting.pieces import draft
from unroll.drafting.plates import armhole_base, wrist_base

__all__ = [
    "are_intakes_free", "armhole_base", "dart_angle_rad", "dart_intakes", "draft",
    "draft_notices", "drawn_darts", "ease_advice", "ease_percent", "inner_width", "wrist_base",
]
