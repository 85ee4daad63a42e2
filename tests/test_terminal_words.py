"""What the terminal says once everything is made: the verdict, what to do, the worst doubt."""

from __future__ import annotations

import re
from dataclasses import replace

from tests.made_arms import (
    corrected_result,
    made_result,
    result_of,
)
from tests.report_pages import BOTH_CORRECTED, CORRECTED, READY
from unroll.nouns import (
    Estimate,
    Notice,
    Slip,
)
from unroll.show import words
from unroll.show.phrases import (
    doubt_sentence,
    headline,
    slip_words,
)
from unroll.show.words import second_look_line, terminal_lines


def test_the_terminal_says_the_verdict_then_what_to_do() -> None:
    lines = terminal_lines(CORRECTED, READY)
    assert lines[0] == (
        "Sewn and filled, this arm will match your tape within 1/16 in and hang within half a "
        "degree."
    )
    assert lines[1].startswith("Next: print the pattern at 100 % (2 pages); you need ")
    assert "of filling for two arms" in lines[1]
    assert lines[2] == (
        "The worst doubt: with cutting 1/32 in (0.7 mm) off the line, the wrist may be off by up "
        "to 5/16 in."
    )
    assert lines[3] == "One of your measures is a guess: forearm girth. Tape what you can."
    assert lines[4].startswith("Drafted by hand from the same measures, it would match your tape")
    assert lines[4].endswith("with the wrist off by 2 3/16 in.")
    assert lines[5].startswith("In the report: cap arc 1 could not be kept as measured;")


def test_a_reading_that_is_not_used_is_said_to_be_none_that_was_kept() -> None:
    (arm,) = CORRECTED.arms
    taken = Estimate("cap_height", 160.0, "15 cm was measured, too short", reading_mm=150.0)
    measures = replace(arm.measures, estimated=(taken,))
    line = second_look_line(replace(CORRECTED, arms=(replace(arm, measures=measures),)))
    assert line.startswith("In the report: cap height and cap arc 1 could not be kept as measured;")


def test_measures_that_fight_come_first_where_something_is_outside_its_limits() -> None:
    fight = Notice("cap_height", "cap_height 6 in is long for the rest", fights=True)
    odd = Notice("wrist_girth", "wrist_girth is unusual")
    sheet = replace(CORRECTED.sheet, notices=(odd, fight))
    assert not terminal_lines(replace(CORRECTED, sheet=sheet), READY)[0].startswith("First")
    arm = CORRECTED.arms[0]
    verdicts = (replace(arm.verdicts[0], value=99.0), *arm.verdicts[1:])
    outside = replace(CORRECTED, sheet=sheet, arms=(replace(arm, verdicts=verdicts),))
    assert terminal_lines(outside, READY)[0] == (
        "First look at your measures: cap_height 6 in is long for the rest."
    )


def test_it_is_eight_lines_for_one_arm_and_ten_for_two() -> None:
    assert len(terminal_lines(CORRECTED, READY)) <= 7  # and where it is written
    lines = terminal_lines(BOTH_CORRECTED, READY)
    for line in lines:
        named = re.findall(r"\b(left|right|both) arms?\b", line, re.I)
        assert len(named) == 1 or line.startswith(("Next:", "In the report:"))
    left, right = BOTH_CORRECTED.arms
    fewer = replace(right, measures=replace(right.measures, estimated=()),
                    verdicts=(replace(right.verdicts[0], value=99.0), *right.verdicts[1:]),
                    faults=("dart 1 takes in 120 mm; the sheet says 110",))  # fmt: skip
    fight = Notice("cap_height", "cap_height 6 in is long for the rest", fights=True)
    sheet = replace(BOTH_CORRECTED.sheet, notices=(fight, fight))
    worst = terminal_lines(replace(BOTH_CORRECTED, sheet=sheet, arms=(left, fewer)), READY)
    assert len(lines) <= len(worst) <= 9
    assert sum("the worse of the two: drafted by hand" in line for line in worst) == 1


def test_a_seam_outside_its_limits_is_told_where_the_arm_is_within_all_of_them() -> None:
    (arm,) = CORRECTED.arms
    within = replace(arm, faults=(), verdicts=tuple(replace(v, value=0.0) for v in arm.verdicts))
    result = replace(CORRECTED, arms=(within,))
    wrong = replace(READY, faults=("cap seam: 30 mm to ease in; the cloth takes 3 mm", "two"))
    told = ("Before you cut: cap seam: 30 mm to ease in; the cloth takes 3 mm (and 1 more, on its "
            "cover).")
    assert told in terminal_lines(result, wrong)
    assert not any(line.startswith("Before you cut") for line in terminal_lines(result, READY))
    lines = terminal_lines(BOTH_CORRECTED, wrong)
    assert len(lines) <= 9


def test_what_is_the_same_of_two_arms_is_said_once() -> None:
    left, right = BOTH_CORRECTED.arms
    alike = replace(right, measures=replace(left.measures, side="right"), slips=left.slips)
    lines = terminal_lines(replace(BOTH_CORRECTED, arms=(left, alike)), READY)
    assert "Both arms: one of your measures is a guess: forearm girth. Tape what you can." in lines


def test_guesses_that_matter_most_are_named() -> None:
    arm = corrected_result()
    estimate = arm.measures.estimated[0]
    names = ("wrist_girth", "forearm_girth", "cap_height", "armhole.width")
    measures = replace(arm.measures, estimated=tuple(replace(estimate, name=n) for n in names))
    lines = terminal_lines(result_of(replace(arm, measures=measures)), None)
    assert (
        "4 of your measures are guesses; cap height and armhole width matter most. Tape what you "
        "can." in lines
    )


def test_what_was_not_worked_out_is_said() -> None:
    lines = terminal_lines(made_result(rings=12), None)
    assert lines[0] == "This arm was not sewn by calculation, so its fit is not known."
    assert "Nothing is printed yet: a seam is wrong, and the report says which." in lines
    assert "How far these figures can be trusted was not worked out." in lines
    fault = replace(corrected_result(), faults=("dart 1 takes in 120 mm; the sheet says 110",))
    told = terminal_lines(result_of(fault), None)
    assert "To be sewn with care: dart 1 takes in 120 mm; the sheet says 110." in told


def test_the_headline_names_the_worst_miss_and_counts_the_others() -> None:
    arm = corrected_result(wrist_mm=30.0, swing_deg=2.0)
    assert headline(arm, "mm", subject="the left arm") == (
        "Sewn and filled, the left arm will differ from your tape by up to 1 mm, and hang "
        "2.0° from where yours does. "
        "Not as wanted: the wrist off by 30 mm (wanted: 3 mm), and 1 more. Longer darts would help."
    )


def test_the_worst_doubt_is_none_where_nothing_was_varied() -> None:
    arm = corrected_result()
    assert arm.certainty is not None
    assert doubt_sentence(replace(arm, certainty=replace(arm.certainty, cases=())), "mm") == ""
    assert doubt_sentence(replace(arm, certainty=None), "mm") == ""


def test_the_worst_doubt_is_a_reading_that_carries_the_arm_farther_than_any_assumption() -> None:
    off = Slip("shoulder_to_inner_elbow", 5.0, False, 0.0, 3.4, 3.6, 16.7, 0.1, 0.3)
    guess = Slip("underarm_behind", 15.0, True, 0.0, 8.5, 26.0, 60.7, 0.2, 0.5)
    small_one = Slip("elbow_girth", 4.0, False, 1.6, 0.0, 0.0, 0.0, 0.0, 0.0)
    arm = corrected_result()
    assert doubt_sentence(replace(arm, slips=(off,)), "in") == (
        "The worst doubt: shoulder to inner elbow, read 3/16 in wrong, moves the wrist by 11/16 in."
    )
    assert doubt_sentence(replace(arm, slips=(guess, off)), "cm") == (
        "The worst doubt: how far the underarm lies behind the plumb line was not measured, and "
        "15 mm off there moves the wrist by 61 mm."
    )
    assert "cutting" in doubt_sentence(replace(arm, slips=(small_one,)), "mm")
    assert slip_words(small_one, "mm") == (
        "elbow girth, read 4 mm wrong, changes that girth by 1.6 % and nothing else"
    )


def test_a_shape_with_no_girths_still_has_a_headline() -> None:
    arm = corrected_result(girths=())
    assert "match your tape within 1 mm" in headline(arm, "mm")


def test_guesses_are_ranked_by_what_the_guessed_ones_move() -> None:
    names = ("armhole girth", "cap_height", "inner_elbow_to_wrist")
    arm = corrected_result()
    guessed = tuple(Estimate(name, 100.0, "a guess") for name in names)
    slips = (
        Slip("armhole", 4.0, False, 0.0, 0.2, 1.5, 99.0, 1.6, 3.8),  # read, not guessed
        Slip("inner_elbow_to_wrist", 15.0, True, 0.0, 0.0, 0.0, 15.0, 0.0, 0.0),
        Slip("cap_height", 15.0, True, 0.0, 0.2, 2.1, 2.3, 1.7, 7.2),
    )
    arm = replace(arm, measures=replace(arm.measures, estimated=guessed), slips=slips)
    line = words.guesses_line(result_of(arm), arm)
    assert line.startswith(
        "3 of your measures are guesses; inner elbow to wrist and cap height matter most"
    )
