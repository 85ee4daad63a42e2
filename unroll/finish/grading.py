"""Sizes of one arm: each piece laid over itself in every size, and how the sizes differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import FinishedPiece, GradedMeasure, LaidPiece, Nest

HELD = "underarm line"  # what stays put from size to size: caps grow up from it, arms down


def nests_of(sets: Mapping[str, Sequence[FinishedPiece]]) -> tuple[Nest, ...]:
    """Return a nest for every piece that two sizes or more have.

    Parameters
    ----------
    sets : mapping of str to sequence of FinishedPiece
        By the size's name, in the order of the sizes.

    Raises
    ------
    UnrollError
        When fewer than two sizes are given.

    Notes
    -----
    Sizes lie over one another with the grain up and the middle of the underarm line held; a piece
    without one is held by the middle of its extent.
    """
    if len(sets) < 2:
        raise UnrollError(f"{len(sets)} size was made; expected two or more to lay over another")
    pieces: dict[tuple[str, str], dict[str, FinishedPiece]] = {}
    for size, finished in sets.items():
        for piece in finished:
            pieces.setdefault((piece.title, piece.arm), {})[size] = piece
    return tuple(
        Nest(
            title, arm, next(iter(by_size.values())).material, tuple(by_size),
            tuple(LaidPiece(piece, -held_point(piece), arm=arm) for piece in by_size.values()),
        )
        for (title, arm), by_size in pieces.items() if len(by_size) > 1
    )  # fmt: skip


def held_point(piece: FinishedPiece) -> FloatArray:
    """Return the point of a piece that stays put from size to size, (2,), mm."""
    line = piece.lines.get(HELD, piece.stitching)
    middle: FloatArray = 0.5 * (line.min(axis=0) + line.max(axis=0))
    return middle


def graded(nests: Sequence[Nest]) -> tuple[GradedMeasure, ...]:
    """Return every measure of every piece, in each of all the sizes.

    Parameters
    ----------
    nests : sequence of Nest

    Returns
    -------
    tuple of GradedMeasure
        Lengths of seams, widths at the reference lines, width and height over all, intakes and
        lengths of darts; on the stitching line.
    """
    sizes = list(dict.fromkeys(size for nest in nests for size in nest.sizes))
    rows = []
    for nest in nests:
        named = nest.title if nest.arm == "both" else f"{nest.title}, {nest.arm}"
        found = {
            size: dict(_measures(laid.piece))
            for size, laid in zip(nest.sizes, nest.laid, strict=True)
        }
        for name in dict.fromkeys(name for measures in found.values() for name in measures):
            values = tuple(found.get(size, {}).get(name) for size in sizes)
            rows.append(GradedMeasure(named, name, values))
    return tuple(rows)


def _measures(piece: FinishedPiece) -> Iterator[tuple[str, float]]:
    """Yield each measure of a piece, mm."""
    outline = piece.stitching
    wide, high = np.ptp(outline, axis=0)
    yield "width over all", float(wide)
    yield "height over all", float(high)
    inside = shapely.make_valid(shapely.Polygon(outline))
    for name, line in piece.lines.items():
        if name != "grain" and not name.startswith("cap level") and len(line) > 1:
            yield f"width at {name}", float(inside.intersection(shapely.LineString(line)).length)
    seams = dict.fromkeys(side.seam for side in piece.sides if not side.seam.startswith("dart"))
    for seam in seams:
        yield seam, sum(side.length for side in piece.sides if side.seam == seam)
    for dart in piece.darts:
        yield f"{dart.name} intake", dart.intake
        yield f"{dart.name} length", dart.length
