"""Lay the flat draft over the unrolled pieces and measure where they part ways."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely
from scipy.optimize import brentq

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import joined, signed_distances, spaced
from unroll.nouns import (
    ArmMeasures,
    CapFacts,
    Comparison,
    LevelSurplus,
    LineWidths,
    Piece,
    PieceComparison,
    PieceSide,
)

SLACK = 0.05  # mm that a line's end may miss the outline it is drawn to
_DART = re.compile(r"dart \d+$")


def piece_named(pieces: tuple[Piece, ...], name: str) -> Piece:
    """Return the piece of that name.

    Raises
    ------
    UnrollError
        When there is none.
    """
    for piece in pieces:
        if piece.name == name:
            return piece
    names = ", ".join(piece.name for piece in pieces) or "none"
    raise UnrollError(f"no piece is called {name}; the pieces are: {names}")


def cloth_along(piece: Piece, line: FloatArray) -> float:
    """Return the length of cloth under a line across a piece, mm: open darts are left out."""
    ruler = shapely.LineString(line)
    outside = shapely.get_parts(ruler.difference(shapely.Polygon(piece.outline)))
    lengths = shapely.length(outside)
    return float(ruler.length - lengths[lengths > SLACK].sum())


def cloth_at_height(piece: Piece, height: float) -> float:
    """Return the width of cloth on a horizontal line across a piece, mm, darts left out."""
    x = piece.outline[:, 0]
    ruler = shapely.LineString([(x.min() - 1.0, height), (x.max() + 1.0, height)])
    return float(ruler.intersection(shapely.Polygon(piece.outline)).length)


def bow(line: FloatArray) -> float:
    """Return how far a line bows up from the straight line between its ends, mm.

    Examples
    --------
    >>> bow(np.array([[0.0, 0.0], [5.0, 2.0], [10.0, 0.0]]))
    2.0
    """
    start, end = (line[0], line[-1]) if line[0, 0] <= line[-1, 0] else (line[-1], line[0])
    along = (end - start) / np.linalg.norm(end - start)
    off = (line - start) @ np.array([-along[1], along[0]])
    return float(off[np.argmax(np.abs(off))])


def outline_without_darts(piece: Piece) -> FloatArray:
    """Return a piece's outline with straight lines across the mouths of its darts, (k, 2)."""
    runs = [side.points for side in piece.sides if not _DART.match(side.seam)]
    return np.concatenate([run[:-1] if np.allclose(run[-1], after[0]) else run
                           for run, after in zip(runs, [*runs[1:], runs[0]], strict=True)])


def net_seam(piece: Piece, seam: str) -> float:
    """Return the length of a seam with darts closed, mm."""
    return piece.seam_length(seam)


def cap_height(outer: Piece) -> float:
    """Return how far the cap rises above the underarm line where the grain crosses it, mm.

    Raises
    ------
    UnrollError
        When the piece bears no underarm line.
    """
    top = max(float(s.points[:, 1].max()) for s in outer.sides if s.seam == "cap seam")
    return top - float(anchor(outer, "underarm line")[1])


def anchor(piece: Piece, name: str) -> FloatArray:
    """Return where the grain crosses a reference line, (2,), or the middle of that line.

    Raises
    ------
    UnrollError
        When the piece does not bear that line.
    """
    if name not in piece.lines:
        raise UnrollError(f"the {piece.source} {piece.name} piece has no {name} to measure from")
    line = shapely.LineString(piece.lines[name])
    grain = piece.lines.get("grain")
    if grain is not None and len(grain) > 1:
        meeting = line.intersection(shapely.LineString(_lengthened(grain)))
        if not meeting.is_empty:
            return np.asarray(meeting.representative_point().coords[0], dtype=float)
    return np.asarray(line.interpolate(0.5, normalized=True).coords[0], dtype=float)


def _lengthened(line: FloatArray) -> FloatArray:
    """Return a line with both ends carried on by 20 mm, so that it crosses what it only reaches."""
    first = line[0] - 20.0 * (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    last = line[-1] + 20.0 * (line[-1] - line[-2]) / np.linalg.norm(line[-1] - line[-2])
    return joined([np.array([first, line[0]]), line, np.array([line[-1], last])])


def chord_stand_off(chord: float, extra: float) -> float:
    """Return the height of the arc by which cloth spans a fixed chord, mm; 0 for cloth too short.

    Parameters
    ----------
    chord : float
        Distance between the two ends, mm.
    extra : float
        Length of cloth beyond the chord, mm.

    Notes
    -----
    A circular arc of length c + e over a chord c: sin x / x = c / (c + e) for half its angle x;
    height (c + e)(1 − cos x) / 2x.

    Examples
    --------
    >>> [round(chord_stand_off(200.0, e), 1) for e in (25.4, 12.7, 6.35)]
    [44.5, 31.2, 21.9]
    """
    if extra <= 0 or chord <= 0:
        return 0.0
    cloth = chord + extra
    half = brentq(lambda x: np.sinc(x / np.pi) - chord / cloth, 1e-9, np.pi, xtol=1e-14)
    return float(cloth * (1.0 - np.cos(half)) / (2.0 * half))


def chord_stand_off_about(chord: float, extra: float) -> float:
    """Return the same height by the rule of thumb √(3ec/8), which holds for little extra, mm.

    Examples
    --------
    >>> round(chord_stand_off_about(200.0, 6.35), 1)
    21.8
    """
    return float(np.sqrt(3.0 * extra * chord / 8.0)) if extra > 0 and chord > 0 else 0.0


def cap_levels(
    pieces: tuple[Piece, ...], measures: ArmMeasures, armhole_half: float
) -> tuple[LevelSurplus, ...]:
    """Return the cloth on each cap level against the measured arc, the cap seam last.

    Parameters
    ----------
    pieces : tuple of Piece
        A pattern with "outer" and "inner"; levels are read where the outer bears lines "cap
        level 1", ... (the flat draft does).
    measures : ArmMeasures
    armhole_half : float
        Length of the armhole's upper half, mm.

    Notes
    -----
    A tape below the armhole's middle also passes over the inner arm's horns beside the armhole:
    their width on that level counts as cloth.
    """
    outer, inner = piece_named(pieces, "outer"), piece_named(pieces, "inner")
    rows = []
    for number, arc in enumerate(sorted(measures.cap_arcs, key=lambda a: a.up), start=1):
        line = outer.lines.get(f"cap level {number}")
        if line is None:
            continue
        cloth = cloth_along(outer, line) + _horns(inner, float(line[0, 1]))
        rows.append(_row(f"cap level {number}", outer.source, arc.up, cloth, arc.length))
    height = measures.armhole.height
    seam = net_seam(outer, "cap seam")
    rows.append(_row("cap seam", outer.source, height, seam, armhole_half))
    return tuple(rows)


def _horns(inner: Piece, height: float) -> float:
    """Return the width of the inner arm beside the armhole on a level, mm."""
    edge = [s.points for s in inner.sides if s.seam == "underarm seam"]
    lowest = min(float(points[:, 1].min()) for points in edge)
    return cloth_at_height(inner, height) if height > lowest else 0.0


def _row(name: str, source: str, up: float, cloth: float, arm: float) -> LevelSurplus:
    """Return one level's row."""
    extra = cloth - arm
    return LevelSurplus(
        name, source, up, cloth, arm, chord_stand_off(arm, extra), chord_stand_off_about(arm, extra)
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
