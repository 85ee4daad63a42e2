"""Sparse symmetric solves with SuperLU, set up so that symmetric matrices stay cheap."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from unroll.errors import UnrollError

FloatArray = NDArray[np.float64]


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
