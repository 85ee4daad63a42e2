"""The Newton matrix of a flat map: one sparse pattern, filled anew at every step."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse

from unroll.flattening.held_seams import HeldEdges
from unroll.geometry.energies import Mode
from unroll.geometry.triangles import FloatArray, IntArray, Triangles


class HessianPattern:
    """Where each triangle's and each held edge's 2 x 2 blocks go in the (2n, 2n) matrix.

    Parameters
    ----------
    triangles : Triangles
    held : HeldEdges
    pinned : int
        Vertex that gets a weight of its own, so that moving the whole piece is not free.
    """

    def __init__(self, triangles: Triangles, held: HeldEdges, pinned: int) -> None:
        """Work out the pattern once."""
        self.triangles, self.held, self.pinned = triangles, held, pinned
        count = triangles.count
        faces = triangles.faces
        pairs = [(faces[:, j], faces[:, k]) for j in range(3) for k in range(3)]
        ends = (held.tails, held.heads)
        pairs += [(a, b) for a in ends for b in ends]
        code = np.concatenate([column * count + row for row, column in pairs])
        code = np.append(code, pinned * count + pinned)
        unique, self._slot = np.unique(code, return_inverse=True)
        self._blocks = len(unique)
        self._place(unique // count, unique % count, count)

    def _place(self, columns: IntArray, rows: IntArray, count: int) -> None:
        """Work out the position of each block's four numbers in the compressed columns."""
        per_column = np.bincount(columns, minlength=count)
        start = np.concatenate([[0], np.cumsum(per_column)[:-1]])
        within = np.arange(self._blocks) - start[columns]
        first = 4 * start[columns] + 2 * within
        second = first + 2 * per_column[columns]
        self._at = (first, first + 1, second, second + 1)  # xx, yx, xy, yy
        indices = np.empty(4 * self._blocks, dtype=np.int32)
        for at, offset in zip(self._at, (0, 1, 0, 1), strict=True):
            indices[at] = 2 * rows + offset
        ends = np.cumsum(np.repeat(2 * per_column, 2))
        self._indices = indices
        self._indptr = np.concatenate([[0], ends]).astype(np.int32)
        self._shape = (2 * count, 2 * count)

    def matrix(
        self, modes: list[Mode], across: FloatArray, along: FloatArray, pin: float
    ) -> sparse.csc_matrix:
        """Return the matrix.

        Parameters
        ----------
        modes : list of Mode
            Of the energy, weights per unit of area.
        across : (k,) float
            Held edges: weight of the identity.
        along : (3, k) float
            Held edges: xx, xy, yy of the rest.
        pin : float
            Weight at the pinned vertex.
        """
        blocks = self._triangle_blocks(modes)
        edge = (across + along[0], along[1], along[1], across + along[2])
        data = np.empty(4 * self._blocks)
        for part in range(4):
            values = [blocks[j][k][part] for j in range(3) for k in range(3)]
            values += [edge[part], -edge[part], -edge[part], edge[part]]
            values.append(np.array([pin if part in (0, 3) else 0.0]))
            filled = np.bincount(self._slot, np.concatenate(values), self._blocks)
            data[self._at[part]] = filled
        return sparse.csc_matrix((data, self._indices, self._indptr), shape=self._shape)

    def _triangle_blocks(self, modes: list[Mode]) -> list[list[tuple[FloatArray, ...]]]:
        """Return blocks[j][k] = (xx, yx, xy, yy) of corner pair (j, k) for all triangles.

        The corners' rows add up to zero (moving a triangle costs nothing), so that only the blocks
        of the second and third corner are worked out.
        """
        _, one, two = self.triangles.slopes
        roots = [np.sqrt(weight * self.triangles.areas) for weight, _, _ in modes]
        corners = [
            [r * (x * slope.conj() + y * slope) for r, (_, x, y) in zip(roots, modes, strict=True)]
            for slope in (one, two)
        ]
        real = [np.stack([c.real for c in corner]) for corner in corners]
        imag = [np.stack([c.imag for c in corner]) for corner in corners]

        def block(j: int, k: int) -> tuple[FloatArray, ...]:
            pairs = ((real[j], real[k]), (imag[j], real[k]), (real[j], imag[k]), (imag[j], imag[k]))
            return tuple(np.einsum("am,am->m", a, b) for a, b in pairs)

        b11, b12, b22 = block(0, 0), block(0, 1), block(1, 1)
        b21 = (b12[0], b12[2], b12[1], b12[3])
        b10 = tuple(-(a + b) for a, b in zip(b11, b12, strict=True))
        b20 = tuple(-(a + b) for a, b in zip(b21, b22, strict=True))
        b01 = (b10[0], b10[2], b10[1], b10[3])
        b02 = (b20[0], b20[2], b20[1], b20[3])
        b00 = tuple(-(a + b) for a, b in zip(b01, b02, strict=True))
        return [[b00, b01, b02], [b10, b11, b12], [b20, b21, b22]]
