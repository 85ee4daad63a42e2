"""Local/global steps: turn every triangle as it lies, then fit the points to all of them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from unroll.geometry.sparse import SymmetricFactor
from unroll.geometry.triangles import ComplexArray, Triangles

MIXED = 5
"""Earlier steps that the acceleration mixes in."""


def local_global_steps(
    triangles: Triangles, points: ComplexArray, factor: SymmetricFactor
) -> Iterator[ComplexArray]:
    """Yield the points after each step, without end.

    Parameters
    ----------
    triangles : Triangles
    points : (n,) complex
        Any map; it may fold, and so may what is yielded.
    factor : SymmetricFactor
        Of the cotangent Laplacian, one vertex pinned.

    Notes
    -----
    The best turn of a triangle is alpha / |alpha|; with the turns fixed, the points solve one
    linear system (as rigid as possible: Liu et al. 2008, doi 10.1111/j.1467-8659.2008.01290.x).
    Mixing the last steps so that their changes cancel is Anderson's acceleration (Walker & Ni
    2011, doi 10.1137/10078356X). A few steps take a far start most of the way; near the end the
    quasi-Newton descent does as much with each solve.
    """
    inputs: list[ComplexArray] = []
    changes: list[ComplexArray] = []
    while True:
        alpha, _ = triangles.differentials(points)
        pull = triangles.gather(2 * triangles.areas * alpha / np.abs(alpha), np.zeros_like(alpha))
        change = factor.solve_complex(pull) - points
        change -= change.mean()
        inputs, changes = [*inputs[-MIXED:], points], [*changes[-MIXED:], change]
        points = points + change - _mixed(inputs, changes)
        yield points


def _mixed(inputs: list[ComplexArray], changes: list[ComplexArray]) -> ComplexArray:
    """Return what to take off the last step, by least squares over the earlier ones."""
    if len(changes) < 2:
        return np.zeros_like(changes[-1])
    apart = np.diff(np.array(changes), axis=0)
    matrix = (apart.conj() @ apart.T).real
    right = (apart.conj() @ changes[-1]).real
    share = np.linalg.lstsq(matrix, right, rcond=1e-12)[0]
    out: ComplexArray = share @ (np.diff(np.array(inputs), axis=0) + apart)
    return out
