"""A dart layout that takes in too little is called out, with what would help."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.made_arms import corrected_result, made_arm_result, result_of
from unroll.nouns import ArmResult, Cloth, DartChoice, Make
from unroll.show.words import arm_advice, layout_caution

EASE = Make(cap="ease")


def judged(*, swing: float, shoulder: float) -> ArmResult:
    """An arm whose pieces still swing, and lie off at the shoulder, so far."""
    return corrected_result(swing_deg=swing, cap_p95=shoulder)


def test_a_layout_whose_corrected_arm_hangs_and_sits_is_sound() -> None:
    assert layout_caution(judged(swing=0.9, shoulder=7.9), Make(), "mm") == ""


def test_pieces_that_were_not_sewn_are_not_judged() -> None:
    assert layout_caution(made_arm_result(rings=12), Make(), "mm") == ""


def test_pieces_that_were_not_corrected_swing_for_want_of_it() -> None:
    bare = replace(judged(swing=6.0, shoulder=12.0), correction=None)
    assert layout_caution(bare, Make(), "mm") == ""


def test_ends_of_cloth_alone_are_at_fault_then_and_not_the_cap() -> None:
    arm = judged(swing=20.0, shoulder=12.0)
    soft = replace(arm.sewn[arm.source], cloth=Cloth(ends="cloth"))
    assert layout_caution(replace(arm, sewn={arm.source: soft}), Make(), "mm") == ""


def test_either_sign_alone_is_told_with_its_limit() -> None:
    swings = layout_caution(judged(swing=3.4, shoulder=3.0), Make(), "mm")
    assert "swings 4 degrees (wanted: under one degree)" in swings and "shoulder is" not in swings
    stands = layout_caution(judged(swing=0.4, shoulder=12.0), Make(), "in")
    assert "the shoulder is up to 1/2 in off (wanted: under 5/16 in)" in stands
    assert "swings" not in stands


@pytest.mark.parametrize(
    ("make", "help_"),
    [
        (EASE, 'write cap = "darts" in the sheet'),
        (Make(dart_count=2), "Leave dart_count out of the sheet"),
        (Make(darts=(DartChoice(at=30.0),)), "Leave darts out of the sheet"),
        (Make(), "tape the cap and the armhole again"),
    ],
)
def test_what_would_help_depends_on_what_the_sheet_fixes(make: Make, help_: str) -> None:
    assert help_ in layout_caution(judged(swing=20.0, shoulder=12.0), make, "mm")


def test_a_seam_down_the_outside_is_not_told_to_become_one() -> None:
    arm = judged(swing=20.0, shoulder=3.0)
    seam = replace(arm.intakes[0], length=260.0, is_seam=True)
    words = layout_caution(replace(arm, intakes=(seam,)), Make(), "mm")
    assert "a longer seam, darts instead of it" in words


def test_it_stands_among_what_the_maker_reads_first() -> None:
    for swing, is_there in ((0.4, False), (31.0, True)):
        result = result_of(judged(swing=swing, shoulder=3.0))
        assert ("dart layout" in arm_advice(result, result.arms[0])) is is_there
