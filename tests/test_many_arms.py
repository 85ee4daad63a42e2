"""Plausible arms: closed meshes, disk panels, no flips, seams and measures kept.

Thirty of them; `python tests/study_many_arms.py` holds as many as are asked for to the same.
"""

from __future__ import annotations

import numpy as np
import trimesh
from hypothesis import given, settings

from tests.strategies import arm_measures
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.arms.taping import tape
from unroll.flat.cutting import cut
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten
from unroll.nouns import ArmMeasures, DartLine

DARTS = (DartLine(40.0, 60.0), DartLine(-40.0, 60.0))
GIRTH_MM, LENGTH_MM = 0.3, 1.0  # closer than a tape is read


@settings(max_examples=30)
@given(measures=arm_measures())
def test_any_plausible_arm_lofts_cuts_and_flattens(measures: ArmMeasures) -> None:
    check_arm(measures)


def check_arm(measures: ArmMeasures) -> None:
    shape = shape_arm(measures)
    arm = mesh_arm(shape, edge=14.0, darts=DARTS)
    mesh = trimesh.Trimesh(arm.mesh.vertices, arm.mesh.faces, process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0
    laid_lengths = []
    for panel in cut(arm):
        assert (
            trimesh.Trimesh(panel.mesh.vertices, panel.mesh.faces, process=False).euler_number == 1
        )
        flat = flatten(panel)
        distortion = measure_distortion(flat)
        assert distortion.flips == 0
        for curved, laid in distortion.seam_lengths_mm.values():
            assert abs(laid / curved - 1.0) <= 1e-6
        laid_lengths.append(distortion.seam_lengths_mm)
    outer, inner = laid_lengths
    for seam in ("front seam", "back seam"):
        assert np.isclose(outer[seam][1], inner[seam][1], rtol=1e-6)
    for row in tape(mesh_arm(shape), measures, fights=shape.fights):
        limit = GIRTH_MM if row.name.endswith("_girth") else LENGTH_MM
        assert abs(row.got_mm - row.asked_mm) <= limit or row.name in shape.fights, row
