"""A hand draft from corrected numbers, as it is shown: on the terminal, on paper, on a page."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from lxml import html

from tests.samples import sample_measures
from unroll.disk.outputs import redraft_files
from unroll.nouns import Cloth, Make, Sheet
from unroll.nouns.corrected import DraftCorrection
from unroll.show.redrawn import redrawn_lines

CLOTH, MAKE = Cloth(), Make()


@pytest.fixture(scope="module")
def darted(darted_draft: DraftCorrection) -> DraftCorrection:
    return darted_draft


def test_every_number_is_told_as_measured_and_as_drawn(darted) -> None:
    lines = redrawn_lines(darted, "mm", side="left")
    assert lines[0] == "The left arm's flat draft with a darted cap, its numbers corrected:"
    for change in darted.changes:
        assert any(f"{change.measured:.1f} mm" in line for line in lines[1:10])
    girth = next(line for line in lines if "upper arm girth" in line)
    assert "as measured, draw it with" in girth and "\u2212" in girth
    assert any("It does not come within what is wanted" in line for line in lines)


def test_files_hold_pieces_pictures_page_and_numbers(darted) -> None:
    sheet = Sheet((sample_measures(),), CLOTH, MAKE, unit="in")
    files = redraft_files(sheet, [darted])
    assert set(files) == {
        "corrected_draft.html", "corrected_draft.json", "drafted-darts-corrected.svg",
        *(f"drafted-darts-corrected-{kind}.png"
          for kind in ("hang", "pieces", "profile", "standoff")),
    }  # fmt: skip
    tree = html.fromstring(str(files["corrected_draft.html"]))
    rows = tree.xpath("//section[@id='draft']//table")[0].xpath("tbody/tr")
    assert len(rows) == len(darted.changes)
    assert "http" not in str(files["corrected_draft.html"]).replace("http-equiv", "")
    report = json.loads(str(files["corrected_draft.json"]))
    (draft,) = report["drafts"]
    assert draft["after"]["swing_deg"] == darted.after.swing_deg
    assert draft["numbers"][0] == {
        "name": "cap_height",
        "measured_mm": darted.changes[0].measured,
        "draw_with_mm": darted.changes[0].drawn,
    }


def test_two_unlike_arms_have_files_of_their_own(darted) -> None:
    two = (sample_measures(), replace(sample_measures(), side="right"))
    files = redraft_files(Sheet(two, CLOTH, MAKE), [darted, darted])
    assert {"left_drafted-darts-corrected.svg", "right_drafted-darts-corrected.svg"} <= set(files)
    tree = html.fromstring(str(files["corrected_draft.html"]))
    assert tree.xpath("//main/section/@id") == ["left-draft", "right-draft"]
