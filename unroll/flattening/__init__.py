"""Lay a curved panel flat: Panel -> Flattening."""

from unroll.flattening.flatten import flatten, flatten_free, flatten_steps

__all__ = ["flatten", "flatten_free", "flatten_steps"]
