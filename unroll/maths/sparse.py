"""Symmetric matrices of 3 × 3 blocks in banded storage, factorised by LAPACK."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import breadth_first_order
from scipy.sparse.linalg import splu

from unroll.errors import UnrollError
from unroll.maths.arrays import BoolArray, FloatArray, IntArray


class SingularMatrix(UnrollError):
    """A matrix whose equations have no single answer, or whose numbers are none."""


class SymmetricFactor:
    """Factors of a sparse symmetric matrix; pivots are taken from the diagonal in a sparse order.

    Parameters
    ----------
    matrix : (n, n) sparse array
        Symmetric; positive definite, or quasi-definite up to a permutation.
    keep_order : bool
        Eliminate in the order given, instead of looking for a sparser one.

    Raises
    ------
    SingularMatrix
        When a pivot is zero or no number.

    Notes
    -----
    Minimum degree on A + A' in SuperLU's symmetric mode leaves half the fill of the default
    column ordering on triangle meshes, and less than a geometric nested dissection did. Panels
    and relaxed supernodes of one column suit the thin factors of planar meshes. Larger relaxed
    supernodes than SuperLU's own made it overrun its memory.
    """

    def __init__(self, matrix: Any, *, keep_order: bool = False) -> None:
        """Factor the matrix."""
        columns = sparse.csc_matrix(matrix)
        try:
            self._factors = splu(
                columns,
                permc_spec="NATURAL" if keep_order else "MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                relax=1,
                panel_size=1,
                options={"SymmetricMode": True},
            )
        except RuntimeError as error:
            raise SingularMatrix(
                f"{columns.shape[0]} equations of a mesh have no single answer (a pivot is 0); "
                "expected triangles of sound shape (are some far thinner than the rest?)"
            ) from error

    def solve(self, right: FloatArray) -> FloatArray:
        """Return the solution for one or more right-hand sides, (n,) or (n, k)."""
        out: FloatArray = self._factors.solve(right)
        return out

    def solve_complex(self, right: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """Return the solution for a complex right-hand side, (n,), of a real matrix."""
        both = self.solve(np.stack([right.real, right.imag], axis=1))
        out: NDArray[np.complex128] = both[:, 0] + 1j * both[:, 1]
        return out

    @property
    def order(self) -> NDArray[np.int64]:
        """Original index of each row in the order of elimination, (n,)."""
        return np.argsort(self._factors.perm_c).astype(np.int64)

    @property
    def is_definite(self) -> bool:
        """Whether every pivot is positive: by inertia, whether the matrix is positive definite."""
        return bool(np.min(self._factors.U.diagonal()) > 0)


def pinned_factor(laplacian: Any) -> SymmetricFactor:
    """Return the factors of a Laplacian, (n, n), with its first vertex held in place.

    A right-hand side that adds up to zero leaves that vertex at 0.
    """
    pin = sparse.csc_array(([1.0], ([0], [0])), shape=laplacian.shape)
    return SymmetricFactor(laplacian + pin)


def narrow_order(pairs: IntArray, count: int, along: FloatArray) -> IntArray:
    """Return the place of each of `count` nodes in an order that keeps linked nodes close.

    Parameters
    ----------
    pairs : (k, 2) int
        Linked nodes.
    along : (count,) float
        A coordinate to sweep along, as the other candidate.

    Notes
    -----
    The narrowest of the sweep and of the waves of neighbours that start at either end of it (after
    E. Cuthill, J. McKee, 1969, doi 10.1145/800195.805928): on an arm's mesh a wave from the wrist
    is a sixth narrower than the sweep, and that is a third of the work.
    """
    link = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(count, count)).tocsr()
    sweep = np.argsort(along, kind="stable")
    waves = (_wave(link, int(end)) for end in (sweep[0], sweep[-1]))
    orders = [sweep, *(wave for wave in waves if len(wave) == count)]
    places = [np.argsort(order, kind="stable") for order in orders]
    widths = [int(np.abs(place[pairs[:, 0]] - place[pairs[:, 1]]).max()) for place in places]
    return np.asarray(places[int(np.argmin(widths))], dtype=np.int64)


def _wave(link: Any, start: int) -> IntArray:
    """Return the nodes that linked ones reach, nearest to the start first."""
    found = breadth_first_order(link, start, directed=False, return_predecessors=False)
    return np.asarray(found)


@dataclass(frozen=True, eq=False)
class Scatter:
    """Where the entries of element matrices go among the entries of a band.

    Attributes
    ----------
    keep : (k,) int
        Entries of the ravelled element matrices that lie in the lower triangle.
    to : (k,) int
        Their places among the band's entries; in the ravelled band until `banded` gathers them.
    """

    keep: IntArray
    to: IntArray

    def gather(self, elements: FloatArray, count: int) -> FloatArray:
        """Return the band's `count` entries that the element matrices add up to."""
        weights = elements.reshape(-1)[self.keep]
        return np.asarray(np.bincount(self.to, weights=weights, minlength=count), dtype=float)


def scatter(nodes: IntArray, width: int) -> Scatter:
    """Return where element matrices over `nodes` (e, c), each node of 3 unknowns, go.

    A node of −1 has no unknowns. Elements are (e, 3c, 3c), node-major; `width` is the widest
    difference of linked nodes.
    """
    unknowns = (3 * nodes[:, :, None] + np.arange(3)).reshape(len(nodes), 3 * nodes.shape[1])
    return _scatter(unknowns, np.repeat(nodes >= 0, 3, axis=1), width)


def scatter_pairs(first: IntArray, second: IntArray, width: int) -> Scatter:
    """Return where blocks of pairs of nodes (e, p) go: of `first` the row, of `second` the column.

    Blocks are (p, 3, 3, e), of nodes of 3 unknowns, one block for both ways round; −1 as in
    `scatter`.
    """
    axis = np.arange(3)[:, None]
    row = 3 * first.T[:, None, None] + axis[:, None]
    column = 3 * second.T[:, None, None] + axis
    is_own = (first == second).T[:, None, None]
    has = ((first >= 0) & (second >= 0)).T[:, None, None]
    keep = np.flatnonzero((has & (~is_own | (row >= column))).ravel())
    lower, left = np.maximum(row, column), np.minimum(row, column)
    depth = 3 * width + 3
    return Scatter(keep, ((lower - left) + left * depth).ravel()[keep])


def scatter_alike(nodes: IntArray, width: int) -> tuple[Scatter, ...]:
    """Return where element matrices (e, c, c) go that are the same for x, y and z, one an axis."""
    first, depth = _scatter(3 * nodes, nodes >= 0, width), 3 * width + 3
    return tuple(Scatter(first.keep, first.to + axis * depth) for axis in range(3))


def _scatter(unknowns: IntArray, has: BoolArray, width: int) -> Scatter:
    row, column = unknowns[:, :, None], unknowns[:, None, :]
    keep = np.flatnonzero(((row >= column) & has[:, :, None] & has[:, None, :]).ravel())
    depth = 3 * width + 3
    return Scatter(keep, ((row - column) + column * depth).ravel()[keep])


@dataclass(frozen=True, eq=False)
class Banded:
    """The entries of a ravelled lower band that may differ from 0.

    Attributes
    ----------
    places : (z,) int
        Where they lie in the ravelled band.
    size : int
        Length of the ravelled band.
    """

    places: IntArray
    size: int

    @property
    def count(self) -> int:
        """How many entries there are."""
        return len(self.places)

    def full(self, entries: FloatArray) -> FloatArray:
        """Return the ravelled band that has these entries, (z,)."""
        band = np.zeros(self.size)
        band[self.places] = entries
        return band


def banded(scatters: Iterable[Scatter], size: int) -> tuple[Banded, list[Scatter]]:
    """Return the entries that scatters into a ravelled band of `size` share, and them over these.

    Sums over a few entries are quicker than over a band that is mostly empty.
    """
    scatters = list(scatters)
    is_used = np.zeros(size, dtype=bool)
    for one in scatters:
        is_used[one.to] = True
    places = np.flatnonzero(is_used)
    index = np.empty(size, dtype=np.int64)
    index[places] = np.arange(len(places))
    return (
        Banded(places, size),
        [Scatter(one.keep, index[one.to]) for one in scatters],
    )


def factor_band(band: FloatArray, depth: int) -> FloatArray | None:
    """Return the Cholesky factor of a ravelled lower band; None when not positive definite."""
    factor, fault = lapack.dpbtrf(band.reshape(-1, depth).T, lower=1, overwrite_ab=1)
    return None if fault else np.asarray(factor)


def solve_factored(factor: FloatArray, right: FloatArray) -> FloatArray:
    """Return the solutions for right-hand sides (n,) or (n, k), given `factor_band`."""
    return np.asarray(lapack.dpbtrs(factor, right, lower=1)[0])


def solve_band(band: FloatArray, depth: int, right: FloatArray) -> FloatArray | None:
    """Return the solution for a ravelled lower band, or None when it is not positive definite."""
    factor = factor_band(band, depth)
    return None if factor is None else solve_factored(factor, right)
