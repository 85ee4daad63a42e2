"""From a flattening to the piece that is cut: its stitching line, its reference lines."""

from __future__ import annotations

import numpy as np

from unroll.types import Flattening, FloatArray, Piece, PieceSide


def outline(flattening: Flattening, *, arm: str, source: str = "unrolled") -> Piece:
    """Return the piece that a flattened panel stands for.

    Parameters
    ----------
    flattening : Flattening
    arm : {"left", "right"}
    source : str
        "unrolled" or "corrected".

    Notes
    -----
    The stitching line runs through the panel's boundary vertices; nothing is smoothed, so that
    seam lengths are those of the flattening to rounding.
    """
    panel, points = flattening.panel, flattening.points
    sides = tuple(PieceSide(side.seam, points[side.path]) for side in panel.sides)
    lines = {
        name: _without_repeats(trace.on(points, panel.mesh.faces))
        for name, trace in panel.traces.items()
    }
    return Piece(panel.name, source, arm, sides, lines)


def _without_repeats(line: FloatArray) -> FloatArray:
    """Drop points that follow their neighbour within a thousandth of a millimetre."""
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    return np.asarray(line[np.concatenate([[True], steps > 1e-3])])
