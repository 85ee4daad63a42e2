"""A dart layout that takes in too little is called out, with what would help."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.pipeline.making import Scope, make_result
from unroll.reporting import layout_caution
from unroll.types import Cloth, DartChoice, Make, Sheet
from unroll.types.corrected import Closing

EASE = Make(cap="ease")


def judged(closing: Closing, *, swing: float, inward: float) -> Closing:
    """A closing as if its uncorrected arm had swung, and its correction turned, so far."""
    return replace(
        closing,
        before=replace(closing.before, swing_deg=swing),
        correction=replace(closing.correction, outward_rad=-np.radians(inward)),
    )


def test_a_layout_that_swings_a_little_is_sound(quick_closing) -> None:
    assert layout_caution(judged(quick_closing, swing=7.9, inward=9.9), Make()) == ""
    # an arm that is turned outward is not turned inward too far
    assert layout_caution(judged(quick_closing, swing=4.0, inward=-15.0), Make()) == ""


def test_either_sign_alone_is_told_with_its_limit(quick_closing) -> None:
    swings = layout_caution(judged(quick_closing, swing=12.4, inward=3.0), Make())
    assert "swings 12° off (a sound layout: under 8°)" in swings and "inward" not in swings
    turned = layout_caution(judged(quick_closing, swing=5.0, inward=26.0), Make())
    assert "turn the arm 26° inward (a sound layout: under 10°)" in turned
    assert "swings" not in turned


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
    assert help_ in layout_caution(judged(quick_closing, swing=20.0, inward=12.0), make)


def test_a_seam_down_the_outside_is_not_told_to_become_one(quick_closing) -> None:
    seam = replace(quick_closing.intakes[0], length=260.0)
    closing = replace(judged(quick_closing, swing=20.0, inward=0.0), intakes=(seam,))
    assert "a longer seam, darts instead of it" in layout_caution(closing, Make())


def test_it_stands_among_what_the_maker_reads_first(quick_closing) -> None:
    sheet = Sheet((sample_measures(),), Cloth(), Make())
    scope = Scope(14.0, draft=False, fill=False, certain=False)
    for closing, is_there in (
        (quick_closing, False),
        (judged(quick_closing, swing=31.0, inward=0.0), True),
    ):
        advice = make_result(sheet, scope=scope, closings=(closing,)).arms[0].advice
        assert ("dart layout" in advice) is is_there
