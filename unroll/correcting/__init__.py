"""Correct the surface that is laid flat by what the filled shape misses."""

from unroll.correcting.deforming import deform
from unroll.correcting.handles import Handles, girth_levels, handles_of
from unroll.correcting.rulers import Ruler, missed, ruler_of
from unroll.correcting.updating import (
    Slopes,
    correction_of,
    cost,
    halfway,
    improved,
    learnt,
    numbers_of,
    probes,
    slopes,
    weigh,
)

__all__ = [
    "Handles", "Ruler", "Slopes", "correction_of", "cost", "deform", "girth_levels", "halfway",
    "handles_of", "improved", "learnt", "missed", "numbers_of", "probes", "ruler_of", "slopes",
    "weigh",
]
