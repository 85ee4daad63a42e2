"""Averages over a mesh: percentiles by area, face values carried to corners, vertex normals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from unroll.maths.arrays import FloatArray, IntArray

ComplexArray = NDArray[np.complex128]


def local_corners(vertices: FloatArray, faces: IntArray) -> ComplexArray:
    """Return the second and third corner of each triangle laid flat, the first one being 0.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int

    Returns
    -------
    (2, m) complex
        The second corner is real and positive; the third lies above it.
    """
    first = vertices[faces[:, 1]] - vertices[faces[:, 0]]
    second = vertices[faces[:, 2]] - vertices[faces[:, 0]]
    length = np.sqrt(np.einsum("ij,ij->i", first, first))
    along = np.einsum("ij,ij->i", first, second) / length
    normal = np.cross(first, second)
    height = np.sqrt(np.einsum("ij,ij->i", normal, normal)) / length
    return np.stack([length.astype(complex), along + 1j * height])


@dataclass(frozen=True, eq=False)
class Triangles:
    """The gradients of the corner functions of a triangle mesh.

    Attributes
    ----------
    faces : (m, 3) int
    slopes : (3, m) complex
        a_k = (d/dx - i d/dy) / 2 of the function that is 1 at corner k and 0 at the other two.
    areas : (m,) float
        Area of each triangle.
    count : int
        Number of vertices.
    """

    faces: IntArray
    slopes: ComplexArray
    areas: FloatArray
    count: int

    @cached_property
    def _corners(self) -> IntArray:
        """Vertex of each corner, (3, m), each corner's in one piece of memory."""
        return np.ascontiguousarray(self.faces.T)

    @cached_property
    def _onto_vertices(self) -> sparse.csr_array:
        """Matrix, (n, m), that sums slope times a number of each face at the face's corners."""
        starts = np.arange(0, self.faces.size + 1, 3, dtype=np.int32)
        columns = self.faces.ravel().astype(np.int32)
        by_face = sparse.csr_array(
            (self.slopes.T.ravel(), columns, starts), shape=(len(self.faces), self.count)
        )
        return sparse.csr_array(by_face.T)

    def differentials(self, points: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Return alpha and beta, (m,) each, of the map that sends vertex j to `points[j]`."""
        origin = points.take(self._corners[0])
        first = points.take(self._corners[1])
        second = points.take(self._corners[2])
        first -= origin
        second -= origin
        _, a, b = self.slopes
        alpha = a * first
        alpha += b * second
        first *= a.conj()
        second *= b.conj()
        first += second
        return alpha, first

    def gather(self, by_alpha: ComplexArray, by_beta: ComplexArray) -> ComplexArray:
        """Return the gradient at the vertices, (n,), of a function of alpha and beta.

        Parameters
        ----------
        by_alpha, by_beta : (m,) complex
            Gradients P and Q, area weight included: dE = sum Re(conj(P) dalpha + conj(Q) dbeta).
        """
        sums = self._onto_vertices
        out: ComplexArray = (sums @ by_alpha.conj()).conj() + sums @ by_beta
        return out

    def cotangent_laplacian(self) -> sparse.csc_array:
        """Return the positive semidefinite cotangent Laplacian, (n, n).

        Notes
        -----
        Entry jk is the sum over triangles of area times grad_j . grad_k = 4 area Re(a_j conj a_k):
        Pinkall & Polthier 1993, doi 10.1080/10586458.1993.10504266.
        """
        faces = self.faces.astype(np.int32)
        rows, columns, values = [], [], []
        for j, k in ((0, 1), (1, 2), (2, 0)):
            rows.append(faces[:, j])
            columns.append(faces[:, k])
            values.append(4 * self.areas * (self.slopes[j] * self.slopes[k].conj()).real)
        ends = (np.concatenate(rows), np.concatenate(columns))
        shape = (self.count, self.count)
        half = sparse.csc_array(sparse.coo_array((np.concatenate(values), ends), shape=shape))
        links = half + half.T.tocsc()
        return sparse.csc_array(links - sparse.diags_array(links @ np.ones(self.count)).tocsc())


def triangles_of(vertices: FloatArray, faces: IntArray) -> Triangles:
    """Return the corner gradients of a mesh in space.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int
        No triangle may be without area.

    Notes
    -----
    The gradient of a corner's function is i e / (2 area), with e the opposite edge run
    anticlockwise, as a complex number.

    Examples
    --------
    >>> flat = np.array([[0.0, 0, 0], [2, 0, 0], [0, 1, 0]])
    >>> alpha, beta = triangles_of(flat, np.array([[0, 1, 2]])).differentials(
    ...     np.array([0, 6, 1j]))
    >>> float(abs(alpha[0]) + abs(beta[0])), float(abs(alpha[0]) - abs(beta[0]))
    (3.0, 1.0)
    """
    second, third = local_corners(vertices, faces)
    areas = 0.5 * second.real * third.imag
    opposite = np.stack([third - second, -third, second])
    slopes = -1j * opposite.conj() / (4 * areas)
    return Triangles(faces, slopes, areas, len(vertices))


def corner_angles(triangles: Triangles) -> FloatArray:
    """Return the angle at each corner of each triangle, (3, m), radians."""
    out = np.empty((3, len(triangles.areas)))
    for corner in range(3):
        one, two = triangles.slopes[(corner + 1) % 3], triangles.slopes[(corner + 2) % 3]
        cotangent = -8 * triangles.areas * (one * two.conj()).real
        out[corner] = np.arctan2(1.0, cotangent)
    return out


def angle_defects(triangles: Triangles, loop: IntArray) -> FloatArray:
    """Return each vertex's curvature as an angle, (n,), radians; they add up to 2 pi on a disk.

    Inside it is what the corners lack of a full turn (Gaussian curvature); on the boundary `loop`
    it is what they lack of a half turn: how far the boundary turns there once laid flat.
    """
    corners = corner_angles(triangles)
    defect = np.full(triangles.count, 2 * np.pi)
    defect[loop] = np.pi
    np.subtract.at(defect, triangles.faces.T.ravel(), corners.ravel())
    return defect


def is_unfolded(triangles: Triangles, points: ComplexArray, *, least: float = 0.0) -> bool:
    """Tell whether every triangle keeps its right side up.

    Parameters
    ----------
    least : float
        What its smaller stretch must be more than, as a share of its larger.
    """
    alpha, beta = np.abs(triangles.differentials(points))
    return bool(np.min(alpha - beta - least * (alpha + beta)) > 0)


def largest_unfolded_step(
    alpha: ComplexArray, beta: ComplexArray, step_alpha: ComplexArray, step_beta: ComplexArray
) -> float:
    """Return the smallest positive step at which a triangle loses its area; inf if none does.

    Notes
    -----
    The determinant along the step is a quadratic; its roots are taken in the form that does not
    cancel (Smith & Schaefer 2015, doi 10.1145/2766947).
    """
    constant = np.abs(alpha) ** 2 - np.abs(beta) ** 2
    linear = 2 * (alpha.conj() * step_alpha - beta.conj() * step_beta).real
    square = np.abs(step_alpha) ** 2 - np.abs(step_beta) ** 2
    root = linear**2 - 4 * square * constant
    below = -linear + np.sqrt(np.maximum(root, 0))
    hits = (root >= 0) & (below > 0)
    if not hits.any():
        return float("inf")
    return float(np.min(2 * constant[hits] / below[hits]))


def area_percentile(values: FloatArray, weights: FloatArray, percent: float) -> float:
    """Return the value at or below which `percent` of the weight lies.

    Parameters
    ----------
    values, weights : (m,) float
        A value a face and the face's share of the area.
    percent : float
        0 to 100.

    Examples
    --------
    >>> import numpy as np
    >>> area_percentile(np.array([3.0, 1.0, 2.0]), np.array([2.0, 1.0, 1.0]), 50)
    2.0
    """
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order])
    # A share that ends just at a face belongs to that face, whatever the last digit says.
    at = int(np.searchsorted(below, percent / 100.0 * below[-1] * (1 - 1e-12)))
    return float(values[order][min(at, len(values) - 1)])


def corner_means(
    values: FloatArray, weights: FloatArray, faces: IntArray, count: int
) -> FloatArray:
    """Return the weighted mean, at each of `count` vertices, of the faces around it, (count,).

    A vertex that no face touches gets 0.
    """
    corners = faces.ravel()
    total = np.bincount(corners, np.repeat(values * weights, 3), minlength=count)
    weight = np.bincount(corners, np.repeat(weights, 3), minlength=count)
    out: FloatArray = total / np.where(weight > 0, weight, 1.0)
    return out


def face_normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """Return each face's normal times twice its area, (m, 3)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    out: FloatArray = np.cross(b - a, c - a)
    return out


def vertex_normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """Return unit normals, (n, 3): the area-weighted mean of the faces around each vertex.

    A vertex that no face touches gets (0, 0, 1).
    """
    normals = np.zeros_like(vertices)
    np.add.at(normals, faces.ravel(), np.repeat(face_normals(vertices, faces), 3, axis=0))
    normals[~normals.any(axis=1)] = (0.0, 0.0, 1.0)
    out: FloatArray = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    return out


MOST_MM2 = 3e5  # cloth of the largest arm of a body; the demo's has half of it


def edge_within(edge: float, area: float, most: float = MOST_MM2) -> float:
    """Return an edge length, or a longer one where an area would take more triangles than `most`.

    A mesh of what is larger than any arm is coarser by as much, so that no sheet takes for ever.

    Examples
    --------
    >>> edge_within(8.0, 1.5e5), edge_within(8.0, 4 * MOST_MM2)
    (8.0, 16.0)
    """
    return edge * max(1.0, math.sqrt(area / most))
