"""Level lines and notches of a maker's own pieces: taken where they are drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely

from unroll.arms.lofting import mesh_arm, rounded_shape
from unroll.drafts.drafting import level_line
from unroll.drafts.own_outlines import is_across
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import closest_along, length, point_at
from unroll.nouns import ArmMeasures, Notch, Piece
from unroll.nouns.piece import DRAWN
from unroll.nouns.seam import SEWN_FIRST, is_dart
from unroll.sewn.levels import seam_shares

LEVELS = ("upper arm line", "elbow line", "forearm line")
STATIONS = ("upper_arm", "elbow", "forearm")
EDGE_MM = 10.0  # of the measured arm's mesh
NEAR_MM = 30.0  # that a drawn line may lie off its expected place
LEVEL_NEAR_MM = 4.0
DRAWN_LONGER = 1.02  # times the arm's seams: flat drafts have 1.03, pieces made for the arm 1.01
NOTCH_OFF_MM = 32.0  # of a notch's middle from the stitching line: the widest allowance and more
DOUBLE_MM = 10.0  # between the two marks of a double notch
Ends = tuple[float, float]  # how far down the front and the back seam, mm


def with_levels(
    outer: Piece, inner: Piece, marks: Mapping[str, Sequence[FloatArray]], measures: ArmMeasures
) -> tuple[Piece, Piece, tuple[str, ...]]:
    """Return outer and inner piece with their level lines, and the lines that were not drawn.

    Parameters
    ----------
    marks : mapping of str to sequence of (k, 2) float
        Lines drawn on each piece, in its frame.
    measures : ArmMeasures
        Of the left arm.

    Notes
    -----
    Where a line is not drawn it lies on the inner piece as far down its two seams as on the
    measured arm, by share of their length. On one whose seams are clearly longer than the arm's it
    lies as far above the wrist: flat drafts are drawn by these lengths, and what their seams have
    more lies above. On the outer it starts as far from the armhole (upper arm) and from the wrist
    (forearm), so that what one seam has more than the other lies between: as notches are placed.
    """
    drawn = {piece.name: _across(piece, marks[piece.name]) for piece in (outer, inner)}
    ends = _expected(measures, inner)
    found = _matched(inner, drawn["inner"], ends)
    ends = {name: _ends_of(inner, found[name]) if name in found else ends[name] for name in ends}
    inner = _with_lines(inner, ends, found)
    there = _walked(ends, outer, inner)
    found_outer = _matched(outer, drawn["outer"], there)
    outer = _with_lines(outer, there, found_outer)
    missing = tuple(name for name in LEVELS if name not in found and name not in found_outer)
    lines = dict(outer.lines)
    for name, height in _heights(measures).items():
        lines |= _level(outer, name, height, drawn["outer"])
    low = min(float(s.points[:, 1].min()) for s in inner.sides if s.seam == "underarm seam")
    inner = replace(inner, lines={**inner.lines, **level_line(inner, "underarm line", low)})
    return replace(outer, lines=lines), inner, missing


def _heights(measures: ArmMeasures) -> dict[str, float]:
    """Return the level lines of a cap, by name: height in the piece's frame, mm."""
    height = measures.armhole.height
    arcs = sorted(measures.cap_arcs, key=lambda arc: arc.up)
    levels = {f"cap level {k}": arc.up - height for k, arc in enumerate(arcs, start=1)}
    return {"mid-height line": -0.5 * height, "underarm line": -height, **levels}


def _level(
    piece: Piece, name: str, height: float, drawn: Sequence[FloatArray]
) -> dict[str, FloatArray]:
    near = [
        line for line in drawn
        if np.ptp(line[:, 1]) < 1.0 and abs(float(line[:, 1].mean()) - height) < LEVEL_NEAR_MM
    ]
    if near:
        height = float(min(near, key=lambda x: abs(x[:, 1].mean() - height))[:, 1].mean())
    return level_line(piece, name, height)


def _expected(measures: ArmMeasures, inner: Piece) -> dict[str, Ends]:
    """Return how far down the inner's two seams each level lies, by the measured arm."""
    arm = mesh_arm(rounded_shape(measures), edge=EDGE_MM)
    here = np.array([length(_down(inner, seam)) for seam in SEWN_FIRST])
    there = np.array([length(arm.mesh.vertices[arm.paths[seam]]) for seam in SEWN_FIRST])
    seams = there if here.sum() > DRAWN_LONGER * there.sum() else here
    out = {}
    for name, station in zip(LEVELS, STATIONS, strict=True):
        above_wrist = (1.0 - np.array(seam_shares(arm, station))) * seams
        front, back = here - above_wrist
        out[name] = (float(front), float(back))
    return out


def _across(piece: Piece, marks: Sequence[FloatArray]) -> list[FloatArray]:
    return [mark for mark in marks if is_across(mark, piece.outline)]


def _down(piece: Piece, seam: str) -> FloatArray:
    """Return a side seam from the armhole to the wrist, (k, 2)."""
    points = next(side.points for side in piece.sides if side.seam == seam)
    return points if points[0, 1] > points[-1, 1] else points[::-1]


def _places(piece: Piece, ends: Ends) -> FloatArray:
    """Return the two ends of a level, front then back, (2, 2)."""
    return np.array([
        point_at(_down(piece, seam), at) for seam, at in zip(SEWN_FIRST, ends, strict=True)
    ])  # fmt: skip


def _from_front(piece: Piece, line: FloatArray) -> FloatArray:
    front = shapely.LineString(_down(piece, "front seam"))
    is_front = front.distance(shapely.Point(line[0])) <= front.distance(shapely.Point(line[-1]))
    return line if is_front else line[::-1]


def _ends_of(piece: Piece, line: FloatArray) -> Ends:
    line = _from_front(piece, line)
    front, back = (
        float(shapely.LineString(_down(piece, seam)).project(shapely.Point(end)))
        for seam, end in zip(SEWN_FIRST, (line[0], line[-1]), strict=True)
    )
    return front, back


def _matched(
    piece: Piece, drawn: Sequence[FloatArray], ends: Mapping[str, Ends]
) -> dict[str, FloatArray]:
    """Return the drawn line nearest to each expected one, each once."""
    offs = []
    for name, expected in ends.items():
        places = _places(piece, expected)
        for index, line in enumerate(drawn):
            turned = _from_front(piece, line)
            off = float(np.linalg.norm(turned[[0, -1]] - places, axis=1).mean())
            offs.append((off, name, index))
    found: dict[str, FloatArray] = {}
    used = set[int]()
    for off, name, index in sorted(offs):
        if off < NEAR_MM and name not in found and index not in used:
            found[name] = drawn[index]
            used.add(index)
    return found


def _with_lines(
    piece: Piece, ends: Mapping[str, Ends], found: Mapping[str, FloatArray]
) -> Piece:
    placed = {name: found[name] if name in found else _places(piece, ends[name]) for name in ends}
    return replace(piece, lines={**piece.lines, **placed})


def _walked(ends: Mapping[str, Ends], outer: Piece, inner: Piece) -> dict[str, Ends]:
    """Return how far down the outer's seams the inner's levels lie."""
    out: list[list[float]] = []
    for index, seam in enumerate(SEWN_FIRST):
        at = np.array([ends[name][index] for name in LEVELS])
        whole, other = length(_down(inner, seam)), length(_down(outer, seam))
        top, span = at[0], at[-1] - at[0]
        stretch = (span + other - whole) / span
        out.append([float(top + (place - top) * stretch) for place in at])
    return {name: (out[0][k], out[1][k]) for k, name in enumerate(LEVELS)}


def drawn_notches(piece: Piece, middles: FloatArray) -> Piece:
    """Return a piece with the notches that are drawn on it; marks close together are one.

    Parameters
    ----------
    piece : Piece
    middles : (n, 2) float
        Of the marks, in its frame.
    """
    places: list[tuple[int, float]] = []
    for middle in middles:
        hits = (closest_along(side.points, middle) for side in piece.sides)
        off, along, index = min((off, at, k) for k, (at, off) in enumerate(hits))
        if off < NOTCH_OFF_MM and not is_dart(piece.sides[index].seam):
            places.append((index, along))
    clusters: list[list[tuple[int, float]]] = []
    for place in sorted(places):
        last = clusters[-1][-1] if clusters else (-1, 0.0)
        is_near = place[0] == last[0] and place[1] - last[1] < DOUBLE_MM
        clusters = [*clusters[:-1], [*clusters[-1], place]] if is_near else [*clusters, [place]]
    notches = tuple(
        Notch(f"{DRAWN}{k}", some[0][0], float(np.mean([at for _, at in some])), len(some))
        for k, some in enumerate(clusters, start=1)
    )
    return replace(piece, notches=notches)
