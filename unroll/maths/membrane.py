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
    def slopes(self) -> FloatArray:
        """The gradients by thread, corner and face, (2, 3, m)."""
        return np.ascontiguousarray(self.gradients.transpose(2, 1, 0))


@dataclass(frozen=True, eq=False)
class Stretches:
    """Singular values and vectors of every face's F.

    Attributes
    ----------
    high, low : (m,) float
        Principal stretches.
    flat_high, flat_low : (2, m) float
        Their directions in the flat frame.
    placed_high, placed_low : (3, m) float
        Their directions in space.
    """

    high: FloatArray
    low: FloatArray
    flat_high: FloatArray
    flat_low: FloatArray
    placed_high: FloatArray
    placed_low: FloatArray


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


def corners_of(points: FloatArray, faces: IntArray) -> FloatArray:
    """Return the corners of faces (m, 3) by axis, corner and face, (3, 3, m)."""
    return np.asarray(np.take(points.T, faces.T, axis=1))


def deformation(skin: Skin, points: FloatArray) -> FloatArray:
    """Return F of every face, how each thread lies in space, by thread and axis: (2, 3, m)."""
    corners, slopes = corners_of(points, skin.faces), skin.slopes
    return np.asarray(
        slopes[:, None, 0] * corners[:, 0]
        + slopes[:, None, 1] * corners[:, 1]
        + slopes[:, None, 2] * corners[:, 2]
    )


def stretches(placed: FloatArray) -> Stretches:
    """Return the singular values and vectors of F (2, 3, m) in closed form."""
    x, y = placed
    xx, yy, xy = _dot(x, x), _dot(y, y), _dot(x, y)
    half, angle = np.hypot(0.5 * (xx - yy), xy), 0.5 * np.arctan2(2 * xy, xx - yy)
    cos, sin = np.cos(angle), np.sin(angle)
    high = np.sqrt(0.5 * (xx + yy) + half)
    one, across = (cos * x + sin * y) / np.maximum(high, 1e-12), cos * y - sin * x
    across -= _dot(one, across) * one
    low = np.sqrt(_dot(across, across))
    is_line = low < 1e-9
    two = across / np.where(is_line, 1.0, low)
    if is_line.any():
        two[:, is_line] = _across(one[:, is_line])
    return Stretches(high, low, np.stack([cos, sin]), np.stack([-sin, cos]), one, two)


def _across(ways: FloatArray) -> FloatArray:
    """Return a unit vector across each way (3, m).

    A face folded to a line has no second direction of its own: any one across it will do.
    """
    spare = cross(ways, np.eye(3)[:, np.argmin(np.abs(ways), axis=0)])
    return np.asarray(spare / np.maximum(np.sqrt(_dot(spare, spare)), 1e-12))


def _dot(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the inner products of vectors (3, m)."""
    return np.asarray(one[0] * other[0] + one[1] * other[1] + one[2] * other[2])


def cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the cross products of vectors (3, m)."""
    (a, b, c), (d, e, f) = one, other
    return np.stack([b * f - c * e, c * d - a * f, a * e - b * d])


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
    _add_at(gradient, skin.faces, corner + weight.T / 3)
    for faces in (skin.faces, skin.closing):
        slopes = volume_slopes(points, faces)
        volumes = _dot(corners_of(points, faces)[:, 0], slopes[0])
        pressures = filling_pressures(skin, points, faces)
        energy -= float(volumes @ pressures)
        weight = 0.25 * volumes * skin.filling_weight[:, None]
        _add_at(gradient, faces, weight - pressures * slopes)
    return energy, gradient


def volume_slopes(points: FloatArray, faces: IntArray) -> FloatArray:
    """Return how the pyramid from the origin to each face grows by its corners, mm².

    By corner and axis, (3, 3, m): a sixth of the cross product of the other two corners.
    """
    a, b, c = corners_of(points, faces).transpose(1, 0, 2)
    return np.stack([cross(b, c), cross(c, a), cross(a, b)]) / 6


def filling_pressures(skin: Skin, points: FloatArray, faces: IntArray) -> FloatArray:
    """Return the pressure at the middle of each pyramid from the origin to a face, (m,) N/mm²."""
    height = points @ skin.filling_weight
    return np.asarray(skin.pressure - 0.25 * height[faces].sum(axis=1))


def corner_forces(skin: Skin, points: FloatArray) -> tuple[float, FloatArray]:
    """Return the energy of stretch, N mm, and its gradient by corner and axis, (3, 3, m) N."""
    placed = deformation(skin, points)
    state = stretches(placed)
    tight_high, tight_low = np.maximum(state.high - 1, 0), np.maximum(state.low - 1, 0)
    energy = 0.5 * skin.even * np.sum(skin.areas * (tight_high**2 + tight_low**2))
    tight = np.maximum(thread_stretches(placed) - 1, 0)
    energy += 0.5 * skin.thread * np.sum(skin.areas * tight**2)
    pull = skin.areas * stresses(skin, placed, state)
    slopes = skin.slopes[:, :, None]
    return float(energy), np.asarray(pull[0] * slopes[0] + pull[1] * slopes[1])


def thread_stretches(placed: FloatArray) -> FloatArray:
    """Return how long each thread of F (2, 3, m) lies over its flat length, (2, m)."""
    return np.sqrt(_dot(placed.transpose(1, 0, 2), placed.transpose(1, 0, 2)))


def stresses(skin: Skin, placed: FloatArray, state: Stretches) -> FloatArray:
    """Return the stress that F (2, 3, m) comes with, by thread and axis as F, N/mm.

    `state` are its `stretches`. What is shorter than flat is slack, and pulls at nothing.
    """
    high = np.maximum(state.high - 1, 0) * state.placed_high
    low = np.maximum(state.low - 1, 0) * state.placed_low
    even = state.flat_high[:, None] * high + state.flat_low[:, None] * low
    length = thread_stretches(placed)
    tight = np.maximum(length - 1, 0) / np.maximum(length, 1e-12)
    return np.asarray(skin.even * even + skin.thread * tight[:, None] * placed)


def _add_at(total: FloatArray, faces: IntArray, corner: FloatArray) -> None:
    """Add values by corner and axis (3, 3, m) to the rows of `total` that the faces name."""
    at = faces.T.ravel()
    for axis in range(3):
        total[:, axis] += np.bincount(at, weights=corner[:, axis].ravel(), minlength=len(total))


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
