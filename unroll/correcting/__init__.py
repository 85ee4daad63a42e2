"""Correct the surface that is laid flat by what the filled shape misses."""

from unroll.correcting.deforming import check_unfolded, deform
from unroll.correcting.explaining import Explained, errors_of, explain, findings
from unroll.correcting.handles import Handles, girth_levels, handles_of
from unroll.correcting.miscutting import grown, miscut
from unroll.correcting.rulers import Ruler, missed, ruler_of
from unroll.correcting.updating import (
    Slopes,
    correction_of,
    cost,
    halfway,
    improved,
    learnt,
    least_change,
    numbers_of,
    probes,
    slopes,
    weigh,
)
from unroll.correcting.wording import Targets, changes_in_words, targets_for, verdicts

__all__ = [
    "Explained",
    "errors_of",
    "explain",
    "findings",
    "grown",
    "miscut",
    "Targets",
    "changes_in_words",
    "targets_for",
    "verdicts",
    "Handles",
    "Ruler",
    "Slopes",
    "check_unfolded",
    "correction_of",
    "cost",
    "deform",
    "girth_levels",
    "halfway",
    "handles_of",
    "improved",
    "learnt",
    "least_change",
    "missed",
    "numbers_of",
    "probes",
    "ruler_of",
    "slopes",
    "weigh",
]
