"""How far corrected figures can be trusted: what moves them, and how it is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from unroll.correct import certainty
from unroll.correct.certainty import in_one_sentence, in_sentences, moved, spread
from unroll.errors import UnrollError
from unroll.job import at_once
from unroll.nouns import Cloth
from unroll.nouns.corrected import SpreadRow

BASE = SpreadRow("as assumed", -0.3, 0.3, 0.4, 0.5, 4.0, 1.2, 3.5, (0.1, -0.3, 0.0))
STIFF = replace(BASE, name="cloth half as stiff", girth_percent=0.4, girths=(0.4, 0.1, 0.3))
CUT = replace(BASE, name="cut 0.7 mm astray (1)", outward_deg=0.9, forward_deg=1.2, wrist_mm=9.4)


def test_a_cause_is_judged_girth_by_girth_not_by_the_worst_ones() -> None:
    # the worst girth goes from -0.3 to +0.4, but no girth moves by 0.7
    by = moved(BASE, [STIFF], "stiff")
    assert by is not None and by.girth == pytest.approx(0.4) and by.hang == 0.0


def test_the_hang_moves_by_both_its_parts() -> None:
    by = moved(BASE, [CUT], "astray")
    assert by is not None and by.hang == pytest.approx(1.0)  # 0.6 outward, 0.8 to the front
    assert by.wrist == 9.4


def test_a_cause_without_a_case_is_not_spoken_of() -> None:
    assert moved(BASE, [CUT], "stiff") is None
    lines = in_sentences(BASE, [CUT], (0.3, 1.1), astray=0.7)
    assert len(lines) == 2 and lines[0].startswith("Cutting 0.7 mm astray")
    assert "0.3 mm over the shoulder" in lines[1] and "no pattern can remove it" in lines[1]
    assert in_one_sentence(BASE, []) == ""


def test_careful_cutting_is_said_to_matter_only_where_it_does() -> None:
    strayed = replace(CUT, girths=(0.6, -0.3, 0.0))
    said = in_sentences(BASE, [strayed], (0.3, 1.1), astray=0.7)[0]
    assert "leaves the wrist up to 9 mm off (4 as assumed): careful cutting matters more" in said
    far_off = replace(BASE, swing_deg=19.0)
    said = in_sentences(far_off, [strayed], (0.3, 1.1), astray=0.7)[0]
    assert "careful cutting" not in said


def test_one_sentence_names_the_cause_that_moves_the_hang_most() -> None:
    said = in_one_sentence(BASE, [STIFF, CUT])
    assert "girths by up to 0.4 % and the hang by up to 1.0° (most of it by cutting)" in said
    hard = replace(BASE, name="filled twice as hard", outward_deg=2.3)
    assert "2.0° (most of it by cloth and filling)" in in_one_sentence(BASE, [STIFF, CUT, hard])


def test_cloth_half_as_stiff_and_filling_twice_as_hard_are_the_same(quick_closing) -> None:
    # a membrane without bending takes a shape that depends on pressure over stiffness alone
    told: list[str] = []
    found = spread(quick_closing, Cloth(), spacing=13.0, tell=told.append)
    rows = {row.name: row for row in found.rows}
    pairs = (
        ("cloth half as stiff", "filled twice as hard"),
        ("cloth twice as stiff", "filled half as hard"),
    )
    for soft, hard in pairs:
        assert rows[soft].girths == pytest.approx(rows[hard].girths, abs=0.02)
        assert rows[soft].outward_deg == pytest.approx(rows[hard].outward_deg, abs=0.05)
    assert len(rows) == 8 == len(told)
    assert found.base.swing_deg == quick_closing.after.swing_deg
    assert found.summary.startswith("How sure that is")


def test_each_case_changes_one_thing_and_one_that_cannot_be_sewn_has_no_row(
    quick_closing, monkeypatch
) -> None:
    seen = []

    def sew(pieces, *, cloth, spacing, start):
        seen.append((pieces, cloth, spacing))
        if spacing < 13.0:
            raise UnrollError("too fine")
        return quick_closing.sewn_after

    monkeypatch.setattr(certainty, "sew", sew)
    found = spread(quick_closing, Cloth(), spacing=13.0)
    assert [row.name for row in found.rows][-1] == "cut 0.7 mm astray (3)"
    assert [cloth.stretch_percent for _, cloth, _ in seen[:2]] == [0.2, 0.8]
    assert [cloth.pressure_kpa for _, cloth, _ in seen[2:4]] == [1.0, 4.0]
    strayed = [pieces for pieces, _, _ in seen[4:7]]
    assert all(pieces[0] is not quick_closing.pieces[0] for pieces in strayed)
    assert all(pieces[2:] == quick_closing.pieces[2:] for pieces in strayed)  # the ends are card
    assert seen[-1][2] == 0.75 * 13.0
    assert not any("finer mesh" in line for line in found.lines)


def test_a_fault_beside_the_rest_is_raised_where_its_answer_is_asked_for() -> None:
    def fail() -> None:
        raise UnrollError("cannot be sewn")

    future = at_once(fail)
    with pytest.raises(UnrollError, match="cannot be sewn"):
        future.result()
