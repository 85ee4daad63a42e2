"""The sewn faces with their flat shape: what there is to fill."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from unroll.maths.arrays import BoolArray, FloatArray, IntArray
from unroll.nouns import Trace


@dataclass(frozen=True, eq=False)
class Shell:
    """A closed surface of cloth and card with its rest shape.

    Attributes
    ----------
    source, arm : str
    faces : (m, 3) int
        Of sewn vertices, anticlockwise from outside.
    rest : (m, 3, 2) float
        Flat place of each corner on its piece, mm.
    piece_names : tuple of str
    face_pieces : (m,) int
    is_card : (m,) bool
    seam_paths : mapping of str to (k,) int
    lines : mapping of str to tuple of Trace
    """

    source: str
    arm: str
    faces: IntArray
    rest: FloatArray
    piece_names: tuple[str, ...]
    face_pieces: IntArray
    is_card: BoolArray
    seam_paths: Mapping[str, IntArray]
    lines: Mapping[str, tuple[Trace, ...]]

    @property
    def count(self) -> int:
        """Number of vertices."""
        return int(self.faces.max()) + 1

    @property
    def seam_edges(self) -> IntArray:
        """Edges along all seams, (k, 2)."""
        edges = [np.stack([p[:-1], p[1:]], axis=1) for p in self.seam_paths.values()]
        return np.concatenate([np.zeros((0, 2), dtype=np.int64), *edges])
