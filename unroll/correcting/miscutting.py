"""Pieces that are not cut as drawn: astray here and there, or too large all round."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from unroll.types import FloatArray, Piece, PieceSide

SHORTEST_WAVE_MM = 60.0  # a hand that strays comes back over about a hand's breadth


def miscut(piece: Piece, *, astray: float, seed: int) -> Piece:
    """Return a piece whose stitching line strays by `astray` mm (root mean square).

    The line wanders in and out in waves of a hand's breadth and more; sides still meet.
    """
    outline = piece.outline
    steps = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    at, total = np.concatenate([[0.0], np.cumsum(steps)[:-1]]), float(steps.sum())
    waves = np.arange(1, max(int(total / SHORTEST_WAVE_MM), 1) + 1)
    random = np.random.default_rng(seed)
    phases, sizes = random.uniform(0.0, 2.0 * np.pi, len(waves)), random.normal(size=len(waves))
    angles = 2.0 * np.pi * np.outer(at / total, waves) + phases
    stray = np.sin(angles) @ sizes
    stray *= astray / np.sqrt(np.mean(stray**2))
    return _with_outline(piece, outline + stray[:, None] * _outward(outline))


def grown(piece: Piece, *, by: float) -> Piece:
    """Return a piece whose stitching line lies `by` mm further out all round; darts stay.

    Parameters
    ----------
    by : float
        mm; negative for a smaller piece.
    """
    outline = piece.outline
    names = np.concatenate([[side.seam] * (len(side.points) - 1) for side in piece.sides])
    is_dart = np.array([name.startswith("dart ") for name in names])
    kept = is_dart & np.roll(is_dart, 1)
    # where the outline turns, both its lines move out by the same amount
    normals = _outward(outline)
    lines = _line_normals(outline)
    facing = np.maximum(np.sum(normals * lines, axis=1), 0.5)
    shift = np.where(kept, 0.0, by / facing)
    moved = outline + shift[:, None] * normals
    mouths = is_dart ^ np.roll(is_dart, 1)
    seam_side = np.where(is_dart[:, None], np.roll(lines, 1, axis=0), lines)
    moved[mouths] = outline[mouths] + by * seam_side[mouths]
    return _with_outline(piece, moved)


def _line_normals(outline: FloatArray) -> FloatArray:
    """Return the outward unit normal of the line that starts at each point."""
    way = np.roll(outline, -1, axis=0) - outline
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    return np.asarray(np.column_stack([way[:, 1], -way[:, 0]]))


def _outward(outline: FloatArray) -> FloatArray:
    """Return the outward unit normal at each point of an anticlockwise outline."""
    lines = _line_normals(outline)
    normals = lines + np.roll(lines, 1, axis=0)
    size = np.linalg.norm(normals, axis=1)
    return np.asarray(
        np.where(size[:, None] > 1e-6, normals / np.maximum(size, 1e-6)[:, None], lines)
    )


def _with_outline(piece: Piece, outline: FloatArray) -> Piece:
    closed, start, sides = np.vstack([outline, outline[:1]]), 0, []
    for side in piece.sides:
        stop = start + len(side.points) - 1
        sides.append(PieceSide(side.seam, closed[start : stop + 1]))
        start = stop
    return replace(piece, sides=tuple(sides))
