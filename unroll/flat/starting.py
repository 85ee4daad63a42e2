"""Local/global steps: turn every triangle as it lies, then fit the points to all of them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import scipy.sparse as sparse

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.sparse import SymmetricFactor
from unroll.maths.triangles import ComplexArray, Triangles, angle_defects


def boundary_first(
    triangles: Triangles,
    laplacian: sparse.csc_array,
    loop: IntArray,
    curved: FloatArray,
    wanted: FloatArray,
) -> ComplexArray:
    """Return the conformal map whose boundary edges have the wanted lengths, (n,).

    Parameters
    ----------
    triangles : Triangles
    laplacian : (n, n) sparse array
        Its cotangent Laplacian.
    loop : (k,) int
        Boundary vertices, anticlockwise.
    curved, wanted : (k,) float
        Length of the edge from each boundary vertex to the next, on the surface and wanted.

    Notes
    -----
    Of all conformal maps the one that keeps the boundary's lengths changes areas least. The log
    scale solves a Poisson equation with the surface's curvature as its source; its flux through
    the boundary tells how much the boundary turns once flat; turned so, the boundary nearly
    closes, and the rest is spread over the edges. A developable panel comes out exact.
    Sawhney & Crane 2017, "Boundary First Flattening", doi 10.1145/3132705.
    """
    count = triangles.count
    is_inside = np.ones(count, dtype=bool)
    is_inside[loop] = False
    inside = np.flatnonzero(is_inside)
    defect = angle_defects(triangles, loop)

    log_scale = np.zeros(count)
    stretch = np.log(wanted / curved)
    log_scale[loop] = 0.5 * (stretch + np.roll(stretch, 1))
    rows = sparse.csr_array(laplacian)[inside]
    factor = SymmetricFactor(rows[:, inside]) if len(inside) else None
    if factor is not None:
        source: FloatArray = -defect[inside] - rows @ log_scale
        log_scale[inside] = factor.solve(source)
    turn = (defect + laplacian @ log_scale)[loop]

    points = np.zeros(count, dtype=complex)
    points[loop] = closed_polygon(wanted, turn)
    if factor is not None:
        points[inside] = factor.solve_complex(-(rows @ points))
    return points


def closed_polygon(lengths: FloatArray, turn: FloatArray) -> ComplexArray:
    """Return the corners of a polygon of given edge lengths and turns, closed, (k,).

    The gap that is left is closed by the least relative change of the lengths.

    Examples
    --------
    >>> corners = closed_polygon(np.ones(4), np.full(4, np.pi / 2))
    >>> bool(np.allclose(corners, [0, 1, 1 + 1j, 1j]))
    True
    """
    heading = np.exp(1j * (np.cumsum(turn) - turn[0]))
    gap = np.sum(lengths * heading)
    x, y = heading.real, heading.imag
    matrix = np.array(
        [
            [np.sum(lengths * x * x), np.sum(lengths * x * y)],
            [np.sum(lengths * x * y), np.sum(lengths * y * y)],
        ]
    )
    pull = np.linalg.solve(matrix, [gap.real, gap.imag])
    steps = lengths * (1 - pull[0] * x - pull[1] * y) * heading
    return np.concatenate([[0], np.cumsum(steps)[:-1]])


def convex_start(triangles: Triangles, loop: IntArray, wanted: FloatArray) -> ComplexArray:
    """Return a map onto a round disk that has no fold, however bad the triangles, (n,).

    Notes
    -----
    Every inner vertex lies at the mean of its neighbours and the boundary is convex, so no
    triangle can fold (Tutte 1963; Floater 2003, doi 10.1090/S0025-5718-02-01466-7).
    """
    count = triangles.count
    at = 2 * np.pi * np.concatenate([[0], np.cumsum(wanted)[:-1]]) / np.sum(wanted)
    radius = np.sqrt(np.sum(triangles.areas) / np.pi)
    points = np.zeros(count, dtype=complex)
    points[loop] = radius * np.exp(1j * at)
    is_inside = np.ones(count, dtype=bool)
    is_inside[loop] = False
    inside = np.flatnonzero(is_inside)
    if len(inside):
        first = triangles.faces[:, [0, 1, 2]].ravel()
        second = triangles.faces[:, [1, 2, 0]].ravel()
        one_way = sparse.coo_array((np.ones(len(first)), (first, second)), shape=(count, count))
        links = ((one_way + one_way.T) > 0).astype(float)
        graph = sparse.csr_array(sparse.diags_array(links @ np.ones(count)) - links)[inside]
        points[inside] = SymmetricFactor(graph[:, inside]).solve_complex(-(graph @ points))
    return points


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
