"""Lay the flat draft over the unrolled pieces: where the rules and the measured arm part ways."""

from unroll.comparing.levels import cap_levels
from unroll.comparing.overlaying import compare, compare_piece, comparison_rows, level_rows, moved
from unroll.comparing.standing_off import chord_stand_off, chord_stand_off_about
from unroll.comparing.taping_drafts import tape_draft

__all__ = [
    "cap_levels", "chord_stand_off", "chord_stand_off_about", "compare", "compare_piece",
    "comparison_rows", "level_rows", "moved", "tape_draft",
]
