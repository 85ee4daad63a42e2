"""Weight of cloth and filling: against beams and hanging tubes, and on an arm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.sewn_shapes import even_cloth, tube
from tests.test_sewing_meshes import random_skin
from unroll.maths.membrane import energy_and_forces
from unroll.maths.membrane_stiffness import as_matrices, face_stiffness, filling_stiffness
from unroll.nouns import Cloth, Sewn
from unroll.sewn.sewing import sew

GIRTH, LENGTH, STIFF = 250.0, 400.0, 25.0  # mm, mm, N/mm
RADIUS = GIRTH / (2.0 * np.pi)
STANDARD = 9.80665  # N/kg, standard acceleration of free fall (CGPM 1901)
OUT, UP = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])


def weighing(filling: float, cloth: float = 0.0, pressure_kpa: float = 2.0) -> Cloth:
    """Grams a litre, grams a square metre."""
    even = even_cloth(STIFF, pressure_kpa)
    return replace(even, filling_g_per_litre=filling, weighs_g_per_m2=cloth)


def hung(cloth: Cloth, up: np.ndarray, spacing: float = 9.0) -> Sewn:
    """A closed tube that runs along y from its end that is held."""
    return sew(tube(GIRTH, LENGTH), cloth=cloth, spacing=spacing, up=up)


def far_end(sewn: Sewn) -> np.ndarray:
    return sewn.mesh.vertices[np.unique(sewn.mesh.faces[sewn.faces_of("wrist base")])].mean(axis=0)


@pytest.mark.parametrize("thread", [0.0, 40.0])
def test_weight_adds_forces_that_are_the_slope_of_its_energy(thread: float) -> None:
    skin, points = random_skin(thread)
    heavy = replace(skin, filling_weight=np.array([1e-5, -3e-5, 7e-5]), cloth_weight=UP * 1e-3)
    way = np.random.default_rng(3).normal(size=points.shape)
    step = 1e-5
    ends = [energy_and_forces(heavy, points + sign * step * way) for sign in (1, -1)]
    _, forces = energy_and_forces(heavy, points)
    rise = (ends[0][0] - ends[1][0]) / (2 * step)
    assert rise == pytest.approx(float(np.sum(forces * way)), rel=1e-6)


def test_the_fillings_second_derivative_is_the_slope_of_its_forces() -> None:
    skin, points = random_skin(0.0)
    weight = np.array([1e-5, -3e-5, 7e-5])
    soft = replace(skin, even=0.0, filling_weight=weight)  # nothing but the filling
    way = np.random.default_rng(4).normal(size=points.shape)
    step = 1e-3
    ends = [energy_and_forces(soft, points + sign * step * way)[1] for sign in (1, -1)]
    slope = (ends[0] - ends[1]) / (2 * step)
    elements = as_matrices(filling_stiffness(soft, points, soft.faces))
    pull = np.einsum("mij,mj->mi", elements, way[soft.faces].reshape(-1, 9))
    found = np.zeros_like(points)
    np.add.at(found, soft.faces.ravel(), pull.reshape(-1, 3))
    assert found == pytest.approx(slope, abs=1e-6 * np.abs(slope).max())
    assert face_stiffness(soft, points) == pytest.approx(
        filling_stiffness(soft, points, soft.faces), abs=1e-12
    )


def test_the_whole_weight_hangs_from_the_end_that_is_held() -> None:
    """The force on what is held is the weight of all that hangs, however it leans."""
    skin, points = random_skin(0.0)
    heavy = replace(skin, filling_weight=5e-5 * UP, cloth_weight=1e-3 * UP)
    plain = energy_and_forces(skin, points)[1].sum(axis=0)
    pull = energy_and_forces(heavy, points)[1].sum(axis=0) - plain
    a, b, c = points[skin.faces].transpose(1, 0, 2)
    volume = float(np.sum(a * np.cross(b, c)) / 6)
    assert pull == pytest.approx(UP * (5e-5 * volume + 1e-3 * skin.areas.sum()), abs=1e-10)


def test_a_hanging_tube_lengthens_as_its_balance_says() -> None:
    """Filling 300 g/l and cloth 900 g/m²: strain = (γ L r / 2 + σ L / 2) / k, by equilibrium.

    Below any cut the filling's column, pressed from above and closed below, pulls at the cloth with
    the same force at every height; the cloth's own weight grows with what hangs below.
    """
    light, heavy = hung(weighing(0.0), -OUT), hung(weighing(300.0, 900.0), -OUT)
    filling, cloth = 1e-9 * STANDARD * 300.0, 1e-9 * STANDARD * 900.0
    expected = LENGTH / STIFF * (0.5 * filling * LENGTH * RADIUS + 0.5 * cloth * LENGTH)
    got = far_end(heavy)[1] - far_end(light)[1]
    # 4 %: at first order in strains of 0.2 %, a polygon for a circle, and ends held round.
    assert expected > 0.3 and got == pytest.approx(expected, rel=0.04)


@pytest.mark.parametrize("pressure_kpa", [2.0, 4.0])
def test_a_tube_held_level_sags_as_an_inflated_beam(pressure_kpa: float) -> None:
    """W. B. Fichter, "A theory for inflated thin-wall cylindrical beams", NASA TN D-3466, 1966.

    Evenly loaded, held at one end: q L⁴ / (8 E t π r³) + q L² / (2 (p π r² + G t π r)), quoted from
    memory; here without a Poisson's ratio, so that G t = E t / 2.
    """
    per_litre = 30.0
    light = hung(weighing(0.0, 0.0, pressure_kpa), UP)
    heavy = hung(weighing(per_litre, 0.0, pressure_kpa), UP)
    load = 1e-9 * STANDARD * per_litre * np.pi * RADIUS**2
    bend = load * LENGTH**4 / (8.0 * STIFF * np.pi * RADIUS**3)
    axial = 1e-3 * pressure_kpa * np.pi * RADIUS**2
    shear = load * LENGTH**2 / (2.0 * (axial + 0.5 * STIFF * np.pi * RADIUS))
    sag = far_end(light)[2] - far_end(heavy)[2]
    assert sag == pytest.approx(bend + shear, rel=0.05)


def test_nothing_weighs_where_nobody_says_which_way_is_up() -> None:
    heavy, light = weighing(500.0, 2000.0), weighing(0.0)
    one = sew(tube(GIRTH, LENGTH), cloth=heavy, spacing=16.0)
    two = sew(tube(GIRTH, LENGTH), cloth=light, spacing=16.0)
    assert np.array_equal(one.mesh.vertices, two.mesh.vertices)
    assert not one.is_weighed and "nothing weighs anything" in one.limits[0]


def test_ends_of_cloth_leave_nothing_to_hang_from() -> None:
    cloth = replace(weighing(60.0), ends="cloth")
    assert not sew(tube(GIRTH, LENGTH), cloth=cloth, spacing=16.0, up=UP).is_weighed
    assert hung(weighing(60.0), UP, spacing=16.0).is_weighed
