"""Darts are proposed where the flattening suffers, and the sheet can override each."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.correct.unrolling import try_darts
from unroll.flat.cutting import cut
from unroll.flat.darting import Surplus, Trial, cap_surplus, choose, layouts, mouth_intakes
from unroll.flat.flattening import flatten, flatten_free
from unroll.job import silent
from unroll.nouns import Cloth, DartChoice, DartLine, Make


@pytest.fixture(scope="module")
def shape():
    return shape_arm(sample_measures())


@pytest.fixture(scope="module")
def trials(shape):
    return try_darts(shape, Make(), Cloth(), tell=silent)


def even_surplus(whole=80.0, half=84.0):
    at = np.linspace(half, -half, 41)
    return Surplus(at, np.linspace(0.0, whole, 41))


def test_a_cap_left_free_gains_length_over_the_armhole(shape):
    surplus = cap_surplus(flatten_free(cut(mesh_arm(shape, edge=12.0))[0]))
    assert surplus.whole > 30.0
    assert np.all(np.diff(surplus.at) < 0)
    assert surplus.at[0] == pytest.approx(-surplus.at[-1])


def test_darts_lower_what_the_cloth_must_give(trials):
    best = {n: min(t.asked_percent for t in trials if len(t.darts) == n) for n in range(4)}
    assert best[1] < 0.6 * best[0]
    assert best[2] < 0.6 * best[0]
    assert best[3] < 0.4 * best[0]


def test_layouts_have_none_to_three_darts_in_matching_pairs():
    tried = layouts(even_surplus(), Make(), eases_percent=5.0)
    assert {len(layout) for layout in tried} == {0, 1, 2, 3}
    for layout in tried:
        places = [dart.at for dart in layout]
        assert places == pytest.approx([-place for place in places[::-1]])


def test_a_surplus_that_eases_in_needs_no_dart():
    assert layouts(even_surplus(whole=5.0), Make(), eases_percent=5.0) == ((),)


def test_the_manner_ease_has_no_darts():
    assert layouts(even_surplus(), Make(cap="ease"), eases_percent=5.0) == ((),)


def test_the_sheet_fixes_the_number_of_darts():
    tried = layouts(even_surplus(), Make(dart_count=2), eases_percent=5.0)
    assert {len(layout) for layout in tried} == {2}


def test_the_sheet_fixes_place_and_length_of_each_dart():
    chosen = (DartChoice(at=50.0, length=70.0), DartChoice(at=-40.0, length=90.0))
    tried = layouts(even_surplus(), Make(darts=chosen), eases_percent=5.0)
    assert [[(dart.at, dart.length) for dart in layout] for layout in tried] == [
        [(50.0, 70.0), (-40.0, 90.0)]
    ]


def test_a_dart_fixed_in_part_leaves_the_rest_to_the_program():
    tried = layouts(even_surplus(), Make(darts=(DartChoice(length=70.0),)), eases_percent=5.0)
    assert {dart.length for layout in tried for dart in layout} == {70.0}


def trial(count, asked, widest=50.0):
    return Trial((DartLine(0.0, 50.0),) * count, asked, (widest,) * count)


@pytest.mark.parametrize(
    ("trials", "count"),
    [
        ([trial(0, 2.0), trial(1, 1.0)], 0),  # good enough without
        ([trial(0, 18.0), trial(1, 9.0), trial(2, 8.0)], 1),  # the second is not worth it
        ([trial(0, 18.0), trial(1, 9.0), trial(2, 6.0), trial(3, 5.5)], 2),
        ([trial(1, 4.0, widest=120.0), trial(2, 6.0)], 2),  # too wide to be sewn
        ([trial(1, 4.0, widest=120.0)], 1),  # but all there is
    ],
)
def test_the_fewest_darts_win_beyond_which_one_more_is_not_worth_sewing(trials, count):
    assert len(choose(trials, gives_percent=3.0).darts) == count


def test_intake_is_the_width_of_the_open_mouth(shape):
    panel = cut(mesh_arm(shape, edge=12.0, darts=(DartLine(45.0, 80.0), DartLine(-45.0, 80.0))))[0]
    flat = flatten(panel)
    intakes = mouth_intakes(flat)
    mouths = [
        np.linalg.norm(flat.points[a.path[0]] - flat.points[b.path[-1]])
        for a, b in zip(panel.sides, panel.sides[1:])
        if a.seam == b.seam and a.seam.startswith("dart")
    ]
    assert sorted(intakes) == pytest.approx(sorted(mouths))
    assert min(intakes) > 20.0


def test_the_chosen_layout_is_one_that_was_tried(trials):
    chosen = choose(trials, gives_percent=3.0)
    assert any(t is chosen for t in trials)
    assert dataclasses.asdict(chosen)["asked_percent"] < 10.0
