"""Verdicts in words: nothing finer than it is known, one entry for a new figure, plain words."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import html

from tests.made_arms import (
    corrected_result,
    made_arm,
    made_fit,
    made_redraft,
    made_result,
    result_of,
)
from tests.report_pages import BOTH_CORRECTED, CORRECTED, READY, page_of, text_of
from unroll.disk.outputs import redraft_files
from unroll.nouns import (
    Cloth,
    Figure,
    SewnGirth,
    Source,
    sources,
    verdicts_of,
)
from unroll.nouns import fit as fit_nouns
from unroll.nouns.fit import FIGURES
from unroll.show import corrected, numbers, phrases, report, words
from unroll.show.phrases import (
    amount,
    fit_sentence,
    missed_lines,
    verdict_sentence,
)
from unroll.show.redrawn import redrawn_lines
from unroll.show.words import fit_lines, piece_advice, terminal_lines

ARM = made_arm(rings=12)
# Words of the workshop's own, of the program's inside, or that a native reader stumbles over.
BANNED = (
    "proud", "the hang", "hang off", "stand-off", "stands off", "tongue", "mouth", "dent", "wedge",
    "skew", "house value", "n/mm", "out of balance", "coarse mesh", "but for 1", "but for 5",
    "drafted-ease", "drafted-darts", "1 + 1 turned over", "nearly everywhere", "is a must",
    "reckoned", "armhole plate", "wrist plate", "unrolled pieces", "a row a", "the give",
    "end plate",
)  # fmt: skip


def by_key(key: str) -> Figure:
    return next(figure for figure in FIGURES if figure.key == key)


# ---- nothing finer than it is known


@pytest.mark.parametrize("unit", ["in", "cm", "mm"])
def test_no_figure_is_said_finer_than_its_own_error(unit: str) -> None:
    for figure in FIGURES:
        for value in np.linspace(0.0, 3.0 * figure.limit, 50):
            said = amount(figure, float(value), unit)
            if unit == "in" and figure.unit == "mm":
                assert re.fullmatch(r"(\d+ )?(\d+/(2|4|8|16)|\d+) in", said), said
                continue
            steps = float(said.split()[0].rstrip("°")) / figure.finest
            assert steps == pytest.approx(round(steps)) and steps >= 1


@pytest.mark.parametrize("unit", ["in", "cm", "mm"])
def test_what_is_met_never_looks_missed_nor_the_other_way_round(unit: str) -> None:
    """Both are rounded up alike, so a kept figure never reads as more than its limit."""
    for figure in FIGURES:
        limit = amount(figure, figure.limit, unit)
        assert amount(figure, figure.limit * 0.999, unit) == limit
        seen = made_fit(ARM, **{figure.attribute: figure.limit * 1.001}) if (
            figure.attribute != "worst_girth_percent") else made_fit(
            ARM, girths=(SewnGirth("wrist", 100.0, 100.3005),))  # fmt: skip
        (line,) = missed_lines(verdicts_of(seen), unit)
        assert f"{figure.name} off by" in line
        assert f"off by {limit} (wanted" not in line  # "just over" it, or more than it


def test_a_hundredth_is_told_as_within_a_tenth() -> None:
    assert amount(by_key("worst_girth_percent"), 0.02, "mm") == "0.1 %"
    assert amount(by_key("wrist_mm"), 0.2, "mm") == "1 mm"


# ---- verdicts


def test_what_is_kept_and_what_is_missed_stand_in_one_sentence_each() -> None:
    missed = made_fit(ARM, wrist_mm=9.0, swing_deg=2.0)
    said = verdict_sentence(verdicts_of(missed, "longer darts would help"), "mm")
    assert said.startswith("Sewn and filled, the arm keeps to what was wanted: girths within 0.2 %")
    assert said.endswith(
        "Not kept: the hanging arm off by 2.0° (wanted: 0.5°) and the wrist off by 9 mm (wanted: "
        "3 mm). Longer darts would help."
    )
    nothing = replace(missed, cap_mean=9.0, cap_p95=9.0, elbow_mm=9.0, girths=(
        SewnGirth("wrist", 100.0, 103.0),))  # fmt: skip
    assert "keeps to nothing that was wanted" in verdict_sentence(verdicts_of(nothing), "mm")


def test_each_help_is_said_once() -> None:
    one = verdicts_of(made_fit(ARM, wrist_mm=9.0), "tape the wrist again")
    other = verdicts_of(made_fit(ARM, swing_deg=2.0), "add a dart")
    lines = missed_lines([*one, *other], "mm")
    assert len(lines) == 2 and lines[0].endswith("Tape the wrist again.")


def test_one_new_figure_is_one_entry(monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry of FIGURES comes out in table, json, words, terminal and picture."""
    reach = Figure("reach_mm", "wrist_mm", "mm", 1.0, 0.5, "the reach", "reach off by")
    more = (*FIGURES, reach)
    for module in (fit_nouns, corrected, numbers, phrases, report, words):
        monkeypatch.setattr(module, "FIGURES", more)
    arm = corrected_result(wrist_mm=2.2)
    result = result_of(arm, unit="mm")
    assert arm.verdicts[-1].figure is reach and not arm.verdicts[-1].is_met
    told = numbers.report_dict(result)
    assert told["verdicts"][-1]["figure"] == "reach_mm"
    for row in (told["standoff"][0], told["corrections"][0]["after"], told["certainty"][0]):
        assert row["reach_mm"] == 2.2
    assert told["trials"][0]["reach_mm"] == told["rounds"][0]["reach_mm"] == 2.0
    tree = html.fromstring(page_of(result))
    rows = tree.xpath("//section[@id='corrected']//table")[0].xpath("tbody/tr")
    cells = [text_of(cell).replace("\u00a0", " ") for cell in rows[-1]]
    assert cells == ["Reach off by", "31 mm", "2.5 mm", "1 mm"]
    assert "Not as wanted: the reach off by 2.5 mm (wanted: 1 mm)." in (
        terminal_lines(result, None)[0]
    )
    titles = [axes.get_title() for axes in corrected.certainty_figure(arm.certainty).axes]
    assert "reach, mm" in titles


def test_one_new_source_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    traced = Source("traced", "traced pieces", "traced", "#112233")
    monkeypatch.setitem(sources.SOURCES, "traced", traced)
    assert fit_sentence(made_fit(ARM, "traced"), "mm").startswith("The traced pieces: ")


# ---- what each set of pieces becomes


def spoken(**changes: object) -> str:
    girths = (SewnGirth("upper_arm", 286.0, 286.5), SewnGirth("wrist", 158.0, 158.2))
    values: dict[str, object] = {"bulge_max": 1.0, "hollow_max": 1.0, "girths": girths, **changes}
    source = str(values.pop("source", "drafted-ease"))
    return fit_sentence(made_fit(ARM, source, **values), "mm")


def test_words_for_an_arm_that_fits() -> None:
    assert spoken() == (
        "The flat draft with ease: the cap lies within 2 mm of the shoulder; the arm hangs as you "
        "want it to hang; girths come out within 1 %."
    )


def test_words_for_an_arm_that_does_not() -> None:
    text = spoken(
        source="drafted-darts", bulge_max=7.2, bulge_breadth=85.0, bulge_below_seam=3.0,
        bulge_forward=0.6, hollow_max=4.4, swing_deg=12.0, outward_deg=11.9, forward_deg=-2.0,
        wrist_mm=105.0, girths=(SewnGirth("wrist", 158.0, 164.0),),
    )  # fmt: skip
    assert "stands out by up to 7 mm, at the cap seam towards the front" in text
    assert "over a hand's breadth, and lies up to 4 mm too low elsewhere" in text
    assert "swings 12° out from the body and 2° back, which carries the wrist 105 mm away" in text
    assert text.endswith("the wrist comes out 6 mm more than asked.")
    assert "40 mm below the cap seam in the middle" in spoken(bulge_max=5.0, bulge_below_seam=40.0)
    assert "towards the back" in spoken(bulge_max=5.0, bulge_forward=-0.5)
    assert "stands out nowhere, and lies up to 6 mm too low" in spoken(hollow_max=6.0)
    assert "in towards the body" in spoken(swing_deg=3.0, outward_deg=-3.0)


def test_words_for_girths_that_are_off_name_the_worst() -> None:
    off = (SewnGirth("elbow", 246.0, 250.2), SewnGirth("upper_arm", 286.0, 278.0))
    assert "the upper arm comes out 8 mm less than asked" in spoken(girths=off)
    assert "the elbow comes out 4 mm more than asked" in spoken(girths=off[:1])


@pytest.mark.parametrize(
    ("size", "words_"),
    [(5.0, "a fingertip"), (20.0, "a finger's breadth"), (40.0, "two fingers' breadth"),
     (60.0, "three fingers' breadth"), (100.0, "a hand's breadth"),
     (200.0, "more than a hand's breadth")],
)  # fmt: skip
def test_breadths_need_no_ruler(size: float, words_: str) -> None:
    assert f"over {words_}" in spoken(bulge_max=7.0, bulge_breadth=size)


def test_words_for_several_say_which_comes_nearest() -> None:
    lines = fit_lines(corrected_result(cap_mean=0.7), "mm")
    assert lines[-1] == (
        "Nearest over the shoulder, of those that hang as wanted: the corrected pieces."
    )
    assert fit_lines(made_result(rings=12).arms[0], "mm") == ()


# ---- advice on a piece


def test_darts_are_never_advised_to_a_piece_that_cannot_have_more() -> None:
    arm = made_result(rings=12).arms[0]
    stiff = Cloth(gives_percent=0.01)
    told = piece_advice(arm, stiff)
    assert "use darts" not in told["outer"] and "use darts" not in told["inner"]
    assert "make the darts longer" in told["outer"] and "dart" not in told["inner"]
    bare = piece_advice(replace(arm, intakes=()), stiff)
    assert "use darts" in bare["outer"] and "dart" not in bare["inner"]


# ---- a hand draft, its numbers corrected


def test_every_number_is_told_as_measured_and_as_drawn() -> None:
    redraft = made_redraft(corrected_result())
    lines = redrawn_lines(redraft, "mm", side="left")
    assert lines[0] == "The left arm's flat draft with a darted cap, its numbers corrected:"
    for change in redraft.changes:
        assert any(f"{change.measured:.1f} mm" in line for line in lines[1:5])
    girth = next(line for line in lines if "upper arm girth" in line)
    assert "as measured, draw it with 284.0 mm" in girth
    assert any(line.startswith("Not kept: the shoulder on average off by") for line in lines)
    assert lines[-1] == "  what would help: tape the cap again"


def test_files_hold_pieces_pictures_page_and_numbers() -> None:
    redraft = made_redraft(corrected_result())
    files = redraft_files(CORRECTED.sheet, [redraft])
    assert set(files) == {
        "corrected_draft.html", "corrected_draft.json", "drafted-darts-corrected.svg",
        *(f"drafted-darts-corrected-{kind}.png"
          for kind in ("hang", "pieces", "profile", "standoff")),
    }  # fmt: skip
    tree = html.fromstring(str(files["corrected_draft.html"]))
    rows = tree.xpath("//section[@id='draft']//table")[0].xpath("tbody/tr")
    assert len(rows) == len(redraft.changes)
    assert "http" not in str(files["corrected_draft.html"]).replace("http-equiv", "")
    (draft,) = json.loads(str(files["corrected_draft.json"]))["drafts"]
    assert draft["after"]["swing_deg"] == redraft.after.swing_deg
    assert draft["numbers"][0] == {
        "name": "cap_height", "measured_mm": 160.0, "draw_with_mm": 166.6,
    }  # fmt: skip
    assert [row["figure"] for row in draft["verdicts"] if not row["met"]] == ["cap_mean_mm"]


def test_two_unlike_arms_have_files_of_their_own() -> None:
    arms = BOTH_CORRECTED.arms
    files = redraft_files(BOTH_CORRECTED.sheet, [made_redraft(arm) for arm in arms])
    assert {"left_drafted-darts-corrected.svg", "right_drafted-darts-corrected.svg"} <= set(files)
    tree = html.fromstring(str(files["corrected_draft.html"]))
    assert tree.xpath("//main/section/@id") == ["left-draft", "right-draft"]


# ---- plain words


def test_no_text_of_report_or_terminal_has_a_word_that_makers_stumble_over() -> None:
    bad = corrected_result(swing_deg=3.4, cap_p95=12.0, wrist_mm=20.0, hollow_max=6.0)
    texts = [*terminal_lines(BOTH_CORRECTED, READY), *terminal_lines(CORRECTED, None)]
    redraft = made_redraft(bad)
    texts += redrawn_lines(redraft, "in", side="left")
    for result in (CORRECTED, BOTH_CORRECTED, result_of(bad), made_result(rings=12)):
        tree = html.fromstring(page_of(result))
        for hidden in tree.xpath("//script | //style"):
            hidden.drop_tree()
        texts.append(text_of(tree))
        texts += tree.xpath("//@alt | //@aria-label | //@data-head")
        texts += [str(v) for row in numbers.report_dict(result)["advice"] for v in row.values()]
    page = html.fromstring(str(redraft_files(CORRECTED.sheet, [redraft])["corrected_draft.html"]))
    for name in page.xpath("//code"):  # of files
        name.drop_tree()
    texts.append(text_of(page.xpath("//main")[0]))
    for text in texts:
        plain = text.lower().replace("\u00a0", " ")
        for word in BANNED:
            assert not re.search(rf"\b{re.escape(word)}\b", plain), f"{word!r} in {text[:2000]!r}"


METHODS = ("coarse mesh",)  # what a page on methods may say, and a row of the checks its own name
DOCS = Path(__file__).parent.parent / "docs"


def line_of(found: re.Match[str] | None, text: str) -> str:
    """Return the line that a word stands in; looking for whole lines takes fifty times as long."""
    if found is None:
        return ""
    return text[text.rfind("\n", 0, found.start()) + 1 :].split("\n", 1)[0]


@pytest.mark.parametrize(
    "page", [*sorted(DOCS.glob("*.md")), DOCS.parent / "README.md"], ids=lambda path: path.stem
)
def test_no_page_of_the_docs_has_a_word_that_makers_stumble_over(page: Path) -> None:
    """In prose: fields of the sheet, sources and files keep their names."""
    prose = re.sub(r"```.*?```", "", page.read_text("utf8"), flags=re.DOTALL)
    prose = re.sub(r'`[^`]*`|\]\([^)]*\)|"drafted-\w+"', "", prose).lower()
    for word in BANNED:
        if word not in METHODS and not (page.stem == "validation" and word == "stands off"):
            found = re.search(rf"\b{re.escape(word)}s?\b", prose)
            assert found is None, f"{word!r} in {line_of(found, prose)!r}"


def test_no_template_or_script_of_the_page_has_one() -> None:
    data = Path(report.__file__).parent.parent / "data"
    for file in [*data.glob("*.j2"), *data.glob("*.js")]:
        text = re.sub(r"\{[{%#].*?[}%#]\}|<[^>]*>|\w+\.\w+", " ", file.read_text("utf8"),
                      flags=re.DOTALL).lower()  # fmt: skip
        for word in BANNED:
            found = re.search(rf"\b{re.escape(word)}\b", text)
            assert found is None, f"{file.name}: {word!r} in {line_of(found, text)!r}"
