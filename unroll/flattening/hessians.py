"""The Newton matrix of a flat map: one sparse pattern, filled anew at every step."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse

from unroll.flattening.held_seams import HeldEdges, SeamBends
from unroll.geometry.energies import Curvature
from unroll.geometry.triangles import ComplexArray, FloatArray, IntArray, Triangles

Block = tuple[FloatArray, FloatArray, FloatArray, FloatArray]
"""xx, yx, xy, yy of a pair of vertices, an array each."""


class HessianPattern:
    """Where each triangle's, held edge's and bend's 2 x 2 blocks go in the (2n, 2n) matrix.

    Parameters
    ----------
    triangles : Triangles
    held : HeldEdges
    bends : SeamBends
    pinned : int
        Vertex that gets a weight of its own, so that moving the whole piece is not free.
    """

    def __init__(
        self, triangles: Triangles, held: HeldEdges, bends: SeamBends, pinned: int
    ) -> None:
        """Work out the pattern once."""
        self._triangles = triangles
        count = triangles.count
        ends = np.stack([held.tails, held.heads])
        codes = []
        for vertices in (triangles.faces.T, ends, bends.corners):
            codes += [column * count + row for row in vertices for column in vertices]
        codes.append(np.array([pinned * count + pinned]))
        unique, self._slot = np.unique(np.concatenate(codes), return_inverse=True)
        self._blocks = len(unique)
        self._place(unique // count, unique % count, count)

    def _place(self, columns: IntArray, rows: IntArray, count: int) -> None:
        """Work out the position of each block's four numbers in the compressed columns."""
        per_column = np.bincount(columns, minlength=count)
        start = np.concatenate([[0], np.cumsum(per_column)[:-1]])
        within = np.arange(self._blocks) - start[columns]
        first = 4 * start[columns] + 2 * within
        second = first + 2 * per_column[columns]
        self._at = (first, first + 1, second, second + 1)
        indices = np.empty(4 * self._blocks, dtype=np.int32)
        for at, offset in zip(self._at, (0, 1, 0, 1), strict=True):
            indices[at] = 2 * rows + offset
        self._indices = indices
        ends = np.cumsum(np.repeat(2 * per_column, 2))
        self._indptr = np.concatenate([[0], ends]).astype(np.int32)
        self._shape = (2 * count, 2 * count)

    def matrix(
        self, curvature: Curvature, edges: Block, bends: list[Block], pin: float
    ) -> sparse.csc_matrix:
        """Return the matrix.

        Parameters
        ----------
        curvature : Curvature
            Of the energy in each triangle, per unit of area.
        edges : Block
            Of each held edge's vector.
        bends : list of nine Block
            Of each bend's pairs of vertices, row by row.
        pin : float
            Weight at the pinned vertex.
        """
        blocks = self._triangle_blocks(curvature)
        data = np.empty(4 * self._blocks)
        for part in range(4):
            edge = edges[part]
            values = [block[part] for block in blocks]
            values += [edge, -edge, -edge, edge]
            values += [block[part] for block in bends]
            values.append(np.array([pin if part in (0, 3) else 0.0]))
            data[self._at[part]] = np.bincount(self._slot, np.concatenate(values), self._blocks)
        return sparse.csc_matrix((data, self._indices, self._indptr), shape=self._shape)

    def _triangle_blocks(self, curvature: Curvature) -> list[Block]:
        """Return the nine corner pairs' blocks, row by row.

        The corners' rows add up to zero (moving a triangle costs nothing), so that only the blocks
        of the second and third corner are worked out.
        """
        areas = self._triangles.areas
        corners, pulls = [], []
        for slope in self._triangles.slopes[1:]:
            corner = [x * slope.conj() + y * slope for x, y in curvature.directions]
            pull = [np.zeros_like(slope) for _ in corner]
            for (i, j), values in curvature.entries.items():
                weight = areas * values
                pull[i] += weight * corner[j]
                if i != j:
                    pull[j] += weight * corner[i]
            corners.append(corner)
            pulls.append(pull)
        b11, b12, b22 = (sum_of_products(corners[j], pulls[k]) for j, k in ((0, 0), (0, 1), (1, 1)))
        b21 = turned(b12)
        b10, b20 = less_sum(b11, b12), less_sum(b21, b22)
        b01, b02 = turned(b10), turned(b20)
        return [less_sum(b01, b02), b01, b02, b10, b11, b12, b20, b21, b22]


def sum_of_products(left: list[ComplexArray], right: list[ComplexArray]) -> Block:
    """Return the sum of the outer products of plane vectors written as complex numbers."""
    xx, yx, xy, yy = (np.zeros(len(left[0])) for _ in range(4))
    for a, b in zip(left, right, strict=True):
        xx += a.real * b.real
        yx += a.imag * b.real
        xy += a.real * b.imag
        yy += a.imag * b.imag
    return xx, yx, xy, yy


def outer_blocks(vectors: ComplexArray, weights: FloatArray) -> list[Block]:
    """Return the blocks of weights times the outer square of vectors, (p, k), pair by pair."""
    return [sum_of_products([row], [weights * column]) for row in vectors for column in vectors]


def turned(block: Block) -> Block:
    """Return the transposed block."""
    return block[0], block[2], block[1], block[3]


def less_sum(one: Block, two: Block) -> Block:
    """Return minus the sum of two blocks."""
    xx, yx, xy, yy = (-(a + b) for a, b in zip(one, two, strict=True))
    return xx, yx, xy, yy
