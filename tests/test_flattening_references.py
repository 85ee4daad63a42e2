"""Flattening against exact developments, published bounds, one-dimensional solutions, libigl."""

from __future__ import annotations

from collections.abc import Callable

import igl
import numpy as np
import pytest
from scipy.optimize import minimize

from tests.surfaces import (
    arm_like,
    cylinder,
    elliptic_cylinder,
    frustum,
    full_cone,
    gaussian_bump,
    grid_panel,
    oblique_cone,
    spherical_cap,
)
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten, flatten_free
from unroll.flat.starting import convex_start
from unroll.maths.energies import EvenEnergy
from unroll.maths.mesh_checks import boundary_loop
from unroll.maths.triangles import triangles_of
from unroll.nouns import Flattening, Panel

DEVELOPABLES = {
    "cylinder": cylinder(),
    "elliptic cylinder": elliptic_cylinder(),
    "frustum": frustum(),
    "oblique cone": oblique_cone(),
}


def excess(flat: Flattening) -> float:
    """Area-weighted mean of symmetric Dirichlet energy less 4."""
    triangles = triangles_of(flat.panel.mesh.vertices, flat.panel.mesh.faces)
    values = EvenEnergy().value(*triangles.differentials(flat.points @ np.array([1, 1j])))
    return float(np.average(values, weights=triangles.areas))


def worst_strain(flat: Flattening) -> float:
    distortion = measure_distortion(flat)
    return float(
        max(np.abs(distortion.stretch_max - 1).max(), np.abs(distortion.stretch_min - 1).max())
    )


@pytest.mark.parametrize("name", DEVELOPABLES)
@pytest.mark.parametrize("energy", ["even", "woven"])
def test_a_developable_panel_flattens_without_stretch(name: str, energy: str) -> None:
    panel = grid_panel(DEVELOPABLES[name], 30, 24)
    for flat in (flatten(panel, energy=energy), flatten_free(panel, energy=energy)):  # type: ignore[arg-type]
        # Rounding alone leaves about 1e-13; the issue is content with 1e-9.
        assert worst_strain(flat) <= 1e-11


def test_a_developable_panel_with_a_dart_closes_it_again() -> None:
    panel = grid_panel(frustum(), 30, 24, slits={9: 10})
    flat = flatten(panel)
    assert worst_strain(flat) <= 1e-11
    one, two = (side.path for side in panel.sides if side.seam == "dart 1")
    assert flat.points[one] == pytest.approx(flat.points[two[::-1]], abs=1e-9)


def test_a_frustum_has_the_sector_of_the_sheet_metal_handbooks() -> None:
    """Diameters 5 and 8, height 4: radii 7.12000 and 11.39200, sector 126.4044 degrees."""
    panel = grid_panel(frustum(2.5, 4.0, 4.0, 2 * np.pi), 2, 720)
    flat = flatten_free(panel)
    sides = {side.seam: flat.points[side.path] for side in panel.sides}
    front = sides["front seam"][-1] - sides["front seam"][0]
    back = sides["back seam"][0] - sides["back seam"][-1]
    angle = np.degrees(np.arccos(front @ back / np.linalg.norm(front) / np.linalg.norm(back)))
    # A polygon of 720 sides instead of a circle: relative error (pi / 720)^2 / 6.
    assert angle == pytest.approx(126.4044, rel=1e-5)
    assert np.linalg.norm(front) == pytest.approx(11.392 - 7.12, rel=1e-5)


@pytest.mark.parametrize(("sides", "degrees"), [(12, 198.211), (24, 199.490), (48, 199.808)])
def test_an_oblique_cone_has_the_sector_of_its_triangulation(sides: int, degrees: float) -> None:
    """Base radius 3, apex offset 2, height 4 by triangulation (sheet-metal practice, derived)."""
    panel = grid_panel(oblique_cone(3.0, 2.0, 4.0, 0.3, 2 * np.pi), 2, sides)
    flat = flatten_free(panel)
    ends = {side.seam: flat.points[side.path] for side in panel.sides}
    front = (ends["front seam"][-1] - ends["front seam"][0]) @ np.array([1, 1j])
    back = (ends["back seam"][0] - ends["back seam"][-1]) @ np.array([1, 1j])
    turn = np.degrees(np.angle(back / front)) % 360
    assert turn == pytest.approx(degrees, abs=6e-4)  # half of the last digit given


def radial_optimum(ratio: Callable[[np.ndarray], np.ndarray], reach: float) -> float:
    """Mean even energy of the best radially symmetric map of a surface of revolution.

    `ratio(s)` is the radius of the parallel at distance s from the pole; a map takes that parallel
    to a circle of radius f(s). Solved on its own, on a line of 400 steps, by quasi-Newton.
    """
    edges = np.linspace(0, reach, 401)
    middle, step = 0.5 * (edges[1:] + edges[:-1]), edges[1]
    weight = ratio(middle) * step

    def value(slope: np.ndarray) -> tuple[float, np.ndarray]:
        radius = step * (np.cumsum(slope) - 0.5 * slope)
        around = radius / ratio(middle)
        total = weight @ ((slope - 1 / slope) ** 2 + (around - 1 / around) ** 2)
        pull = weight * 2 * (around - around**-3) / ratio(middle) * step
        tail = np.cumsum(pull[::-1])[::-1] - 0.5 * pull
        return float(total), weight * 2 * (slope - slope**-3) + tail

    best = minimize(
        value,
        np.ones(400),
        jac=True,
        method="L-BFGS-B",
        bounds=[(0.05, 20)] * 400,
        options={"maxiter": 20000, "maxfun": 40000, "ftol": 1e-15, "gtol": 1e-12},
    )
    return float(best.fun / np.sum(weight))


@pytest.mark.parametrize("degrees", [180.0, 270.0, 300.0])
def test_a_whole_cone_costs_what_its_radial_map_costs(degrees: float) -> None:
    total = np.radians(degrees)
    wanted = radial_optimum(lambda s: s * total / (2 * np.pi), 1.0)
    errors = [abs(excess(flatten_free(full_cone(rings, total))) - wanted) for rings in (12, 24, 48)]
    assert errors[-1] < 0.01 * wanted
    # The point of a cone is singular: the error falls a little slower than fourfold a halving.
    assert errors[1] < errors[0] / 2.5 and errors[2] < errors[1] / 2.5


CAPS = {30: (4.00158178, 4.01125620), 60: (4.02613066, 4.19682085), 90: (4.14050948, 5.20259951)}
"""Symmetric Dirichlet energy of spherical caps: rim free, rim length kept (radial solutions)."""


@pytest.mark.parametrize("degrees", CAPS)
@pytest.mark.parametrize("rim", ["free", "kept"])
def test_spherical_caps_converge_to_their_radial_maps(degrees: int, rim: str) -> None:
    wanted = CAPS[degrees][rim == "kept"] - 4
    if rim == "free":
        again = radial_optimum(np.sin, np.radians(degrees))
        assert again == pytest.approx(wanted, rel=2e-4)  # 400 steps: error falls as 1 / steps^2
    lay = flatten_free if rim == "free" else flatten
    errors = []
    for rings in (8, 16, 32):
        flat = lay(spherical_cap(rings, np.radians(degrees)), energy="even")
        errors.append(excess(flat) - wanted)
    finer = errors[1] - errors[0], errors[2] - errors[1]
    assert 3.5 < finer[0] / finer[1] < 4.5
    # With the rate fourfold, the next term of the series is a third of the last difference.
    assert errors[2] + finer[1] / 3 == pytest.approx(0, abs=0.01 * wanted)


@pytest.mark.parametrize("degrees", [15, 30, 60, 90])
@pytest.mark.parametrize("energy", ["even", "woven"])
def test_no_flattening_of_a_spherical_cap_beats_milnors_bound(degrees: int, energy: str) -> None:
    """ln of largest over smallest scale >= ln(a / sin a).

    J. Milnor, A problem in cartography, Amer. Math. Monthly 76 (1969); from memory.
    """
    angle = np.radians(degrees)
    panel = spherical_cap(16, angle)
    for flat in (flatten(panel, energy=energy), flatten_free(panel, energy=energy)):  # type: ignore[arg-type]
        distortion = measure_distortion(flat)
        spread = np.log(distortion.stretch_max.max() / distortion.stretch_min.min())
        assert spread >= np.log(angle / np.sin(angle))


@pytest.fixture(scope="module")
def arm() -> Panel:
    return grid_panel(arm_like(), 40, 18, slits={6: 8, 12: 8})


def slim(panel: Panel, start: np.ndarray, steps: int) -> np.ndarray:
    nothing, nowhere = np.zeros(0, np.int32), np.zeros((0, 2), order="F")
    data = igl.slim_precompute(
        np.asfortranarray(panel.mesh.vertices),
        np.asfortranarray(panel.mesh.faces.astype(np.int32)),
        np.asfortranarray(start), igl.MappingEnergyType.SYMMETRIC_DIRICHLET, nothing, nowhere, 0.0,
    )  # fmt: skip
    return np.array(igl.slim_solve(data, steps))


def test_libigl_cannot_lower_our_energy(arm: Panel) -> None:
    ours = flatten_free(arm)
    theirs = Flattening(arm, slim(arm, ours.points + 0.0, 100), "even", 100, 0.0)
    assert excess(theirs) == pytest.approx(excess(ours), rel=1e-6)


@pytest.mark.parametrize("name", ["bump", "arm"])
def test_libigl_finds_the_same_least_energy_from_a_convex_start(name: str) -> None:
    surface = {"bump": gaussian_bump(), "arm": arm_like()}[name]
    panel = grid_panel(surface, 24, 12)
    ours = flatten_free(panel)
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    rim = boundary_loop(panel.mesh.faces, triangles.count)
    start = convex_start(triangles, rim, np.ones(len(rim)))
    theirs = slim(panel, np.stack([start.real, start.imag], axis=1), 400)
    # SLIM creeps towards its end on a long panel; 1e-4 is what 400 steps leave.
    assert excess(Flattening(panel, theirs, "even", 400, 0.0)) == pytest.approx(
        excess(ours), rel=1e-4
    )


def test_held_seams_are_exact_where_a_free_flattening_is_percents_off(arm: Panel) -> None:
    held = measure_distortion(flatten(arm)).seam_lengths_mm
    free = Flattening(arm, slim(arm, flatten_free(arm).points + 0.0, 20), "even", 20, 0.0)
    loose = measure_distortion(free).seam_lengths_mm
    assert max(abs(flat / curved - 1) for curved, flat in held.values()) <= 1e-9
    assert max(abs(flat / curved - 1) for curved, flat in loose.values()) >= 0.01
