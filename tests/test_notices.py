"""What a sheet is told without being refused: readings that lie apart, and what is odd."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.test_bad_sheets import GOOD
from tests.test_estimates import CHILD
from unroll.errors import UnrollError
from unroll.sheets.fields import reading_of
from unroll.sheets.reading import read_sheet

# --- readings ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("readings", "wins"), [
    ([35.0, 35.2, 35.2], 35.2), ([35.2, 35.0, 35.4], 35.2), ([35.0, 35.4], 35.2),
    ([35.0, 35.0, 35.2, 35.2], 35.1), ([35.0, 35.0, 35.2, 35.2, 99.0], 35.2), ([35.0], 35.0),
])
def test_the_most_frequent_reading_wins_else_the_median(
    readings: list[float], wins: float
) -> None:
    assert reading_of(readings).mm == pytest.approx(wins)


@given(st.lists(st.floats(50, 500), min_size=1, max_size=9), st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(readings: list[float], random: Any) -> None:
    shuffled = list(readings)
    random.shuffle(shuffled)
    # the same value within 0.01 mm, which is what counts as one reading
    assert reading_of(shuffled).mm == pytest.approx(reading_of(readings).mm, abs=0.011)
    assert min(readings) <= reading_of(readings).mm <= max(readings)


def notices(text: str) -> list[str]:
    """Return what a sheet's notices say, without those on what is taken as usual."""
    return [n.text for n in read_sheet(text).notices if "not given, so" not in n.text]


def test_the_spread_of_readings_is_reported_and_warned_of_above_3_percent() -> None:
    near = GOOD.replace("wrist_girth = 15.8", "wrist_girth = [15.7, 15.8, 15.8]")
    assert notices(near) == [
        "wrist_girth: 3 readings from 15.7 to 15.8 cm (spread 0.6 %); 15.8 cm is used"]
    apart = GOOD.replace("wrist_girth = 15.8", 'wrist_girth = [15.8, "16,4 cm", 15.8]')
    assert notices(apart) == [
        "wrist_girth: 3 readings from 15.8 to 16.4 cm (spread 3.8 %); 15.8 cm is used. Warning: "
        "they lie more than 3 % apart; measure it again (was the tape at the same level, as "
        "tight?)"]


@pytest.mark.parametrize("typed", ["15.7; 15.8; 15.8", "15.7;158 mm;15,8 cm;", " 15.7 ;15.8; 15.8"])
def test_readings_with_semicolons_between_them_are_a_list(typed: str) -> None:
    text = GOOD.replace("wrist_girth = 15.8", f'wrist_girth = "{typed}"')
    assert notices(text) == [
        "wrist_girth: 3 readings from 15.7 to 15.8 cm (spread 0.6 %); 15.8 cm is used"]


@pytest.mark.parametrize(("typed", "told"), [
    ("15.7; 15.8 l", 'wrist_girth cannot be read: "15.8 l" has the unit "l"; expected in, cm or'),
    (";", 'wrist_girth cannot be read: ";" is not a length'),
    (51 * "15.7;", "wrist_girth has 51 readings; expected at most 50"),
])
def test_a_fault_among_readings_with_semicolons_is_told_as_in_a_list(typed: str, told: str) -> None:
    with pytest.raises(UnrollError) as caught:
        read_sheet(GOOD.replace("wrist_girth = 15.8", f'wrist_girth = "{typed}"'))
    assert told in str(caught.value)


def test_many_readings_that_agree_are_told_in_one_line() -> None:
    text = GOOD
    for name, value in (("wrist_girth", 15.8), ("elbow_girth", 24.6), ("upper_arm_girth", 28.6)):
        text = text.replace(f"{name} = {value}", f"{name} = [{value}, {value}, {value + 0.1:.1f}]")
    assert len(notices(text)) == 3
    apart = text.replace("width = 9.8", "width = [9.8, 9.8, 9.9]").replace(
        "cap_height = 16.0", "cap_height = [16.0, 17.0, 16.0]")
    first, second = (line for line in notices(apart) if "read" in line)
    assert "cap_height" in first and "Warning" in first
    assert second.startswith("4 measures were read more than once and agree within 1.0 %; the ")
    assert all(name in second for name in ("wrist_girth", "armhole width"))


def test_a_child_s_measures_beyond_the_surveys_are_told_in_one_line() -> None:
    told = [line for line in notices(CHILD) if "surveys" in line]
    assert len(told) == 1 and "of grown people" in told[0] and "a child's for instance" in told[0]


def test_readings_of_plates_and_arcs_are_reported_too() -> None:
    text = GOOD.replace("length = 24.4", "length = [24.4, 24.4, 24.5]").replace(
        "width = 9.8", "width = [9.8, 9.8, 9.9]")
    assert notices(text) == [
        "armhole width: 3 readings from 9.8 to 9.9 cm (spread 1.0 %); 9.8 cm is used",
        "cap_arcs 1 length: 3 readings from 24.4 to 24.5 cm (spread 0.4 %); 24.4 cm is used"]


# --- notices ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("old", "new", "said"), [
    ("wrist_girth = 15.8\nwrist_width = 5.8\nwrist_depth = 4.1", "wrist_girth = 6.2",
     "wrist_girth 6.2 cm is outside what the surveys of 1988 and 2012 saw, 12.8 to 20.6 cm "
     "(inches written as cm?)"),
    ("wrist_girth = 15.8\nwrist_width = 5.8\nwrist_depth = 4.1", "wrist_girth = 21",
     "wrist_girth 21.0 cm is outside what the surveys of 1988 and 2012 saw, 12.8 to 20.6 cm (fine "
     "if the arm is so; else measure it again)"),
    ("elbow_girth = 24.6", "elbow_girth = 31",
     "elbow_girth 31.0 cm is 108 % of upper_arm_girth 28.6 cm; usual is 62 to 102 % (lines mixed "
     "up, or the tape at another level?)"),
    ("shoulder_to_elbow = 33.8", "shoulder_to_elbow = 35.4",
     "the lengths down back and front bend the elbow by 47 degrees; a hanging arm has 0 to 45 "
     "(was the elbow bent?)"),
    ("shoulder_to_elbow = 33.8", "shoulder_to_elbow = 38.4",
     "the lengths down back and front, 38.4 cm and 31.9 cm, bend the elbow by 78 degrees; 38.0 cm "
     "and 32.3 cm are taken instead (was the elbow bent?)"),
    ("shoulder_to_elbow = 33.8", "shoulder_to_elbow = 31.1",
     "shoulder_to_elbow 31.1 cm is less than shoulder_to_inner_elbow 31.9 cm, though the "
     "back is the longer way; 32.0 cm and 31.0 cm are taken instead, for an elbow bent by 15.5 "
     "degrees as at rest (measure both again, or tell how far forward the wrist hangs)"),
    ("upper_arm_up = 12.5", "upper_arm_up = 17.8",
     "upper_arm_up 17.8 cm lies about as high as the underarm, 17.2 cm up (measured from the "
     "wrong end?); 15.9 cm is taken instead"),
    ("forearm_down = 6.2", "forearm_down = 22",
     "forearm_down 22.0 cm lies at the wrist, 23.6 cm down (measured from the wrong end?); 21.2 "
     "cm is taken instead"),
    ("wrist_girth = 15.8", "wrist_girth = 19.4",
     "wrist_width 5.8 cm and wrist_depth 4.1 cm do not go with wrist_girth 19.4 cm; 6.1 cm and "
     "4.3 cm are taken instead"),
    ("wrist_width = 5.8\nwrist_depth = 4.1", "wrist_width = 7.5",
     "wrist_width 7.5 cm leaves too little of wrist_girth 15.8 cm for its other way (lines mixed "
     "up?); 6.9 cm is taken instead"),
    ("{width = 9.8, height = 11.6}", "{width = 9.8, height = 11.6, girth = 42}",
     "armhole girth 42.0 cm does not go with armhole width 9.8 cm and height 11.6 cm (lines mixed "
     "up?); 40.0 cm is taken instead"),
    ("{width = 9.8, height = 11.6}", "{height = 11.6, girth = 25}",
     "armhole girth 25.0 cm does not go with armhole height 11.6 cm (lines mixed up?); 27.4 cm is "
     "taken instead"),
    ("length = 24.4", "length = 31.0",
     "the cap arc 31.0 cm long at 3.2 cm asks for an arm about 37.0 cm round under it; "
     "upper_arm_girth is 28.6 cm, with which an arc of about 24.7 cm would fit (one of the two "
     "mistaken?)"),
    ("wrist_width = 5.8\nwrist_depth = 4.1", "wrist_width = 4.1\nwrist_depth = 5.8",
     "wrist_depth 5.8 cm is more than wrist_width 4.1 cm; the width is across, thumb side to "
     "little-finger side (swapped?)"),
    ("cap_height = 16.0", "cap_height = 14.0",
     "cap_height 14.0 cm is less than the straight way over armhole height 11.6 cm and the depth "
     "of upper_arm_girth 28.6 cm, 14.5 cm, and would make a cone; about 15.3 cm would fit and is "
     "taken instead (measured straight down, or the girth over a bent arm?)"),
    ("length = 17.6", "length = 23.0",
     "the cap arc at 8.3 cm is longer than the one below it at 5.8 cm (lines mixed up?)"),
])
def test_what_is_odd_is_noted_and_not_refused(old: str, new: str, said: str) -> None:
    assert old in GOOD
    assert said in notices(GOOD.replace(old, new))


def test_a_good_sheet_has_nothing_to_note_but_usual_shapes() -> None:
    assert notices(GOOD) == []
    assert [n.text for n in read_sheet(GOOD).notices][2:] == [
        "not given, so taken from modelled arms: upper_arm_ratio 1.1, elbow_ratio 1.05, "
        "forearm_ratio 0.95 (two arms in three lie within 0.07; measure yours between two books)",
        "not given, so taken as usual: shoulder_slope_front 20 degrees, "
        "shoulder_slope_back 20 degrees (usual values, no source)"]
