"""Where planes cut meshes."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.maths.sections import nearest_part, section_segments

SEEDS = range(8)


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
