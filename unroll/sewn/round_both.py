"""The tape that makers take at the end: round the double and both arms, half-way down the cap."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from unroll.arms.lofting import in_the_room
from unroll.errors import UnrollError
from unroll.maths.ellipses import superellipse_loop
from unroll.maths.sections import hull_length, section_segments
from unroll.nouns import ArmMeasures, Double, Mesh

LEVEL_SHARE = 0.5  # of the armhole's height, below the shoulder point
ROUND = np.linspace(0.0, 1.0, 181)


def taped_round_both(
    meshes: Mapping[str, Mesh], measures: ArmMeasures, double: Double
) -> dict[str, float]:
    """Return what the tape reads with each arm on both sides of the double, by name, mm.

    Parameters
    ----------
    meshes : mapping of str to Mesh
        Arms in the frame of the armhole's plate.
    measures : ArmMeasures
        Whose side and stance they have.
    double : Double

    Raises
    ------
    UnrollError
        When an arm does not reach the tape's level.

    Notes
    -----
    A taut tape bridges every hollow, so it is the outline of the convex hull of three sections: an
    oval of the double's breadth and depth, and the arm at its place on either side. Without a depth
    the double is a line from armhole to armhole, and the tape reads at least what is said.
    """
    return {name: _taped(mesh, measures, double) for name, mesh in meshes.items()}


def _taped(mesh: Mesh, measures: ArmMeasures, double: Double) -> float:
    points = in_the_room(mesh.vertices, measures)
    level = np.array([0.0, 0.0, -LEVEL_SHARE * measures.armhole.height])
    section = section_segments(points, mesh.faces, level, np.array([0.0, 0.0, 1.0])).reshape(-1, 3)
    if not len(section):
        raise UnrollError(
            f"the arm does not reach {-level[2]:.0f} mm below the shoulder point, where the tape "
            "round both arms lies; expected a cap that hangs lower"
        )
    half = 0.5 * double.between_armholes
    arm = np.column_stack([section[:, 0], np.abs(section[:, 1]) + half])
    # a double without depth is the line between its armholes
    body = superellipse_loop(ROUND, 0.5 * (double.depth or 0.0) + 1e-9, half, 2.0)
    one_side = np.concatenate([arm, body])
    both = np.concatenate([one_side, one_side * [1.0, -1.0]])
    return hull_length(both)
