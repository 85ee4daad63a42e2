"""The recipe from measures to flat pieces: what the sheet fixes is kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.correct import unrolling
from unroll.correct.unrolling import cap_length, lay, try_darts
from unroll.errors import UnrollError
from unroll.flat.cutting import cut
from unroll.flat.darting import mouth_intakes
from unroll.flat.flattening import flatten
from unroll.job import PREVIEW, make_result, silent
from unroll.nouns import Cloth, DartChoice, DartLine, Make, Sheet

DARTS = (DartLine(45.0, 80.0), DartLine(-45.0, 80.0))


@pytest.fixture(scope="module")
def shape():
    return shape_arm(sample_measures())


@pytest.fixture(scope="module")
def outer(shape):
    return cut(mesh_arm(shape, edge=10.0, darts=DARTS))[0]


@pytest.mark.parametrize("wanted", [(60.0, 60.0), (70.0, 80.0), (100.0, 100.0)])
def test_the_sheet_fixes_the_intake_of_each_dart(outer, wanted):
    make = Make(darts=tuple(DartChoice(intake=w) for w in wanted))
    assert mouth_intakes(lay(outer, make)) == pytest.approx(wanted, rel=1e-6)


def test_an_intake_below_what_the_cap_asks_for_becomes_ease(outer):
    natural = sum(mouth_intakes(lay(outer, Make())))
    flat = lay(outer, Make(darts=(DartChoice(intake=60.0), DartChoice(intake=60.0))))
    laid = sum(_length(flat.points[s.path]) for s in outer.sides if s.seam == "cap seam")
    assert laid - cap_length(outer) == pytest.approx(natural - 120.0, abs=1e-3)


def _length(points):
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def test_the_manner_ease_lengthens_the_cap_seam(shape):
    panel = cut(mesh_arm(shape, edge=10.0))[0]
    flat = lay(panel, Make(cap="ease", cap_ease=25.0))
    cap = next(side for side in panel.sides if side.seam == "cap seam")
    assert _length(flat.points[cap.path]) == pytest.approx(cap_length(panel) + 25.0, abs=1e-3)


@pytest.mark.parametrize(
    ("mouths", "message"),
    [
        ({"dart 9": 20.0}, 'there is no dart "dart 9" whose intake could be fixed'),
        ({"dart 1": -3.0}, "dart 1 is to take in -3.0 mm; expected a width above 0"),
    ],
)
def test_an_intake_that_cannot_be_is_refused(outer, mouths, message):
    with pytest.raises(UnrollError, match=message):
        flatten(outer, mouths=mouths)


def test_a_layout_that_does_not_lie_flat_is_passed_over(shape, monkeypatch):
    real = unrolling.lay

    def refuses_pairs(panel, make):
        if sum(side.seam.startswith("dart") for side in panel.sides) == 4:
            raise UnrollError("outer: the flat piece folds over itself")
        return real(panel, make)

    monkeypatch.setattr(unrolling, "lay", refuses_pairs)
    tried = try_darts(shape, Make(), Cloth(), tell=silent)
    assert {len(trial.darts) for trial in tried} == {0, 1, 3}


def test_where_no_layout_lies_flat_the_reason_is_given(shape, monkeypatch):
    def refuses(panel, make):
        raise UnrollError("outer: the flat piece folds over itself")

    monkeypatch.setattr(unrolling, "lay", refuses)
    with pytest.raises(UnrollError, match="the flat piece folds over itself"):
        try_darts(shape, Make(), Cloth(), tell=silent)


def test_two_arms_of_their_own_are_made_apart():
    left = sample_measures()
    right = sample_measures(side="right", upper_arm_girth=300.0)
    result = make_result(Sheet((left, right), Cloth(), Make(dart_count=2)), scope=PREVIEW)
    assert [arm.measures.side for arm in result.arms] == ["left", "right"]
    girths = [
        next(row.got_mm for row in arm.tape if row.name == "upper_arm_girth") for arm in result.arms
    ]
    assert girths == pytest.approx([286.0, 300.0], abs=0.5)
    outer = [next(p for p in arm.pieces["unrolled"] if p.name == "outer") for arm in result.arms]
    assert all(piece.area > 0 for piece in outer)


def test_the_number_of_darts_of_the_sheet_is_kept():
    sheet = Sheet((sample_measures(),), Cloth(), replace(Make(), dart_count=1))
    arm = make_result(sheet, scope=PREVIEW).arms[0].arm
    assert [name for name in arm.paths if name.startswith("dart")] == ["dart 1"]


def test_advice_names_the_sheet_where_it_sets_what_the_cloth_gives():
    cloth = Cloth(name="jersey", gives_percent=9.0)
    arm = make_result(Sheet((sample_measures(),), cloth, Make()), scope=PREVIEW).arms[0]
    assert "jersey gives about 9 % (your sheet)" in arm.advice["inner"]
