"""Sew flat pieces and fill them: what shape do they take?"""

from unroll.sewing.rest_meshes import (
    fill_rest_mesh,
    fill_rest_mesh_steps,
    rest_of_flattenings,
    settled_rest_mesh,
)
from unroll.sewing.seams import usual_seams
from unroll.sewing.sewing_up import sew, sew_steps

__all__ = [
    "fill_rest_mesh",
    "fill_rest_mesh_steps",
    "rest_of_flattenings",
    "settled_rest_mesh",
    "sew",
    "sew_steps",
    "usual_seams",
]
