"""How a filled skin moves when the flat shape of its cloth is changed a little."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.membrane import Skin, corner_forces, corner_gradients
from unroll.maths.membrane_system import Problem, System
from unroll.maths.sparse import factor_band, solve_factored

NUDGE_MM = 1e-4  # for the differences of forces by flat corners: exact to seven digits
# Share of the solver's damping that is left in, so that slack cloth has an answer at all; at a
# ten-thousandth of a stretch it changes no reading by more than a part in a thousand.
LEAST_SHARE, MOST_SHARE = 1e-7, 1e-2


@dataclass(frozen=True, eq=False)
class Response:
    """The first-order answer of a skin in balance to a change of its flat shape.

    Attributes
    ----------
    factor : float array
        Of the skin's stiffness, banded.
    displacements : (3n, u) sparse
        From the solver's unknowns to the vertices.
    pulls : (3n, 2k) sparse
        Change of each vertex's force by each flat coordinate, N/mm.
    """

    factor: FloatArray
    displacements: sparse.csr_array
    pulls: sparse.csr_array

    def moved(self, change: FloatArray) -> FloatArray:
        """Return how the vertices move, (n, 3) mm, when the flat points move by `change` (k, 2)."""
        force = self.displacements.T @ (self.pulls @ change.ravel())
        return np.asarray((self.displacements @ solve_factored(self.factor, -force)).reshape(-1, 3))

    def followed(self, readings: FloatArray) -> FloatArray:
        """Return the slopes of readings by flat coordinates, (r, 2k).

        Parameters
        ----------
        readings : (r, 3n) float
            Slopes of the readings by the vertices' places.

        Notes
        -----
        One solution a reading instead of one a coordinate: the adjoint of the balance.
        """
        right = np.asfortranarray((readings @ self.displacements).T)
        answer = solve_factored(self.factor, right)
        return np.asarray(-(self.pulls.T @ (self.displacements @ answer)).T)


def response_of(
    problem: Problem, points: FloatArray, flat: FloatArray, corners: IntArray
) -> Response:
    """Return the response of a skin that rests at `points`.

    Parameters
    ----------
    problem : Problem
    points : (n, 3) float
        In balance, mm.
    flat : (k, 2) float
        Flat points, mm.
    corners : (m, 3) int
        Flat point of each corner of the skin's faces; −1 throughout for faces that stay as they
        are.

    Raises
    ------
    UnrollError
        When the skin is not in a stable balance.
    """
    system = System(problem, points)
    _, gradient = system.energy_and_gradient(points)
    entries, _ = system.newton_system(points, gradient)
    damper, share = system.damper(points), LEAST_SHARE
    factor = factor_band(system.band.full(entries + share * damper), system.depth)
    while factor is None and share < MOST_SHARE:
        share *= 10.0
        factor = factor_band(system.band.full(entries + share * damper), system.depth)
    if factor is None:
        raise UnrollError(
            "the filled shape is not in a stable balance; expected one that holds "
            "(slack cloth over most of the arm?)"
        )
    return Response(
        factor, system.displacements(points), _pulls(problem.skin, points, flat, corners)
    )


def _pulls(skin: Skin, points: FloatArray, flat: FloatArray, corners: IntArray) -> sparse.csr_array:
    """Return how the vertices' forces change with the flat points, by central differences."""
    is_laid = corners[:, 0] >= 0
    faces, corners = skin.faces[is_laid], corners[is_laid]

    def forces(rest: FloatArray) -> FloatArray:
        gradients, areas = corner_gradients(rest)
        laid = replace(skin, faces=faces, gradients=gradients, areas=areas)
        return corner_forces(laid, points)[1].reshape(9, len(faces)).T

    slopes = np.zeros((len(faces), 9, 6))
    for corner in range(3):
        for axis in range(2):
            nudge = np.zeros((3, 2))
            nudge[corner, axis] = NUDGE_MM
            more, less = forces(flat[corners] + nudge), forces(flat[corners] - nudge)
            slopes[:, :, 2 * corner + axis] = (more - less) / (2.0 * NUDGE_MM)
    rows = (3 * faces[:, :, None] + np.arange(3)).reshape(-1, 9, 1)
    columns = (2 * corners[:, :, None] + np.arange(2)).reshape(-1, 1, 6)
    rows, columns = np.broadcast_arrays(rows, columns)
    return sparse.csr_array(
        (slopes.ravel(), (rows.ravel(), columns.ravel())),
        shape=(3 * len(points), 2 * len(flat)),
    )
