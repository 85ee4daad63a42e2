"""The loft gives the tape's measures back, on a closed mesh, for any plausible arm."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import trimesh

from tests.samples import sample_measures
from unroll.arms.cap import fit_cap
from unroll.arms.lofting import loft, mesh_arm, shape_arm
from unroll.arms.plate import plate_of
from unroll.arms.taping import girth_at, tape
from unroll.errors import UnrollError
from unroll.maths.ellipses import superellipse_exponent
from unroll.nouns import Armhole, CapArc, DartLine, Estimate


def as_trimesh(arm):
    return trimesh.Trimesh(arm.mesh.vertices, arm.mesh.faces, process=False)


@pytest.fixture(scope="module")
def shape():
    return shape_arm(sample_measures())


def test_every_measure_in_harmony_comes_back(shape):
    rows = tape(mesh_arm(shape), shape.measures, fights=shape.fights)
    for row in rows:
        limit = 0.3 if row.name.endswith("girth") else 1.0  # a tape reads to half a millimetre
        assert abs(row.got_mm - row.asked_mm) <= limit, row
    assert not shape.fights


@pytest.mark.parametrize("edge", [5.0, 13.0])
@pytest.mark.parametrize("darts", [(), (DartLine(60.0, 80.0), DartLine(-60.0, 80.0))])
def test_the_arm_is_closed_oriented_and_outside_out(shape, edge, darts):
    mesh = as_trimesh(mesh_arm(shape, edge=edge, darts=darts))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0
    assert mesh.euler_number == 2
    assert trimesh.triangles.angles(mesh.triangles).min() > np.radians(1.0)


def test_resolution_follows_the_edge_length(shape):
    assert 10_000 <= len(mesh_arm(shape, edge=5.0).mesh.faces) <= 20_000
    assert 1_500 <= len(mesh_arm(shape, edge=13.0).mesh.faces) <= 3_000


def test_volume_lies_between_that_of_tube_and_box(shape):
    """Outside check by plain geometry: a stack of frusta of the measured girths."""
    arm = mesh_arm(shape)
    names = ("underarm", "upper_arm", "elbow", "forearm", "wrist")
    stations = [arm.stations[name] for name in names]
    radii = [s.girth / (2 * np.pi) for s in stations]
    steps = [np.linalg.norm(b.origin - a.origin) for a, b in zip(stations, stations[1:])]
    tube = sum(np.pi * h * (r * r + r * s + s * s) / 3 for h, r, s in zip(steps, radii, radii[1:]))
    level = arm.stations["underarm"].origin
    below = trimesh.intersections.slice_mesh_plane(as_trimesh(arm), [0, 0, -1], level)
    corners = below.triangles - level
    # divergence theorem with the field (0, 0, z): the open cut lies at z = 0 and adds nothing
    areas = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[:, 2]
    volume = float(np.sum(areas * corners[:, :, 2].mean(axis=1)))
    # an ellipse of the same girth holds up to 7 % less than a circle at 1.45 : 1; girths run on
    # smooth curves that bow out from the frusta's straight lines by up to 2 %
    assert 0.93 * tube < volume < 1.03 * tube


def test_seams_split_every_girth_below_the_underarm_in_thirds(shape):
    arm = mesh_arm(shape)
    v = arm.mesh.vertices
    wrist = np.linalg.norm(np.diff(v[arm.paths["inner wrist"]], axis=0), axis=1).sum()
    assert wrist == pytest.approx(158.0 / 3, abs=0.05)  # corners of the polygon


@pytest.mark.parametrize("share", ["1/3", "0.4"])
def test_the_share_of_the_inner_arm_is_kept(shape, share):
    from fractions import Fraction

    arm = mesh_arm(shape, inner_share=Fraction(share))
    v = arm.mesh.vertices
    wrist = np.linalg.norm(np.diff(v[arm.paths["inner wrist"]], axis=0), axis=1).sum()
    assert wrist == pytest.approx(158.0 * float(Fraction(share)), abs=0.1)


def test_the_right_arm_mirrors_the_left(shape):
    left = mesh_arm(shape, edge=13.0)
    right = loft(sample_measures(side="right"), edge=13.0)
    assert right.mesh.vertices * [1, -1, 1] == pytest.approx(left.mesh.vertices, abs=1e-9)
    assert as_trimesh(right).volume > 0
    assert right.landmarks["elbow point"][1] < 0


def test_the_bend_is_that_of_a_mitred_tube():
    """Back minus front of a tube of girth 238.3 bent by 15.5°: handbook 4 R tan(φ/2) is 20.646 for
    both halves of a mitre (sheet-metal development, derived), and the elbow ends the first."""
    girth, bend = 238.3, np.radians(15.5)
    radius = girth / (2 * np.pi)
    arm = shape_arm(
        sample_measures(
            upper_arm_girth=girth,
            elbow_girth=girth,
            forearm_girth=girth,
            elbow_ratio=1.0,
            upper_arm_ratio=1.0,
            shoulder_to_inner_elbow=333.5 - 2 * radius * np.tan(bend / 2),
        )
    )
    # the tape also runs slantwise from the shoulder, and its two paths differ by a little
    assert arm.surface.limb.layout.bend_rad == pytest.approx(bend, abs=np.radians(1.5))


def test_a_wrist_with_width_depth_and_girth_meets_all_three(shape):
    arm = mesh_arm(shape)
    rows = {row.name: row.got_mm for row in tape(arm, shape.measures)}
    assert rows["wrist_girth"] == pytest.approx(158.0, abs=0.1)
    assert rows["wrist_width"] == pytest.approx(58.0, abs=0.1)
    assert rows["wrist_depth"] == pytest.approx(41.0, abs=0.1)
    assert superellipse_exponent(29.0, 20.5, 158.0) != pytest.approx(2.0, abs=0.01)


def test_girths_never_leave_the_range_of_their_neighbours(shape):
    arm = mesh_arm(shape)
    upper, elbow = arm.stations["upper_arm"], arm.stations["elbow"]
    for t in np.linspace(0.0, 1.0, 9):
        origin = upper.origin + t * (elbow.origin - upper.origin)
        normal = (1 - t) * upper.normal + t * elbow.normal
        girth = girth_at(arm, origin, normal / np.linalg.norm(normal))
        assert elbow.girth - 1.0 <= girth <= upper.girth + 1.0


def test_measures_that_contradict_each_other_are_named():
    measures = sample_measures(cap_height=150.0)  # less than the arcs allow
    shape = shape_arm(measures)
    assert "cap_height" in shape.fights
    rows = {row.name: row for row in tape(mesh_arm(shape), measures, fights=shape.fights)}
    assert rows["cap_height"].got_mm > 151.0
    assert "cannot be met together with" in rows["cap_height"].note
    # the girths do not pay for it
    assert rows["upper_arm_girth"].got_mm == pytest.approx(286.0, abs=0.3)


def test_an_estimated_cap_height_gives_way_to_measured_arcs():
    estimate = (Estimate("cap_height", 150.0, "a guess"),)
    shape = shape_arm(sample_measures(cap_height=150.0, estimated=estimate))
    rows = {row.name: row.got_mm for row in tape(mesh_arm(shape), shape.measures)}
    assert rows["cap_arc 1"] == pytest.approx(229.0, abs=1.0)
    assert "cap_arc 1" not in shape.fights


def test_a_cap_without_arcs_still_closes():
    arm = loft(sample_measures(cap_arcs=()))
    assert as_trimesh(arm).is_watertight


def test_a_traced_outline_is_the_plate():
    t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    outline = np.column_stack([-49 * np.sin(t) + 3 * np.sin(t) ** 2, 58 * np.cos(t) - 58])
    hole = Armhole(98.0, 116.0, 338.0, outline)
    arm = loft(sample_measures(armhole=hole))
    loop = np.concatenate([arm.paths["cap seam"], arm.paths["underarm seam"][-2:0:-1]])
    rim = arm.mesh.vertices[loop]
    assert as_trimesh(arm).is_watertight
    assert np.abs(rim[:, 1]).max() < 1e-6
    from shapely.geometry import LineString, Polygon

    edge = Polygon(outline).exterior
    far = max(edge.distance(LineString([p, p + 1e-9]).centroid) for p in rim[:, [0, 2]])
    assert far < 0.3


def test_a_superellipse_plate_has_its_girth():
    hole = Armhole(98.0, 116.0, 345.0)
    plate = plate_of(hole)
    angle = np.linspace(0, np.pi, 4001)
    edge = np.column_stack([plate.half_width(angle), plate.level(angle)])
    half = np.linalg.norm(np.diff(edge, axis=0), axis=1).sum()
    assert 2 * half == pytest.approx(345.0, rel=1e-4)


def test_the_cap_fit_returns_the_arcs_of_a_cap_it_made():
    measures = sample_measures(cap_arcs=())
    made = fit_cap(measures, plate_of(measures.armhole))
    levels = np.array([40.0, 65.0, 90.0])
    lengths = made.arc(made.plate.angle_at_level(levels - 116.0))
    arcs = tuple(CapArc(float(u), float(x)) for u, x in zip(levels, lengths))
    again = fit_cap(dataclasses.replace(measures, cap_arcs=arcs), made.plate)
    assert again.arc(made.plate.angle_at_level(levels - 116.0)) == pytest.approx(lengths, abs=0.1)
    assert again.height == pytest.approx(made.height, abs=0.3)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"upper_arm_up": 300.0}, "upper_arm_up is 300 mm, which puts the upper-arm girth"),
        ({"forearm_down": 300.0}, "forearm_down is 300 mm; expected between 0 and"),
        ({"shoulder_to_inner_elbow": 90.0}, "lengths miss by|upper_arm_up is"),
    ],
)
def test_measures_that_make_no_arm_are_refused(changes, message):
    with pytest.raises(UnrollError, match=message):
        shape_arm(sample_measures(**changes))


@pytest.mark.parametrize(
    ("darts", "message"),
    [
        ((DartLine(200.0, 50.0),), "dart mouth at 200 mm; expected within"),
        ((DartLine(60.0, 50.0), DartLine(61.0, 50.0)), "two darts lie closer than two columns"),
        ((DartLine(60.0, 400.0),), "dart of 400 mm; expected at most"),
    ],
)
def test_darts_that_do_not_fit_are_refused(shape, darts, message):
    with pytest.raises(UnrollError, match=message):
        mesh_arm(shape, darts=darts)


@pytest.mark.parametrize(("at", "length"), [(60.0, 80.0), (-45.0, 110.0), (0.0, 120.0)])
def test_a_dart_lies_where_it_was_asked(shape, at, length):
    arm = mesh_arm(shape, darts=(DartLine(at, length),))
    points = arm.mesh.vertices[arm.paths["dart 1"]]
    walked = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert walked == pytest.approx(length, abs=0.5)
    seam = arm.mesh.vertices[arm.paths["cap seam"]]
    start = int(np.flatnonzero(arm.paths["cap seam"] == arm.paths["dart 1"][0])[0])
    steps = np.linalg.norm(np.diff(seam, axis=0), axis=1)
    middle = steps.sum() / 2  # the seam runs from the front; positive places lie to the front
    assert middle - steps[:start].sum() == pytest.approx(at, abs=0.3)


def test_a_dart_a_little_longer_than_the_cap_ends_with_it(shape):
    short = []
    with pytest.raises(UnrollError, match="too long for the cap"):
        for length in np.arange(130.0, 170.0, 1.0):
            arm = mesh_arm(shape, darts=(DartLine(60.0, float(length)),))
            points = arm.mesh.vertices[arm.paths["dart 1"]]
            short.append(length - np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    assert max(short) < 4.0
    assert sum(off > 0.5 for off in short) >= 2  # those are taken, and end where the cap does


def test_an_outer_seam_may_run_on_past_the_cap(shape):
    arm = mesh_arm(shape, darts=(DartLine(0.0, 260.0, 1.0),))
    points = arm.mesh.vertices[arm.paths["dart 1"]]
    walked = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert walked == pytest.approx(260.0, abs=5.0)  # ends on the nearest row
