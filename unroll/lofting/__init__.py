"""Loft an arm from its measures: stacked ellipses that reproduce the tape.

Below the underarm the sections are closed ellipses (at the wrist a superellipse) of the measured
girths on an axis that bends at the elbow; above it they are ellipses cut off by the armhole
plate. `shape_arm` solves the shape once; `mesh_arm` lays a mesh over it at any fineness.
"""

from unroll.lofting.shaping import ArmShape, loft, mesh_arm, shape_arm

__all__ = ["ArmShape", "loft", "mesh_arm", "shape_arm"]
