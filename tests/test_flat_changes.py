"""Flat pieces changed: seams kept, readings brought to what is wanted, by slopes that are right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.samples import SAMPLE_DARTS, sample_measures
from unroll.arms.lofting import rounded_shape
from unroll.correct.bench import Bench, Tried, bench_of
from unroll.correct.flat_shapes import kinks, seam_faults
from unroll.correct.loop import corrected_filled
from unroll.correct.ruler_slopes import slopes_of
from unroll.correct.rulers import missed
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.triangles import vertex_normals
from unroll.nouns import Cloth, DartChoice, Make
from unroll.nouns.corrected import GIRTH_LEVELS
from unroll.sewn import rest_meshes

DARTS = tuple(replace(dart, length=118.0) for dart in SAMPLE_DARTS)


@pytest.fixture(scope="module")
def bench() -> Bench:
    return bench_of(rounded_shape(sample_measures()), Make(), Cloth(), DARTS, edge=15.0)


@pytest.fixture(scope="module")
def plain(bench: Bench) -> Tried:
    return bench.plain()


def smooth(points: FloatArray, seed: int) -> FloatArray:
    """A smooth random change, 1 mm at most."""
    rng = np.random.default_rng(seed)
    waves = [points @ (rng.normal(size=2) / 70.0) + rng.uniform(0, 6) for _ in range(2)]
    return np.stack([np.sin(wave) for wave in waves], axis=1)


def test_slopes_of_seam_faults_are_those_of_central_differences(bench):
    points = bench.shapes.points + smooth(bench.shapes.points, 1)
    change = smooth(points, 2)
    _, slopes = seam_faults(bench.shapes, points)
    before, after = (seam_faults(bench.shapes, points + s * change)[0] for s in (-1e-4, 1e-4))
    assert np.abs((after - before) / 2e-4 - slopes @ change.ravel()).max() < 1e-7


def test_slopes_of_the_cap_seams_turn_across_darts_are_those_of_central_differences(bench):
    points, change = bench.shapes.points, smooth(bench.shapes.points, 5)
    turns, slopes = kinks(bench.shapes, points)
    assert len(turns) == len(DARTS) and np.degrees(np.abs(turns)).max() < 40.0
    before, after = (kinks(bench.shapes, points + s * change)[0] for s in (-1e-4, 1e-4))
    assert np.abs((after - before) / 2e-4 - slopes @ change.ravel()).max() < 1e-8


def test_correction_leaves_the_cap_seam_smoother_across_darts_than_it_was(bench, plain):
    best = corrected_filled(bench, plain, rounds=4)[-1]
    was, now = (np.degrees(np.abs(kinks(bench.shapes, t.points)[0])) for t in (plain, best))
    assert now.max() < max(was.max(), 12.0)


def test_pieces_as_laid_flat_have_no_seam_fault(bench):
    faults, _ = seam_faults(bench.shapes, bench.shapes.points)
    assert np.abs(faults).max() < 1e-4


def test_seams_are_brought_back_by_moving_points_a_little(bench):
    points = bench.shapes.points
    off = points + 0.3 * smooth(points, 3)
    kept = bench.seams(points).kept(off)
    assert np.abs(seam_faults(bench.shapes, kept)[0]).max() < 1e-6
    assert np.abs(seam_faults(bench.shapes, off)[0]).max() > 0.01
    assert np.abs(kept - off).max() < 1.0


def test_a_filled_arm_answers_a_change_of_its_pieces_as_the_response_says(bench, monkeypatch):
    """Against filling the changed pieces: a small change, seams kept, the balance found closely."""
    monkeypatch.setattr(rest_meshes, "WELL_BALANCED", 1e-6)
    plain = bench.plain()
    seams, response = bench.seams(plain.points), bench.response(plain)
    points = seams.kept(plain.points + 0.05 * smooth(plain.points, 4))
    change = points - plain.points
    moved = bench.filled(points, plain.filled).filled - plain.filled
    promised = response.moved(change)
    assert np.abs(moved).max() > 0.05
    assert np.linalg.norm(moved - promised) < 0.02 * np.linalg.norm(moved)
    # the same, asked reading by reading
    rows = bench.readings.slopes(plain.filled)
    one = response.followed(rows) @ change.ravel()
    assert np.abs(one - rows @ promised.ravel()).max() < 1e-6 * np.abs(one).max()


@pytest.mark.parametrize("wide", [False, True])
def test_slopes_of_what_is_missed_are_those_of_central_differences(bench, plain, wide):
    """Every vertex astray for itself, and all of them in long waves as a changed piece moves."""
    ruler, size = bench.readings.ruler, plain.filled.shape
    rng = np.random.default_rng(8)
    way = np.sin(plain.filled @ rng.normal(size=(3, 3)) / 60.0) if wide else rng.normal(size=size)

    def seen(step: float) -> FloatArray:
        found = missed(ruler, plain.filled + step * way)
        turns = found.twist_rad, found.outward_rad, found.forward_rad
        return np.concatenate([found.girths, turns, found.elbow])

    slopes = (seen(1e-4) - seen(-1e-4)) / 2e-4
    found = slopes_of(ruler, plain.filled) @ way.ravel()
    turns = slice(GIRTH_LEVELS, GIRTH_LEVELS + 3)
    for kind in (slice(0, GIRTH_LEVELS), turns, slice(GIRTH_LEVELS + 3, None)):
        assert np.abs(found - slopes)[kind].max() < 0.02 * np.abs(slopes[kind]).max()


def test_points_that_slide_along_a_line_change_no_girth_and_move_no_centre(bench, plain):
    """A mean of the line's points goes with points that crowd on one side of it."""
    ruler, filled = bench.readings.ruler, plain.filled
    normals = vertex_normals(filled, bench.arm.mesh.faces)
    way = np.array([0.0, 1.0, 0.0])  # towards the outside, as far as each can along the surface
    slide = way - (normals @ way)[:, None] * normals
    rows = slopes_of(ruler, filled)
    lifted = rows @ np.tile(way, len(filled))
    slid, grown = rows @ slide.ravel(), rows @ normals.ravel()
    assert np.abs(slid[-3:]).max() < 0.1 * np.abs(lifted[-3:]).max()
    assert np.abs(slid[:GIRTH_LEVELS]).max() < 0.1 * grown[:GIRTH_LEVELS].min()


def test_a_small_step_gains_what_its_slopes_promise(bench, plain, monkeypatch):
    """Near the end too, where slopes that are only nearly right promise what never comes."""
    monkeypatch.setattr(rest_meshes, "WELL_BALANCED", 1e-6)
    here = corrected_filled(bench, plain, rounds=3)[-1]
    for tried in (plain, here):
        wanted, seams = bench.wanted(tried), bench.seams(tried.points)
        response = bench.response(tried)
        change, _ = bench.reach(tried, seams, response).change(wanted, farthest=15.0)
        step = change * (0.05 / np.abs(change).max())
        promised = wanted - bench.reach(tried, seams, response).slopes @ step.ravel()
        got = bench.wanted(bench.filled(tried.points + step, tried.filled + response.moved(step)))
        gain, real = (wanted @ wanted - left @ left for left in (promised, got))
        assert real == pytest.approx(gain, rel=0.1)


def test_a_step_lessens_the_misses_keeps_the_seams_and_goes_no_farther_than_said(bench, plain):
    seams = bench.seams(plain.points)
    reach = bench.reach(plain, seams, bench.response(plain))
    wanted = bench.wanted(plain)
    left = []
    for farthest in (0.5, 4.0):
        change, promised = reach.change(wanted, farthest=farthest)
        assert np.abs(change).max() <= farthest * 1.001
        slopes = seam_faults(bench.shapes, plain.points)[1]
        assert np.abs(slopes @ change.ravel()).max() < 1e-4
        left.append(promised)
    assert left[1] < left[0] < wanted @ wanted


def test_inside_the_outlines_a_step_moves_points_as_their_neighbours_and_gains_as_promised(
    bench, plain
):
    """Points inside are in balance under the cost, and slopes by the outlines say all there is."""
    reach = bench.reach(plain, bench.seams(plain.points), bench.response(plain))
    change, _ = reach.change(bench.wanted(plain), farthest=4.0)
    pull = (bench.cost.matrix @ change.ravel()).reshape(-1, 2)
    inside, way = bench.cost.inside, reach.ways[:, :5]
    assert np.abs(pull[inside]).max() < 1e-6 * np.abs(pull).max()
    outlines = bench.cost.on_outlines(reach.slopes)
    assert outlines @ way == pytest.approx(reach.slopes @ way, abs=1e-6)
    assert np.abs(outlines.reshape(len(outlines), -1, 2)[:, inside]).max() == 0.0


def test_rounds_bring_the_arm_home_and_each_is_better(bench, plain):
    tries = corrected_filled(bench, plain, rounds=4)
    costs = [float(np.sum(bench.wanted(t) ** 2)) for t in tries]
    assert all(after < before for before, after in zip(costs, costs[1:], strict=False))
    assert costs[-1] < 0.02 * costs[0]
    assert tries[-1].miss.swing_deg < 0.5 < 5.0 < plain.miss.swing_deg
    assert tries[-1].miss.cap_mean < 1.0


def test_a_piece_that_runs_over_itself_is_refused(bench, plain):
    # one leg of a dart pushed over the other near the point, the cloth beside it giving way
    outer = bench.shapes.flattenings[0]
    legs = [outer.points[s.path] for s in outer.panel.sides if s.seam == "dart 1"]
    leg = max(legs, key=lambda line: line[:, 0].mean())
    leg = leg[np.argsort(leg[:, 1])]
    points = plain.points.copy()
    x, y = outer.points.T
    lobe = np.flatnonzero((y > leg[0, 1]) & (x > np.interp(y, leg[:, 1], leg[:, 0]) - 1e-9))
    near = np.linalg.norm(outer.points[lobe] - leg[2], axis=1)
    points[lobe, 0] -= 14.0 * np.exp(-((near / 30.0) ** 2))
    with pytest.raises(UnrollError, match="of cloth twice"):
        bench.filled(points)


def test_a_mouth_that_the_sheet_fixes_stays_and_the_rest_becomes_ease():
    fixed = Make(darts=(DartChoice(intake=40.0), DartChoice()))
    bench = bench_of(rounded_shape(sample_measures()), fixed, Cloth(), DARTS, edge=15.0)
    free = bench_of(rounded_shape(sample_measures()), Make(), Cloth(), DARTS, edge=15.0)
    assert bench.intakes(bench.shapes.points)[0].width == pytest.approx(40.0, abs=0.05)
    tries = corrected_filled(bench, bench.plain(), rounds=2)
    assert bench.intakes(tries[-1].points)[0].width == pytest.approx(40.0, abs=0.05)
    less = free.intakes(free.shapes.points)[0].width - 40.0
    assert bench.ease == pytest.approx(free.ease + less, abs=0.5)
