"""What a reading that is off moves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import shape_arm
from unroll.correct import slips
from unroll.correct.slips import slips_of
from unroll.errors import UnrollError
from unroll.nouns import Estimate, Slip


@pytest.fixture(scope="module")
def found() -> dict[str, Slip]:
    measures = replace(sample_measures(), estimated=(Estimate("elbow_girth", 246.0, "a guess"),))
    return {slip.name: slip for slip in slips_of(shape_arm(measures))}


def test_a_longer_forearm_carries_the_wrist_and_nothing_else(found: dict[str, Slip]) -> None:
    slip = found["inner_elbow_to_wrist"]
    # 3 %: the tape runs down the front of a forearm that is bent against the axis
    assert slip.wrist_mm == pytest.approx(slip.by, rel=0.03)
    assert slip.elbow_mm == pytest.approx(0.0, abs=0.05)
    assert slip.cap_p95 == pytest.approx(0.0, abs=0.05)


def test_a_limbs_girth_changes_itself_alone_and_a_guess_is_off_by_more(
    found: dict[str, Slip],
) -> None:
    measures = sample_measures()
    read, guess = found["forearm_girth"], found["elbow_girth"]
    assert not read.is_guess and guess.is_guess and guess.by == 3.0 * read.by
    assert read.worst_girth_percent == pytest.approx(100 * read.by / measures.forearm_girth)
    assert guess.moves == 0.0


def test_a_length_down_the_front_bends_the_elbow_as_its_lever_says(found: dict[str, Slip]) -> None:
    """A tape 5 mm longer down the front straightens the elbow by twice 5 mm over its depth.

    The elbow's own section halves the bend.
    """
    measures, slip = sample_measures(), found["shoulder_to_inner_elbow"]
    depth = measures.elbow_girth / 3.14159  # front to back, of a round elbow
    lever = 2.0 * measures.inner_elbow_to_wrist * slip.by / depth
    # the axis turns against the seams, so only the size is a lever's: within a half
    assert 0.5 * lever < slip.wrist_mm < 1.5 * lever + slip.by


def test_how_the_double_stands_is_a_guess_until_it_is_measured(found: dict[str, Slip]) -> None:
    assert all(found[name].is_guess for name in slips.PLATE)
    assert found["underarm_behind"].wrist_mm > 30.0  # 15 mm over an armhole's height is 7 degrees
    assert "wrist_forward" not in found  # nobody said: the lengths along the arm decide


def test_the_reading_that_moves_the_arm_farthest_comes_first(found: dict[str, Slip]) -> None:
    moves = [slip.moves for slip in found.values()]
    assert moves == sorted(moves, reverse=True)


def test_a_reading_that_leaves_no_arm_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    shape = shape_arm(sample_measures())

    def refused(measures, **how):
        if measures != shape.measures:
            raise UnrollError("no such arm")
        return shape_arm(measures, **how)

    monkeypatch.setattr(slips, "shape_arm", refused)
    assert {slip.name for slip in slips_of(shape)} == set(slips.LIMB_GIRTHS)
