"""The measuring guide: one page that shows on a drawn arm where each tape goes."""

from unroll.guiding.page import guide_figure
from unroll.guiding.wording import TAPES, Tape

__all__ = ["TAPES", "Tape", "guide_figure"]
