"""Correct the flat pieces by what the filled shape misses."""

from unroll.correcting.explaining import Explained, errors_of, explain, findings
from unroll.correcting.flat_shapes import (
    FlatShapes,
    cost_of_change,
    flat_shapes,
    kinks,
    seam_faults,
)
from unroll.correcting.flat_steps import Reach, SeamSystem, reach_of, seam_system
from unroll.correcting.miscutting import grown, miscut
from unroll.correcting.papers import changes_on_paper
from unroll.correcting.readings import Readings, readings_of
from unroll.correcting.rulers import Ruler, missed, ruler_of
from unroll.correcting.whereabouts import Whereabouts, girth_levels, whereabouts_of
from unroll.correcting.wording import (
    Targets,
    changes_in_words,
    shares,
    shortfall,
    targets_for,
    verdicts,
)

__all__ = [
    "Explained",
    "FlatShapes",
    "Whereabouts",
    "Reach",
    "Readings",
    "Ruler",
    "SeamSystem",
    "Targets",
    "changes_in_words",
    "changes_on_paper",
    "cost_of_change",
    "errors_of",
    "explain",
    "findings",
    "flat_shapes",
    "girth_levels",
    "grown",
    "kinks",
    "whereabouts_of",
    "miscut",
    "missed",
    "reach_of",
    "readings_of",
    "ruler_of",
    "seam_faults",
    "seam_system",
    "shares",
    "shortfall",
    "targets_for",
    "verdicts",
]
