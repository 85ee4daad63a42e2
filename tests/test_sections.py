"""Where planes cut meshes."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.maths import polylines
from unroll.maths.sections import (
    _upper_hull,
    hull_length,
    nearest_part,
    section_segments,
)

SEEDS, TAPES = range(8), range(12)


def apart(seed: int, shape: ArmShape) -> float:
    """How far an arm's section at chance lies from the one that trimesh's `mesh_plane` finds, mm.

    Not a number where they have not as many segments.
    """
    random = np.random.default_rng(seed)
    mesh = mesh_arm(shape, edge=13.0).mesh
    normal = random.normal(size=3)
    normal /= np.linalg.norm(normal)
    origin = random.choice(mesh.vertices) + random.normal(size=3)
    found = section_segments(mesh.vertices, mesh.faces, origin, normal)
    whole = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    known = trimesh.intersections.mesh_plane(whole, normal, origin)
    if not len(found) == len(known) > 10:
        return np.nan
    # whichever segment comes first, and whichever way round
    (one, other) = (np.sort(np.sort(cut, axis=1).reshape(-1, 6), axis=0) for cut in (found, known))
    return float(np.abs(one - other).max())


@pytest.mark.parametrize("seed", SEEDS)
def test_a_section_is_the_one_that_a_general_mesh_library_finds(
    seed: int, sample_shape: ArmShape
) -> None:
    assert apart(seed, sample_shape) < 1e-9


def tape_apart(seed: int) -> float:
    """How far tapes round and over points at chance differ from Qhull's hulls in length, mm.

    Points are rounded to a grid for every other seed, so that many lie on the hull's sides.
    """
    random = np.random.default_rng(seed)
    points = random.normal(scale=50.0, size=(3 + 4 * seed, 2))
    points = np.round(points, -1 if seed % 2 else 9)
    points = np.vstack([points, [[-90.0, 0.0], [90.0, 5.0], [0.0, 70.0], [30.0, 40.0]]])
    missed = [hull_length(points) - ConvexHull(points).area]
    over = _upper_hull(points, 60.0)
    kept = points[(points[:, 1] >= 0.0) & (points[:, 0] > 0.0) & (points[:, 0] < 60.0)]
    closed = ConvexHull(np.vstack([[0.0, 0.0], kept, [60.0, 0.0]]))
    missed.append(polylines.length(over) + 60.0 - closed.area)
    assert over[0].tolist() == [0.0, 0.0] and over[-1].tolist() == [60.0, 0.0]
    return float(np.abs(missed).max())


@pytest.mark.parametrize("seed", TAPES)
def test_tapes_lie_where_another_librarys_hulls_do(seed: int) -> None:
    assert tape_apart(seed) < 1e-9


def test_a_tape_over_nothing_is_straight_and_one_round_a_line_goes_there_and_back() -> None:
    for points in (np.zeros((0, 2)), np.array([[5.0, 0.0], [8.0, -3.0], [20.0, 4.0]])):
        assert _upper_hull(points, 10.0).tolist() == [[0.0, 0.0], [10.0, 0.0]]
    assert hull_length(np.array([[0.0, 0.0], [3.0, 4.0], [6.0, 8.0]])) == pytest.approx(20.0)


def test_a_plane_through_vertices_cuts_an_unbroken_line() -> None:
    """A cube's middle plane runs through vertices and along edges of its halved faces."""
    cube = trimesh.creation.box((2.0, 2.0, 2.0)).subdivide()
    up = np.array([0.0, 0.0, 1.0])
    segments = section_segments(cube.vertices, cube.faces, np.zeros(3), up)
    ends, count = np.unique(segments.reshape(-1, 3), axis=0, return_counts=True)
    assert ends[:, 2] == pytest.approx(0.0) and (count % 2 == 0).all()
    assert np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).sum() == pytest.approx(8.0)
    assert len(nearest_part(segments, np.zeros(3))) == len(segments)


def test_a_plane_beside_the_mesh_cuts_nothing() -> None:
    cube = trimesh.creation.box((2.0, 2.0, 2.0))
    up = np.array([0.0, 0.0, 1.0])
    assert section_segments(cube.vertices, cube.faces, 3.0 * up, up).shape == (0, 2, 3)
