"""Newton steps on a flat map, with boundary edges held to their length and the grain upright."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse

from unroll.flat.task import NOISE, HeldEdges, Map, SeamBends, State, Task, dot, sum_of_products
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.energies import Curvature
from unroll.maths.sparse import SingularMatrix, SymmetricFactor
from unroll.maths.triangles import ComplexArray, Triangles, largest_unfolded_step

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
        b11, b12, b22 = (outer_products(corners[j], pulls[k]) for j, k in ((0, 0), (0, 1), (1, 1)))
        b21 = turned(b12)
        b10, b20 = less_sum(b11, b12), less_sum(b21, b22)
        b01, b02 = turned(b10), turned(b20)
        return [less_sum(b01, b02), b01, b02, b10, b11, b12, b20, b21, b22]


def outer_products(left: list[ComplexArray], right: list[ComplexArray]) -> Block:
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
    return [outer_products([row], [weights * column]) for row in vectors for column in vectors]


def turned(block: Block) -> Block:
    """Return the transposed block."""
    return block[0], block[2], block[1], block[3]


def less_sum(one: Block, two: Block) -> Block:
    """Return minus the sum of two blocks."""
    xx, yx, xy, yy = (-(a + b) for a, b in zip(one, two, strict=True))
    return xx, yx, xy, yy


HOLD = 1e3
"""Weight of a held edge's error in the Newton matrix, as mm² of cloth per mm² of edge."""


SETTLED = 1e-11
"""Relative error of the held edges' lengths at which they count as met."""
DAMPINGS = (0.0, 1e-9, 1e-6, 1e-3)
"""Shares of its diagonal added to a matrix, one after another, until it can be factored."""


def newton_steps(
    task: Task, points: ComplexArray, *, most: int = 80, enough: float = 1e-9
) -> Iterator[State]:
    """Yield the state after each step, until the energy and the held edges have settled.

    It also ends where no step can be worked out; the last state then says how far it came.

    Parameters
    ----------
    task : Task
    points : (n,) complex
        A map without folds, its chord upright; the chord stays so.
    most : int
        Most steps taken.
    enough : float
        Stop when a step's model promises less than this share of the energy.

    Notes
    -----
    Equality-constrained Newton in the augmented form: the held edges' errors enter the matrix with
    a large weight, which leaves its sparsity as it is (an edge's ends are neighbours already);
    refining the multipliers with the same factors gives the exact constrained step. The augmented
    Lagrangian at the new multipliers falls along that step (Nocedal & Wright 2006, ch. 17, 18),
    so that it serves the line search, which also stops short of the first fold. Far out, negative
    curvature is cut off triangle by triangle; near the end the exact second derivatives give
    quadratic convergence, as long as they lead downhill. Where a triangle is next to folded, or one
    held edge weighs 1e16 times as much as another, pivots cancel; the matrix is damped then.
    """
    solver = _Newton(task)
    multipliers = np.zeros(len(task.held.lengths))
    exact = False
    here = task.triangles.differentials(points)
    yield task.state(points, task.total(*here), float("inf"))
    for _ in range(most):
        step = solver.step(points, here, multipliers, exact=exact)
        if exact and (step is None or step.slope >= 0):
            step = solver.step(points, here, multipliers, exact=False)
        if step is None:
            return
        size, points, here = solver.search(points, here, step)
        multipliers = step.multipliers
        state = task.state(points, task.total(*here), step.promise)
        yield state
        exact = size == 1 and state.decrease < 0.5
        if size == 0 or (state.decrease < enough and state.seam_error < SETTLED):
            return


@dataclass(frozen=True, eq=False)
class _Step:
    move: ComplexArray
    multipliers: FloatArray
    slope: float
    promise: float


class _Newton:
    """The pieces of one Newton step for a fixed task."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.weights = HOLD * task.energy.stiffness * task.held.lengths**2
        chord = task.chord
        pinned = int(chord.vertices[np.argmax(chord.weights)])
        self.low = int(chord.vertices[np.argmin(chord.weights)])
        self.pattern = HessianPattern(task.triangles, task.held, task.bends, pinned)
        self.row = np.zeros(task.triangles.count, dtype=complex)
        np.add.at(self.row, chord.vertices, chord.weights)

    def merit(self, points: ComplexArray, here: Map, multipliers: FloatArray) -> float:
        """Return the augmented Lagrangian."""
        task = self.task
        error = task.held.errors(points)
        held = sum_of_products(multipliers + 0.5 * self.weights * error, error)
        return task.total(*here) + task.bends.value(points) + held

    def step(
        self, points: ComplexArray, here: Map, multipliers: FloatArray, *, exact: bool
    ) -> _Step | None:
        """Return the constrained Newton step from `points`; None where the matrix is singular."""
        task = self.task
        gradient = task.gradient(*here) + task.bends.gather(points)
        factor = _factored(self._matrix(points, here, multipliers, exact=exact))
        return None if factor is None else self._constrained(factor, points, gradient, multipliers)

    def _matrix(
        self, points: ComplexArray, here: Map, multipliers: FloatArray, *, exact: bool
    ) -> sparse.csc_matrix:
        """Return the second derivatives of the augmented Lagrangian, or a definite stand-in."""
        task, square = self.task, self.task.held.lengths**2
        along = task.held.steps(points)
        tension = (multipliers if exact else np.maximum(multipliers, 0)) / square
        weight = self.weights / square
        skew = weight * along.real * along.imag
        edge = (tension + weight * along.real**2, skew, skew, tension + weight * along.imag**2)
        bends = outer_blocks(task.bends.directions(points), task.bends.weights)
        curvature = task.energy.curvature(*here, exact=exact)
        matrix = self.pattern.matrix(curvature, edge, bends, task.energy.stiffness)
        if task.energy.turns_freely:
            matrix[2 * self.low, 2 * self.low] += 1e-3
        return matrix

    def _constrained(
        self,
        factor: SymmetricFactor,
        points: ComplexArray,
        gradient: ComplexArray,
        multipliers: FloatArray,
    ) -> _Step:
        """Solve for the step that meets the held edges and the chord to first order."""
        held, count = self.task.held, self.task.triangles.count
        along, errors = held.steps(points), held.errors(points)
        lean = self.task.chord.vector(points).real
        row = self.row.view(float)
        upright = factor.solve(row)
        across = sum_of_products(row, upright)
        now = multipliers
        for _ in range(5):
            pull = gradient + held.gather(along, now + self.weights * errors, count)
            free = factor.solve(-pull.view(float))
            tilt = (sum_of_products(row, free) + lean) / across
            move = (free - tilt * upright).view(complex)
            left = errors + held.change(along, move)
            now = now + self.weights * left
            if np.max(np.abs(left), initial=0.0) <= 1e-4 * np.max(np.abs(errors), initial=0.0):
                break
        slope = dot(gradient + held.gather(along, now + self.weights * errors, count), move)
        promise = abs(dot(gradient + held.gather(along, now, count), move))
        return _Step(move, now, slope, promise)

    def search(
        self, points: ComplexArray, here: Map, step: _Step
    ) -> tuple[float, ComplexArray, Map]:
        """Return the longest good share of the step, with points and map after it."""
        (alpha, beta), there = here, self.task.triangles.differentials(step.move)
        size = min(1.0, 0.9 * largest_unfolded_step(alpha, beta, *there))
        merit = self.merit(points, here, step.multipliers)
        noise = 1e-14 * abs(merit) + NOISE * self.task.area
        for _ in range(30):
            moved = points + size * step.move
            trial = alpha + size * there[0], beta + size * there[1]
            value = self.merit(moved, trial, step.multipliers)
            if value <= merit + 1e-4 * size * step.slope + noise:
                return size, moved, trial
            size *= 0.5
        return 0.0, points, here


def _factored(matrix: sparse.csc_matrix) -> SymmetricFactor | None:
    """Return the factors of a matrix, damped as little as it takes, or None."""
    for damping in DAMPINGS:
        extra = sparse.diags_array(damping * matrix.diagonal()) if damping else 0.0
        try:
            return SymmetricFactor(matrix + extra)
        except SingularMatrix:
            continue
    return None
