"""When a dart layout takes in too little for its shoulder, and what would help."""

from __future__ import annotations

from unroll.types import Make
from unroll.types.corrected import Closing

# Our judgement, no source: what is promised, twice.
SWING_DEG = 1.0
SHOULDER_MM = 8.0


def layout_caution(closing: Closing, make: Make) -> str:
    """Return a plain warning where the layout takes in too little; empty where it does not.

    Parameters
    ----------
    closing : Closing
        Its corrected pieces tell by the swing and the stand-off that are left.
    make : Make
        What the sheet fixes of the darts, and thus what can be asked for instead.
    """
    swing, shoulder = closing.after.swing_deg, closing.after.cap_p95
    signs = []
    if swing > SWING_DEG:
        signs.append(
            f"even corrected, the filled arm swings {swing:.0f}° off (wanted: under "
            f"{SWING_DEG:.0f}°)"
        )
    if shoulder > SHOULDER_MM:
        signs.append(
            f"the shoulder stands up to {shoulder:.0f} mm off (wanted: under {SHOULDER_MM:.0f} mm)"
        )
    if not signs:
        return ""
    return (
        f"This cap takes in too little for its shoulder: {', and '.join(signs)}. "
        f"{_help(closing, make)}"
    )


def _help(closing: Closing, make: Make) -> str:
    if make.cap == "ease":
        return (
            'Darts, or a seam down the outside of the arm, would take in more: write cap = "darts" '
            "in the sheet."
        )
    more = "longer darts, one dart more, or more ease in the cap seam"
    if any(intake.is_seam for intake in closing.intakes):
        more = "a longer seam, darts instead of it, or more ease in the cap seam"
    if make.darts or make.dart_count is not None:
        fixed = "darts" if make.darts else "dart_count"
        return (
            f"What would help: {more}, or a seam down the outside. Leave {fixed} out of the sheet, "
            "and other layouts are tried."
        )
    return (
        f"What would help: {more}; and tape the cap and the armhole again, since the layouts that "
        "can be sewn were tried (is the armhole smaller than the shoulder it is for?)."
    )
