"""The parts of the flattener: derivatives, matrices, starts, line search."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.arm_files import arm_panels
from tests.surfaces import (
    Surface,
    arm_like,
    frustum,
    full_cone,
    gaussian_bump,
    grid_panel,
    spherical_cap,
)
from unroll.flat.descent import descent_steps
from unroll.flat.flattening import flatten, grain_chord
from unroll.flat.newton import HessianPattern, newton_steps, outer_blocks
from unroll.flat.rims import rim_of
from unroll.flat.starting import boundary_first, closed_polygon, convex_start, local_global_steps
from unroll.flat.task import HeldEdges, SeamBends, Task
from unroll.maths.energies import Curvature, Energy, EvenEnergy, WovenEnergy
from unroll.maths.sparse import SingularMatrix, SymmetricFactor, pinned_factor
from unroll.maths.triangles import angle_defects, is_unfolded, largest_unfolded_step, triangles_of
from unroll.nouns import Panel

ENERGIES = {"even": EvenEnergy(), "woven": WovenEnergy()}


def maps(count: int, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Differentials of `count` unfolded maps, some mild and some wild."""
    rng = np.random.default_rng(seed)
    alpha = (1 + 0.4 * rng.random(count)) * np.exp(2j * np.pi * rng.random(count))
    size = 0.7 * rng.random(count) * np.abs(alpha)
    return alpha, size * np.exp(2j * np.pi * rng.random(count))


def dense(curvature: Curvature) -> np.ndarray:
    """Second derivatives by the real and imaginary parts of alpha and beta, (m, 4, 4)."""
    at = np.stack(
        [np.stack([a.real, a.imag, b.real, b.imag]) for a, b in curvature.directions]
    )  # (directions, 4, m)
    out = np.zeros((at.shape[2], 4, 4))
    for (i, j), weight in curvature.entries.items():
        product = np.einsum("m,am,bm->mab", weight, at[i], at[j])
        out += product if i == j else product + product.transpose(0, 2, 1)
    return out


STEPS = ((1, 0), (1j, 0), (0, 1), (0, 1j))


@pytest.mark.parametrize("name", ENERGIES)
def test_slopes_agree_with_finite_differences(name: str) -> None:
    energy, (alpha, beta), h = ENERGIES[name], maps(500), 1e-6
    by_alpha, by_beta = energy.slope(alpha, beta)
    exact = np.stack([by_alpha.real, by_alpha.imag, by_beta.real, by_beta.imag])
    for row, (one, two) in zip(exact, STEPS, strict=True):
        up = energy.value(alpha + h * one, beta + h * two)
        down = energy.value(alpha - h * one, beta - h * two)
        assert np.abs((up - down) / (2 * h) - row).max() <= 3e-7 * np.abs(exact).max()


@pytest.mark.parametrize("name", ENERGIES)
def test_second_derivatives_agree_with_finite_differences(name: str) -> None:
    energy, (alpha, beta), h = ENERGIES[name], maps(200), 1e-5
    exact = dense(energy.curvature(alpha, beta, exact=True))
    for k, (one, two) in enumerate(STEPS):
        up = energy.slope(alpha + h * one, beta + h * two)
        down = energy.slope(alpha - h * one, beta - h * two)
        change = [(a - b) / (2 * h) for a, b in zip(up, down, strict=True)]
        row = np.stack([change[0].real, change[0].imag, change[1].real, change[1].imag], axis=1)
        assert np.abs(exact[:, :, k] - row).max() <= 3e-7 * np.abs(exact).max()


@pytest.mark.parametrize("name", ENERGIES)
def test_the_stand_in_for_the_second_derivatives_never_bends_down(name: str) -> None:
    matrices = dense(ENERGIES[name].curvature(*maps(2000), exact=False))
    lowest = np.linalg.eigvalsh(matrices)[:, 0]
    assert (lowest >= -1e-10 * np.abs(matrices).max(axis=(1, 2))).all()
    # and it is the exact matrix at an isometry, where both energies vanish
    one, zero = np.ones(1, dtype=complex), np.zeros(1, dtype=complex)
    mild, wild = (ENERGIES[name].curvature(one, zero, exact=exact) for exact in (False, True))
    assert dense(mild) == pytest.approx(dense(wild), abs=1e-12)


@pytest.mark.parametrize("name", ENERGIES)
def test_an_isometry_costs_nothing_and_strain_costs_its_stiffness(name: str) -> None:
    energy, strain = ENERGIES[name], 1e-4
    longer = 1 + strain / 2 + 0j, strain / 2 + 0j  # x stretched by 1 + strain, y kept
    assert energy.value(np.ones(1, dtype=complex), np.zeros(1, dtype=complex))[0] == 0
    cost = float(energy.value(np.array([longer[0]]), np.array([longer[1]]))[0])
    even_share = 0.01 * 4 / 4 if name == "woven" else 0.0
    wanted = 0.5 * (energy.stiffness + 2 * even_share) * strain**2
    assert cost == pytest.approx(wanted, rel=5 * strain)


def test_shear_is_cheap_for_woven_cloth_and_dear_for_the_even_energy() -> None:
    angle = 0.1
    alpha, beta = np.array([np.cos(angle / 2) + 0j]), np.array([1j * np.sin(angle / 2)])
    assert WovenEnergy().value(alpha, beta)[0] < 0.05 * EvenEnergy().value(alpha, beta)[0]


def test_differentials_are_those_of_a_known_map() -> None:
    panel = grid_panel(lambda x, y: (3 * x, 0 * x, -2 * y), 3, 2)
    z = panel.mesh.vertices[:, 0] + 1j * panel.mesh.vertices[:, 2]
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    alpha, beta = triangles.differentials((2 + 1j) * z + 0.5 * z.conj())
    assert np.abs(alpha) == pytest.approx(np.abs(2 + 1j)) and np.abs(beta) == pytest.approx(0.5)


def test_curvature_adds_up_to_a_full_turn() -> None:
    """Gauss and Bonnet, on any disk."""
    for panel in (grid_panel(arm_like(), 20, 12, slits={5: 4}), spherical_cap(9, 1.3)):
        triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
        defects = angle_defects(triangles, rim_of(panel).loop)
        assert np.sum(defects) == pytest.approx(2 * np.pi, abs=1e-10)


def test_the_laplacian_is_that_of_linear_functions() -> None:
    panel = grid_panel(lambda x, y: (x + 0.2 * y, 0 * x, -y), 6, 5)
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    laplacian = triangles.cotangent_laplacian()
    x = panel.mesh.vertices[:, 0]
    area = triangles.areas.sum()
    assert x @ (laplacian @ x) == pytest.approx(area)  # Dirichlet energy of a unit gradient
    inside = np.setdiff1d(np.arange(triangles.count), rim_of(panel).loop)
    assert np.abs((laplacian @ x)[inside]).max() < 1e-12


def test_the_flip_free_step_is_where_a_triangle_first_loses_its_area() -> None:
    alpha, beta = maps(300)
    rng = np.random.default_rng(5)
    to_alpha = rng.normal(size=300) * 0.1 + 0.1j * rng.normal(size=300)
    to_beta = rng.normal(size=300) * 0.1 + 0.1j * rng.normal(size=300)

    def least_area(t: float) -> float:
        return float(np.min(np.abs(alpha + t * to_alpha) ** 2 - np.abs(beta + t * to_beta) ** 2))

    first = largest_unfolded_step(alpha, beta, to_alpha, to_beta)
    at = next(t for t in np.arange(0, 10, 1e-3) if least_area(t) < 0)
    assert first == pytest.approx(brentq(least_area, at - 1e-3, at), rel=1e-9)
    still = np.zeros(300, dtype=complex)
    assert largest_unfolded_step(alpha, beta, still, still) == np.inf


def newton_task(panel: Panel, energy: Energy) -> Task:
    rim = rim_of(panel)
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    bends = rim.bends(triangles, energy.stiffness)
    area = float(triangles.areas.sum())
    return Task(triangles, energy, rim.held_edges(), bends, grain_chord(panel, rim.loop), area)


def lagrangian_gradient(task: Task, points: np.ndarray, multipliers: np.ndarray) -> np.ndarray:
    here = task.triangles.differentials(points)
    pull = task.held.gather(task.held.steps(points), multipliers, len(points))
    return np.array(task.gradient(*here) + task.bends.gather(points) + pull).view(float)


@pytest.mark.parametrize("name", ENERGIES)
def test_the_assembled_matrix_is_the_derivative_of_the_gradient(name: str) -> None:
    """Triangles, multipliers and seam bends together, against finite differences."""
    panel = grid_panel(gaussian_bump(), 5, 4)
    task = newton_task(panel, ENERGIES[name])
    rng = np.random.default_rng(1)
    x, z = panel.mesh.vertices[:, 0], panel.mesh.vertices[:, 2]
    points = x + 1j * z + 2 * (rng.normal(size=len(x)) + 1j * rng.normal(size=len(x)))
    multipliers = 500 * rng.normal(size=len(task.held.lengths))
    curvature = task.energy.curvature(*task.triangles.differentials(points), exact=True)
    tension = multipliers / task.held.lengths**2
    zero = np.zeros_like(tension)
    pattern = HessianPattern(task.triangles, task.held, task.bends, 0)
    straight = SeamBends(
        task.bends.corners, task.bends.turns + task.bends.excess(points), task.bends.weights
    )
    bends = outer_blocks(straight.directions(points), straight.weights)
    matrix = pattern.matrix(curvature, (tension, zero, zero, tension), bends, 0.0).toarray()
    # Bends are taken at rest, where Gauss and Newton's matrix of theirs is exact.
    bare = Task(task.triangles, task.energy, task.held, straight, task.chord, task.area)
    h = 1e-5
    numeric = np.empty_like(matrix)
    for k in range(len(matrix)):
        step = np.zeros(len(matrix))
        step[k] = h
        up = lagrangian_gradient(bare, points + step.view(complex), multipliers)
        down = lagrangian_gradient(bare, points - step.view(complex), multipliers)
        numeric[:, k] = (up - down) / (2 * h)
    assert np.abs(matrix - numeric).max() <= 1e-6 * np.abs(matrix).max()


def test_held_edges_and_seam_bends_have_the_gradients_of_their_values() -> None:
    rng = np.random.default_rng(2)
    points = np.arange(6) * 1.5 + 1j * rng.normal(size=6)
    held = HeldEdges(np.arange(5), np.arange(1, 6), 1 + rng.random(5))
    bends = SeamBends(
        np.stack([np.arange(4), np.arange(1, 5), np.arange(2, 6)]),
        rng.normal(size=4), 1 + rng.random(4),
    )  # fmt: skip
    weights, move = rng.normal(size=5), rng.normal(size=6) + 1j * rng.normal(size=6)
    h = 1e-6
    slope = np.vdot(move, held.gather(held.steps(points), weights, 6)).real
    change = held.errors(points + h * move) - held.errors(points - h * move)
    assert slope == pytest.approx(weights @ change / (2 * h), rel=1e-7)
    assert held.change(held.steps(points), move) == pytest.approx(change / (2 * h), rel=1e-7)
    slope = np.vdot(move, bends.gather(points)).real
    change = bends.value(points + h * move) - bends.value(points - h * move)
    assert slope == pytest.approx(change / (2 * h), rel=1e-6)


def test_a_symmetric_factor_solves_real_and_complex_systems() -> None:
    panel = grid_panel(arm_like(), 20, 10)
    laplacian = triangles_of(panel.mesh.vertices, panel.mesh.faces).cotangent_laplacian()
    matrix = laplacian.toarray() + np.eye(laplacian.shape[0])
    right = np.linspace(0, 1, len(matrix)) + 1j * np.cos(np.arange(len(matrix)))
    factor = SymmetricFactor(matrix)
    assert matrix @ factor.solve(right.real) == pytest.approx(right.real, abs=1e-11)
    assert matrix @ factor.solve_complex(right) == pytest.approx(right, abs=1e-11)


def test_a_singular_matrix_is_refused_in_one_line() -> None:
    for matrix in (np.zeros((3, 3)), np.ones((3, 3)), np.full((3, 3), np.nan)):
        with pytest.raises(SingularMatrix, match="3 equations of a mesh have no single answer"):
            SymmetricFactor(matrix)


def test_a_boundary_first_start_keeps_every_rim_edge_and_all_angles_nearly() -> None:
    panel = spherical_cap(24, np.pi / 3)
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    rim = rim_of(panel)
    points = boundary_first(
        triangles, triangles.cotangent_laplacian(), rim.loop, rim.curved, rim.wanted
    )
    assert np.abs(np.roll(points[rim.loop], -1) - points[rim.loop]) == pytest.approx(rim.curved)
    alpha, beta = triangles.differentials(points)
    assert np.percentile(np.abs(beta / alpha), 95) < 0.02
    # The conformal map of a cap with its rim kept is the stereographic one: the pole shrinks most,
    # to (1 + cos a) / 2 of what it is at the rim.
    scale = np.abs(alpha)
    assert scale.min() / scale.max() == pytest.approx((1 + np.cos(np.pi / 3)) / 2, rel=0.01)


def test_a_boundary_first_start_scales_a_developable_panel_as_its_rim_is_scaled() -> None:
    panel = grid_panel(frustum(), 12, 9)
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    rim = rim_of(panel)
    points = boundary_first(
        triangles, triangles.cotangent_laplacian(), rim.loop, rim.curved, 1.1 * rim.curved
    )
    alpha, beta = triangles.differentials(points)
    assert np.abs(alpha) == pytest.approx(1.1, abs=1e-11) and np.abs(beta).max() < 1e-11


def test_a_boundary_first_start_finds_a_conformal_map_from_its_rim_lengths() -> None:
    """z + 0.3 z^2 of a flat square: rim lengths alone bring it back, fourfold nearer a halving."""
    errors = []
    for count in (12, 24, 48):
        panel = grid_panel(lambda x, y: (x, 0 * x, 1 - y), count, count)
        triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
        z = panel.mesh.vertices[:, 0] + 1j * panel.mesh.vertices[:, 2]
        wanted = z + 0.3 * z**2
        rim = rim_of(panel)
        lengths = np.abs(wanted[rim.following] - wanted[rim.loop])
        points = boundary_first(
            triangles, triangles.cotangent_laplacian(), rim.loop, rim.curved, lengths
        )
        points, wanted = points - points.mean(), wanted - wanted.mean()
        points *= np.vdot(points, wanted) / np.abs(np.vdot(points, wanted))
        errors.append(np.abs(points - wanted).max())
    assert errors[2] < 2e-3 and errors[1] < errors[0] / 3 and errors[2] < errors[1] / 3


def test_a_polygon_closes_with_the_least_change_of_its_lengths() -> None:
    lengths, turn = np.array([3.0, 1, 3.2, 1]), np.full(4, np.pi / 2)
    corners = closed_polygon(lengths, turn)
    sides = np.abs(np.roll(corners, -1) - corners)
    # A gap of 0.2 shared between two sides of nearly the same length.
    assert sides[[0, 2]].sum() == pytest.approx(6.2, abs=0.01) and sides[[1, 3]] == pytest.approx(1)


def test_a_convex_start_never_folds() -> None:
    for panel in (grid_panel(arm_like(), 30, 16, slits={5: 9}), *arm_panels("arm_rest")):
        triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
        rim = rim_of(panel)
        assert is_unfolded(triangles, convex_start(triangles, rim.loop, rim.wanted))


def least_squares_from_turns(panel: Panel, points: np.ndarray) -> float:
    """Area-weighted mean of (s1 - 1)^2 + (s2 - 1)^2: what local/global steps lower."""
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    alpha, beta = triangles.differentials(points)
    cost = 2 * ((np.abs(alpha) - 1) ** 2 + np.abs(beta) ** 2)
    return float(np.average(cost, weights=triangles.areas))


@pytest.mark.parametrize(
    ("degrees", "wanted"), [(270, 0.02040816), (300, 0.00826446), (180, 0.11111111)]
)
def test_local_global_steps_find_the_least_cost_of_a_whole_cone(
    degrees: int, wanted: float
) -> None:
    """((2 pi - t) / (2 pi + t))^2 for a cone of total angle t laid flat as a disk (derived)."""
    errors = []
    for rings in (8, 16, 32):
        panel = full_cone(rings, np.radians(degrees))
        triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
        factor = pinned_factor(triangles.cotangent_laplacian())
        points = panel.mesh.vertices[:, 0] + 1j * panel.mesh.vertices[:, 1]
        end = next(islice(local_global_steps(triangles, points, factor), 60, None))
        errors.append(abs(least_squares_from_turns(panel, end) - wanted))
    assert errors[2] < 0.01 * wanted and errors[2] < errors[1] / 2 < errors[0] / 4


def test_a_few_local_global_steps_take_a_convex_start_most_of_the_way() -> None:
    panel = grid_panel(arm_like(), 30, 14)
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    rim = rim_of(panel)
    start = convex_start(triangles, rim.loop, rim.wanted)
    factor = pinned_factor(triangles.cotangent_laplacian())
    end = next(islice(local_global_steps(triangles, start, factor), 5, None))
    assert least_squares_from_turns(panel, end) < 0.01 * least_squares_from_turns(panel, start)
    assert is_unfolded(triangles, end)


def test_every_start_leads_to_the_same_piece() -> None:
    """From the boundary-first start, from a convex one, by quasi-Newton and by Newton."""
    panel = grid_panel(arm_like(), 24, 12)
    task = newton_task(panel, EvenEnergy())
    rim = rim_of(panel, held=())
    free = Task(
        task.triangles, task.energy, rim.held_edges(), rim.bends(task.triangles, 8.0),
        task.chord, task.area,
    )  # fmt: skip
    laplacian = task.triangles.cotangent_laplacian()
    starts = (
        boundary_first(task.triangles, laplacian, rim.loop, rim.curved, rim.wanted),
        convex_start(task.triangles, rim.loop, rim.wanted),
    )
    ends = []
    for start in starts:
        upright = task.chord.upright(start)
        ends += [*newton_steps(free, upright)][-1:]
        ends += [*descent_steps(free, upright, pinned_factor(laplacian))][-1:]
    places = [task.chord.upright(end.points) for end in ends]
    for end, place in zip(ends, places, strict=True):
        assert end.cost == pytest.approx(ends[0].cost, rel=1e-6)
        apart = (place - place.mean()) - (places[0] - places[0].mean())
        assert np.abs(apart).max() < 0.05  # mm; the energy is flat near its least value


def test_newton_converges_quadratically() -> None:
    panel = grid_panel(arm_like(), 24, 12, slits={4: 5, 8: 5})
    task = newton_task(panel, WovenEnergy())
    rim = rim_of(panel)
    laplacian = task.triangles.cotangent_laplacian()
    start = boundary_first(task.triangles, laplacian, rim.loop, rim.curved, rim.wanted)
    decreases = [state.decrease for state in newton_steps(task, task.chord.upright(start))]
    small = [d for d in decreases if d < 0.05]
    assert len(decreases) <= 9 and small[1] < 0.1 * small[0] and small[2] < 0.01 * small[1]


@pytest.mark.parametrize("size", [1e-9, 1e-10, 1e-12])
@pytest.mark.parametrize("surface", [frustum(), gaussian_bump()])
def test_from_a_start_with_a_triangle_next_to_folded_the_same_piece_is_found(
    surface: Surface, size: float
) -> None:
    """Its stiffness would cancel all other digits: such a start is passed over, as a folded one."""
    panel = grid_panel(surface, 6, 4)
    flat = flatten(panel)
    corner, *others = panel.mesh.faces[39]
    start = flat.points.copy()
    middle = start[others].mean(axis=0)
    start[corner] = middle + size * (start[corner] - middle)
    assert flatten(panel, start=start).points == pytest.approx(flat.points, abs=1e-6)


class SlackEnergy(EvenEnergy):
    """An energy without curvature: no step follows from it."""

    stiffness = 0.0

    def curvature(self, alpha: np.ndarray, beta: np.ndarray, *, exact: bool) -> Curvature:
        one, zero = np.ones_like(alpha), np.zeros_like(alpha)
        return Curvature(((one, zero),), {(0, 0): np.zeros(len(alpha))})


def test_newton_ends_where_no_step_can_be_worked_out() -> None:
    panel = grid_panel(gaussian_bump(), 5, 4)
    rim = rim_of(panel, held=())
    task = newton_task(panel, EvenEnergy())
    slack = replace(
        task, energy=SlackEnergy(), held=rim.held_edges(), bends=rim.bends(task.triangles, 0.0)
    )
    x, z = panel.mesh.vertices[:, 0], panel.mesh.vertices[:, 2]
    states = list(newton_steps(slack, slack.chord.upright(x + 1j * z)))
    assert len(states) == 1 and states[0].decrease == np.inf
