"""Lay the flat draft over the unrolled pieces and measure where they part ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from unroll.comparing.levels import cap_levels
from unroll.comparing.measuring_pieces import (
    anchor,
    bow,
    cap_height,
    cloth_along,
    net_seam,
    outline_without_darts,
    piece_named,
)
from unroll.geometry.outlines import signed_distances, spaced
from unroll.types import (
    ArmMeasures,
    CapFacts,
    Comparison,
    FloatArray,
    LineWidths,
    Piece,
    PieceComparison,
    PieceSide,
)

ALIGNED_ON = "upper arm line"
STEP = 2.0  # mm between the points of an outline whose distance is taken


def compare(
    drafted: tuple[Piece, ...], unrolled: tuple[Piece, ...], measures: ArmMeasures
) -> Comparison:
    """Compare the flat draft of an arm with its unrolled pieces.

    Parameters
    ----------
    drafted, unrolled : tuple of Piece
        Each with "outer" and "inner" of the same arm; other pieces are not compared.
    measures : ArmMeasures

    Raises
    ------
    UnrollError
        When a piece is missing, or the two outer pieces bear no line to be aligned on.

    Notes
    -----
    Both lie with the grain upright; the unrolled piece is moved, not turned, until grain and
    upper-arm line cross in the same point.
    """
    half = armhole_half(drafted, unrolled, measures)
    pairs = [(piece_named(drafted, n), piece_named(unrolled, n)) for n in ("outer", "inner")]
    caps = tuple(
        CapFacts(p.source, cap_height(p), net_seam(p, "cap seam"), half) for p in pairs[0]
    )
    return Comparison(
        drafted=pairs[0][0].source,
        unrolled=pairs[0][1].source,
        pieces=tuple(compare_piece(one, other) for one, other in pairs),
        levels=(
            *cap_levels(drafted, measures, half), *cap_levels(unrolled, measures, half)
        ),
        caps=caps,
    )


def armhole_half(
    drafted: tuple[Piece, ...], unrolled: tuple[Piece, ...], measures: ArmMeasures
) -> float:
    """Return the length of the armhole's upper half, from an armhole base if there is one, mm."""
    for piece in (*drafted, *unrolled):
        if piece.name == "armhole base":
            return net_seam(piece, "cap seam")
    return 0.5 * measures.armhole.girth


def compare_piece(drafted: Piece, unrolled: Piece) -> PieceComparison:
    """Compare one piece of the draft with the same piece unrolled.

    Raises
    ------
    UnrollError
        When either bears no line to be aligned on.
    """
    shift = anchor(drafted, ALIGNED_ON) - anchor(unrolled, ALIGNED_ON)
    other = moved(unrolled, shift)
    outline = outline_without_darts(drafted)
    points = spaced(np.concatenate([outline, outline[:1]]), STEP)[:-1]
    distances = signed_distances(points, outline_without_darts(other))
    return PieceComparison(
        piece=drafted.name,
        area_difference_percent=100.0 * (drafted.area - other.area) / other.area,
        outline_distance_max_mm=float(np.abs(distances).max()),
        outline_distance_mean_mm=float(np.abs(distances).mean()),
        points=points,
        distances=distances,
        shift=shift,
        lines=_lines(drafted, other),
        seams_mm=_seams(drafted, other),
    )


def moved(piece: Piece, shift: FloatArray) -> Piece:
    """Return a piece moved on the paper."""
    return replace(
        piece,
        sides=tuple(PieceSide(s.seam, s.points + shift) for s in piece.sides),
        lines={name: line + shift for name, line in piece.lines.items()},
    )


def _lines(drafted: Piece, unrolled: Piece) -> tuple[LineWidths, ...]:
    """Compare the reference lines that both pieces bear."""
    names = [n for n in drafted.lines if n in unrolled.lines and n != "grain"]
    return tuple(
        LineWidths(
            name,
            cloth_along(drafted, drafted.lines[name]),
            cloth_along(unrolled, unrolled.lines[name]),
            bow(drafted.lines[name]),
            bow(unrolled.lines[name]),
        )
        for name in names
    )


def _seams(drafted: Piece, unrolled: Piece) -> tuple[tuple[str, float, float], ...]:
    """Compare the seams that both pieces bear."""
    theirs = {side.seam for side in unrolled.sides}
    names = dict.fromkeys(side.seam for side in drafted.sides if side.seam in theirs)
    return tuple((n, net_seam(drafted, n), net_seam(unrolled, n)) for n in names)


def comparison_rows(comparison: Comparison) -> list[Mapping[str, object]]:
    """Return the comparison as the report's rows: one a piece, keys as documented."""
    return [
        {
            "piece": p.piece,
            "drafted": comparison.drafted,
            "unrolled": comparison.unrolled,
            "area_difference_percent": p.area_difference_percent,
            "outline_distance_max_mm": p.outline_distance_max_mm,
            "outline_distance_mean_mm": p.outline_distance_mean_mm,
            "lines": [
                {
                    "name": x.name, "drafted_mm": x.drafted_mm, "unrolled_mm": x.unrolled_mm,
                    "drafted_bow_mm": x.drafted_bow_mm, "unrolled_bow_mm": x.unrolled_bow_mm,
                }
                for x in p.lines
            ],
            "seams": [
                {"name": n, "drafted_mm": one, "unrolled_mm": other}
                for n, one, other in p.seams_mm
            ],
        }
        for p in comparison.pieces
    ]


def level_rows(comparison: Comparison) -> list[Mapping[str, object]]:
    """Return the cap, level by level, as the report's rows."""
    return [
        {
            "name": x.name, "source": x.source, "up_mm": x.up_mm, "cloth_mm": x.cloth_mm,
            "arm_mm": x.arm_mm, "surplus_mm": x.surplus_mm, "standoff_mm": x.standoff_mm,
            "standoff_about_mm": x.standoff_about_mm,
        }
        for x in comparison.levels
    ]
