"""What a correction is steered by: readings of the filled arm, and their slopes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from unroll.correct.ruler_slopes import slopes_of
from unroll.correct.rulers import Ruler
from unroll.maths.arrays import BoolArray, FloatArray, IntArray, first_largest
from unroll.maths.closest_points import ways_off
from unroll.nouns.corrected import GIRTH_LEVELS, Miss

# How closely the surface is watched: distance between the places at which it is read.
CAP_APART_MM, LIMB_APART_MM = 14.0, 35.0
WIDTH = 0.6  # of a place, as a share of the distance between places
ALIKE = 1e-5  # mm, or a share of that distance; more than the loft differs between processors
# What is let pass; well below what the maker is promised, since several add up.
# Every limit is to be kept on full arms too, where elbow, wrist and hang pull against each other:
# none is let pass more closely than the others need (tests/study_correction.py).
CAP_PASSES_MM, LIMB_PASSES_MM = 1.2, 4.0
WRIST_PASSES_MM, ELBOW_PASSES_MM = 0.22, 0.28
GIRTH_PASSES = 0.0004
TWIST_PASSES_RAD, HANG_PASSES_RAD = 0.008, 0.0006


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of a filled arm: distances of its surface, then what its ruler tells of the whole.

    In this order: distance at many places, the wrist's centre, girths, twist, hang outward and
    forward, the elbow's centre; each over what is let pass.

    Attributes
    ----------
    ruler : Ruler
    used : (u,) int
        Vertices that the distances are means of.
    weights : (p, u) float
        Their shares at each place, over what is let pass.
    sides : (m, 3) int
        Faces of the arm's side surface.
    """

    ruler: Ruler
    used: IntArray
    weights: FloatArray
    sides: IntArray

    @property
    def place_count(self) -> int:
        """How many of the readings are distances of the surface."""
        return len(self.weights)

    @property
    def on_cap(self) -> BoolArray:
        """Which of the places lie on the cap, (place_count,)."""
        share = self.weights @ (self.ruler.areas[self.used] > 0)
        return np.asarray(share >= 0.5 * self.weights.sum(axis=1))

    def with_cap_closer(self, times: float) -> Readings:
        """Return the readings with so many times less let pass on the cap."""
        closer = np.where(self.on_cap, times, 1.0)[:, None]
        return replace(self, weights=closer * self.weights)

    def slopes(self, filled: FloatArray) -> FloatArray:
        """Return the slopes of all readings by the vertices' places (n, 3), (r, 3n)."""
        _, ways = self._off(filled)
        places = np.zeros((self.place_count, len(filled), 3))
        places[:, self.used] = self.weights[:, :, None] * ways
        rest = np.concatenate([_wrist(self.ruler), slopes_of(self.ruler, filled)])
        return np.concatenate([places.reshape(len(places), -1), rest / PASSES[:, None]])

    def wanted(self, filled: FloatArray, miss: Miss) -> FloatArray:
        """Return what the readings are to gain, (r,), over what is let pass.

        Parameters
        ----------
        filled : (n, 3) float
        miss : Miss
            Of the same shape; girths, twist and hang are taken from it.
        """
        overall = _overall(miss)
        aside = (filled - self.ruler.arm.mesh.vertices).ravel()
        overall[:3] = _wrist(self.ruler) @ aside / WRIST_PASSES_MM
        return -np.concatenate([self.weights @ self._off(filled)[0], overall])

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
        further = self.weights @ (self._off(filled)[0] - self._off(other_filled)[0])
        apart = _overall(miss) - _overall(other)
        return np.concatenate([np.where(self.on_cap, 0.0, further), apart])

    def _off(self, filled: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return how far outside the arm the used vertices lie, (u,) mm, and which way, (u, 3).

        On the cap the cloth slides over a bent surface: there the nearest point of it counts.
        """
        wanted, used = self.ruler.arm.mesh.vertices, self.used
        ways = self.ruler.normals[used]
        off = np.sum((filled - wanted)[used] * ways, axis=1)
        cap = self.ruler.areas[used] > 0
        off[cap], ways[cap] = ways_off(filled[used[cap]], wanted, self.sides)
        return off, ways


PASSES = np.concatenate(
    [
        np.full(3, WRIST_PASSES_MM),
        np.full(GIRTH_LEVELS, GIRTH_PASSES),
        [TWIST_PASSES_RAD],
        np.full(2, HANG_PASSES_RAD),
        np.full(3, ELBOW_PASSES_MM),
    ]
)


def _overall(miss: Miss) -> FloatArray:
    """Return what a miss says over what is let pass, in the order of the readings."""
    hang = miss.twist_rad, miss.outward_rad, miss.forward_rad
    told = np.concatenate([miss.wrist, miss.girths, hang, miss.elbow])
    return np.asarray(told / PASSES)


def readings_of(ruler: Ruler) -> Readings:
    """Return the readings that steer a correction of the ruler's arm."""
    arm = ruler.arm
    sides = arm.mesh.faces[np.concatenate([arm.panel_faces["outer"], arm.panel_faces["inner"]])]
    return Readings(ruler, *_places(ruler, sides), sides)


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
