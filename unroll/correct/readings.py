"""What a correction is steered by: readings of the filled arm, linear in its vertices' places."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from unroll.correct.rulers import ELBOW, LEVELS, UPPER_ARM, WRIST, Ruler
from unroll.maths import polylines
from unroll.maths.arrays import BoolArray, FloatArray, IntArray, first_largest
from unroll.maths.closest_points import signed_distances
from unroll.nouns.corrected import GIRTH_LEVELS, Miss

# How closely the surface is watched: distance between the places at which it is read.
CAP_APART_MM, LIMB_APART_MM = 14.0, 35.0
WIDTH = 0.6  # of a place, as a share of the distance between places
ALIKE = 1e-5  # mm, or a share of that distance; more than the loft differs between processors
# What is let pass; well below what the maker is promised, since several add up.
# Every limit is to be kept on full arms too, where elbow, wrist and hang pull against each other:
# none is let pass more closely than the others need (tests/study_correction.py).
CAP_PASSES_MM, LIMB_PASSES_MM = 1.2, 4.0
WRIST_PASSES_MM, ELBOW_PASSES_MM = 0.26, 0.28
GIRTH_PASSES = 0.0003
TWIST_PASSES_RAD, HANG_PASSES_RAD = 0.008, 0.0008


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of a filled arm.

    Attributes
    ----------
    ruler : Ruler
    rows : (r, 3n) float
        Slopes of the readings by the vertices' places, each over what is let pass: distance of the
        surface at many places, the wrist's centre, girths, twist, hang outward and forward, the
        elbow's centre.
    place_count : int
        How many of them are distances of the surface.
    used : (u,) int
        Vertices that these are means of.
    weights : (place_count, u) float
        Their shares, over what is let pass.
    sides : (m, 3) int
        Faces of the arm's side surface.
    """

    ruler: Ruler
    rows: FloatArray
    place_count: int
    used: IntArray
    weights: FloatArray
    sides: IntArray

    @property
    def on_cap(self) -> BoolArray:
        """Which of the places lie on the cap, (place_count,)."""
        share = self.weights @ (self.ruler.areas[self.used] > 0)
        return np.asarray(share >= 0.5 * self.weights.sum(axis=1))

    def with_cap_closer(self, times: float) -> Readings:
        """Return the readings with so many times less let pass on the cap."""
        closer = np.where(self.on_cap, times, 1.0)[:, None]
        rows = self.rows.copy()
        rows[: self.place_count] *= closer
        return replace(self, rows=rows, weights=closer * self.weights)

    def wanted(self, filled: FloatArray, miss: Miss) -> FloatArray:
        """Return what the readings are to gain, (r,), over what is let pass.

        Parameters
        ----------
        filled : (n, 3) float
        miss : Miss
            Of the same shape; girths, twist and hang are taken from it.
        """
        arm = self.ruler.arm
        out = self.rows @ (arm.mesh.vertices - filled).ravel()
        off = np.sum((filled - arm.mesh.vertices) * self.ruler.normals, axis=1)[self.used]
        # on the cap the cloth slides over a bent surface: measured to the nearest point
        cap = self.ruler.areas[self.used] > 0
        off[cap] = signed_distances(filled[self.used[cap]], arm.mesh.vertices, self.sides)[0]
        out[: self.place_count] = -(self.weights @ off)
        out[self.place_count + 3 :] = -_overall(miss)[3:]
        return np.asarray(out)

    def wanted_more(
        self, filled: FloatArray, miss: Miss, other_filled: FloatArray, other: Miss
    ) -> FloatArray:
        """Return by how much more another shape of the arm is to gain, (r,).

        Parameters
        ----------
        filled, other_filled : (n, 3) float
        miss, other : Miss
            Of these shapes.

        Notes
        -----
        The places on the cap are left alone: there a mesh that was sewn anew differs by its chords.
        Those below it go with the elbow and the wrist, or they would hold the arm where it is.
        """
        out = np.zeros(len(self.rows))
        out[self.place_count :] = _overall(miss) - _overall(other)
        further = self.rows[: self.place_count] @ (filled - other_filled).ravel()
        out[: self.place_count] = np.where(self.on_cap, 0.0, further)
        return out


def _overall(miss: Miss) -> FloatArray:
    """Return what a miss says over what is let pass, in the order of the rows after the places."""
    return np.concatenate(
        [
            miss.wrist / WRIST_PASSES_MM,
            miss.girths / GIRTH_PASSES,
            [miss.twist_rad / TWIST_PASSES_RAD],
            np.array([miss.outward_rad, miss.forward_rad]) / HANG_PASSES_RAD,
            miss.elbow / ELBOW_PASSES_MM,
        ]
    )


def readings_of(ruler: Ruler) -> Readings:
    """Return the readings that steer a correction of the ruler's arm."""
    arm = ruler.arm
    sides = arm.mesh.faces[np.concatenate([arm.panel_faces["outer"], arm.panel_faces["inner"]])]
    used, weights = _places(ruler, sides)
    places = np.zeros((len(weights), len(arm.mesh.vertices), 3))
    places[:, used] = weights[:, :, None] * ruler.normals[used]
    rest = [
        *_wrist(ruler) / WRIST_PASSES_MM,
        *(_girth(ruler, ring) / GIRTH_PASSES for ring in range(GIRTH_LEVELS)),
        _twist(ruler) / TWIST_PASSES_RAD,
        *_hang(ruler) / HANG_PASSES_RAD,
        *_elbow(ruler) / ELBOW_PASSES_MM,
    ]
    rows = np.concatenate([places.reshape(len(places), -1), np.array(rest)])
    return Readings(ruler, rows, len(places), used, weights, sides)


def _places(ruler: Ruler, sides: IntArray) -> tuple[IntArray, FloatArray]:
    """Return the vertices off the edges, and their shares in the distance at each place."""
    arm, v = ruler.arm, ruler.arm.mesh.vertices
    rim = np.union1d(arm.paths["cap seam"], arm.paths["underarm seam"])
    plate = np.unique(arm.mesh.faces[arm.panel_faces["wrist plate"]])
    used = np.setdiff1d(np.unique(sides), np.union1d(rim, plate))
    is_cap = (ruler.areas > 0)[used]
    apart = np.where(is_cap, CAP_APART_MM, LIMB_APART_MM)
    chosen = _spread(v[used], apart)
    away = np.linalg.norm(v[used][None] - v[used[chosen]][:, None], axis=2)
    faces_alike = ruler.normals[used[chosen]] @ ruler.normals[used].T > 0.3
    weights = np.exp(-((away / (WIDTH * apart[chosen])[:, None]) ** 2)) * faces_alike
    weights *= _vertex_areas(v, sides)[used]
    weights /= weights.sum(axis=1, keepdims=True)
    weights /= np.where(is_cap[chosen], CAP_PASSES_MM, LIMB_PASSES_MM)[:, None]
    return used, weights


def _spread(points: FloatArray, apart: FloatArray) -> IntArray:
    """Return points, by index, such that none lies farther from all of them than its `apart`."""
    chosen = [first_largest(points[:, 2], ALIKE)]
    nearest = np.linalg.norm(points - points[chosen[0]], axis=1) / apart
    while nearest.max() > 1.0:
        chosen.append(first_largest(nearest, ALIKE))
        nearest = np.minimum(nearest, np.linalg.norm(points - points[chosen[-1]], axis=1) / apart)
    return np.array(chosen)


def _vertex_areas(points: FloatArray, faces: IntArray) -> FloatArray:
    a, b, c = points[faces].transpose(1, 0, 2)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 6.0
    return np.asarray(np.bincount(faces.ravel(), np.repeat(area, 3), len(points)), dtype=float)


def _wrist(ruler: Ruler) -> FloatArray:
    """Return the wrist's centre, (3, 3n)."""
    plate = np.unique(ruler.arm.mesh.faces[ruler.arm.panel_faces["wrist plate"]])
    rows = np.zeros((3, len(ruler.arm.mesh.vertices), 3))
    for axis in range(3):
        rows[axis, plate, axis] = 1.0 / len(plate)
    return rows.reshape(3, -1)


def _elbow(ruler: Ruler) -> FloatArray:
    """Return the elbow's centre, (3, 3n): the mean of the line round it."""
    corners, weights = _ring_points(ruler, ELBOW)
    rows = np.zeros((3, len(ruler.arm.mesh.vertices), 3))
    for axis in range(3):
        np.add.at(rows[axis, :, axis], corners, weights / len(corners))
    return rows.reshape(3, -1)


def _ring_points(ruler: Ruler, ring: int) -> tuple[IntArray, FloatArray]:
    """Return corners (k, 3) and weights (k, 3) of the points of a line round the arm."""
    faces = ruler.arm.mesh.faces
    corners = np.concatenate([faces[trace.faces] for trace in ruler.rings[ring]])
    return corners, np.concatenate([trace.weights for trace in ruler.rings[ring]])


def _girth(ruler: Ruler, ring: int) -> FloatArray:
    """Return the relative girth at a ring, (3n,): each point pulls along the line's bend there."""
    v = ruler.arm.mesh.vertices
    corners, weights = _ring_points(ruler, ring)
    line = np.einsum("kc,kcx->kx", weights, v[corners])
    off = line - line.mean(axis=0)
    frame = np.linalg.svd(off, full_matrices=False)[2]
    order = np.argsort(np.arctan2(off @ frame[1], off @ frame[0]))
    steps = np.roll(line[order], -1, axis=0) - line[order]
    lengths = np.linalg.norm(steps, axis=1)
    ways = steps / np.maximum(lengths, 1e-9)[:, None]
    bends = np.roll(ways, 1, axis=0) - ways
    row = np.zeros_like(v)
    shares = weights[order][:, :, None] * bends[:, None, :] / lengths.sum()
    np.add.at(row, corners[order], shares)
    return row.ravel()


def _twist(ruler: Ruler) -> FloatArray:
    """Return the turn about the arm's length, front outward, the mean over the levels, (3n,)."""
    v = ruler.arm.mesh.vertices
    axis = ruler.centres[WRIST] - ruler.centres[UPPER_ARM]
    axis = axis / np.linalg.norm(axis)
    row = np.zeros_like(v)
    for ring in LEVELS:
        pairs, shares = ruler.across[ring]
        weights = np.stack([1.0 - shares, shares], axis=1)
        ends = np.einsum("sk,skx->sx", weights, v[pairs])
        across = ends[0] - ends[1]
        across = across - (across @ axis) * axis
        turn = np.cross(across, axis) / (across @ across) / len(LEVELS)
        np.add.at(row, pairs, np.array([1.0, -1.0])[:, None, None] * weights[:, :, None] * turn)
    return row.ravel()


def _hang(ruler: Ruler) -> FloatArray:
    """Return the lean of the arm's length, outward and forward, (2, 3n).

    The least-squares turn of the ways from section to section, which lie nearly in line: the sum of
    their sideways shifts, each times its length, over the sum of their squared lengths.
    """
    v = ruler.arm.mesh.vertices
    lengths = polylines.chords(ruler.centres[LEVELS])
    shares = -np.diff(np.concatenate([[0.0], lengths, [0.0]])) / float(lengths @ lengths)
    rows = np.zeros((2, *v.shape))
    for ring, share in zip(LEVELS, shares, strict=True):
        corners, weights = _ring_points(ruler, ring)
        for row, axis in ((0, 1), (1, 0)):
            np.add.at(rows[row, :, axis], corners, share * weights / len(corners))
    return rows.reshape(2, -1)
