"""A limb of any number of levels: girths between stations as arms have them, and scans."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

from tests import study_taper
from tests.samples import sample_measures
from tests.test_bad_sheets import GOOD
from unroll.arms.lofting import measures_of_scan, mesh_arm, shape_arm
from unroll.arms.taping import tape
from unroll.errors import SheetFaults, UnrollError
from unroll.flat.cutting import cut
from unroll.flat.distortion import measure_distortion
from unroll.flat.flattening import flatten
from unroll.nouns import Armhole, DartLine, GirthLevel, Level, LimbScan, tapered
from unroll.nouns.measures import USUAL_RATIOS
from unroll.sheets.reading import read_sheet

GIRTH_MM = 0.3


def loop_at(arm, origin, normal):
    """The section's points by trimesh, in its own plane, (k, 2)."""
    mesh = trimesh.Trimesh(arm.mesh.vertices, arm.mesh.faces, process=False)
    points = trimesh.intersections.mesh_plane(mesh, normal, origin).reshape(-1, 3)
    frame = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][:2]
    return points @ frame.T


# --- girths between stations, against modelled arms (meshes/SOURCES.md) ---------------------------


def test_between_the_usual_girths_the_loft_is_less_than_half_as_far_from_arms_as_before():
    """Outside check: modelled arms that the taper was not fitted to, cut by trimesh."""
    arms = [study_taper.arm_file(name) for name in study_taper.KEPT_APART]
    before = np.abs([study_taper.untapered_errors(arm) for arm in arms])
    now = np.abs([study_taper.loft_errors(arm) for arm in arms])
    assert now.mean() < 0.5 * before.mean()
    assert now.max() < 0.5 * before.max()
    assert now.mean() < 0.018  # measured: 1.5 %


def test_with_a_girth_half_way_to_the_wrist_the_loft_is_close_to_arms():
    """Outside check, as above; the stoutest arm bulges between upper arm and elbow by 6.6 %."""
    far = {
        name: np.abs(
            study_taper.loft_errors(study_taper.arm_file(name), (study_taper.HALF_WAY,))
        )
        for name in study_taper.KEPT_APART
    }
    assert np.mean(list(far.values())) < 0.015
    assert max(found.max() for name, found in far.items() if name != "arm_very_full") < 0.06
    assert far["arm_very_full"].max() < 0.07


def test_the_usual_sections_are_those_of_modelled_arms():
    """Outside check: the arms of meshes/, cut by trimesh."""
    names = (*study_taper.FITTED, *study_taper.KEPT_APART)
    ratios = [study_taper.arm_file(name).ratios for name in names]
    assert np.mean(ratios, axis=0) == pytest.approx(list(USUAL_RATIOS.values()), abs=0.04)
    assert (np.std(ratios, axis=0, ddof=1) < 0.075).all()  # as the sheet's notice tells


def test_the_usual_taper_is_the_one_that_the_study_fits():
    fitted = study_taper.fitted_taper()
    for (share, left), (_, found) in zip(study_taper.USUAL_TAPER, fitted, strict=True):
        assert found == pytest.approx(left, abs=0.0015), share


@pytest.mark.parametrize("girth", [160.0, 185.0, 204.0, 225.0, 242.0])
def test_a_measured_girth_bends_the_taper_but_nothing_leaves_its_neighbours_range(girth):
    known = [(62.0, 243.0), (150.0, girth), (236.0, 158.0)]
    found = sorted([*known, *tapered(known, 236.0)])
    assert len(found) > 8
    assert all(upper[1] >= lower[1] for upper, lower in zip(found, found[1:]))


@pytest.mark.parametrize("girth", [150.0, 260.0])
def test_a_girth_beyond_its_neighbours_is_kept_all_the_same(girth):
    shape = shape_arm(sample_measures(girths=(GirthLevel(150.0, girth),)))
    limb = shape.surface.limb
    at = limb.layout.others["girth_150_below_elbow"]
    assert float(limb.girth(at)) == pytest.approx(girth, abs=1e-9)
    run = limb.girth(np.linspace(limb.layout.forearm, limb.layout.wrist, 400))
    assert min(girth, 158.0) - 1e-6 <= run.min() and run.max() <= max(girth, 243.0) + 1e-6


def test_a_forearm_that_does_not_taper_stays_even():
    assert tapered([(60.0, 160.0), (240.0, 158.0)], 240.0) == []


# --- further girths of the sheet -----------------------------------------------------------------


FURTHER = (
    GirthLevel(-155.0, 305.0),
    GirthLevel(-40.0, 262.0, 1.1),
    GirthLevel(100.0, 221.0),
    GirthLevel(150.0, 196.0, 1.3),
)


@pytest.fixture(scope="module")
def further():
    return shape_arm(sample_measures(girths=FURTHER))


def test_every_further_girth_comes_back(further):
    rows = {row.name: row for row in tape(mesh_arm(further), further.measures)}
    for level in FURTHER:
        row = rows[level.name]
        assert row.asked_mm == level.girth
        assert abs(row.got_mm - row.asked_mm) <= GIRTH_MM, row
    for name in ("upper_arm_girth", "elbow_girth", "forearm_girth", "wrist_girth"):
        assert abs(rows[name].got_mm - rows[name].asked_mm) <= GIRTH_MM, name
    for name in ("shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist"):
        assert abs(rows[name].got_mm - rows[name].asked_mm) <= 1.0, name


def test_a_further_girth_lies_where_the_tape_went_round(further):
    """The level is as far below the crease of the elbow as was said, along the inside."""
    arm = mesh_arm(further)
    station, crease = arm.stations["girth_150_below_elbow"], arm.landmarks["elbow crease"]
    below = abs((crease - station.origin) @ station.normal)
    # the inside turns by half the bend below the crease, over some 40 mm
    assert below == pytest.approx(150.0, abs=0.5)


def test_a_further_width_to_depth_is_the_section_s(further):
    arm = mesh_arm(further)
    station = arm.stations["girth_150_below_elbow"]
    size = np.ptp(loop_at(arm, station.origin, station.normal), axis=0)
    assert size.max() / size.min() == pytest.approx(1.3, rel=0.01)


def test_a_girth_at_the_underarm_s_level_is_the_cap_s():
    level = GirthLevel(-190.0, 325.0)
    shape = shape_arm(sample_measures(girths=(level,), cap_arcs=()))
    assert shape.surface.limb.layout.others[level.name] == 0.0
    assert shape.surface.limb.cap.underarm_girth == pytest.approx(325.0, abs=GIRTH_MM)
    row = {r.name: r for r in tape(mesh_arm(shape), shape.measures)}[level.name]
    assert row.got_mm == pytest.approx(325.0, abs=GIRTH_MM)


@pytest.mark.parametrize("edge", [5.0, 14.0])
def test_a_limb_of_many_levels_is_closed_and_flattens(further, edge):
    arm = mesh_arm(further, edge=edge, darts=(DartLine(45.0, 70.0), DartLine(-45.0, 70.0)))
    mesh = trimesh.Trimesh(arm.mesh.vertices, arm.mesh.faces, process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0
    if edge > 10.0:
        assert all(measure_distortion(flatten(panel)).flips == 0 for panel in cut(arm))


def test_the_rounded_arm_keeps_every_girth(further):
    shape = shape_arm(further.measures.rounded())
    rows = {row.name: row for row in tape(mesh_arm(shape), shape.measures)}
    arm = mesh_arm(shape)
    for level in FURTHER:
        assert abs(rows[level.name].got_mm - level.girth) <= GIRTH_MM
    station = arm.stations["girth_40_above_elbow"]
    size = np.ptp(loop_at(arm, station.origin, station.normal), axis=0)
    assert size.max() / size.min() == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("level", "message"),
    [
        (GirthLevel(-280.0, 300.0), "girth_280_above_elbow lies -.*; expected between 0"),
        (GirthLevel(300.0, 160.0), "girth_300_below_elbow lies .* expected between 0 and"),
        (GirthLevel(62.5, 243.0), "forearm and girth_62_below_elbow lie 0.5 mm apart"),
    ],
)
def test_a_girth_off_the_limb_or_taken_twice_is_refused(level, message):
    with pytest.raises(UnrollError, match=message):
        shape_arm(sample_measures(girths=(level,)))


@pytest.mark.parametrize("below", [3.0, 6.0, 9.0, 12.0])
def test_a_girth_taped_close_below_an_upper_arm_that_was_moved_down_keeps_below_it(below):
    """An upper arm taken higher than the underarm lies is moved down to it."""
    measures = sample_measures()
    up = measures.shoulder_to_inner_elbow - measures.armhole.height
    level = GirthLevel(-(up - below), measures.upper_arm_girth - 2.0)
    shape = shape_arm(dataclasses.replace(measures, upper_arm_up=up, girths=(level,)))
    stations = shape.surface.limb.layout.stations
    assert stations[level.name] - stations["upper_arm"] > 1.9


def read_with(entry):
    return read_sheet(GOOD.replace("wrist_girth", f"girths = [{entry}]\nwrist_girth", 1)).arms[0]


def test_a_sheet_gives_further_girths_from_the_shoulder_down():
    arm = read_with("{down = 14.5, girth = [20.2, 20.2, 20.4]}, {up = 4, girth = 26, ratio = 1.1}")
    assert [(g.down, g.girth, g.ratio) for g in arm.girths] == [
        (-40.0, 260.0, 1.1), (145.0, 202.0, None)]  # fmt: skip
    # the estimate gives way to what was measured
    assert not any(e.name.startswith("girth_") for e in arm.estimated)


def test_an_empty_row_of_the_blank_sheet_is_no_girth():
    assert read_with('{down = "", girth = ""}').girths == ()


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("{down = 14}", "girths 1 needs a girth, and either down or up, its level below or above"),
        ("{up = 2, down = 2, girth = 24}", "girths 1 needs a girth, and either down or up"),
        ("{down = 14, girth = 240}", "girths 1 girth is 240.0 cm; expected 4.0 to 120.0 cm"),
        ("{down = 14, girth = 20, ratio = 3}", "girths 1 ratio is 3; expected 0.5 to 2"),
        ("{down = -2, girth = 24}", "girths 1 down is -2.0 cm; expected more than nothing"),
        ("{down = 40, girth = 16}", "girths 1 down is 40.0 cm; expected less than inner_elbow_to"),
        ("{up = 29, girth = 30}", "girths 1 up is 29.0 cm; expected up to"),
        ("{up = 0.1, girth = 28}", "girths 1 lies at the level of elbow_girth; leave one of them"),
        ("{down = 14, girth = 20}, {down = 14.1, girth = 22}", "girths 2 lies at the level of"),
    ],
)
def test_a_further_girth_that_no_tape_found_is_a_fault(entry, said):
    with pytest.raises(SheetFaults) as caught:
        read_with(entry)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    "entry",
    ["{up = 0.1, girth = 24.8}", "{down = 14, girth = 20}, {down = 14.1, girth = 20.3}"],
)
def test_a_level_that_was_taped_again_to_the_same_is_taken_once_and_told(entry):
    sheet = read_sheet(GOOD.replace("wrist_girth", f"girths = [{entry}]\nwrist_girth", 1))
    kept = [level.girth for level in sheet.arms[0].girths]
    assert kept == ([200.0] if "14" in entry else [])
    told = [notice.text for notice in sheet.notices if notice.name == "girths"]
    assert len(told) == 1 and "at the level of another girth; it is left out" in told[0]


# --- a scan --------------------------------------------------------------------------------------


HOLE = Armhole(98.0, 116.0, 336.6)
ELBOW, STRAIGHT, WRIST = 200.0, 150.0, 440.0


def true_girth(along):
    """A limb that swells and shrinks as no few girths could tell."""
    return 290.0 - 0.28 * along + 6.0 * np.sin(along / 25.0)


def true_shape(along, angle):
    """A rounded triangle, turning as it runs down: no ellipse."""
    return 1.0 + 0.06 * np.cos(3.0 * (angle - along / 200.0))


def outline_at(along, count=180):
    angle = -0.5 * np.pi + np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    radius = true_shape(along, angle)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def scan_of(step=4.0):
    places = np.append(np.arange(step, WRIST - 1.0, step), WRIST)
    levels = [Level(float(s), float(true_girth(s)), None, None, outline_at(s)) for s in places]
    levels[-1] = dataclasses.replace(levels[-1], ratio=1.3)
    turn = np.radians(18.0)
    down = np.linspace(0.0, WRIST, 120)
    past = np.maximum(down - ELBOW, 0.0)
    axis = np.column_stack([
        past * np.sin(turn), 48.0 + 0.02 * down,
        -116.0 - np.minimum(down, ELBOW) - past * np.cos(turn),
    ])  # fmt: skip
    return LimbScan(tuple(levels), axis, ELBOW, STRAIGHT)


@pytest.mark.parametrize("inside", [0.0, 12.0])
def test_what_is_taped_along_the_inner_elbow_lies_farther_down_the_axis(inside: float) -> None:
    limb = dataclasses.replace(scan_of(), inside=inside)
    half = ELBOW - STRAIGHT  # of the bend
    assert limb.taped(ELBOW) == 0.0
    assert limb.taped(ELBOW + half + 40.0) == pytest.approx(half + 40.0 - inside)
    assert limb.taped(ELBOW - half - 40.0) == pytest.approx(-half - 40.0 + inside)
    places = np.linspace(ELBOW - 90.0, ELBOW + 150.0, 49)
    assert [limb.along(limb.taped(s)) for s in places] == pytest.approx(places)
    assert (np.diff([limb.taped(s) for s in places]) > 0.0).all()


@pytest.fixture(scope="module")
def scanned():
    return measures_of_scan(scan_of(), HOLE, cap_height=162.0, shoulder_length=128.0)


def test_a_scan_s_loft_has_the_true_girth_and_shape_at_every_level(scanned):
    """Exact: the limb was made up from closed forms; trimesh cuts the loft's mesh."""
    shape = shape_arm(scanned)
    arm, limb = mesh_arm(shape, edge=4.0), shape.surface.limb
    for along in np.linspace(70.0, WRIST - 6.0, 13):
        centre, forward, up = limb.frame(along)
        mesh = trimesh.Trimesh(arm.mesh.vertices, arm.mesh.faces, process=False)
        points = trimesh.intersections.mesh_plane(mesh, up, centre).reshape(-1, 3) - centre
        flat = np.column_stack([points @ forward, points @ np.cross(up, forward)])
        assert ConvexHull(flat).area == pytest.approx(true_girth(along), abs=0.8)
        truth = outline_at(along, 720)
        walked = np.linalg.norm(np.diff(truth, axis=0, append=truth[:1]), axis=1).sum()
        radius = np.hypot(*truth.T) * true_girth(along) / walked
        angle = np.arctan2(*truth.T[::-1])
        order = np.argsort(angle)
        expected = np.interp(
            np.arctan2(*flat.T[::-1]), angle[order], radius[order], period=2.0 * np.pi
        )
        # chords of 4 mm cut the curve by 0.05 mm; between levels and rows the shape is blended
        assert np.abs(np.hypot(*flat.T) - expected).max() < 0.5


def test_a_scan_s_axis_is_followed(scanned):
    limb = shape_arm(scanned).surface.limb
    scan = scanned.scan
    there = limb.centre(np.array([ELBOW, WRIST]))
    assert there[0] == pytest.approx(scan.axis[np.argmin(np.abs(scan.axis[:, 2] + 316.0))], abs=2.5)
    assert there[1] == pytest.approx(scan.axis[-1], abs=0.5)


def test_a_scan_s_measures_come_back_from_its_loft(scanned):
    for row in tape(mesh_arm(shape_arm(scanned)), scanned):
        limit = GIRTH_MM if row.name in ("upper_arm_girth", "wrist_girth") else 2.0
        assert row.name.startswith("wrist_") or abs(row.got_mm - row.asked_mm) <= limit, row


def test_a_scan_is_cut_flattened_and_rounded_like_any_arm(scanned):
    arm = mesh_arm(shape_arm(scanned), edge=13.0, darts=(DartLine(45.0, 70.0),))
    assert trimesh.Trimesh(arm.mesh.vertices, arm.mesh.faces, process=False).is_watertight
    assert all(measure_distortion(flatten(panel)).flips == 0 for panel in cut(arm))
    rounded = shape_arm(scanned.rounded())
    for along in (60.0, 200.0, 250.0):
        width, depth, exponent = rounded.surface.limb.half_axes(np.array([along]))
        assert (width / depth, exponent) == pytest.approx((1.0, 2.0), abs=1e-6)
        assert 2.0 * np.pi * width == pytest.approx(true_girth(along), abs=0.3)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda s: {"levels": s.levels[::-1]}, "levels do not run down from the underarm"),
        (lambda s: {"levels": s.levels[:-1]}, "the scan's last level has no width : depth"),
        (lambda s: {"elbow": 140.0}, "its bend begins at 150 mm; expected both between"),
    ],
)
def test_a_scan_that_makes_no_limb_is_refused(change, message):
    scan = scan_of(20.0)
    with pytest.raises(UnrollError, match=message):
        measures_of_scan(
            dataclasses.replace(scan, **change(scan)), HOLE, cap_height=162.0, shoulder_length=128.0
        )
