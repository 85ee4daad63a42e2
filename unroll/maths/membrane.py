"""A skin that stretches, folds without effort, holds a filling, and bends a little."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Skin:
    """Faces of cloth with their rest shape, and stiff faces that only close the volume.

    Attributes
    ----------
    faces : (m, 3) int
        Cloth, anticlockwise from outside.
    gradients : (m, 3, 2) float
        Gradient of each corner's hat function in the face's flat frame, 1/mm.
    areas : (m,) float
        Rest areas, mm².
    even : float
        Stiffness that all directions share, N/mm.
    thread : float
        Stiffness of the threads along flat x and y, N/mm.
    closing : (c, 3) int
        Faces without stretch, for the volume only.
    pressure : float
        N/mm² (0.001 of it is a kPa), at the origin.
    filling_weight : (3,) float
        Weight of the filling, N/mm³, along the way up.
    cloth_weight : (3,) float
        Weight of the cloth, N/mm², along the way up.
    """

    faces: IntArray
    gradients: FloatArray
    areas: FloatArray
    even: float
    thread: float
    closing: IntArray
    pressure: float
    filling_weight: FloatArray = field(default_factory=lambda: np.zeros(3))
    cloth_weight: FloatArray = field(default_factory=lambda: np.zeros(3))

    @property
    def stiffness(self) -> float:
        """Stiffness along a thread, N/mm."""
        return self.even + self.thread

    @cached_property
    def spread(self) -> FloatArray:
        """The matrix from corners to F of each face, (m, 6, 9): thread-major, corner-major."""
        out = np.zeros((len(self.faces), 2, 3, 3, 3))
        for axis in range(3):
            out[:, :, axis, :, axis] = self.gradients.transpose(0, 2, 1)
        return out.reshape(-1, 6, 9)


@dataclass(frozen=True, eq=False)
class Stretches:
    """Singular values and vectors of every face's F.

    Attributes
    ----------
    high, low : (m,) float
        Principal stretches.
    flat_high, flat_low : (m, 2) float
        Their directions in the flat frame.
    placed_high, placed_low, normal : (m, 3) float
        Their directions in space, and the unit normal.
    """

    high: FloatArray
    low: FloatArray
    flat_high: FloatArray
    flat_low: FloatArray
    placed_high: FloatArray
    placed_low: FloatArray
    normal: FloatArray


def corner_gradients(rest: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the hat functions' gradients (m, 3, 2) and the areas (m,) of flat corners (m, 3, 2).

    Examples
    --------
    >>> gradients, areas = corner_gradients(np.array([[[0, 0], [1, 0], [0, 1.0]]]))
    >>> (gradients[0] + 0).tolist(), areas.tolist()
    ([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]], [0.5])
    """
    first, second = rest[:, 1] - rest[:, 0], rest[:, 2] - rest[:, 0]
    doubled = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    one = np.stack([second[:, 1], -second[:, 0]], axis=1) / doubled[:, None]
    two = np.stack([-first[:, 1], first[:, 0]], axis=1) / doubled[:, None]
    return np.stack([-one - two, one, two], axis=1), 0.5 * doubled


def unfolded(corners: FloatArray) -> FloatArray:
    """Return flat corners (m, 3, 2) congruent to corners in space (m, 3, 3)."""
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    length = np.linalg.norm(first, axis=1)
    along = np.sum(first * second, axis=1) / length
    across = np.linalg.norm(np.cross(first, second), axis=1) / length
    flat = np.zeros((len(corners), 3, 2))
    flat[:, 1, 0], flat[:, 2, 0], flat[:, 2, 1] = length, along, across
    return flat


def deformation(skin: Skin, points: FloatArray) -> FloatArray:
    """Return F of every face, (m, 3, 2)."""
    corners, grads = points[skin.faces], skin.gradients
    return np.asarray(
        corners[:, 0, :, None] * grads[:, 0, None, :]
        + corners[:, 1, :, None] * grads[:, 1, None, :]
        + corners[:, 2, :, None] * grads[:, 2, None, :]
    )


def stretches(placed: FloatArray) -> Stretches:
    """Return the singular values and vectors of F (m, 3, 2) in closed form."""
    x, y = placed[:, :, 0], placed[:, :, 1]
    xx, yy, xy = np.sum(x * x, axis=1), np.sum(y * y, axis=1), np.sum(x * y, axis=1)
    half, angle = np.hypot(0.5 * (xx - yy), xy), 0.5 * np.arctan2(2 * xy, xx - yy)
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    high = np.sqrt(0.5 * (xx + yy) + half)
    along, across = cos * x + sin * y, cos * y - sin * x
    one = along / np.maximum(high, 1e-12)[:, None]
    across = across - np.sum(one * across, axis=1)[:, None] * one
    low = np.linalg.norm(across, axis=1)
    is_line = low < 1e-9
    two = across / np.where(is_line, 1.0, low)[:, None]
    if is_line.any():
        two[is_line] = _across(one[is_line])
    return Stretches(
        high,
        low,
        np.concatenate([cos, sin], 1),
        np.concatenate([-sin, cos], 1),
        one,
        two,
        cross(one, two),
    )


def _across(ways: FloatArray) -> FloatArray:
    """Return a unit vector across each way (m, 3).

    A face folded to a line has no second direction of its own: any one across it will do.
    """
    spare = cross(ways, np.eye(3)[np.argmin(np.abs(ways), axis=1)])
    return np.asarray(spare / np.maximum(np.linalg.norm(spare, axis=1), 1e-12)[:, None])


def cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the cross products of vectors (m, 3); numpy's own takes three times as long."""
    (a, b, c), (d, e, f) = one.T, other.T
    return np.stack([b * f - c * e, c * d - a * f, a * e - b * d], axis=1)


def enclosed_volume(points: FloatArray, faces: IntArray) -> float:
    """Return the volume that closed, outward faces enclose, mm³.

    Examples
    --------
    >>> corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    >>> sides = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    >>> round(enclosed_volume(corners, sides), 12)
    0.166666666667
    """
    a, b, c = points[faces].transpose(1, 0, 2)
    return float(np.sum(a * np.cross(b, c)) / 6)


def energy_and_forces(skin: Skin, points: FloatArray) -> tuple[float, FloatArray]:
    """Return the energy of stretch, filling and weight, N mm, and its gradient (n, 3), N.

    Notes
    -----
    The filling presses and weighs as a liquid would: −pV and the weight times its height, each
    over the volume of the pyramids from the origin to every face. Force and moment of its weight
    on any part of the arm are right however it packs.
    """
    energy, corner = corner_forces(skin, points)
    weight = skin.areas[:, None] * skin.cloth_weight
    energy += float(np.sum(weight * points[skin.faces].mean(axis=1)))
    gradient = np.zeros_like(points)
    _add_at(gradient, skin.faces, corner + weight[:, None, :] / 3)
    for faces in (skin.faces, skin.closing):
        a, b, c = points[faces].transpose(1, 0, 2)
        bc, ca, ab = cross(b, c), cross(c, a), cross(a, b)
        volumes = np.sum(a * bc, axis=1) / 6
        pressures = filling_pressures(skin, points, faces)
        energy -= float(volumes @ pressures)
        pull = np.stack([bc, ca, ab], axis=1) * (-pressures / 6)[:, None, None]
        _add_at(gradient, faces, pull + 0.25 * volumes[:, None, None] * skin.filling_weight)
    return energy, gradient


def filling_pressures(skin: Skin, points: FloatArray, faces: IntArray) -> FloatArray:
    """Return the pressure at the middle of each pyramid from the origin to a face, (m,) N/mm²."""
    height = points[faces].sum(axis=1) @ skin.filling_weight
    return np.asarray(skin.pressure - 0.25 * height)


def corner_forces(skin: Skin, points: FloatArray) -> tuple[float, FloatArray]:
    """Return the energy of stretch, N mm, and its gradient by each face's corners, (m, 3, 3) N."""
    placed = deformation(skin, points)
    state = stretches(placed)
    tight_high, tight_low = np.maximum(state.high - 1, 0), np.maximum(state.low - 1, 0)
    energy = 0.5 * skin.even * np.sum(skin.areas * (tight_high**2 + tight_low**2))
    stress = skin.even * (
        (tight_high[:, None] * state.placed_high)[:, :, None] * state.flat_high[:, None, :]
        + (tight_low[:, None] * state.placed_low)[:, :, None] * state.flat_low[:, None, :]
    )
    if skin.thread:
        length = np.linalg.norm(placed, axis=1)
        tight = np.maximum(length - 1, 0)
        energy += 0.5 * skin.thread * np.sum(skin.areas[:, None] * tight**2)
        stress += skin.thread * (tight / np.maximum(length, 1e-12))[:, None, :] * placed
    corner = np.einsum("mid,mjd->mji", stress * skin.areas[:, None, None], skin.gradients)
    return float(energy), np.asarray(corner)


def face_stiffness(skin: Skin, points: FloatArray) -> FloatArray:
    """Return the second derivative of stretch and filling for each cloth face, (m, 9, 9).

    Notes
    -----
    Stretch: the six eigenmodes of an isotropic energy of a 3 × 2 map, all of them stiff or slack,
    never negative (B. Smith, F. de Goes, T. Kim, "Analytic eigensystems for isotropic distortion
    energies", ACM Transactions on Graphics 38, 2019, doi 10.1145/3241041, here with two stretches).
    Filling: exact; see `filling_stiffness`.
    """
    placed = deformation(skin, points)
    modes = _modes(stretches(placed), skin)
    inner = np.matmul(modes.transpose(0, 2, 1), modes).reshape(-1, 2, 3, 2, 3)
    if skin.thread:
        _add_threads(inner, skin, placed)
    half = np.matmul(skin.gradients, inner.reshape(-1, 2, 18)).reshape(-1, 9, 6)
    out = np.matmul(half, skin.spread)
    out += filling_stiffness(skin, points, skin.faces)
    return np.asarray(out)


def filling_stiffness(skin: Skin, points: FloatArray, faces: IntArray) -> FloatArray:
    """Return the second derivative of the filling's energy for each face, (m, 9, 9)."""
    pressures = filling_pressures(skin, points, faces)
    out = np.zeros((len(faces), 3, 3, 3, 3))
    corners = points[faces]
    crosses = _cross_matrices(corners * (pressures / 6)[:, None, None])
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        # d/dx_j of (x_j × x_k) is −[x_k]×, and the energy is −pV.
        out[:, i, :, j, :] = crosses[:, k]
        out[:, j, :, i, :] = -crosses[:, k]
    if np.any(skin.filling_weight):
        a, b, c = corners.transpose(1, 0, 2)
        growth = np.stack([cross(b, c), cross(c, a), cross(a, b)], axis=1) / 24
        # The pressure sinks by a quarter of any corner's rise.
        sinks = growth.reshape(-1, 9, 1) * np.tile(skin.filling_weight, 3)
        return out.reshape(-1, 9, 9) + sinks + sinks.transpose(0, 2, 1)
    return out.reshape(-1, 9, 9)


def _modes(state: Stretches, skin: Skin) -> FloatArray:
    """Return the square roots of each face's stiff modes, (m, 6, 6): thread-major, then x, y, z."""
    high, low = state.high, state.low
    tight_high, tight_low = np.maximum(high - 1, 0), np.maximum(low - 1, 0)
    safe = np.maximum(high, 1e-12)
    with np.errstate(invalid="ignore", divide="ignore"):
        swap = np.where(low > 1, 1.0, np.where(high > 1, tight_high / (high - low), 0.0))
    weights = np.stack(
        [
            (high > 1) * 1.0,
            (low > 1) * 1.0,
            0.5 * swap,
            0.5 * (tight_high + tight_low) / np.maximum(high + low, 1e-12),
            tight_high / safe,
            tight_low / np.maximum(low, 1e-12),
        ],
        axis=1,
    )
    scale = np.sqrt(weights * (skin.even * skin.areas)[:, None])
    along, across = state.flat_high, state.flat_low
    one, two, normal = state.placed_high, state.placed_low, state.normal

    def outer(weight: FloatArray, vector: FloatArray) -> FloatArray:
        return weight[:, :, None] * vector[:, None, :]

    one_across, two_along = outer(across, one), outer(along, two)
    modes = np.stack(
        [
            outer(along, one),
            outer(across, two),
            one_across + two_along,
            one_across - two_along,
            outer(along, normal),
            outer(across, normal),
        ],
        axis=1,
    )
    return np.asarray(modes.reshape(-1, 6, 6) * scale[:, :, None])


def _add_threads(inner: FloatArray, skin: Skin, placed: FloatArray) -> None:
    """Add the threads' stretch to the second derivative by F, (m, 2, 3, 2, 3), in place."""
    for d in range(2):
        length = np.maximum(np.linalg.norm(placed[:, :, d], axis=1), 1e-12)
        along = placed[:, :, d] / length[:, None]
        turn = np.maximum(length - 1, 0) / length
        stiff = skin.thread * skin.areas
        straight = (stiff * ((length > 1) - turn))[:, None] * along
        inner[:, d, :, d, :] += straight[:, :, None] * along[:, None, :]
        for axis in range(3):
            inner[:, d, axis, d, axis] += stiff * turn


def _cross_matrices(vectors: FloatArray) -> FloatArray:
    """Return [v]× for vectors (..., 3), as (..., 3, 3)."""
    out = np.zeros((*vectors.shape, 3))
    out[..., 0, 1], out[..., 0, 2] = -vectors[..., 2], vectors[..., 1]
    out[..., 1, 0], out[..., 1, 2] = vectors[..., 2], -vectors[..., 0]
    out[..., 2, 0], out[..., 2, 1] = -vectors[..., 1], vectors[..., 0]
    return out


def _add_at(total: FloatArray, faces: IntArray, corner: FloatArray) -> None:
    """Add corner values (m, 3, 3) to the rows of `total` that the faces name."""
    at = faces.ravel()
    flat = corner.reshape(-1, 3)
    for axis in range(3):
        total[:, axis] += np.bincount(at, weights=flat[:, axis], minlength=len(total))


def hinge_rows(
    faces: IntArray, rest: FloatArray, sheet: IntArray, seam_edges: IntArray
) -> tuple[IntArray, FloatArray]:
    """Return the bending rows of each inner edge: energy ½ B Σ |Σ_k rows[k] x[corners[k]]|².

    Parameters
    ----------
    faces : (m, 3) int
        Sewn faces.
    rest : (m, 3, 2) float
        Their flat corners, each face in a frame of its own.
    sheet : (m,) int
        Sheet of cloth each face is of; an edge between two sheets hinges freely.
    seam_edges : (k, 2) int
        Edges within a sheet that hinge freely too: closed darts.

    Returns
    -------
    corners : (h, 4) int
        The edge's two ends, then the two corners opposite it.
    rows : (h, 4) float
        Coefficients, 1/mm: zero for every flat state, so that B is in N mm.

    Notes
    -----
    M. Bergou, M. Wardetzky, D. Harmon, D. Zorin, E. Grinspun, "A quadratic bending model for
    inextensible surfaces", Symposium on Geometry Processing 2006, section 3. Their factor 3 is left
    out: on even triangles it makes a sheet three times as stiff as B says (after H. S. Seung, D. R.
    Nelson, Physical Review A 38, 1988, doi 10.1103/PhysRevA.38.1005).
    """
    size = int(faces.max()) + 1
    starts, ends = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    one, two = _twins(starts, ends, size)
    key = np.minimum(starts, ends) * size + np.maximum(starts, ends)
    seams = np.min(seam_edges, axis=1) * size + np.max(seam_edges, axis=1)
    is_inner = (sheet[one // 3] == sheet[two // 3]) & ~np.isin(key[one], seams)
    one, two = one[is_inner], two[is_inner]
    others = np.roll(faces, -2, axis=1).ravel()
    corners = np.stack([starts[one], ends[one], others[one], others[two]], axis=1)
    return corners, _coefficients(rest, one, two)


def _twins(starts: IntArray, ends: IntArray, size: int) -> tuple[IntArray, IntArray]:
    """Return the half-edges that run from a lower to a higher vertex, and those that run back."""
    up, down = np.flatnonzero(starts < ends), np.flatnonzero(starts > ends)
    up_key, down_key = starts[up] * size + ends[up], ends[down] * size + starts[down]
    shared, in_up, in_down = np.intersect1d(up_key, down_key, return_indices=True)
    return up[in_up], down[in_down]


def _coefficients(rest: FloatArray, one: IntArray, two: IntArray) -> FloatArray:
    """Return the hinge coefficients of the half-edges `one`, whose twins are `two`."""
    at = rest.reshape(-1, 2)
    to, off = np.roll(rest, -1, axis=1).reshape(-1, 2), np.roll(rest, -2, axis=1).reshape(-1, 2)
    start_left, end_left = _cot(at, to, off)[one], _cot(to, off, at)[one]
    start_right, end_right = _cot(to, off, at)[two], _cot(at, to, off)[two]
    doubled = _doubled(at, to, off)
    scale = np.sqrt(2.0 / (doubled[one] + doubled[two]))
    rows = np.stack(
        [
            end_left + end_right,
            start_left + start_right,
            -(start_left + end_left),
            -(start_right + end_right),
        ],
        axis=1,
    )
    return np.asarray(rows * scale[:, None])


def _cot(corner: FloatArray, one: FloatArray, two: FloatArray) -> FloatArray:
    """Return the cotangent of the angle at `corner` between the ways to `one` and `two`."""
    u, v = one - corner, two - corner
    return np.asarray(np.sum(u * v, axis=1) / np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))


def _doubled(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Return twice the area of each triangle."""
    u, v = b - a, c - a
    return np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
