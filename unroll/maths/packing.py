"""Shapes laid side by side without overlap, on a strip or on tiles."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from scipy.fft import irfft2, next_fast_len, rfft2

from unroll.maths.arrays import BoolArray, FloatArray, IntArray
from unroll.maths.triangles import edge_within

ComplexArray = npt.NDArray[np.complexfloating]

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
        row, column = divmod(int(np.argmax(free)), free.shape[1])  # the first in order of rows
        return np.array([(row + candidate.mask.shape[0]) * free.shape[1] + column, row, column])

    lays, board = [], _Board(shape)
    for order in _orders(outlines):
        board.clear()
        placed = _lay(candidates, order, board, lowest)
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
        up, right = (np.arange(count) for count in free.shape)
        far = (up[:, None] + right) / (sum(free.shape) + 1)
        many = np.zeros((2, *free.shape), dtype=np.int16)  # tiles touched: fresh, and used already
        for row, column, within, touched in _tiles_touched(
            candidate.mask, free.shape, tile, grid, corner, cell
        ):
            many[int(used[row, column])][within] += touched
        score = np.where(free, 99.0 * far + (10100.0 * many[0] + 100.0 * many[1]), np.inf)
        best = np.unravel_index(int(np.argmin(score)), free.shape)
        return np.array([round(1000 * score[best]), *best])

    def remember(candidate: _Candidate, row: int, column: int) -> None:
        place = row, column
        for k, m, _, touched in _tiles_touched(
            candidate.mask, (1, 1), tile, grid, corner, cell, place
        ):
            used[k, m] |= touched.any()

    placed = _lay(candidates, _orders(outlines)[2], _Board(shape), fewest_tiles, remember)
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


class _Board:
    """The cells that are taken so far, of (rows, columns)."""

    def __init__(self, shape: tuple[int, int]) -> None:
        self.taken = np.zeros(shape, dtype=bool)
        self._size = [next_fast_len(count, real=True) for count in shape]
        self._of_masks: dict[_Candidate, ComplexArray] = {}
        self._of_taken: ComplexArray | None = None

    def clear(self) -> None:
        """Take everything away."""
        self.taken[:] = False
        self._of_taken = None

    def take(self, candidate: _Candidate, row: int, column: int) -> None:
        """Lay a shape down, its lower left cell at a place."""
        height, width = candidate.mask.shape
        self.taken[row : row + height, column : column + width] |= candidate.mask
        self._of_taken = None

    def free(self, candidate: _Candidate) -> BoolArray:
        """Return where a shape's lower left cell may lie so that it meets no taken cell."""
        rows, columns = np.array(self.taken.shape) - candidate.mask.shape + 1
        if not self.taken.any():
            return np.ones((rows, columns), dtype=bool)
        if self._of_taken is None:
            self._of_taken = self._transformed(self.taken)
        if candidate not in self._of_masks:
            self._of_masks[candidate] = np.conj(self._transformed(candidate.mask))
        # a correlation by transforms: no place within reach wraps round
        product = self._of_taken * self._of_masks[candidate]
        return np.asarray(irfft2(product, self._size)[:rows, :columns] < 0.5)

    def _transformed(self, cells: BoolArray) -> ComplexArray:
        # counts of cells stay well below what single precision tells apart
        return np.asarray(rfft2(cells.astype(np.float32), self._size))


def _lay(
    candidates: list[list[_Candidate]],
    order: Sequence[int],
    board: _Board,
    choose: Callable[[_Candidate, BoolArray], IntArray],
    remember: Callable[[_Candidate, int, int], None] | None = None,
) -> dict[int, tuple[int, int, int]]:
    """Lay the shapes one by one where `choose` likes it best: turn, row and column of each."""
    placed: dict[int, tuple[int, int, int]] = {}
    for index in order:
        found: list[tuple[int, int, int, int]] = []
        for turn, candidate in enumerate(candidates[index]):
            height, width = candidate.mask.shape
            if height > board.taken.shape[0] or width > board.taken.shape[1]:
                continue
            free = board.free(candidate)
            if free.any():
                score, row, column = (int(v) for v in choose(candidate, free))
                found.append((score, turn, row, column))
        if not found:
            raise ValueError(f"shape {index} does not fit")
        _, turn, row, column = min(found)
        board.take(candidates[index][turn], row, column)
        placed[index] = turn, row, column
        if remember is not None:
            remember(candidates[index][turn], row, column)
    return placed


def _tiles_touched(
    mask: BoolArray,
    places: tuple[int, ...],
    tile: tuple[float, float],
    grid: tuple[int, int],
    corner: FloatArray,
    cell: float,
    start: tuple[int, int] = (0, 0),
) -> Iterator[tuple[int, int, tuple[slice, slice], BoolArray]]:
    """Yield row and column of each tile, the places within its reach, and whether they touch it."""
    total = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1), dtype=np.int32)
    total[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)

    def edges(count: int, size: float, offset: float, many: int, first: int, most: int) -> IntArray:
        lines = np.round((np.arange(count + 1) * size - offset) / cell).astype(int)
        # the outermost tiles own the rim
        lines[0], lines[-1] = -(10**6), 10**6
        return np.clip(lines[:, None] - (first + np.arange(many))[None], 0, most)

    y = edges(grid[0], tile[1], corner[1], places[0], start[0], mask.shape[0])
    x = edges(grid[1], tile[0], corner[0], places[1], start[1], mask.shape[1])
    for row, (low, high) in enumerate(pairwise(y)):
        up = _reach(low, high)
        band = total[high[up]] - total[low[up]]
        for column, (left, right) in enumerate(pairwise(x)):
            along = _reach(left, right)
            yield row, column, (up, along), band[:, right[along]] > band[:, left[along]]


def _reach(low: IntArray, high: IntArray) -> slice:
    """Return the run of places at which a shape's cells reach from below a limit to above one."""
    found = np.flatnonzero(high > low)
    return slice(int(found[0]), int(found[-1]) + 1) if len(found) else slice(0, 0)


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
