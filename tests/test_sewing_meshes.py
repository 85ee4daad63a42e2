"""Flat meshes, the energy's derivatives, hinges, crossings and lookups under the sewing."""

from __future__ import annotations

import igl
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.sewn_shapes import tube
from unroll.maths.closest_points import closest_on_faces, signed_distances
from unroll.maths.flat_meshing import locate, mesh_outline, recover_edges
from unroll.maths.membrane import (
    Skin,
    corner_gradients,
    enclosed_volume,
    energy_and_forces,
    hinge_rows,
    unfolded,
)
from unroll.maths.membrane_stiffness import as_matrices, face_stiffness
from unroll.maths.membrane_system import System
from unroll.maths.mesh_checks import crossing_faces
from unroll.nouns import Cloth
from unroll.sewn.filling import problem_of
from unroll.sewn.joining import join
from unroll.sewn.seams import usual_seams
from unroll.sewn.sewing import ENDS, crude_start

TUBE = tube(250.0, 200.0)
RNG = np.random.default_rng(20240514)


def walked(corners: np.ndarray, step: float) -> np.ndarray:
    """A closed polygon with points no further apart than `step`."""
    runs = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0)):
        count = max(int(np.ceil(np.linalg.norm(end - start) / step)), 1)
        runs.append(start + (end - start) * np.arange(count)[:, None] / count)
    return np.concatenate(runs)


DARTED = np.array(
    [
        [0, 0],
        [120, 0],
        [130, 400],
        [80, 460],
        [62, 350],
        [50, 462],
        [38, 340],
        [30, 460],
        [0, 420.0],
    ]
)


@pytest.mark.parametrize("spacing", [16.0, 8.0])
def test_a_flat_mesh_keeps_every_edge_of_its_outline_and_all_its_area(spacing: float) -> None:
    outline = walked(DARTED, spacing)
    points, faces = mesh_outline(outline, spacing=spacing)
    count = len(outline)
    assert (points[:count] == outline).all()
    edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, uses = np.unique(edges, axis=0, return_counts=True)
    around = np.sort(np.stack([np.arange(count), (np.arange(count) + 1) % count], axis=1), axis=1)
    rim = unique[uses == 1]
    assert {tuple(edge) for edge in rim.tolist()} == {tuple(edge) for edge in around.tolist()}
    # No inner edge joins two points of the outline.
    assert not ((uses == 2) & (unique[:, 1] < count)).any()
    _, areas = corner_gradients(points[faces])
    x, y = outline.T
    whole = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
    assert areas.min() > 0 and areas.sum() == pytest.approx(whole)


@given(
    radii=st.lists(st.floats(30.0, 100.0), min_size=7, max_size=24),
    spacing=st.sampled_from([25.0, 12.0]),
)
def test_any_star_shaped_outline_can_be_meshed(radii: list[float], spacing: float) -> None:
    angle = 2 * np.pi * np.arange(len(radii)) / len(radii)
    star = np.array(radii)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    outline = walked(star, spacing)
    points, faces = mesh_outline(outline, spacing=spacing)
    areas = corner_gradients(points[faces])[1]
    x, y = outline.T
    assert areas.sum() == pytest.approx(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    assert areas.min() > 0


def test_a_crossing_outline_is_not_meshed() -> None:
    bow = np.array([[0, 0], [2, 2], [2, 0], [0, 2.0]])
    with pytest.raises(ValueError, match=r"crosses itself near \(1.0, 1.0\)"):
        mesh_outline(bow, spacing=1.0)


def test_a_missing_edge_is_recovered_by_turning_diagonals() -> None:
    points = np.array([[0, 0], [4, -1], [8, 0], [4, 1], [2, -0.8], [6, 0.8]])
    from scipy.spatial import Delaunay

    faces = Delaunay(points).simplices.astype(np.int64)
    areas = corner_gradients(points[faces])[1]
    faces[areas < 0] = faces[areas < 0][:, ::-1]
    edges = {tuple(sorted(e)) for f in faces.tolist() for e in zip(f, f[1:] + f[:1])}
    assert (0, 2) not in edges
    found = recover_edges(points, faces, np.array([[0, 2]]))
    edges = {tuple(sorted(e)) for f in found.tolist() for e in zip(f, f[1:] + f[:1])}
    assert (0, 2) in edges
    areas = corner_gradients(points[found])[1]
    assert len(found) == len(faces) and areas.min() > 0


def test_an_edge_through_a_point_cannot_be_recovered() -> None:
    points = np.array([[0, 0], [1, 0], [2, 0], [1, 1], [1, -1.0]])
    faces = np.array([[0, 1, 3], [1, 2, 3], [0, 4, 1], [1, 4, 2]])
    with pytest.raises(ValueError, match="runs through another of its points"):
        recover_edges(points, faces, np.array([[0, 2]]))


def random_skin(thread: float) -> tuple[Skin, np.ndarray]:
    """A closed double disc in a stretched, folded, partly slack state."""
    outline = walked(np.array([[0, 0], [30, 2], [33, 28], [-2, 30.0]]), 9.0)
    points, faces = mesh_outline(outline, spacing=9.0)
    count, inner = len(outline), len(points) - len(outline)
    back = np.where(faces >= count, faces + inner, faces)[:, ::-1]
    rest = np.concatenate([points[faces], points[faces[:, ::-1]]])
    rest[len(faces) :, :, 0] *= -1
    gradients, areas = corner_gradients(rest)
    both = np.concatenate([faces, back])
    skin = Skin(both, gradients, areas, 25.0, thread, np.zeros((0, 3), dtype=int), 2e-3)
    flat = np.concatenate([points, points[count:]])
    place = np.concatenate([flat, np.zeros((len(flat), 1))], axis=1)
    return skin, place * 1.02 + RNG.normal(size=place.shape) * 1.5


@pytest.mark.parametrize("thread", [0.0, 40.0])
def test_forces_are_the_slope_of_the_energy(thread: float) -> None:
    skin, points = random_skin(thread)
    way = RNG.normal(size=points.shape)
    _, forces = energy_and_forces(skin, points)
    step = 1e-5
    rise = (
        energy_and_forces(skin, points + step * way)[0]
        - energy_and_forces(skin, points - step * way)[0]
    ) / (2 * step)
    # A face that goes slack within the step leaves an error of the step's order.
    assert rise == pytest.approx(float(np.sum(forces * way)), rel=1e-6)


@pytest.mark.parametrize("thread", [0.0, 40.0])
def test_stiffness_is_the_slope_of_the_forces(thread: float) -> None:
    skin, points = random_skin(thread)
    way = RNG.normal(size=points.shape)
    pull = np.zeros_like(points)
    elements = as_matrices(face_stiffness(skin, points))
    assert np.abs(elements - elements.transpose(0, 2, 1)).max() < 1e-12 * np.abs(elements).max()
    corner = np.einsum("mij,mj->mi", elements, way[skin.faces].reshape(-1, 9)).reshape(-1, 3, 3)
    np.add.at(pull, skin.faces, corner)
    step = 1e-6
    rise = (
        energy_and_forces(skin, points + step * way)[1]
        - energy_and_forces(skin, points - step * way)[1]
    ) / (2 * step)
    assert np.abs(rise - pull).max() < 1e-5 * np.abs(pull).max()


def test_stretch_never_pushes_the_stiffness_below_zero() -> None:
    skin, points = random_skin(40.0)
    from dataclasses import replace

    values = np.linalg.eigvalsh(as_matrices(face_stiffness(replace(skin, pressure=0.0), points)))
    assert values.min() > -1e-9 * values.max()


def test_unfolded_faces_keep_their_lengths() -> None:
    corners = RNG.normal(size=(50, 3, 3))
    flat = unfolded(corners)
    for k in range(3):
        before = np.linalg.norm(corners[:, k] - corners[:, k - 1], axis=1)
        assert np.allclose(np.linalg.norm(flat[:, k] - flat[:, k - 1], axis=1), before)
    assert corner_gradients(flat)[1].min() > 0


def test_hinges_feel_nothing_of_a_flat_sheet_and_a_roll_by_its_curvature() -> None:
    """Bending energy of a sheet rolled to radius R: ½ B area / R² (plate theory, no Poisson)."""
    points, faces = mesh_outline(
        walked(np.array([[0, 0], [60, 0], [60, 60], [0, 60.0]]), 3.0), spacing=3.0
    )
    none = np.zeros((0, 2), dtype=int)
    corners, rows = hinge_rows(faces, points[faces], np.zeros(len(faces), int), none)

    def energy(placed: np.ndarray) -> float:
        return float(0.5 * np.sum(np.einsum("hk,hkx->hx", rows, placed[corners]) ** 2))

    turn = np.linalg.qr(RNG.normal(size=(3, 3)))[0]
    flat = np.concatenate([points, np.zeros((len(points), 1))], axis=1)
    assert energy(flat @ turn.T + 5.0) < 1e-18
    radius = 80.0
    roll = np.stack(
        [
            radius * np.sin(points[:, 0] / radius),
            points[:, 1],
            radius * np.cos(points[:, 0] / radius),
        ],
        axis=1,
    )
    # 6 %: hinges at the sheet's rim are missing.
    assert energy(roll) == pytest.approx(0.5 * 60 * 60 / radius**2, rel=0.06)


def test_seams_hinge_freely() -> None:
    faces = np.array([[0, 1, 2], [1, 0, 3]])
    rest = unfolded(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, -1, 0.0]])[faces])
    none = np.zeros((0, 2), dtype=int)
    assert len(hinge_rows(faces, rest, np.array([0, 0]), none)[0]) == 1
    assert len(hinge_rows(faces, rest, np.array([0, 1]), none)[0]) == 0
    assert len(hinge_rows(faces, rest, np.array([0, 0]), np.array([[1, 0]]))[0]) == 0


def sphere(radius: float = 30.0) -> tuple[np.ndarray, np.ndarray]:
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=3, radius=radius)
    return np.asarray(ball.vertices), np.asarray(ball.faces, dtype=np.int64)


def test_signed_distances_agree_with_libigl() -> None:
    vertices, faces = sphere()
    points = RNG.normal(size=(300, 3)) * 22
    found, index, weights = signed_distances(points, vertices, faces)
    expected = igl.signed_distance(points, vertices, faces)[0]
    assert np.abs(found - expected).max() < 1e-9
    places = np.einsum("kc,kcx->kx", weights, vertices[faces[index]])
    assert np.allclose(np.linalg.norm(points - places, axis=1), np.abs(found))


def test_the_nearest_place_lies_on_its_triangle() -> None:
    corners = RNG.normal(size=(3, 3))
    points = RNG.normal(size=(500, 3)) * 3
    _, weights = closest_on_faces(points, corners, np.array([[0, 1, 2]]))
    assert weights.min() >= 0 and np.allclose(weights.sum(axis=1), 1)
    best = np.linalg.norm(points - weights @ corners, axis=1)
    tried = RNG.dirichlet([1, 1, 1], size=4000) @ corners
    rough = np.linalg.norm(points[:, None] - tried[None], axis=2).min(axis=1)
    assert (best <= rough + 1e-12).all() and (rough - best).max() < 0.2


def test_two_balls_that_meet_cross_and_one_ball_does_not() -> None:
    vertices, faces = sphere()
    assert len(crossing_faces(vertices, faces)) == 0
    both = np.concatenate([vertices, vertices + [40.0, 1.3, 0.7]])
    pairs = crossing_faces(both, np.concatenate([faces, faces + len(vertices)]))
    assert len(pairs) > 20
    assert ((pairs[:, 0] < len(faces)) & (pairs[:, 1] >= len(faces))).all()
    # Where they cross, both balls' surfaces meet: on the plane midway between the centres.
    middles = both[faces[pairs[:, 0]]].mean(axis=1)
    assert np.abs(middles[:, 0] - 20.0).max() < 4.0


def test_a_point_is_found_in_the_triangle_that_holds_it() -> None:
    points, faces = mesh_outline(walked(DARTED, 8.0), spacing=8.0)
    index, weights = locate(points, points[faces])
    assert np.allclose(np.einsum("kc,kcx->kx", weights, points[faces[index]]), points)
    assert weights.min() > -1e-9


def test_enclosed_volume_of_a_ball_comes_near_the_formula() -> None:
    vertices, faces = sphere(30.0)
    assert enclosed_volume(vertices, faces) == pytest.approx(4 / 3 * np.pi * 30.0**3, rel=0.02)


def test_the_banded_equations_with_a_stiff_end_curve_as_the_energy_does() -> None:
    """dᵀ H d against the second difference of the energy along a step that turns the stiff end."""
    shell = join(TUBE, usual_seams(TUBE), spacing=30.0, card=ENDS)
    held, body = shell.sewn[1], shell.sewn[2]
    problem = problem_of(shell.shell, Cloth(), held=held, bodies=[body])
    points = crude_start(shell, {})
    points[body] = flat_plate(points[body])
    system = System(problem, points)
    _, gradient = system.energy_and_gradient(points)
    entries, right = system.newton_system(points, gradient)
    band = system.band.full(entries)
    lower = np.zeros((3 * system.count, 3 * system.count))
    for column in range(3 * system.count):
        reach = min(system.depth, 3 * system.count - column)
        lower[column : column + reach, column] = band.reshape(-1, system.depth)[column, :reach]
    matrix = lower + np.tril(lower, -1).T
    way = RNG.normal(size=3 * system.count)
    turn = 3 * system.two[body[0], 1]
    way[turn : turn + 3] *= 0.05  # radians, not mm

    def along(step: float) -> float:
        return system.energy_and_gradient(system.moved(points, step * way))[0]

    step = 1e-4
    slope = (along(step) - along(-step)) / (2 * step)
    assert slope == pytest.approx(-right @ way, rel=1e-6)
    curve = (along(step) - 2 * along(0.0) + along(-step)) / step**2
    assert curve == pytest.approx(way @ matrix @ way, rel=1e-4)
    # Only the turn of the stiff end: its own second order counts.
    only = np.zeros_like(way)
    only[turn : turn + 3] = [0.03, -0.05, 0.02]
    way = only
    curve = (along(step) - 2 * along(0.0) + along(-step)) / step**2
    assert curve == pytest.approx(way @ matrix @ way, rel=1e-3)


def flat_plate(points: np.ndarray) -> np.ndarray:
    """Points laid into their best plane."""
    middle = points.mean(axis=0)
    normal = np.linalg.svd(points - middle)[2][2]
    return points - np.outer((points - middle) @ normal, normal)
