"""What is measured on a filled arm, and how its readings follow the vertices."""

from __future__ import annotations

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import loft
from unroll.correct.readings import readings_of
from unroll.correct.rulers import missed, ruler_of, whereabouts_of
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMesh


@pytest.fixture(scope="module")
def arm() -> ArmMesh:
    return loft(sample_measures(), edge=12.0)


def rigid(arm: ArmMesh, outward_rad: float) -> np.ndarray:
    """The arm turned away from the body about the shoulder point, as a stiff body."""
    cos, sin = np.cos(outward_rad), np.sin(outward_rad)
    turn = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    return arm.mesh.vertices @ turn.T


def below(arm: ArmMesh) -> FloatArray:
    """0 at the armhole, 1 from the upper arm down, (n, 1)."""
    return whereabouts_of(arm).freed[:, None]


def test_an_arm_misses_itself_by_nothing(arm):
    ruler = ruler_of(arm)
    miss = missed(ruler, arm.mesh.vertices)
    assert np.abs(readings_of(ruler).wanted(arm.mesh.vertices, miss)).max() < 1e-6
    assert miss.cap_p95 < 1e-9


def test_a_stiff_turn_is_read_back_as_that_turn_and_leaves_the_cap_alone_below_the_hem(arm):
    miss = missed(ruler_of(arm), rigid(arm, np.radians(4.0)))
    # the arm's length leans a little out of the plane it is turned in
    assert np.degrees(miss.outward_rad) == pytest.approx(4.0, abs=0.15)
    assert abs(np.degrees(miss.forward_rad)) < 0.3
    assert np.abs(miss.girths).max() < 1e-9
    assert miss.wrist[1] == pytest.approx(
        -arm.landmarks["wrist centre"][2] * np.sin(np.radians(4.0)), rel=0.05
    )


def test_lengths_are_read_back_as_they_were_put_in(arm):
    places = whereabouts_of(arm)
    elbow = places.stops[2]
    longer = np.clip(places.along / elbow, 0.0, 1.0)[:, None] * [0.0, 0.0, -6.0]
    miss = missed(ruler_of(arm), arm.mesh.vertices + longer)
    assert miss.elbow[2] == pytest.approx(-6.0, abs=0.1)
    assert miss.wrist[2] == pytest.approx(-6.0, abs=0.1)


def test_a_twist_is_read_back_as_it_was_put_in(arm):
    ruler = ruler_of(arm)
    axis = ruler.centres[7] - ruler.centres[1]
    axis /= np.linalg.norm(axis)
    off = arm.mesh.vertices - ruler.centres[1]
    turned = np.cross(off, axis) * 0.02 * below(arm)  # about the way down, front outward
    assert missed(ruler, arm.mesh.vertices + turned).twist_rad == pytest.approx(0.02, rel=0.02)


def test_a_swing_is_taken_out_of_the_cap_whatever_the_elbows_bend():
    # with the arm all but straight, centres alone would not tell a twist
    for length in (338.0, 322.0):
        straight = loft(sample_measures(shoulder_to_elbow=length), edge=12.0)
        ruler = ruler_of(straight)
        share = below(straight)
        swung = (1.0 - share) * straight.mesh.vertices + share * rigid(straight, np.radians(3.0))
        bulged = swung + 2.0 * ruler.normals * (ruler.areas > 0)[:, None] * share
        assert missed(ruler, swung).cap_mean < 0.35
        assert 0.5 < missed(ruler, bulged).cap_mean < 2.1


def test_readings_follow_the_vertices_as_their_slopes_say(arm):
    """Central differences of what is wanted, along smooth random displacements."""
    ruler = ruler_of(arm)
    readings = readings_of(ruler)
    rng = np.random.default_rng(7)
    v = arm.mesh.vertices
    for _ in range(3):
        waves = rng.normal(size=(3, 3)) / 80.0
        shift = np.stack([np.sin(v @ wave + rng.uniform(0, 6)) for wave in waves], axis=1)
        shift *= below(arm) * 0.05
        found = [readings.wanted(v + s * shift, missed(ruler, v + s * shift)) for s in (-1, 1)]
        slope = 0.5 * (found[0] - found[1])
        promised = readings.slopes(v) @ shift.ravel()
        off, count = np.abs(slope - promised), readings.place_count
        assert off[count:].max() < 1e-3 * np.abs(promised).max()
        # on a mesh of 12 mm the nearest face's normal stands in for the vertex's
        assert off[:count].mean() < 0.1 * np.abs(promised[:count]).mean()


def test_handles_put_every_station_at_its_own_distance(arm):
    places = whereabouts_of(arm)
    elbow = arm.stations["elbow"]
    heights = np.abs((arm.mesh.vertices - elbow.origin) @ elbow.normal)
    on = (heights < 1e-6) & (np.linalg.norm(arm.mesh.vertices - elbow.origin, axis=1) < 80)
    assert on.sum() > 10
    assert np.abs(places.along[on] - places.stops[2]).max() < 1e-6
