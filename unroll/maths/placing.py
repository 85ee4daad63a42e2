"""Stiff motions that bring points onto others."""

from __future__ import annotations

import numpy as np

from unroll.maths.arrays import FloatArray


def fit_turn(points: FloatArray, onto: FloatArray) -> FloatArray:
    """Return the rotation (3, 3) about the origin that brings points (k, 3) closest to `onto`.

    Notes
    -----
    W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta
    Crystallographica A32, 1976, doi 10.1107/S0567739476001873; a mirror image is never returned.

    Examples
    --------
    >>> fit_turn(np.eye(3), np.roll(np.eye(3), 1, axis=1)).round(6).tolist()
    [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]
    """
    left, _, right = np.linalg.svd(points.T @ onto)
    mirror = np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray((left @ mirror @ right).T)


def fit_motion(points: FloatArray, onto: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the rotation (3, 3) and shift (3,) that bring points (k, 3) closest to `onto`."""
    middle, target = points.mean(axis=0), onto.mean(axis=0)
    turn = fit_turn(points - middle, onto - target)
    return turn, np.asarray(target - turn @ middle)


def upright(up: FloatArray) -> FloatArray:
    """Return the least turn (3, 3) that brings a unit vector (3,), not straight down, to z.

    Examples
    --------
    >>> leaning = np.array([0.6, 0.0, 0.8])
    >>> bool(np.allclose(upright(leaning) @ leaning, [0.0, 0.0, 1.0]))
    True
    """
    x, y, z = up
    across = np.array([[0.0, 0.0, -x], [0.0, 0.0, -y], [x, y, 0.0]])
    return np.asarray(np.eye(3) + across + across @ across / (1.0 + z))


def angle_between(one: FloatArray, other: FloatArray) -> float:
    """Return the angle between two vectors (3,), radians.

    Notes
    -----
    From sine and cosine: the cosine alone knows no angle below about 1e-8, and what it says near
    there differs from one processor to another.

    Examples
    --------
    >>> angle_between(np.array([2.0, 0.0, 0.0]), np.array([3.0, 3.0, 0.0])) / np.pi
    0.25
    """
    return float(np.arctan2(np.linalg.norm(np.cross(one, other)), one @ other))
