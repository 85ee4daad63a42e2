"""Woven cloth, stiff along its threads and soft on the bias: closed tubes against their balance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import fsolve

from tests.sewn_shapes import tube
from unroll.maths.sections import taut_girth
from unroll.nouns import Cloth, Piece, PieceSide, Sewn
from unroll.sewn.sewing import sew

GIRTH, LENGTH = 250.0, 400.0
RADIUS = GIRTH / (2.0 * np.pi)
EVEN, THREAD = 10.0, 30.0  # N/mm: what all directions share, and what the threads add
PRESSURE = 4e-3  # N/mm²


def cloth() -> Cloth:
    """10 N/mm on the bias and 40 along the thread, that weighs nothing."""
    return Cloth(
        stretch_percent=10.0 / (EVEN + THREAD),
        bias_stretch_percent=10.0 / EVEN,
        pressure_kpa=1e3 * PRESSURE,
        filling_g_per_litre=0.0,
        weighs_g_per_m2=0.0,
    )


def cut_at(degrees: float) -> tuple[Piece, ...]:
    """A tube whose threads lie turned by an angle against its length."""
    body, *ends = tube(GIRTH, LENGTH)
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[cos, -sin], [sin, cos]])
    sides = tuple(PieceSide(side.seam, side.points @ turn.T) for side in body.sides)
    lines = {name: line @ turn.T for name, line in body.lines.items()}
    return Piece(body.name, body.source, body.arm, sides, lines=lines), *ends


def balanced(degrees: float) -> np.ndarray:
    """Hoop and length stretch of a long closed tube, from its balance alone.

    Laplace: hoop tension p r, axial tension p r / 2. Threads at ± the angle keep the tube from
    shearing where they lie evenly to its length (0, 45, 90 degrees).
    """
    way = np.radians([degrees, degrees + 90.0])
    across, along = np.sin(way), np.cos(way)  # of each thread's run: round the tube, down it

    def left_over(stretch: np.ndarray) -> list[float]:
        hoop, length = stretch
        threads = np.hypot(across * hoop, along * length)
        pull = THREAD * np.maximum(threads - 1.0, 0.0) / threads
        round_it = EVEN * max(hoop - 1.0, 0.0) + float(np.sum(pull * across**2)) * hoop
        down_it = EVEN * max(length - 1.0, 0.0) + float(np.sum(pull * along**2)) * length
        # on the flat cloth: tension times the other direction's stretch
        return [
            round_it - PRESSURE * RADIUS * hoop * length,
            down_it - 0.5 * PRESSURE * RADIUS * hoop * hoop,
        ]

    return np.asarray(fsolve(left_over, [1.01, 1.0], xtol=1e-12))


def measured(sewn: Sewn) -> np.ndarray:
    """Hoop stretch half-way down, and the length's stretch over the middle half."""
    points, faces = sewn.mesh.vertices, sewn.mesh.faces
    line = sewn.lines["middle"][0].on(points, faces)
    middle, normal = line.mean(axis=0), np.linalg.svd(line - line.mean(axis=0))[2][2]
    girth = taut_girth(points, faces, middle, normal)
    body = sewn.faces_of("body")
    placed, flat = points[faces[body]].mean(axis=1), sewn.rest[body].mean(axis=1)
    at = (placed - middle) @ normal
    is_middle = np.abs(at) < 0.25 * LENGTH
    slope = np.linalg.lstsq(np.column_stack([flat, np.ones(len(flat))])[is_middle],
                            at[is_middle], rcond=None)[0]  # fmt: skip
    return np.array([girth / GIRTH, float(np.hypot(*slope[:2]))])


@pytest.mark.parametrize("degrees", [0.0, 45.0, 90.0])
def test_a_woven_tube_comes_to_rest_as_its_balance_says(degrees: float) -> None:
    """Chords that lie inside the round shorten it by the square of the mesh size."""
    coarse, fine = (measured(sew(cut_at(degrees), cloth=cloth(), spacing=s)) for s in (12.0, 6.0))
    expected = balanced(degrees)
    error = np.abs(np.stack([coarse, fine]) - expected)
    assert error[1].max() < 4e-4  # 0.2 mm on an arm's length
    assert error[1].max() < 0.4 * error[0].max()
    without = (4.0 * fine - coarse) / 3.0
    # 4 % of the stretch: the rate is two only in the end, and the ends are held round
    assert without == pytest.approx(expected, abs=0.04 * np.abs(expected - 1.0).max())


def test_a_tube_on_the_bias_grows_wider_and_shorter_than_one_on_the_straight() -> None:
    straight, bias = balanced(0.0), balanced(45.0)
    assert bias[0] > straight[0] and bias[1] < straight[1]
