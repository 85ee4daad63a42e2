"""Shapes laid side by side without overlap, on a strip or on tiles."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.fft import irfft2, next_fast_len, rfft2

from unroll.maths.arrays import BoolArray, FloatArray, IntArray
from unroll.maths.triangles import edge_within

MOST_MM2 = 1.2e6  # of shapes on the grid asked for: two pairs of large arms; more, and it is wider


@dataclass(frozen=True, eq=False)
class Placement:
    """Where a shape came to lie.

    Attributes
    ----------
    index : int
        Which shape.
    turn_deg : float
        Anticlockwise turn about the shape's origin.
    move : (2,) float
        Where its origin lies, mm.
    """

    index: int
    turn_deg: float
    move: FloatArray


@dataclass(frozen=True, eq=False)
class _Candidate:
    """One shape at one turn, as cells; `origin` is the lower left corner of cell (0, 0)."""

    turn_deg: float
    mask: BoolArray
    origin: FloatArray


def pack_on_strip(
    outlines: Sequence[FloatArray],
    width: float,
    *,
    turns: Sequence[float] = (0.0, 180.0),
    gap: float = 4.0,
    cell: float = 4.0,
) -> tuple[list[Placement], float]:
    """Lay shapes on a strip from its lower end, as short as three simple orders make it.

    Parameters
    ----------
    outlines : sequence of (k, 2) float
        Closed outlines, mm.
    width : float
        Width of the strip, mm; every shape must fit at one of the turns.
    turns : sequence of float
        Turns that are allowed, degrees.
    gap : float
        Smallest distance between two shapes, mm.
    cell : float
        Grid on which shapes are tried, mm; they never overlap, whatever it is.

    Returns
    -------
    list of Placement, float
        In the order given; x within 0 to `width`, y from 0; and the length used, mm.

    Notes
    -----
    Lowest place first, then leftmost ("bottom left"), tried on a grid all at once by convolution:
    a place is free where the shape's cells meet no taken cell. Longest, widest and largest first
    are tried, and the shortest lay is kept.
    """
    if not outlines:
        raise ValueError("nothing to pack")
    cell = edge_within(cell, _areas(outlines), MOST_MM2)
    candidates = [_candidates(line, turns, gap, cell) for line in outlines]
    shape = (_strip_rows(outlines, width, gap, cell), int((width + gap) / cell + 1e-9))

    def lowest(candidate: _Candidate, free: BoolArray) -> IntArray:
        rows, columns = np.nonzero(free)
        score = (rows + candidate.mask.shape[0]) * free.shape[1] + columns
        best = int(np.argmin(score))
        return np.array([score[best], rows[best], columns[best]])

    lays = []
    for order in _orders(outlines):
        placed = _lay(candidates, order, shape, lowest)
        moved = _moved(placed, candidates, np.full(2, -gap / 2), cell)
        lays.append(_from_zero(moved, outlines))
    return min(lays, key=lambda lay: round(lay[1], 6))


def pack_on_tiles(
    outlines: Sequence[FloatArray],
    tile: tuple[float, float],
    grid: tuple[int, int],
    *,
    rim: float = 0.0,
    turns: Sequence[float] = (0.0, 90.0, 180.0, 270.0),
    gap: float = 6.0,
    cell: float = 4.0,
) -> list[Placement]:
    """Lay shapes on a grid of tiles so that few tiles are touched, and few joints crossed.

    Parameters
    ----------
    outlines : sequence of (k, 2) float
        Closed outlines, mm.
    tile : (float, float)
        Width and height of a tile, mm.
    grid : (int, int)
        Most rows and columns.
    rim : float
        Usable strip outside the outermost tiles, mm.

    Returns
    -------
    list of Placement
        In the order given; the grid's lower left corner is the origin.
    """
    cell = edge_within(cell, _areas(outlines), MOST_MM2)
    candidates = [_candidates(line, turns, gap, cell) for line in outlines]
    rows, columns = grid
    shape = (
        int((rows * tile[1] + 2 * rim + gap) / cell),
        int((columns * tile[0] + 2 * rim + gap) / cell),
    )
    corner = np.full(2, -rim - gap / 2)
    used = np.zeros(grid, dtype=bool)

    def fewest_tiles(candidate: _Candidate, free: BoolArray) -> IntArray:
        touched = _tiles_touched(candidate.mask, free.shape, tile, grid, corner, cell)
        new = (touched & ~used[:, :, None, None]).sum(axis=(0, 1))
        every = touched.sum(axis=(0, 1))
        up, right = np.indices(free.shape)
        far = (up + right) / (sum(free.shape) + 1)
        score = np.where(free, 10000.0 * new + 100.0 * every + 99.0 * far, np.inf)
        row, column = np.unravel_index(int(np.argmin(score)), free.shape)
        return np.array([round(1000 * score[row, column]), row, column])

    def remember(candidate: _Candidate, row: int, column: int) -> None:
        one = (candidate.mask.shape[0] * 0 + 1, 1)
        hit = _tiles_touched(candidate.mask, one, tile, grid, corner, cell, (row, column))
        used[:] |= hit[:, :, 0, 0]

    placed = _lay(candidates, _orders(outlines)[2], shape, fewest_tiles, remember)
    return _moved(placed, candidates, corner, cell)


def _areas(outlines: Sequence[FloatArray]) -> float:
    return float(sum(shapely.Polygon(line).area for line in outlines))


def _orders(outlines: Sequence[FloatArray]) -> list[list[int]]:
    """Return three orders: tallest, widest, and largest first."""
    spans = [np.ptp(line, axis=0) for line in outlines]
    areas = [float(shapely.Polygon(line).area) for line in outlines]
    keys: list[Callable[[int], float]] = [
        lambda i: -spans[i][1],
        lambda i: -spans[i][0],
        lambda i: -areas[i],
    ]
    return [sorted(range(len(outlines)), key=key) for key in keys]


def _strip_rows(outlines: Sequence[FloatArray], width: float, gap: float, cell: float) -> int:
    """Return rows enough for any lay: the heights of shelves filled to at least a half."""
    spans = np.array([np.ptp(line, axis=0) + gap + 2 * cell for line in outlines])
    shelves = 2 * float((spans[:, 0] * spans[:, 1]).sum()) / width + 2 * spans[:, 1].max()
    return int(min(shelves, spans[:, 1].sum()) / cell) + 2


def _candidates(
    outline: FloatArray, turns: Sequence[float], gap: float, cell: float
) -> list[_Candidate]:
    return [_candidate(outline, turn, gap, cell) for turn in turns]


def _candidate(outline: FloatArray, turn: float, gap: float, cell: float) -> _Candidate:
    """Return the cells whose centre lies so near a shape that it might reach into the cell."""
    grown = shapely.Polygon(turned(outline, turn)).buffer(gap / 2 + 0.708 * cell)
    left, low, right, high = grown.bounds
    columns, rows = int(np.ceil((right - left) / cell)), int(np.ceil((high - low) / cell))
    x = left + cell * (np.arange(columns) + 0.5)
    y = low + cell * (np.arange(rows) + 0.5)
    mask = shapely.contains_xy(grown, *np.meshgrid(x, y))
    keep_rows, keep_columns = np.nonzero(mask.any(axis=1))[0], np.nonzero(mask.any(axis=0))[0]
    first = keep_rows[0], keep_columns[0]
    mask = mask[first[0] : keep_rows[-1] + 1, first[1] : keep_columns[-1] + 1]
    return _Candidate(turn, mask, np.array([left + cell * first[1], low + cell * first[0]]))


def turned(points: FloatArray, turn_deg: float) -> FloatArray:
    """Return points turned anticlockwise about the origin; quarter turns are exact."""
    angle = np.deg2rad(turn_deg)
    cos, sin = np.round([np.cos(angle), np.sin(angle)], 15)
    out: FloatArray = points @ np.array([[cos, sin], [-sin, cos]])
    return out


def _lay(
    candidates: list[list[_Candidate]],
    order: Sequence[int],
    shape: tuple[int, int],
    choose: Callable[[_Candidate, BoolArray], IntArray],
    remember: Callable[[_Candidate, int, int], None] | None = None,
) -> dict[int, tuple[int, int, int]]:
    """Lay the shapes one by one where `choose` likes it best: turn, row and column of each."""
    taken = np.zeros(shape, dtype=bool)
    placed: dict[int, tuple[int, int, int]] = {}
    for index in order:
        found: list[tuple[int, int, int, int]] = []
        for turn, candidate in enumerate(candidates[index]):
            height, width = candidate.mask.shape
            if height > shape[0] or width > shape[1]:
                continue
            free = _free(taken, candidate.mask)
            if free.any():
                score, row, column = (int(v) for v in choose(candidate, free))
                found.append((score, turn, row, column))
        if not found:
            raise ValueError(f"shape {index} does not fit")
        _, turn, row, column = min(found)
        mask = candidates[index][turn].mask
        taken[row : row + mask.shape[0], column : column + mask.shape[1]] |= mask
        placed[index] = turn, row, column
        if remember is not None:
            remember(candidates[index][turn], row, column)
    return placed


def _free(taken: BoolArray, mask: BoolArray) -> BoolArray:
    """Return where a mask's lower left cell may lie so that it meets no taken cell."""
    rows, columns = (a - b + 1 for a, b in zip(taken.shape, mask.shape, strict=True))
    if not taken.any():
        return np.ones((rows, columns), dtype=bool)
    # a correlation by transforms: no place within reach wraps round
    shape = [next_fast_len(count, real=True) for count in taken.shape]
    product = rfft2(taken.astype(float), shape) * np.conj(rfft2(mask.astype(float), shape))
    out: BoolArray = irfft2(product, shape)[:rows, :columns] < 0.5
    return out


def _tiles_touched(
    mask: BoolArray,
    places: tuple[int, ...],
    tile: tuple[float, float],
    grid: tuple[int, int],
    corner: FloatArray,
    cell: float,
    start: tuple[int, int] = (0, 0),
) -> BoolArray:
    """Return (rows, columns, *places): whether the mask, laid at each place, touches a tile."""
    total = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1))
    total[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)

    def edges(count: int, size: float, offset: float, many: int, first: int, most: int) -> IntArray:
        lines = np.round((np.arange(count + 1) * size - offset) / cell).astype(int)
        # the outermost tiles own the rim
        lines[0], lines[-1] = -(10**6), 10**6
        return np.clip(lines[:, None] - (first + np.arange(many))[None], 0, most)

    y = edges(grid[0], tile[1], corner[1], places[0], start[0], mask.shape[0])
    x = edges(grid[1], tile[0], corner[0], places[1], start[1], mask.shape[1])
    bands = [total[high] - total[low] for low, high in pairwise(y)]
    return np.array(
        [[band[:, high] - band[:, low] > 0.5 for low, high in pairwise(x)] for band in bands]
    )


def _moved(
    placed: dict[int, tuple[int, int, int]],
    candidates: list[list[_Candidate]],
    corner: FloatArray,
    cell: float,
) -> list[Placement]:
    out = []
    for index in sorted(placed):
        turn, row, column = placed[index]
        candidate = candidates[index][turn]
        move = corner + cell * np.array([column, row]) - candidate.origin
        out.append(Placement(index, candidate.turn_deg, move))
    return out


def _from_zero(
    placed: list[Placement], outlines: Sequence[FloatArray]
) -> tuple[list[Placement], float]:
    """Shift a lay so that it starts at y = 0 and x >= 0; return it and its length."""
    all_points = np.concatenate([turned(outlines[p.index], p.turn_deg) + p.move for p in placed])
    low = all_points.min(axis=0)
    shifted = [Placement(p.index, p.turn_deg, p.move - low) for p in placed]
    return shifted, float(np.ptp(all_points[:, 1]))
