"""The fit of shapes whose distance, swing and girths are known beforehand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.samples import sample_measures
from unroll.arms.lofting import loft
from unroll.errors import UnrollError
from unroll.maths.triangles import vertex_normals
from unroll.nouns import ArmMesh, Cloth, Mesh, Sewn
from unroll.sewn.fitting import fit_of
from unroll.sewn.levels import _centroid
from unroll.sewn.rest_meshes import fill_rest_mesh


@pytest.fixture(scope="module")
def target() -> ArmMesh:
    return loft(sample_measures(), edge=9.0)


@pytest.fixture(scope="module")
def same(target: ArmMesh) -> Sewn:
    """A filled shape whose vertices are put where the arm's are."""
    filled = fill_rest_mesh(target, cloth=Cloth())
    return replace(filled, mesh=target.mesh)


def moved(sewn: Sewn, points: np.ndarray) -> Sewn:
    return replace(sewn, mesh=Mesh(points, sewn.mesh.faces))


def test_the_arm_itself_stands_off_nowhere(target: ArmMesh, same: Sewn) -> None:
    off = fit_of(same, target)
    for value in (off.bulge_max, off.hollow_max, off.cap_p95, off.swing_deg, off.wrist_mm):
        assert value < 1e-6
    for girth in off.girths:
        assert girth.off_percent == pytest.approx(0.0, abs=0.02)
    assert off.length_sewn == pytest.approx(off.length_asked, abs=0.01)
    assert off.bend_sewn_deg == pytest.approx(off.bend_asked_deg, abs=0.01)
    assert off.volume_asked == pytest.approx(off.volume_sewn, rel=0.05)


def test_a_cap_raised_by_three_millimetres_stands_three_millimetres_proud(
    target: ArmMesh, same: Sewn
) -> None:
    points = target.mesh.vertices
    normals = vertex_normals(points, target.mesh.faces[: len(target.mesh.faces)])
    middle = np.array([0.0, 60.0, -40.0])
    height = 3.0 * np.exp(-(np.linalg.norm(points - middle, axis=1) ** 2) / (2 * 20.0**2))
    nearest = np.linalg.norm(points - middle, axis=1).argmin()
    height *= 3.0 / height[nearest]
    off = fit_of(moved(same, points + height[:, None] * normals), target)
    # The bump's own slope makes the nearest point a little nearer than straight below.
    assert off.bulge_max == pytest.approx(height.max(), rel=0.03)
    assert off.hollow_max < 0.01 and off.swing_deg < 0.01
    there = points[height.argmax()]
    seam = points[target.paths["cap seam"]]
    expected = np.linalg.norm(seam - there, axis=1).min()
    assert off.bulge_below_seam == pytest.approx(expected, abs=4.0)
    assert abs(off.bulge_forward) < 0.3
    # Half of a Gaussian bump lies within 1.18 standard deviations: a disc of 47 mm.
    assert off.bulge_breadth == pytest.approx(2 * 1.177 * 20.0, rel=0.15)
    assert off.hollow_mean < 1e-3 and off.cap_mean == pytest.approx(off.bulge_mean, abs=1e-3)
    hollow = fit_of(moved(same, points - height[:, None] * normals), target)
    assert hollow.bulge_mean < 1e-3 and hollow.hollow_mean == pytest.approx(off.bulge_mean, rel=0.1)
    assert hollow.hollow_max == pytest.approx(height.max(), rel=0.03) and hollow.bulge_max < 0.01


@pytest.mark.parametrize(("outward", "forward"), [(8.0, 0.0), (0.0, -5.0), (-6.0, 4.0)])
def test_a_swing_about_the_armhole_is_found_and_taken_out(
    target: ArmMesh, same: Sewn, outward: float, forward: float
) -> None:
    """The arm below the cap turned as one about a point of the armhole, the cap bent with it."""
    points = target.mesh.vertices
    # Away from the body is a turn about −x, forward a turn about +y... of what hangs down.
    turn = Rotation.from_rotvec(np.radians([outward, 0.0, 0.0])) * Rotation.from_rotvec(
        np.radians([0.0, -forward, 0.0])
    )
    pivot = np.array([0.0, 0.0, -100.0])
    share = np.clip(points[:, 1] / 20.0, 0.0, 1.0)
    share[points[:, 2] < -130.0] = 1.0
    swung = Rotation.from_rotvec(share[:, None] * turn.as_rotvec()).apply(points - pivot) + pivot
    off = fit_of(moved(same, swung), target)
    assert off.outward_deg == pytest.approx(outward, abs=0.35)
    assert off.forward_deg == pytest.approx(forward, abs=0.35)
    # The forearm bends forward, so that a turn about x is partly one about the arm's length.
    assert abs(off.twist_deg) < 0.25 * max(abs(outward), abs(forward))
    wrist = target.paths["outer wrist"]
    carried = np.linalg.norm(swung[wrist] - points[wrist], axis=1).mean()
    assert off.wrist_mm == pytest.approx(carried, rel=0.05)
    # Taken out, the limb lies where it was.
    limb = points[:, 2] < -200.0
    assert np.linalg.norm(off.turned - points, axis=1)[limb].max() < 0.5
    for girth in off.girths:
        assert girth.off_percent == pytest.approx(0.0, abs=0.3)


def test_a_thicker_arm_has_larger_girths(target: ArmMesh, same: Sewn) -> None:
    axis = np.array([1.04, 1.04, 1.0])
    points = (target.mesh.vertices - [0.0, 48.0, 0.0]) * axis + [0.0, 48.0, 0.0]
    off = fit_of(moved(same, points), target)
    by_name = {girth.name: girth.off_percent for girth in off.girths}
    assert by_name["upper_arm"] == pytest.approx(4.0, abs=0.1)
    # Below the elbow the sections are tilted, so that their length along z did not grow.
    assert 3.0 < by_name["forearm"] < 4.1


def test_without_lines_levels_are_found_by_their_share_of_the_seams(
    target: ArmMesh, same: Sewn
) -> None:
    off = fit_of(replace(same, lines={}), target)
    for girth in off.girths:
        # The level's tilt is guessed from the seams, not drawn.
        assert girth.off_percent == pytest.approx(0.0, abs=1.0)
    assert off.swing_deg < 0.5


def test_a_right_arm_is_measured_like_its_mirror_image() -> None:
    figures = []
    for side in ("left", "right"):
        arm = loft(sample_measures(side=side), edge=12.0)
        sewn = fill_rest_mesh(arm, cloth=Cloth(pressure_kpa=6.0))
        off = fit_of(sewn, arm)
        figures.append([off.bulge_max, off.outward_deg, off.forward_deg, off.wrist_mm])
        assert (off.profile_sewn[:, 0] > -1e-9).all() and off.profile_sewn[0, 1] > -1.0
    assert figures[0] == pytest.approx(figures[1], abs=2e-2)


def test_profiles_run_from_the_shoulder_down_the_outside(target: ArmMesh, same: Sewn) -> None:
    off = fit_of(same, target)
    for line in (off.profile_asked, off.profile_sewn, off.profile_swung):
        assert line[0] == pytest.approx([0.0, 0.0], abs=0.5)
        assert (np.diff(line[:, 1]) < 1e-9).mean() > 0.9
        assert line[-1, 1] == pytest.approx(target.stations["upper_arm"].origin[2], abs=14.0)
    levels = np.linspace(-140.0, -5.0, 20)
    sewn, asked = (
        np.interp(levels, line[::-1, 1], line[::-1, 0])
        for line in (off.profile_sewn, off.profile_asked)
    )
    # Both are chords between the mesh's edges, not always the same edges.
    assert sewn == pytest.approx(asked, abs=0.1)


def test_a_levels_centre_is_the_centroid_of_its_area() -> None:
    """A trapezoid of parallel sides 6 and 2, height 3: (2a + b) h / 3 (a + b), a = 2, b = 6."""
    corner = np.array([[0, 0, 7], [6, 0, 7], [2, 3, 7], [0, 3, 7.0]])
    segments = np.stack([corner, np.roll(corner, -1, axis=0)], axis=1)
    segments[1] = segments[1, ::-1]  # segments come turned either way
    centre = _centroid(segments, np.array([0.0, 0.0, 1.0]))
    assert centre[1:] == pytest.approx([(2 * 2 + 6) * 3 / (3 * (2 + 6)), 7.0])


def test_arms_of_two_sides_are_not_compared(target: ArmMesh, same: Sewn) -> None:
    with pytest.raises(UnrollError, match="the sewn arm is a right one"):
        fit_of(replace(same, arm="right"), target)


def test_a_sewn_arm_without_its_seams_is_not_compared(target: ArmMesh, same: Sewn) -> None:
    paths = {name: path for name, path in same.seam_paths.items() if name != "cap seam"}
    with pytest.raises(UnrollError, match="has no 'cap seam'"):
        fit_of(replace(same, seam_paths=paths), target)
