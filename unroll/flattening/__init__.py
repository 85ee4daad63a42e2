"""Lay a curved panel flat: Panel -> Flattening."""

from unroll.flattening.flatten import flatten, flatten_free, flatten_steps
from unroll.flattening.laying import relaid

__all__ = ["flatten", "flatten_free", "flatten_steps", "relaid"]
