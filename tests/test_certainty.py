"""How far the figures of the pieces can be trusted: sewn again, one thing changed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from unroll.correct import certainty
from unroll.correct.certainty import (
    CUT_ASTRAY_MM,
    certainty_of,
    grown,
    miscut,
    resewings,
    stretched,
)
from unroll.errors import UnrollError
from unroll.nouns import Certainty, Cloth, Correction, Piece, PieceSide
from unroll.sewn.sewing import as_joined, joined_again, refilled

CLOTH = Cloth()


@pytest.fixture(scope="module")
def found(correction: Correction) -> Certainty:
    return certainty_of(correction.after, CLOTH, spacing=13.0)


def test_every_cause_has_its_cases_and_the_first_is_as_assumed(
    found: Certainty, correction: Correction
) -> None:
    assert found.causes == ("stiffness", "filling", "weight", "sewing", "cutting", "mesh")
    assert [len(found.of(cause)) for cause in found.causes] == [2, 2, 2, 2, 3, 1]
    assert found.base.fit is correction.after.fit and found.astray == CUT_ASTRAY_MM


def test_cloth_half_as_stiff_and_filling_twice_as_hard_are_the_same(
    correction: Correction,
) -> None:
    # a membrane without bending or weight takes a shape of pressure over stiffness alone
    light = replace(CLOTH, filling_g_per_litre=0.0, weighs_g_per_m2=0.0)
    cases = [one.case() for one in resewings(correction.after, light)[:4]]
    stiffness, filling = cases[:2], cases[2:]
    for soft, hard in zip(stiffness, filling):
        a, b = soft.fit, hard.fit
        off = [[girth.off_percent for girth in fit.girths] for fit in (a, b)]
        assert off[0] == pytest.approx(off[1], abs=0.02)
        assert a.outward_deg == pytest.approx(b.outward_deg, abs=0.05)
    assert [case.name for case in stiffness] == ["cloth twice as stiff", "cloth half as stiff"]
    assert [case.name for case in filling] == ["filled half as hard", "filled twice as hard"]


def test_weight_hangs_the_arm_inward_and_lifting_it_lets_it_out(found: Certainty) -> None:
    """Half a degree to a degree at 60 g a litre, by an independent solver on other meshes."""
    nothing, twice = (case.fit.outward_deg for case in found.of("weight"))
    as_told = found.base.fit.outward_deg
    assert 0.3 < nothing - as_told < 1.5 and 0.3 < as_told - twice < 1.5


def test_sewing_a_millimetre_inside_makes_every_girth_smaller(found: Certainty) -> None:
    """Two seams, 1 mm on each side of each: 4 mm round the arm, less what the cloth gives."""
    inside, outside = (case.fit for case in found.of("sewing"))
    for small, usual, large in zip(inside.girths, found.base.fit.girths, outside.girths):
        if usual.name != "wrist":  # sewn to card
            assert usual.sewn_mm - small.sewn_mm == pytest.approx(4.0, abs=0.4), usual.name
            assert large.sewn_mm - usual.sewn_mm == pytest.approx(4.0, abs=0.4), usual.name


def test_girths_grow_with_softer_cloth_by_what_laplaces_law_says(found: Certainty) -> None:
    # girth grows by pressure times radius over stiffness: doubling either adds as much once more
    stiffness = 10.0 / CLOTH.stretch_percent
    hard = next(case for case in found.cases if case.name == "filled twice as hard")
    for now, then in zip(hard.fit.girths, found.base.fit.girths):
        if now.name == "wrist":  # sewn to card, which gives nothing
            continue
        more = 100e-3 * CLOTH.pressure_kpa * then.asked_mm / (2 * np.pi) / stiffness
        assert now.off_percent - then.off_percent == pytest.approx(more, rel=0.4), now.name


def test_each_case_changes_one_thing(correction: Correction) -> None:
    laid = correction.after
    as_cut, beside, astray, finer = (resewings(laid, CLOTH, spacing=13.0)[some] for some in (
        slice(6), slice(6, 8), slice(8, 11), slice(11, None)))  # fmt: skip
    assert all(one.pieces is laid.pieces and one.spacing is None for one in as_cut)
    cloths = [one.cloth for one in as_cut]
    assert [cloth.stretch_percent for cloth in cloths[:2]] == [0.2, 0.8]
    assert [cloth.pressure_kpa for cloth in cloths[2:4]] == [1.0, 4.0]
    assert [cloth.filling_g_per_litre for cloth in cloths[4:]] == [0.0, 120.0]
    inside, outside = (one.pieces[0].area for one in beside)
    assert inside < laid.pieces[0].area < outside
    assert all(one.pieces[0] is not laid.pieces[0] for one in astray)
    assert all(one.pieces[2:] == laid.pieces[2:] for one in astray)  # the ends are card
    assert [(one.pieces, one.spacing) for one in finer] == [(laid.pieces, 0.75 * 13.0)]
    assert all(one.cloth is CLOTH for one in (*beside, *astray, *finer))
    assert all(one.spacing == 13.0 for one in (*beside, *astray))


def test_a_case_that_cannot_be_sewn_is_left_out(correction: Correction, monkeypatch) -> None:
    def joined_again(pieces, *, cloth, spacing):
        raise UnrollError("too fine")

    monkeypatch.setattr(certainty, "joined_again", joined_again)
    found = certainty_of(correction.after, CLOTH, each=lambda do, those: map(do, those[4:]))
    assert [case.name for case in found.cases] == ["as if nothing weighed", "all twice as heavy"]


def test_a_case_that_cannot_be_measured_is_left_out_and_the_others_stay(
    correction: Correction, monkeypatch
) -> None:
    whole = certainty.fit_of

    def fit_of(sewn, wanted):
        if sewn.cloth.pressure_kpa > CLOTH.pressure_kpa:
            raise UnrollError("the tape's level misses the arm")
        return whole(sewn, wanted)

    monkeypatch.setattr(certainty, "fit_of", fit_of)
    found = certainty_of(correction.after, CLOTH, each=lambda do, those: map(do, those[2:4]))
    assert [case.name for case in found.cases] == ["filled half as hard"]


def test_a_shape_filled_again_is_what_its_pieces_sewn_again_come_to(
    correction: Correction,
) -> None:
    laid, soft = correction.after, stretched(CLOTH, 2.0)
    joined = as_joined(laid.sewn, laid.pieces)
    again = refilled(joined, cloth=soft, start=laid.sewn, up=laid.wanted.up)
    anew = joined_again(laid.pieces, cloth=CLOTH, spacing=13.0)
    whole = refilled(anew, cloth=soft, start=laid.sewn, up=laid.wanted.up)
    assert np.array_equal(anew.shell.faces, laid.sewn.mesh.faces)
    # the order of points differs, and so do the last bits of what adds them up
    assert np.allclose(again.mesh.vertices, whole.mesh.vertices, atol=1e-6) and again.cloth == soft
    for one, other, flat in zip(joined.sewn, anew.sewn, joined.flat, strict=True):
        assert np.array_equal(np.sort(one), np.sort(other)) and flat.shape == (len(one), 2)


def square(side: float = 200.0) -> Piece:
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side], [0, 0]], dtype=float)
    names = ("outer wrist", "front seam", "cap seam", "back seam")
    fine = [np.linspace(a, b, 41) for a, b in zip(corners[:-1], corners[1:], strict=True)]
    return Piece("outer", "corrected", "left", tuple(map(PieceSide, names, fine)))


def test_a_grown_square_is_larger_by_twice_the_growth():
    assert grown(square(), by=1.5).area == pytest.approx(203.0**2, rel=1e-9)
    assert grown(square(), by=-1.5).area == pytest.approx(197.0**2, rel=1e-9)


def test_a_straying_cut_strays_as_much_as_said_and_the_sides_still_meet():
    cut = miscut(square(), astray=0.7, seed=3)
    away = np.linalg.norm(cut.outline - square().outline, axis=1)
    assert np.sqrt(np.mean(away**2)) == pytest.approx(0.7, rel=1e-6)
    for one, other in zip(cut.sides, (*cut.sides[1:], cut.sides[0]), strict=True):
        assert np.array_equal(one.points[-1], other.points[0])
    assert np.array_equal(cut.outline, miscut(square(), astray=0.7, seed=3).outline)
    assert not np.array_equal(cut.outline, miscut(square(), astray=0.7, seed=4).outline)
