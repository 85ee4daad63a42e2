"""The shoulder extension, which joins the arm to the double."""

from __future__ import annotations

import numpy as np

from unroll.drafting.plates import STEP, ArmholeEdge
from unroll.geometry.outlines import joined, walked
from unroll.geometry.smooth_curves import curve_through
from unroll.types import ArmMeasures, FloatArray, Notch, Piece, PieceSide, mirrored

SEAM = "shoulder extension seam"


def shoulder_extension(measures: ArmMeasures, edge: ArmholeEdge, source: str) -> Piece:
    """Return the piece that reaches from the cap seam half way along the shoulder; cut two.

    The front and back halves of the double's shoulder are laid together along the shoulder line,
    which is the grain (y, the neck end up). Each half of the armhole's upper edge, from the
    shoulder notch to its mid-height notch, leaves the shoulder line square and bends up into an
    arc whose chord falls from the square by that half's shoulder slope. The free edge runs from
    notch to notch over the point half way to the neck.
    """
    lengths = (edge.upper_length - edge.shoulder, edge.shoulder)
    slopes = (measures.shoulder_slope_front_deg, measures.shoulder_slope_back_deg)
    front, back = (_half(reach, slope) for reach, slope in zip(lengths, slopes, strict=True))
    seam = joined([front[::-1] * np.array([-1.0, 1.0]), back])
    peak = np.array([0.0, 0.5 * measures.shoulder_length])
    free = joined([
        _free_half(peak, back[-1], 1)[::-1],
        _free_half(peak, front[-1] * np.array([-1.0, 1.0]), -1),
    ])
    sides = (PieceSide(SEAM, seam), PieceSide("shoulder extension edge", free))
    notches = (
        Notch("front", 0, 0.0, 1),
        Notch("shoulder", 0, float(walked(seam)[len(front) - 1]), 1),
        Notch("back", 0, sides[0].length, 2),
    )
    lines = {"grain": np.array([peak, [0.0, 0.0]])}
    piece = Piece("shoulder extension", source, "left", sides, lines, notches)
    return piece if measures.side == "left" else mirrored(piece, "right")


def _half(reach: float, slope_deg: float) -> FloatArray:
    """Return an arc of length `reach` from the origin along +x, its chord falling by the slope."""
    count = max(int(np.ceil(reach / STEP)), 4)
    along = np.linspace(0.0, reach, count + 1)
    turn = 2.0 * np.radians(slope_deg)
    if abs(turn) < 1e-9:
        return np.column_stack([along, np.zeros_like(along)])
    radius = reach / turn
    angle = along / radius
    return np.column_stack([radius * np.sin(angle), -radius * (1.0 - np.cos(angle))])


def _free_half(peak: FloatArray, corner: FloatArray, side: int) -> FloatArray:
    """Return the free edge from its peak, square to the grain, to a notch, (k, 2)."""
    return curve_through([peak, corner], start=(side, 0)).sampled(STEP)
