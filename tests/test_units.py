"""Lengths as people type them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from unroll.errors import UnrollError
from unroll.units import (
    UNITS,
    format_length,
    inches_first,
    parse_length,
    parse_number,
    unit_named,
)

# The inch is 25.4 mm exactly (international yard and pound agreement, 1959).
SPELLINGS = [
    ("3 5/8", "in", 92.075), ("3-5/8", "in", 92.075), ('3-5/8"', "cm", 92.075),
    ('3 5/8"', "mm", 92.075), ("3⅝", "in", 92.075), ("3⅝ in", "cm", 92.075),
    ("3 ⅝ inches", "cm", 92.075), ("⅝", "in", 15.875), ("5/8 in", "cm", 15.875),
    ("3 - 5/8 in", "cm", 92.075), ("3 5⁄8″", "cm", 92.075), ("3½''", "cm", 88.9),
    (".625", "in", 15.875), (",625", "in", 15.875), ("0.625", "in", 15.875),
    ("30,5 cm", "in", 305.0), ("30.5 cm", "in", 305.0), ("30,5", "cm", 305.0), ("30.", "cm", 300.0),
    ("92 mm", "in", 92.0), ("92mm", "cm", 92.0), ("92 MM", "cm", 92.0), ("0.35 m", "in", 350.0),
    ("12in.", "cm", 304.8), (" 12 ", "in", 304.8), ("12\u00a0cm", "in", 120.0),
    ("−3 cm", "in", -30.0), ("-3", "cm", -30.0), ("+3", "cm", 30.0), ("0", "cm", 0.0),
    (12, "in", 304.8), (12.5, "cm", 125.0), (0.1, "mm", 0.1),
]


@pytest.mark.parametrize(("typed", "unit", "mm"), SPELLINGS)
def test_lengths_are_read_as_people_type_them(typed: str, unit: str, mm: float) -> None:
    # one rounding of a fraction to the nearest float
    assert parse_length(typed, unit_named(unit)) == pytest.approx(mm, rel=1e-15)


REFUSED = [
    ("", "the length is empty"),
    ("   ", "the length is empty"),
    ("4'", "\"4'\" is in feet; write it in inches"),
    ("5 ft 3", '"5 ft 3" is in feet; write it in inches'),
    ("4' 3", "\"4' 3\" is in feet; write it in inches"),
    ("12 furlong", '"12 furlong" has the unit "furlong"; expected in, cm or mm'),
    ("1e3", '"1e3" has the unit "e3"; expected in, cm or mm'),
    ("abc", '"abc" is not a length'),
    ("in", '"in" is not a length'),
    ("1 2", '"1 2" is not one number'),
    ("3 5/8 1/2", '"3 5/8 1/2" is not one number'),
    ("1/2/3", '"1/2/3" is not one number'),
    ("3.5/8", '"3.5/8" is not one number'),
    ("1.2.3", '"1.2.3" is not one number'),
    ("35.0, 35.2", '"35.0, 35.2" is not one number'),
    ("5/0", '"5/0" divides by zero'),
    ("3 8/8", '"3 8/8" has a fraction of 8/8, which is a whole or more'),
    ("3 9/8", '"3 9/8" has a fraction of 9/8, which is a whole or more'),
    ("1,234", '"1,234" could be 1.234 or 1234; write it with a point, or without a comma'),
    ("9" * 41, '"' + "9" * 40 + '..." is too long for a length'),
    (float("nan"), "nan is not a length"),
    (float("inf"), "inf is not a length"),
    (True, "True is not a length"),
    (10**400, "a number of 401 digits is not a length"),
]


@pytest.mark.parametrize(("typed", "message"), REFUSED)
def test_what_is_no_length_is_refused_in_plain_words(typed: str, message: str) -> None:
    with pytest.raises(UnrollError) as refusal:
        parse_length(typed, "cm")
    assert str(refusal.value) == message


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(UnrollError, match='^unit is "yd"; expected "in", "cm" or "mm"$'):
        unit_named("yd")


def test_a_number_past_counting_is_refused() -> None:
    with pytest.raises(UnrollError, match=r'^"9{40}\.\.\." is too long for a number$'):
        parse_number("9" * 400)


def test_a_share_is_read_exactly() -> None:
    assert 3 * parse_number("1/3") == 1


SHOWN = [
    (92.075, "in", "3 5/8 in"), (15.875, "in", "5/8 in"), (304.8, "in", "12 in"),
    (0.0, "in", "0 in"), (93.0, "in", "3 11/16 in"), (-88.9, "in", "-3 1/2 in"),
    (0.2, "in", "0 in"), (-0.2, "in", "0 in"), (304.6, "cm", "30.5 cm"), (-0.2, "cm", "0.0 cm"),
    (92.0, "mm", "92 mm"), (92.35, "mm", "92.3 mm"),
]


@pytest.mark.parametrize(("mm", "unit", "text"), SHOWN)
def test_lengths_are_shown_as_makers_read_them(mm: float, unit: str, text: str) -> None:
    assert format_length(mm, unit_named(unit)) == text


def test_inches_can_be_shown_in_eighths() -> None:
    assert format_length(93.0, "in", denominator=8) == "3 5/8 in"


@given(st.floats(-3000, 3000), st.sampled_from(UNITS))
def test_what_is_shown_reads_back_within_the_rounding(mm: float, unit: str) -> None:
    shown = format_length(mm, unit_named(unit))
    # half of 1/16 in, or half of 0.1 cm, or half of 0.1 mm
    half_step = {"in": 25.4 / 32, "cm": 0.5, "mm": 0.05}[unit]
    assert abs(parse_length(shown, "mm") - mm) <= half_step + 1e-9
    assert format_length(parse_length(shown, "mm"), unit_named(unit)) == shown


FORMS = ["{} {}/{}", "{}-{}/{} in", '{} {}/{}"']


@given(st.integers(0, 200), st.integers(0, 63), st.sampled_from(FORMS))
def test_sixty_fourths_are_read_exactly(whole: int, top: int, form: str) -> None:
    assert parse_length(form.format(whole, top, 64), "in") == pytest.approx(
        25.4 * (whole + top / 64), rel=1e-15, abs=1e-12)


@given(st.text(max_size=50))
def test_any_text_is_a_length_or_one_line_of_refusal(text: str) -> None:
    try:
        assert abs(parse_length(text, "cm")) < 1e45  # 40 digits, metres
    except UnrollError as refusal:
        assert len(str(refusal).splitlines()) == 1


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("0.1 mm", "1/64 in (0.1 mm)"), ("-0.1 mm", "-1/64 in (-0.1 mm)"),
        ("1.2 mm", "3/64 in (1.2 mm)"), ("2 mm", "1/16 in (2 mm)"), ("0 mm", "0 in (0 mm)"),
        ("2530 mm", "99 5/8 in (2530 mm)"), ("3000 mm", "118 in (3000 mm)"),
        ("37, 40 mm", "1 7/16, 1 9/16 in (37, 40 mm)"),
    ],
)  # fmt: skip
def test_millimetres_that_stages_tell_are_said_in_inches_as_fine_as_they_are(said, told):
    assert inches_first(said, "in") == told
    assert inches_first(said, "cm") == inches_first(said, "mm") == said
