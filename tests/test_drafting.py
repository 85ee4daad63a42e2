"""The flat draft: widths, ovals, caps and darts against trade facts and closed forms."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.samples import sample_measures
from tests.strategies import arm_measures
from unroll.drafts.advising import draft_notices, ease_advice, ease_percent
from unroll.drafts.bases import armhole_base, wrist_base
from unroll.drafts.caps import drawn_darts
from unroll.drafts.darts import dart_angle_rad, dart_intakes
from unroll.drafts.drafting import draft
from unroll.drafts.layout import inner_width
from unroll.errors import UnrollError
from unroll.maths.polylines import crosses_itself, cut_by_line
from unroll.nouns import Armhole, ArmMeasures, CapArc, Cloth, DartChoice, Make, Piece, mirrored

INCH = 25.4
EIGHTH = INCH / 8
MANNERS = ("ease", "darts")


def named(pieces: tuple[Piece, ...], name: str) -> Piece:
    return next(piece for piece in pieces if piece.name == name)


def width_of(piece: Piece, line: str) -> float:
    """Width of cloth along a reference line, open darts left out, by crossings of the outline."""
    points = piece.lines[line]
    outline = np.concatenate([piece.outline, piece.outline[:1]])
    # a hair below the level, so that a line drawn exactly through corners counts once
    cuts = cut_by_line(outline, points[0], points[-1] - points[0])
    assert len(cuts) % 2 == 0
    return float(np.sum(cuts[1::2] - cuts[::2]))


def girth_of(pieces: tuple[Piece, ...], line: str) -> float:
    return width_of(named(pieces, "inner"), line) + width_of(named(pieces, "outer"), line)


# --- trade facts ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("girth", "inner", "outer"),
    # common practice, no source: a third to the inner, to the nearest 1/8 in; the outer is the rest
    [(12.25, 4.125, 8.125), (9.5, 3.125, 6.375), (11.0, 3.625, 7.375), (6.5, 2.125, 4.375)],
)
def test_inner_and_outer_split_a_girth_as_makers_round_it(
    girth: float, inner: float, outer: float
) -> None:
    got = inner_width(girth * INCH, Make(round_to=EIGHTH))
    assert got / INCH == pytest.approx(inner, abs=1e-9)
    assert (girth * INCH - got) / INCH == pytest.approx(outer, abs=1e-9)


def test_rounded_widths_still_add_up_to_every_girth() -> None:
    measures = sample_measures()
    pieces = draft(measures, Make(round_to=EIGHTH), manner="ease")
    inner = width_of(named(pieces, "inner"), "elbow line")
    assert inner / EIGHTH == pytest.approx(round(inner / EIGHTH), abs=1e-6)
    assert girth_of(pieces, "elbow line") == pytest.approx(measures.elbow_girth, abs=1e-6)


def test_a_wrist_oval_meets_both_diameters_and_a_quarter_of_it_is_a_quarter_of_the_girth() -> None:
    # common practice, no source: girth 6 1/2 in on 2 1/2 by 1 5/8 in
    measures = sample_measures(
        wrist_girth=6.5 * INCH, wrist_width=2.5 * INCH, wrist_depth=1.625 * INCH
    )
    outline = wrist_base(measures, Fraction(1, 2)).outline
    assert np.ptp(outline[:, 0]) == pytest.approx(2.5 * INCH, abs=1e-6)
    assert np.ptp(outline[:, 1]) == pytest.approx(1.625 * INCH, abs=1e-3)
    first = outline[(outline[:, 0] >= -1e-9) & (outline[:, 1] >= -1e-9)]
    first = first[np.argsort(np.arctan2(first[:, 1], first[:, 0]))]
    quarter = np.linalg.norm(np.diff(first, axis=0), axis=1).sum()
    # chords of 0.5 mm lose 0.003 mm; the trade's quarter is 1 5/8 in
    assert quarter == pytest.approx(1.625 * INCH, abs=0.01)


def test_cap_surplus_is_shared_between_two_darts_as_makers_do() -> None:
    # common practice, no source: 10 3/4 in drafted over an arc of 10 in; 6 1/2 in sides into
    # armhole halves of 4 1/2 and 4 1/4 in
    assert dart_intakes(10.75 - 10.0) == (0.375, 0.375)
    assert dart_intakes(6.5 + 6.5 - 4.5 - 4.25) == (2.125, 2.125)
    assert dart_intakes(-1.0) == (0.0, 0.0)


def test_a_drafted_dart_takes_half_of_the_lower_levels_surplus() -> None:
    # a draft 10 3/4 in wide on the armhole's middle line (4 1/2 in of armhole and a third of an
    # upper arm of 18 3/4 in), where the arc is 10 in: 3/8 in to each dart
    measures = sample_measures(
        armhole=Armhole(4.5 * INCH, 6.0 * INCH, 16.6 * INCH),
        upper_arm_girth=18.75 * INCH, cap_height=8.0 * INCH,
        cap_arcs=(CapArc(3.0 * INCH, 10.0 * INCH),),
    )
    outer = named(draft(measures, Make(), manner="darts"), "outer")
    outline = np.concatenate([outer.outline, outer.outline[:1]])
    level = outer.lines["cap level 1"]
    cuts = cut_by_line(outline, level[0] - np.array([0.0, 1e-6]), np.array([1.0, 0.0]))
    assert len(cuts) == 6
    assert (cuts[-1] - cuts[0]) / INCH == pytest.approx(10.75, abs=1e-4)
    gaps = cuts[2:5:2] - cuts[1:4:2]
    assert gaps / INCH == pytest.approx([0.375, 0.375], abs=4e-4)  # 0.01 mm


# --- closed forms --------------------------------------------------------------------------------


def test_a_dart_of_half_an_inch_over_two_and_a_half_takes_out_eleven_and_a_half_degrees() -> None:
    # 2 asin(w / 2l), elementary
    assert np.degrees(dart_angle_rad(12.7, 63.5)) == pytest.approx(11.48, abs=0.005)


@pytest.mark.parametrize(
    ("width", "height", "girth"),
    # perimeters of |x/a|^n + |y/b|^n = 1 by quadrature: a = b = 1 with n = 2.5, 3, 4; a = 2, b = 1
    # with n = 2.5; the ellipse a = 5, b = 1 (Abramowitz & Stegun 17.3: 21.0100445397)
    [(100, 100, 327.335), (100, 100, 337.2495), (100, 100, 350.885), (200, 100, 501.4755),
     (500, 100, 1050.50222699)],
)
def test_an_armhole_oval_meets_width_height_and_girth(
    width: float, height: float, girth: float
) -> None:
    base = armhole_base(sample_measures(armhole=Armhole(width, height, girth)))
    assert np.ptp(base.outline, axis=0) == pytest.approx([width, height], abs=1e-6)
    # chords of 0.5 mm on radii above 20 mm lose at most 3e-5 of the length
    assert sum(side.length for side in base.sides) == pytest.approx(girth, rel=3e-5)
    assert base.area > 0  # anticlockwise


def test_the_armhole_base_starts_at_the_front_and_bears_its_four_notches() -> None:
    base = armhole_base(sample_measures())
    marks = {n.name: (base.notch_point(n), n.marks) for n in base.notches}
    assert marks["front"][0] == pytest.approx([49.0, -58.0], abs=1e-6)
    assert marks["back"][0] == pytest.approx([-49.0, -58.0], abs=1e-6)
    assert marks["shoulder"][0] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert marks["underarm"][0] == pytest.approx([0.0, -116.0], abs=1e-6)
    assert marks["front"][1] == 1 and marks["back"][1] == 2


def test_a_traced_armhole_is_followed() -> None:
    angle = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    # widest 8 mm below its middle, and longer in front
    x = np.where(np.cos(angle) > 0, 52.0, 46.0) * np.cos(angle + 0.12 * np.sin(angle))
    y = 58.0 * (np.sin(angle) - 1.0)
    outline = np.column_stack([x - x[np.argmax(y)], y])
    girth = np.linalg.norm(np.diff(np.vstack([outline, outline[:1]]), axis=0), axis=1).sum()
    hole = Armhole(float(np.ptp(outline[:, 0])), 116.0, float(girth), outline)
    pieces = draft(sample_measures(armhole=hole), Make(), manner="darts")
    base = named(pieces, "armhole base")
    assert sum(side.length for side in base.sides) == pytest.approx(girth, abs=0.01)
    assert not crosses_itself(named(pieces, "inner").outline)
    underarm = next(s for s in named(pieces, "inner").sides if s.seam == "underarm seam")
    assert underarm.length == pytest.approx(base.sides[1].length, abs=1e-6)
    cap = named(pieces, "outer").seam_length("cap seam")
    assert cap == pytest.approx(base.sides[0].length, abs=0.01)


def test_the_elbow_line_slants_by_the_bend_and_the_lower_arm_is_square_to_it() -> None:
    measures = sample_measures()
    inner = named(draft(measures, Make(), manner="ease"), "inner")
    elbow = inner.lines["elbow line"]
    slant = elbow[-1] - elbow[0]
    bend = np.degrees(np.arctan2(*slant[::-1]))
    # back less front length over the armhole's width: atan(9.5 / 98)
    assert bend == pytest.approx(np.degrees(np.arctan2(333.5 - 324.0, 98.0)), abs=1e-9)
    wrist = next(s for s in inner.sides if s.seam == "inner wrist").points
    down = wrist.mean(axis=0) - elbow.mean(axis=0)
    assert down @ slant == pytest.approx(0.0, abs=1e-6)
    assert np.linalg.norm(down) == pytest.approx(measures.inner_elbow_to_wrist, abs=1e-6)


def test_above_the_upper_arm_the_outers_side_keeps_its_distance_from_the_inners() -> None:
    pieces = draft(sample_measures(), Make(), manner="ease")
    inner = next(s for s in named(pieces, "inner").sides if s.seam == "back seam").points
    outer = next(s for s in named(pieces, "outer").sides if s.seam == "back seam").points[::-1]
    # the outer lies turned over: its back is on the right
    heights = np.linspace(-190.0, -60.0, 40)
    one = np.interp(-heights, -inner[:, 1], inner[:, 0])
    other = np.interp(-heights, -outer[:, 1], -outer[:, 0])
    assert one - other == pytest.approx(np.full(40, 286.0 / 6), abs=1e-3)


def test_the_eased_cap_is_raised_by_the_ease() -> None:
    for ease in (0.0, 10.0, 25.0, 40.0):
        outer = named(draft(sample_measures(), Make(cap_ease=ease), manner="ease"), "outer")
        assert outer.outline[:, 1].max() == pytest.approx(ease, abs=1e-9)


def test_the_darted_cap_rises_to_the_measured_height_and_fits_the_armhole() -> None:
    measures = sample_measures()
    pieces = draft(measures, Make(), manner="darts")
    outer = named(pieces, "outer")
    assert outer.outline[:, 1].max() == pytest.approx(162.0 - 116.0, abs=1e-6)
    base = named(pieces, "armhole base")
    assert outer.seam_length("cap seam") == pytest.approx(base.seam_length("cap seam"), abs=0.01)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_any_number_of_darts_meets_armhole_and_arcs(count: int) -> None:
    measures = sample_measures()
    pieces = draft(measures, Make(dart_count=count), manner="darts")
    outer = named(pieces, "outer")
    darts = {s.seam for s in outer.sides if s.seam.startswith("dart")}
    assert darts == {f"dart {k + 1}" for k in range(count)}
    half = named(pieces, "armhole base").seam_length("cap seam")
    assert outer.seam_length("cap seam") == pytest.approx(half, abs=0.01)
    for number in (2, 3):  # above the armhole's middle
        got = width_of(outer, f"cap level {number}")
        assert got == pytest.approx(measures.cap_arcs[number - 1].length, abs=0.01)


def test_darts_go_from_front_to_back_and_their_legs_are_equal() -> None:
    outer = named(draft(sample_measures(), Make(), manner="darts"), "outer")
    points = {}
    for one, two in zip(outer.sides, outer.sides[1:], strict=False):
        if one.seam.startswith("dart") and one.seam == two.seam:
            assert one.length == pytest.approx(two.length, abs=1e-6)
            points[one.seam] = one.points[-1]
    assert points["dart 1"][0] < 0 < points["dart 2"][0]  # a left outer's front is on the left


def test_a_dart_that_the_sheet_fixes_is_drawn_so() -> None:
    choice = DartChoice(at=30.0, length=80.0, intake=40.0)
    make = Make(dart_count=2, darts=(choice, DartChoice(at=-30.0, length=80.0, intake=40.0)))
    outer = named(draft(sample_measures(), make, manner="darts"), "outer")
    for one, two in zip(outer.sides, outer.sides[1:], strict=False):
        if one.seam.startswith("dart") and one.seam == two.seam:
            mouth = np.linalg.norm(one.points[0] - two.points[-1])
            # the intake is laid off along the cap line: its chord is a little less
            assert 34.0 < mouth <= 40.0
            middle = 0.5 * (one.points[0] + two.points[-1])
            assert np.linalg.norm(one.points[-1] - middle) == pytest.approx(80.0, abs=2.0)
    texts = [n.text for n in draft_notices(sample_measures(), make, manner="darts")]
    assert any("too long for the armhole with these darts" in text for text in texts)


@pytest.mark.parametrize("count", [1, 2])
def test_a_draft_redrawn_with_its_own_darts_fixed_is_the_same(count: int) -> None:
    free = Make(dart_count=count)
    darts = drawn_darts(sample_measures(), free)
    assert len(darts) == count and all(dart.intake > 10.0 for dart in darts)
    fixed = replace(free, darts=darts)
    for one, other in zip(
        draft(sample_measures(), free, manner="darts"),
        draft(sample_measures(), fixed, manner="darts"),
    ):
        assert np.allclose(one.outline, other.outline, atol=2e-3)


def test_where_the_sheet_fixes_every_intake_the_cap_arcs_are_met_all_the_same() -> None:
    darts = drawn_darts(sample_measures(), Make(dart_count=2))
    less = tuple(replace(dart, intake=dart.intake - 3.0) for dart in darts)
    texts = [
        notice.text
        for notice in draft_notices(
            sample_measures(), Make(dart_count=2, darts=less), manner="darts"
        )
    ]
    assert any("too long for the armhole with these darts" in text for text in texts)
    assert not any("could not all be met" in text for text in texts)


def test_two_fixed_darts_lie_where_free_ones_of_their_width_do() -> None:
    # 100 mm apart with the cap spread open: 40 mm of seam between darts that take in 60 mm each
    choice = DartChoice(intake=60.0)
    make = Make(dart_count=2, darts=(choice, choice))
    assert [dart.at for dart in drawn_darts(sample_measures(), make)] == [20.0, -20.0]


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_the_darts_leave_in_the_cap_seam_what_is_to_be_eased_in(count: int) -> None:
    make = Make(dart_count=count)
    outer = named(draft(sample_measures(), make, manner="darts", eased_in=7.0), "outer")
    assert outer.seam_length("cap seam") == pytest.approx(0.5 * 336.6 + 7.0, abs=0.02)
    plain, eased = (drawn_darts(sample_measures(), make, eased_in=mm) for mm in (0.0, 7.0))
    assert all(one.intake > other.intake for one, other in zip(plain, eased))


def test_the_shoulder_extension_fits_the_armhole_and_reaches_half_the_shoulder() -> None:
    measures = sample_measures()
    piece = named(draft(measures, Make(), manner="ease"), "shoulder extension")
    assert piece.seam_length("shoulder extension seam") == pytest.approx(0.5 * 336.6, abs=0.01)
    assert piece.outline[:, 1].max() == pytest.approx(0.5 * measures.shoulder_length, abs=1e-6)
    seam = piece.sides[0].points
    shoulder = next(n for n in piece.notches if n.name == "shoulder")
    top = piece.notch_point(shoulder)
    for end in (seam[0], seam[-1]):
        fall = np.degrees(np.arctan2(top[1] - end[1], abs(end[0] - top[0])))
        assert fall == pytest.approx(20.0, abs=0.01)  # the shoulder slope of both halves
    assert piece.area > 0


# --- advice --------------------------------------------------------------------------------------


def test_an_inch_of_ease_on_half_a_mean_armhole_is_far_past_what_cotton_eases() -> None:
    # scye girth 371.3 mm: mean of 2 208 women, 1988 survey (NATICK/TR-89/044)
    assert ease_percent(25.4, 371.3) == pytest.approx(13.68, abs=0.005)
    measures = sample_measures(armhole=Armhole(108.0, 128.0, 371.3))
    said = ease_advice(measures, Make(cap_ease=25.4), Cloth())
    assert said is not None
    assert "13.7 % of the armhole's upper half" in said
    assert "plain cotton eases in 3 to 5 %" in said
    assert "2 darts would have to take in" in said


def test_ease_that_the_cloth_takes_in_needs_no_advice() -> None:
    generous = Cloth(name="felt", eases_percent=(50.0, 99.0))
    assert ease_advice(sample_measures(), Make(), generous) is None


def test_little_ease_is_still_advised_on_when_the_drafted_cap_is_too_long() -> None:
    said = ease_advice(sample_measures(), Make(cap_ease=5.0, dart_count=1), Cloth())
    assert said is not None
    assert "3.0 % of the armhole's upper half (168 mm): plain cotton" in said
    assert "1 dart would have to take in" in said and "each" not in said


# --- properties ----------------------------------------------------------------------------------


def asked_girths(measures: ArmMeasures) -> dict[str, float]:
    return {
        "upper arm line": measures.upper_arm_girth,
        "elbow line": measures.elbow_girth,
        "forearm line": measures.forearm_girth,
    }


@settings(max_examples=15)
@given(arm_measures(), st.sampled_from([Make(), Make(round_to=EIGHTH),
                                        Make(inner_share=Fraction(2, 5))]))
def test_any_plausible_sheet_gives_outlines_that_do_not_cross_and_widths_as_measured(
    measures: ArmMeasures, make: Make
) -> None:
    for manner in MANNERS:
        pieces = draft(measures, make, manner=manner)
        for piece in pieces:
            assert not crosses_itself(piece.outline), (manner, piece.name)
            assert piece.area > 0
            for before, after in zip(piece.sides, (*piece.sides[1:], piece.sides[0]), strict=True):
                assert np.array_equal(before.points[-1], after.points[0])
        for line, girth in asked_girths(measures).items():
            assert girth_of(pieces, line) == pytest.approx(girth, abs=0.01)
        wrist = named(pieces, "outer").seam_length("outer wrist") + named(
            pieces, "inner"
        ).seam_length("inner wrist")
        assert wrist == pytest.approx(measures.wrist_girth, abs=0.01)


@settings(max_examples=10)
@given(arm_measures())
def test_any_plausible_sheets_darted_cap_meets_its_arcs_or_says_which_it_misses(
    measures: ArmMeasures,
) -> None:
    pieces = draft(measures, Make(), manner="darts")
    outer = named(pieces, "outer")
    misses = [n.text for n in draft_notices(measures, Make(), manner="darts")
              if "could not all be met" in n.text]
    middle = 0.5 * measures.armhole.height
    for number, arc in enumerate(measures.cap_arcs, start=1):
        if arc.up > middle:
            got = width_of(outer, f"cap level {number}")
            assert got == pytest.approx(arc.length, abs=0.01) or misses


@settings(max_examples=5)
@given(arm_measures(), st.sampled_from(MANNERS))
def test_left_and_right_are_mirror_images(measures: ArmMeasures, manner: str) -> None:
    left = draft(measures, Make(), manner=manner)  # type: ignore[arg-type]
    right = draft(replace(measures, side="right"), Make(), manner=manner)  # type: ignore[arg-type]
    for one, other in zip(left, right, strict=True):
        assert other.arm == "right"
        image = mirrored(one, "right")
        assert np.allclose(image.outline, other.outline, atol=1e-9)
        assert [s.seam for s in image.sides] == [s.seam for s in other.sides]
        assert other.area == pytest.approx(one.area, rel=1e-12)


# --- faults --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "make", "manner", "message"),
    [
        (dict(upper_arm_up=220.0), Make(), "ease",
         "upper_arm_up is 220 mm, which puts the upper-arm line 12 mm above the underarm"),
        (dict(upper_arm_up=203.0), Make(), "ease", "5 mm below the underarm; expected at least 10"),
        (dict(forearm_down=232.0), Make(), "ease",
         "forearm_down is 232 mm; expected less than inner_elbow_to_wrist, 232"),
        ({}, Make(cap_ease=-60.0), "ease", "cap_ease is -60 mm; expected more than -58"),
        (dict(cap_height=70.0), Make(), "darts", "cap_height is 70 mm; expected more than 78"),
        ({}, Make(dart_count=5), "darts", "dart_count is 5; the flat draft places 0 to 4 darts"),
        (dict(wrist_girth=130.0), Make(), "ease", "an oval 58.0 by 41.0 mm has a girth of 142.1"),
        (dict(cap_arcs=(CapArc(45.0, 60.0), CapArc(70.0, 400.0))), Make(), "darts",
         "the drafted outer arm's outline crosses itself"),
    ],
)
def test_measures_that_cannot_be_drawn_are_said_in_one_line(
    changes: dict[str, object], make: Make, manner: str, message: str
) -> None:
    with pytest.raises(UnrollError, match=message) as fault:
        draft(sample_measures(**changes), make, manner=manner)  # type: ignore[arg-type]
    assert "\n" not in str(fault.value)


def test_a_traced_armhole_that_crosses_its_middle_four_times_is_refused() -> None:
    outline = np.array([[0.0, 0.0], [-40, -10], [-40, -70], [-20, -70], [-20, -40], [20, -40],
                        [20, -100], [40, -100], [40, -10]])
    hole = Armhole(80.0, 100.0, 500.0, outline)
    with pytest.raises(UnrollError, match="crosses its mid-height line 4 times; expected 2"):
        draft(sample_measures(armhole=hole), Make(), manner="ease")


def test_notices_say_where_the_side_is_let_out_and_darts_grow_wide() -> None:
    texts = [n.text for n in draft_notices(sample_measures(), Make(), manner="darts")]
    assert any("the outer's side is let out to meet it" in text for text in texts)
    assert any("more than is easily sewn to a fine point" in text for text in texts)
    assert draft_notices(sample_measures(), Make(), manner="ease") == ()


def test_arcs_that_no_cap_can_meet_are_called_out() -> None:
    high = (CapArc(45.0, 229.0), CapArc(112.0, 180.0))
    texts = [n.text for n in draft_notices(sample_measures(cap_arcs=high), Make(), manner="darts")]
    assert any("could not all be met" in text or "too long for the armhole" in text
               for text in texts)
