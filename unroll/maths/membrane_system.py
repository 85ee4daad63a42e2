"""The shape in which a filled skin rests, by damped Newton steps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.spatial.transform import Rotation

from unroll.maths.arrays import BoolArray, FloatArray, IntArray
from unroll.maths.membrane import Skin, energy_and_forces
from unroll.maths.membrane_stiffness import (
    FIRST,
    SECOND,
    as_matrices,
    face_stiffness,
    filling_stiffness,
)
from unroll.maths.sparse import (
    Scatter,
    banded,
    narrow_order,
    scatter,
    scatter_alike,
    scatter_pairs,
    solve_band,
)


@dataclass(frozen=True, eq=False)
class Problem:
    """A skin, its hinges, and what holds it.

    Attributes
    ----------
    skin : Skin
    hinges : (h, 4) int
    hinge_rows : (h, 4) float
        Bending rows, already multiplied by the root of the bending stiffness, √(N mm)/mm.
    held : (n,) bool
        Vertices that stay where they are.
    bodies : tuple of (k,) int
        Vertices that move together as one stiff body (a card-backed end).
    """

    skin: Skin
    hinges: IntArray
    hinge_rows: FloatArray
    held: BoolArray
    bodies: tuple[IntArray, ...] = ()


class System:
    """The unknowns of a problem, and the matrices over them."""

    def __init__(self, problem: Problem, points: FloatArray) -> None:
        """Number the unknowns by where the points (n, 3) lie."""
        self.problem = problem
        skin, count = problem.skin, len(points)
        self.body_of = np.full(count, -1)
        for number, members in enumerate(problem.bodies):
            self.body_of[members] = number
        is_free = ~problem.held & (self.body_of < 0)
        is_free[np.setdiff1d(np.arange(count), skin.faces)] = False
        self.free = np.flatnonzero(is_free)
        node = np.full(count, -1)
        node[self.free] = np.arange(len(self.free))
        self.count = len(self.free) + 2 * len(problem.bodies)
        self._number(node, points)
        self.mean_area = float(skin.areas.sum()) / max(len(np.unique(skin.faces)), 1)
        self._prepare()

    def _number(self, node: IntArray, points: FloatArray) -> None:
        """Order the nodes so that the band is narrow; two nodes stand for each body."""
        problem = self.problem
        first = len(self.free)
        two = np.full((len(points), 2), -1)
        two[:, 0] = node
        in_body = self.body_of >= 0
        two[in_body] = first + 2 * self.body_of[in_body, None] + np.arange(2)
        links = []
        for corners in (problem.skin.faces, problem.hinges):
            nodes = two[corners].reshape(len(corners), -1)
            left, right = np.triu_indices(nodes.shape[1], 1)
            is_link = (nodes[:, left] >= 0) & (nodes[:, right] >= 0)
            ends = nodes[:, left][is_link], nodes[:, right][is_link]
            links.append(np.stack(ends, axis=1))
        pairs = np.concatenate([*links, first + np.arange(2 * len(problem.bodies)).reshape(-1, 2)])
        along = np.zeros(self.count)
        centred = points - points.mean(axis=0)
        axis = np.linalg.svd(centred, full_matrices=False)[2][0]
        along[:first] = centred[self.free] @ axis
        for number, members in enumerate(problem.bodies):
            along[first + 2 * number : first + 2 * number + 2] = (
                centred[members].mean(axis=0) @ axis
            )
        place = narrow_order(pairs, self.count, along)
        self.width = int(np.abs(place[pairs[:, 0]] - place[pairs[:, 1]]).max())
        self.depth = 3 * self.width + 3
        self.two = np.where(two >= 0, place[two], -1)
        self.unknowns = 3 * self.two[self.free, 0][:, None] + np.arange(3)

    def _prepare(self) -> None:
        """Set up what does not change with the shape: scatters, bending, damping."""
        skin, problem = self.problem.skin, self.problem
        in_body = self.body_of >= 0
        self.plain: BoolArray = np.logical_not(in_body[skin.faces].any(axis=1))
        bend_plain = ~in_body[problem.hinges].any(axis=1)
        plain, hinges = (
            self.two[corners, 0]
            for corners in (skin.faces[self.plain], problem.hinges[bend_plain])
        )
        faces = np.where(self.plain[:, None], self.two[skin.faces, 0], -1)
        self.closing = skin.closing[in_body[skin.closing].any(axis=1)]
        touching, bent = skin.faces[~self.plain], problem.hinges[~bend_plain]
        width = self.width
        scatters = (
            scatter_pairs(faces[:, FIRST], faces[:, SECOND], width),
            *(self._wide_scatter(c) for c in (touching, self.closing, bent)),
            self._turn_scatter(), *scatter_alike(plain, width), *scatter_alike(hinges, width),
        )  # fmt: skip
        self.band, placed = banded(scatters, self.depth * 3 * self.count)
        self.of_faces, self.of_touching, self.of_closing, self.of_bent, self.of_turns = placed[:5]
        bend = problem.hinge_rows[:, :, None] * problem.hinge_rows[:, None, :]
        self.bending = self._alike(placed[8:], bend[bend_plain])
        self.bent = bent, _thrice(bend[~bend_plain])
        pair = np.einsum("mid,mjd->mij", skin.gradients, skin.gradients)
        pair *= (skin.stiffness * skin.areas)[:, None, None]
        pair += np.eye(3) * (0.01 * skin.stiffness / 6)
        self.damping = pair
        self.damping_touching = _thrice(pair[~self.plain])
        self.damping_plain = self._alike(placed[5:8], pair[self.plain])

    def _alike(self, places: Iterable[Scatter], elements: FloatArray) -> FloatArray:
        """Return the band's entries of elements (e, c, c) that are the same for every axis."""
        return np.asarray(sum(one.gather(elements, self.band.count) for one in places))

    def _wide_scatter(self, corners: IntArray) -> Scatter:
        """Return the scatter of elements whose corners may belong to bodies: two nodes a corner."""
        return scatter(self.two[corners].reshape(len(corners), 2 * corners.shape[1]), self.width)

    def _turn_scatter(self) -> Scatter:
        """Return the scatter of a block for the turn of each body."""
        turns = [self.two[members[0], 1] for members in self.problem.bodies]
        return scatter(np.array(turns, dtype=np.int64).reshape(-1, 1), self.width)

    def _widened(self, points: FloatArray, corners: IntArray, elements: FloatArray) -> FloatArray:
        """Return the element matrices over free nodes and bodies: Tᵀ H T."""
        lever = np.zeros((*corners.shape, 3))
        for number, members in enumerate(self.problem.bodies):
            is_in = self.body_of[corners] == number
            lever[is_in] = points[corners[is_in]] - points[members].mean(axis=0)
        count = corners.shape[1]
        wide = np.zeros((len(corners), count, 3, count, 2, 3))
        for k in range(count):
            wide[:, k, :, k, 0, :] = np.eye(3)
            # Turning by ω moves a point by ω × r = −[r]× ω.
            wide[:, k, :, k, 1, :] = -_cross_matrix(lever[:, k])
        turn = wide.reshape(len(corners), 3 * count, 6 * count)
        return np.asarray(turn.transpose(0, 2, 1) @ elements @ turn)

    def energy_and_gradient(self, points: FloatArray) -> tuple[float, FloatArray]:
        """Return the whole energy and its gradient (n, 3)."""
        energy, gradient = energy_and_forces(self.problem.skin, points)
        hinges, rows = self.problem.hinges, self.problem.hinge_rows
        bend = np.einsum("hk,hkx->hx", rows, points[hinges])
        energy += 0.5 * float(np.sum(bend**2))
        pull = rows[:, :, None] * bend[:, None, :]
        for axis in range(3):
            gradient[:, axis] += np.bincount(
                hinges.ravel(), weights=pull[:, :, axis].ravel(), minlength=len(gradient)
            )
        return energy, gradient

    def _reduced(self, points: FloatArray, gradient: FloatArray) -> FloatArray:
        """Return the gradient over the unknowns."""
        out = np.zeros(3 * self.count)
        out[self.unknowns] = gradient[self.free]
        for members in self.problem.bodies:
            force, lever = gradient[members], points[members] - points[members].mean(axis=0)
            shift, turn = self.two[members[0]]
            out[3 * shift : 3 * shift + 3] = force.sum(axis=0)
            out[3 * turn : 3 * turn + 3] = np.cross(lever, force).sum(axis=0)
        return out

    def newton_system(
        self, points: FloatArray, gradient: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the band's entries of the second derivative, and the right-hand side −g."""
        elements = face_stiffness(self.problem.skin, points)
        entries = self.of_faces.gather(elements, self.band.count) + self.bending
        if self.problem.bodies:
            entries += self._of_bodies(points, gradient, as_matrices(elements[..., ~self.plain]))
        return entries, -self._reduced(points, gradient)

    def _of_bodies(
        self, points: FloatArray, gradient: FloatArray, elements: FloatArray
    ) -> FloatArray:
        """Return what hangs on stiff bodies: faces, hinges, the plate's pressure, the turn."""
        skin, count = self.problem.skin, self.band.count
        plate = as_matrices(filling_stiffness(skin, points, self.closing))
        blocks = np.zeros((len(self.problem.bodies), 3, 3))
        for block, members in zip(blocks, self.problem.bodies, strict=True):
            moment = (points[members] - points[members].mean(axis=0)).T @ gradient[members]
            block[:] = 0.5 * (moment + moment.T) - np.trace(moment) * np.eye(3)
        touching = skin.faces[~self.plain]
        return (
            self.of_touching.gather(self._widened(points, touching, elements), count)
            + self.of_bent.gather(self._widened(points, *self.bent), count)
            + self.of_closing.gather(self._widened(points, self.closing, plate), count)
            + self.of_turns.gather(blocks, count)
        )

    def damper(self, points: FloatArray) -> FloatArray:
        """Return the band's entries of L + k/100."""
        if not self.problem.bodies:
            return self.damping_plain
        touching = self.problem.skin.faces[~self.plain]
        wide = self._widened(points, touching, self.damping_touching)
        return self.damping_plain + self.of_touching.gather(wide, self.band.count)

    def promised(
        self, points: FloatArray, move: FloatArray, right: FloatArray, damping: float
    ) -> float:
        """Return the energy that the quadratic model says the step saves."""
        corner = self._displacement(points, move)[self.problem.skin.faces]
        damped = float(np.sum(corner * (self.damping @ corner)))
        return 0.5 * float(move @ right) + 0.5 * damping * damped

    def _displacement(self, points: FloatArray, move: FloatArray) -> FloatArray:
        """Return the step's first-order displacement of every vertex."""
        shift = np.zeros_like(points)
        shift[self.free] = move[self.unknowns]
        for members in self.problem.bodies:
            slide, turn = (move[3 * k : 3 * k + 3] for k in self.two[members[0]])
            shift[members] = slide + np.cross(turn, points[members] - points[members].mean(axis=0))
        return shift

    def displacements(self, points: FloatArray) -> sparse.csr_array:
        """Return the matrix from the unknowns to every vertex's displacement, (3n, unknowns)."""
        rows = [(3 * self.free[:, None] + np.arange(3)).ravel()]
        columns, values = [self.unknowns.ravel()], [np.ones(3 * len(self.free))]
        for members in self.problem.bodies:
            shift, turn = (3 * k + np.arange(3) for k in self.two[members[0]])
            block = np.zeros((len(members), 3, 6))
            block[:, :, :3] = np.eye(3)
            block[:, :, 3:] = -_cross_matrix(points[members] - points[members].mean(axis=0))
            rows.append(np.repeat(3 * members[:, None] + np.arange(3), 6))
            columns.append(np.tile(np.concatenate([shift, turn]), 3 * len(members)))
            values.append(block.ravel())
        entries = np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))
        return sparse.csr_array(entries, shape=(3 * len(points), 3 * self.count))

    def moved(self, points: FloatArray, move: FloatArray) -> FloatArray:
        """Return the points after the step; bodies turn without changing shape."""
        out = points.copy()
        out[self.free] += move[self.unknowns]
        for members in self.problem.bodies:
            slide, turn = (move[3 * k : 3 * k + 3] for k in self.two[members[0]])
            centre = points[members].mean(axis=0)
            out[members] = (
                centre + slide + Rotation.from_rotvec(turn).apply(points[members] - centre)
            )
        return out

    def residual(self, points: FloatArray, gradient: FloatArray) -> float:
        """Return the largest out-of-balance force, relative to the pressure on a mean vertex."""
        skin = self.problem.skin
        worst = float(np.linalg.norm(gradient[self.free], axis=1).max(initial=0.0))
        for members in self.problem.bodies:
            lever, force = points[members] - points[members].mean(axis=0), gradient[members]
            reach = float(np.linalg.norm(lever, axis=1).mean())
            worst = max(
                worst,
                float(np.linalg.norm(force.sum(axis=0))),
                float(np.linalg.norm(np.cross(lever, force).sum(axis=0))) / reach,
            )
        return worst / (skin.pressure * self.mean_area)


def _thrice(elements: FloatArray) -> FloatArray:
    """Return element matrices (e, c, c) repeated for x, y and z: (e, 3c, 3c)."""
    count = elements.shape[1]
    out = np.zeros((len(elements), count, 3, count, 3))
    for axis in range(3):
        out[:, :, axis, :, axis] = elements
    return out.reshape(len(elements), 3 * count, 3 * count)


def _cross_matrix(vectors: FloatArray) -> FloatArray:
    """Return [v]× for vectors (k, 3), as (k, 3, 3)."""
    out = np.zeros((len(vectors), 3, 3))
    out[:, 0, 1], out[:, 0, 2] = -vectors[:, 2], vectors[:, 1]
    out[:, 1, 0], out[:, 1, 2] = vectors[:, 2], -vectors[:, 0]
    out[:, 2, 0], out[:, 2, 1] = -vectors[:, 1], vectors[:, 0]
    return out


LEAST_DAMPING, MOST_DAMPING = 1e-9, 1e9
# Of a step that gains too little: what is tried of it, and how much of its first promise that
# must keep. Set by trial: with it a sixth fewer steps.
SHORTER, LEAST_SLOPE = 0.4, 0.2


@dataclass(frozen=True, eq=False)
class Rest:
    """Where the skin is after some steps.

    Attributes
    ----------
    points : (n, 3) float
    residual : float
        Largest out-of-balance force on a vertex, over the pressure's force on a mean vertex.
    steps : int
        Newton systems solved so far.
    energy : float
        N mm.
    """

    points: FloatArray
    residual: float
    steps: int
    energy: float


def settle_steps(
    problem: Problem, points: FloatArray, *, within: float, most: int, damping: float = 1.0
) -> Iterator[Rest]:
    """Yield the states from `points` (n, 3) to balance: residual below `within`, or `most` steps.

    `damping` is the first step's: small where the points are nearly in balance.

    Notes
    -----
    Levenberg–Marquardt: (H + μ(L + k/100)) d = −g, with L the stiffness-weighted Laplacian of the
    rest shape, so that a step is smooth where the energy has little to say; μ shrinks fivefold
    where a step gains what it promised, and grows fourfold where it gains little. Where one gains
    too little to be taken, a shorter one the same way is tried, which costs no new factors; where
    that fails too (or the matrix is not positive), μ grows tenfold. Stiff bodies take six unknowns
    each and turn exactly.
    """
    system = System(problem, points)
    state = _evaluated(system, points, 0)
    yield state.rest
    while state.rest.residual > within and state.rest.steps < most:
        state, damping = _step(system, state, damping, most)
        yield state.rest


@dataclass(frozen=True, eq=False)
class _State:
    rest: Rest
    gradient: FloatArray


def _evaluated(system: System, points: FloatArray, steps: int) -> _State:
    energy, gradient = system.energy_and_gradient(points)
    return _State(Rest(points, system.residual(points, gradient), steps, energy), gradient)


def _step(system: System, state: _State, damping: float, most: int) -> tuple[_State, float]:
    """Return the next state and damping; the same state, its steps used up, when none is better."""
    points, energy, steps = state.rest.points, state.rest.energy, state.rest.steps
    entries, right = system.newton_system(points, state.gradient)
    damper = system.damper(points)
    shrinks = 0.2
    while steps < most and damping < MOST_DAMPING:
        steps += 1
        move = solve_band(system.band.full(entries + damping * damper), system.depth, right)
        if move is not None:
            tried = _evaluated(system, system.moved(points, move), steps)
            promised = system.promised(points, move, right, damping)
            saved = energy - tried.rest.energy
            # Close to balance the energy's last digits drown what a step saves.
            is_small = promised < 1e-10 * abs(energy) and saved > -1e-12 * abs(energy)
            gain = 1.0 if is_small else saved / promised
            if gain > 0.1:
                factor = shrinks if gain > 0.6 else 4.0 if gain < 0.25 else 1.0
                return tried, max(damping * factor, LEAST_DAMPING)
            tried = _evaluated(system, system.moved(points, SHORTER * move), steps)
            if energy - tried.rest.energy > LEAST_SLOPE * SHORTER * float(move @ right):
                return tried, damping * 4
        damping *= 10
        shrinks = 0.5  # what was too little just now is nearly so still
    return replace(state, rest=replace(state.rest, steps=most)), damping
