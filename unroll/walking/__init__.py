"""Walk seams as a maker does: run one stitching line along the other from notch to notch."""

from unroll.walking.chains import closed_cap
from unroll.walking.judging import GOOD, USABLE
from unroll.walking.notching import place_notches
from unroll.walking.seams import kinks_deg, walk

__all__ = ["GOOD", "USABLE", "closed_cap", "kinks_deg", "place_notches", "walk"]
