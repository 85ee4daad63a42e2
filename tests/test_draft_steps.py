"""A flat draft told as steps, and what of its seams is worth a line."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.samples import sample_measures
from unroll.drafts.drafting import draft
from unroll.finish.notching import place_notches
from unroll.finish.walking import walk
from unroll.nouns import Cloth, DartChoice, Drafted, Make
from unroll.nouns.corrected import DraftChange, DraftCorrection
from unroll.show.draft_steps import draft_lines, draft_steps
from unroll.units import parse_length

MAKE = Make(darts=(DartChoice(at=70.0, intake=30.0), DartChoice(at=-40.0, intake=50.0)))
MEASURES = sample_measures()
CHANGES = (DraftChange("cap_height", MEASURES.cap_height, 170.0),)


def corrected(manner: str) -> DraftCorrection:
    drawn = replace(MEASURES, cap_height=170.0)
    pieces = draft(drawn, MAKE, manner=manner)  # type: ignore[arg-type]
    fields = dict.fromkeys(DraftCorrection.__dataclass_fields__)
    return DraftCorrection(**{**fields, "manner": manner, "pieces": pieces, "changes": CHANGES})


@pytest.fixture(scope="module")
def steps() -> tuple[str, ...]:
    return draft_steps(corrected("darts"), MEASURES, MAKE, "mm")


def lengths(step: str) -> list[float]:
    return [parse_length(found, "mm") for found in re.findall(r"[\d.]+ mm", step)]


def test_the_steps_carry_the_corrected_number_and_the_measured_ones(
    steps: tuple[str, ...],
) -> None:
    cap = next(step for step in steps if step.startswith("Cap:"))
    assert lengths(cap) == [170.0]
    armhole = MEASURES.armhole
    assert lengths(steps[0]) == pytest.approx([armhole.width, armhole.height], abs=0.05)
    told = lengths(steps[1])
    assert told == [MEASURES.shoulder_to_elbow, MEASURES.shoulder_to_inner_elbow]


def test_inner_and_outer_widths_add_up_to_the_girths(steps: tuple[str, ...]) -> None:
    inner, outer = (lengths(step) for step in steps if "piece" in step.split(",")[0])
    girths = ("upper_arm_girth", "elbow_girth", "forearm_girth", "wrist_girth")
    for one, other, name in zip(inner, outer, girths, strict=True):
        # each is rounded to a tenth, and an arc of cloth is a little longer than its chord
        assert one + other == pytest.approx(getattr(MEASURES, name), abs=1.0), name


def test_darts_are_told_front_to_back_with_what_the_sheet_fixes(steps: tuple[str, ...]) -> None:
    first, second = (step for step in steps if step.startswith("Dart "))
    assert first.startswith("Dart 1") and second.startswith("Dart 2")
    # what a dart takes in is told along the edge: straight across its mouth is a little less
    for step, intake in ((first, 30.0), (second, 50.0)):
        assert 0.85 * intake < lengths(step)[1] <= intake
    # 110 mm of the closed seam lie between them; making legs alike moves mouths by some mm
    assert lengths(second)[0] - lengths(first)[0] == pytest.approx(110.0, abs=8.0)


def test_an_eased_cap_is_told_by_its_ease() -> None:
    told = draft_steps(corrected("ease"), MEASURES, replace(MAKE, cap_ease=25.4), "in")
    assert any("its top 1 in above the shoulder point" in step for step in told)
    assert not any(step.startswith("Dart") for step in told)


def test_only_seams_that_differ_are_told_and_each_once() -> None:
    manners = ("ease", "darts")
    pieces = {f"drafted-{m}": place_notches(draft(MEASURES, MAKE, manner=m)) for m in manners}  # type: ignore[arg-type]
    walked = {source: walk(those, cloth=Cloth()) for source, those in pieces.items()}
    lines = draft_lines(Drafted(None, (), pieces, walked, {}))
    assert len(lines) == len(set(lines))
    assert all("good" not in line.split(":")[1] for line in lines)
    assert sum("back seam" in line for line in lines) <= 2
    good = {s: tuple(x for x in seams if x.verdict == "good") for s, seams in walked.items()}
    assert draft_lines(Drafted(None, (), pieces, good, {})) == (
        "All seams of the flat draft fit each other.",
    )
