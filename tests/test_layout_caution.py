"""A dart layout that takes in too little is called out, with what would help."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.samples import sample_measures
from unroll.job import Scope, make_result
from unroll.nouns import Cloth, DartChoice, Make, Sheet
from unroll.nouns.corrected import Closing
from unroll.show.darts import layout_caution

EASE = Make(cap="ease")


def judged(closing: Closing, *, swing: float, shoulder: float) -> Closing:
    """A closing as if its corrected arm still swung, and stood off at the shoulder, so far."""
    return replace(closing, after=replace(closing.after, swing_deg=swing, cap_p95=shoulder))


def test_a_layout_whose_corrected_arm_hangs_and_sits_is_sound(quick_closing) -> None:
    assert layout_caution(judged(quick_closing, swing=0.9, shoulder=7.9), Make()) == ""


def test_either_sign_alone_is_told_with_its_limit(quick_closing) -> None:
    swings = layout_caution(judged(quick_closing, swing=3.4, shoulder=3.0), Make())
    assert "swings 3° off (wanted: under 1°)" in swings and "shoulder stands" not in swings
    stands = layout_caution(judged(quick_closing, swing=0.4, shoulder=12.0), Make())
    assert "the shoulder stands up to 12 mm off (wanted: under 8 mm)" in stands
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
def test_what_would_help_depends_on_what_the_sheet_fixes(quick_closing, make, help_) -> None:
    assert help_ in layout_caution(judged(quick_closing, swing=20.0, shoulder=12.0), make)


def test_a_seam_down_the_outside_is_not_told_to_become_one(quick_closing) -> None:
    seam = replace(quick_closing.intakes[0], length=260.0)
    closing = replace(judged(quick_closing, swing=20.0, shoulder=3.0), intakes=(seam,))
    assert "a longer seam, darts instead of it" in layout_caution(closing, Make())


def test_it_stands_among_what_the_maker_reads_first(quick_closing) -> None:
    sheet = Sheet((sample_measures(),), Cloth(), Make())
    scope = Scope(14.0, draft=False, fill=False, certain=False)
    for closing, is_there in (
        (quick_closing, False),
        (judged(quick_closing, swing=31.0, shoulder=3.0), True),
    ):
        advice = make_result(sheet, scope=scope, closings=(closing,)).arms[0].advice
        assert ("dart layout" in advice) is is_there
