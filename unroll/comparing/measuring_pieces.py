"""A ruler on flat pieces: widths across them with darts closed, bows of lines, cap heights."""

from __future__ import annotations

import re

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.geometry.outlines import joined
from unroll.types import FloatArray, Piece

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
