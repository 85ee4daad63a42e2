"""The limb's axis: where its stations lie, and how it turns, from the tape or from a scan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.spatial.transform import Rotation

from unroll.maths.arrays import FloatArray

DRIFT_LENGTH_MM = 40.0  # over which the axis turns from the cap's slope to hanging straight
TURNING_MM, TURNING_SHARE = (16.0, 40.0), 0.6  # sections have turned by the upper arm's level


@dataclass(frozen=True)
class Layout:
    """Distances along the limb's axis from the underarm, mm, and the elbow's bend.

    Attributes
    ----------
    upper_arm, elbow, forearm, wrist : float
        Stations.
    bend_rad : float
        Turn of the forearm against the upper arm, forward.
    bend_length : float
        Length of axis over which the turn is made, half of it above the elbow: the elbow's own
        section, from crease to elbow point, halves the bend.
    others : mapping of str to float
        Further stations that the maker's tape went round.
    aside_rad : float
        Turn of the forearm against the upper arm, outward.
    forward_rad, outward_rad : float
        How far the upper arm hangs away from straight down.
    """

    upper_arm: float
    elbow: float
    forearm: float
    wrist: float
    bend_rad: float
    bend_length: float
    others: Mapping[str, float] = field(default_factory=dict)
    aside_rad: float = 0.0
    forward_rad: float = 0.0
    outward_rad: float = 0.0

    @property
    def straight(self) -> float:
        """Where the bend begins, mm."""
        return self.elbow - 0.5 * self.bend_length

    @property
    def stations(self) -> dict[str, float]:
        """Return every station by name, the usual five first."""
        usual = {
            "underarm": 0.0,
            "upper_arm": self.upper_arm,
            "elbow": self.elbow,
            "forearm": self.forearm,
            "wrist": self.wrist,
        }
        return usual | dict(self.others)


@dataclass(frozen=True, eq=False)
class Bend:
    """An axis that hangs from the underarm's centre and turns at the elbow.

    It turns at a constant rate over `layout.bend_length` and is straight elsewhere, but for a drift
    that carries on the cap's slope.

    Attributes
    ----------
    layout : Layout
    start : (3,) tuple of float
        The centre at the underarm's level, mm.
    drift : float
        Slope outward at the underarm, mm a mm.
    stands : (3, 3) float
        How the plate stands; see `Plate`.
    """

    layout: Layout
    start: tuple[float, float, float]
    drift: float
    stands: FloatArray = field(default_factory=lambda: np.eye(3))

    @cached_property
    def frame(self) -> FloatArray:
        """Forward, outward and up of the upper arm, the columns of (3, 3), in the arm's frame."""
        layout = self.layout
        up = np.array([-np.tan(layout.forward_rad), -np.tan(layout.outward_rad), 1.0])
        up /= np.linalg.norm(up)
        forward = np.array([1.0, 0.0, 0.0]) - up[0] * up
        forward /= np.linalg.norm(forward)
        return np.asarray(
            self.stands.T @ np.stack([forward, np.cross(up, forward), up], axis=1)
        )

    @cached_property
    def _way(self) -> tuple[float, FloatArray]:
        """Size of the elbow's turn, radians, and its way in the upper arm's frame, (3,)."""
        turn = np.array([self.layout.bend_rad, self.layout.aside_rad, 0.0])
        size = float(np.linalg.norm(turn))
        return size, turn / size if size > 1e-9 else np.array([1.0, 0.0, 0.0])

    def turn(self, along: FloatArray | float) -> FloatArray:
        """Return the turn of the axis at distances along it, radians."""
        share = (np.asarray(along) - self.layout.straight) / self.layout.bend_length
        return np.asarray(self._way[0] * np.clip(share, 0.0, 1.0))

    def centre(self, along: FloatArray | float) -> FloatArray:
        """Return the axis's points, (..., 3), mm."""
        s = np.asarray(along, dtype=float)
        size, way = self._way
        turn = self.turn(s)
        radius = self.layout.bend_length / max(size, 1e-9)
        past = np.maximum(s - self.layout.straight - self.layout.bend_length, 0.0)
        straight = np.minimum(s, self.layout.straight)
        ahead = radius * (1.0 - np.cos(turn)) + past * np.sin(turn)
        drop = straight + radius * np.sin(turn) + past * np.cos(turn)
        hung = ahead[..., None] * way - drop[..., None] * np.array([0.0, 0.0, 1.0])
        slope = np.array([0.0, self.drift, -1.0]) + self.frame[:, 2]
        fade = DRIFT_LENGTH_MM * (1.0 - np.exp(-s / DRIFT_LENGTH_MM))
        return np.asarray(hung @ self.frame.T + fade[..., None] * slope + self.start)

    def turned(self, along: FloatArray) -> FloatArray:
        """Return how sections are turned from the plate's frame to the upper arm's, (n, 3, 3)."""
        low, high = TURNING_MM
        whole = Rotation.from_matrix(self.frame).as_rotvec()
        reach = float(np.clip(TURNING_SHARE * self.layout.upper_arm, low, high))
        # or else two sections would cross where the outside closes up
        reach = max(reach, 1.5 * self.start[1] * float(np.linalg.norm(whole)))
        share = 1.0 - np.exp(-((np.asarray(along) / reach) ** 2))
        if not len(share):  # which older releases of scipy refuse
            return np.zeros((0, 3, 3))
        return np.asarray(Rotation.from_rotvec(share[:, None] * whole).as_matrix())

    def frames(self, along: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the sections' forward unit vectors, and those towards the shoulder, (n, 3)."""
        turn = self.turn(along)[:, None]
        up = np.cos(turn) * [0.0, 0.0, 1.0] - np.sin(turn) * self._way[1]
        turned = self.turned(along)
        forward, up = (np.einsum("nij,nj->ni", turned, way) for way in (_forward(up), up))
        return forward, up


@dataclass(frozen=True, eq=False)
class Polyline:
    """An axis through given points, which begins at the underarm's centre.

    Attributes
    ----------
    points : (k, 3) float
        From the underarm's level to the wrist, mm.
    straight : float
        Down to here sections are level and distances count straight down, mm.
    turning : float
        Over this length below it, sections turn square to the axis, mm.
    start : (3,) tuple of float
        The centre at the underarm's level; the axis is led over from it.
    """

    points: FloatArray
    straight: float
    turning: float
    start: tuple[float, float, float]

    @cached_property
    def _curve(self) -> PchipInterpolator:
        steps = np.diff(self.points, axis=0)
        lengths = np.linalg.norm(steps, axis=1)
        falls = self.points[0, 2] - self.points[:, 2]
        share = np.clip((self.straight - falls[:-1]) / np.maximum(-steps[:, 2], 1e-9), 0.0, 1.0)
        along = np.cumsum(share * -steps[:, 2] + (1.0 - share) * lengths)
        return PchipInterpolator(np.concatenate([[0.0], along]), self.points)

    def centre(self, along: FloatArray | float) -> FloatArray:
        """Return the axis's points, (..., 3), mm."""
        s = np.asarray(along, dtype=float)
        off = np.asarray(self.start) - self.points[0]
        fade = np.exp(-((s / DRIFT_LENGTH_MM) ** 2))[..., None] * (off * [1.0, 1.0, 0.0])
        return np.asarray(self._curve(s) + fade + off * [0.0, 0.0, 1.0])

    def frames(self, along: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the sections' forward unit vectors, and those towards the shoulder, (n, 3)."""
        step = self._curve(along + 0.5) - self._curve(along - 0.5)
        share = np.clip((along - self.straight) / self.turning, 0.0, 1.0)[:, None]
        share = share**2 * (3.0 - 2.0 * share)
        up = _units((1.0 - share) * [0.0, 0.0, 1.0] - share * _units(step))
        return _forward(up), up

    def turned(self, along: FloatArray) -> FloatArray:
        """Return that sections above the bend are level, (n, 3, 3)."""
        return np.broadcast_to(np.eye(3), (len(along), 3, 3))


def _units(ways: FloatArray) -> FloatArray:
    return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))


def _forward(up: FloatArray) -> FloatArray:
    """Return the unit vectors square to `up` that look forward, (n, 3)."""
    return _units(np.array([1.0, 0.0, 0.0]) - up[:, :1] * up)
