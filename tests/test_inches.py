"""An inch sheet is answered in inches: millimetres stand in brackets, or on a test square.

Terminal, report, pattern, guide, and what drafts, layouts and trials say of themselves.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from lxml import html

from tests.made_arms import corrected_result, made_redraft, made_result, result_of
from tests.report_pages import BOTH_CORRECTED, CORRECTED, page_of, text_of
from tests.test_clear_pages import finished_of
from tests.test_comparing import compared, words_of
from tests.test_piecing import hollow
from tests.test_piecing_truing import eased
from tests.test_words import READY
from unroll.correct.draft_loop import helps
from unroll.correct.layout_trials import LayoutLimits, faults_of
from unroll.correct.refit import Explained, findings
from unroll.disk.atomic import guide_pdf
from unroll.disk.print_files import pdf_bytes
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import finish
from unroll.finish.walking import walk
from unroll.job import Job
from unroll.nouns import Cloth, DartLine, Intake, PrintFacts
from unroll.nouns.corrected import RefitRow
from unroll.paper.measuring_guide import guide_pages
from unroll.paper.pages import pages
from unroll.paper.sewing_guide import sewing_guide
from unroll.progress import Progress
from unroll.show.drafts import over_unrolled_figure, walked_figure
from unroll.show.models import gap_legend
from unroll.show.pictures import pieces_figure
from unroll.show.redrawn import redrawn_lines
from unroll.show.words import fit_lines, terminal_lines
from unroll.units import inches_first

DEMO = load_sheet("meshes/demo.toml")
# Squares and rulers have their metric edge beside the one in inches.
SQUARES = re.compile(r"small:? \d+ mm|\b50 mm", re.IGNORECASE)


def metric(*texts: str) -> list[str]:
    """Return where texts say millimetres outside brackets."""
    out = []
    for text in texts:
        plain = SQUARES.sub("", re.sub(r"\([^()]*\)", "", " ".join(text.split())))
        found = re.finditer(r"\bmm\b|millimet", plain)
        out += [plain[max(0, m.start() - 40) : m.end()] for m in found]
    return out


def test_what_is_looked_for_would_be_found() -> None:
    assert metric("the cap rises 44 mm above") and metric("a millimetre inside")
    assert metric("2\u00a0mm off")
    assert not metric("1/32 in (0.7 mm) off the line; Small: 100 mm")


def test_terminal_and_report() -> None:
    bad = corrected_result(swing_deg=3.4, cap_p95=12.0, wrist_mm=20.0, hollow_max=6.0)
    for result in (CORRECTED, BOTH_CORRECTED, result_of(bad), made_result(rings=12)):
        assert result.sheet.unit == "in"
        tree = html.fromstring(page_of(result))
        for hidden in tree.xpath("//script | //style"):
            hidden.drop_tree()
        told = [*terminal_lines(result, READY), text_of(tree)]
        told += map(str, tree.xpath("//@alt | //@aria-label | //@data-head"))
        told += [line for arm in result.arms for line in fit_lines(arm, "in")]
        assert metric(*told) == []
    assert metric(*redrawn_lines(made_redraft(bad), "in", side="left")) == []
    assert "inches" in str(gap_legend(10.0, "in")) and "mm" not in gap_legend(10.0, "in").title


@pytest.fixture(scope="module")
def finished():
    return finished_of(DEMO)


def test_pattern_and_guides(finished) -> None:
    facts = PrintFacts("9.9", 2.3)
    plan = cut_plan(finished, DEMO.cloth.width)
    books = [pdf_bytes(book) for book in (
        pages(finished, plan, DEMO, paper="letter", facts=facts),
        pages(finished, plan, DEMO, paper="a0", facts=facts),
        sewing_guide(finished, DEMO, facts=facts),
    )]  # fmt: skip
    for data in (*books, guide_pdf(guide_pages("letter", "in"))):
        document = pypdfium2.PdfDocument(data)
        words = " ".join(document[i].get_textpage().get_text_range() for i in range(len(document)))
        assert metric(words) == []


def test_what_was_done_to_a_piece_and_what_has_no_room() -> None:
    sheet = replace(DEMO, make=replace(DEMO.make, seam_allowance=40.0))
    done = [*finish(eased(-6.0), DEMO), *finish([hollow(30.0)], sheet)]
    remarks = [remark for piece in done for remark in piece.remarks]
    assert any("edge was drawn" in remark for remark in remarks)
    assert any("no room for 1 9/16 in (40 mm)" in remark for remark in remarks)
    assert metric(*remarks) == []


def test_what_a_draft_says_of_itself_and_its_pictures() -> None:
    measures = DEMO.arms[0]
    for manner in ("ease", "darts"):
        notes = [row.note for row in tape_draft(draft(measures, DEMO.make, manner=manner), measures,
                                                unit="in")]  # fmt: skip
        assert any(notes) and metric(*notes) == []
    told = helps(measures, Cloth(), "ease", 40.0, "in")
    assert "stays 1 9/16 in longer" in told[0] and metric(*told) == []
    pieces, found = compared()
    other = draft(measures, DEMO.make, manner="darts")
    figures = (
        pieces_figure(pieces, unit="in"), over_unrolled_figure(found, pieces, other, unit="in"),
        walked_figure(walk(pieces, cloth=Cloth(), unit="in"), unit="in"),
    )  # fmt: skip
    for figure in figures:
        labels = [axes.get_xlabel() for axes in figure.axes]
        assert metric(words_of(figure), *labels) == []
        assert re.search(r"\b[24] in\b", words_of(figure))  # its scale bar


def test_what_layouts_and_trials_say() -> None:
    intakes = (Intake("dart 1", 30.0, 90.0, 111.0, 70.0), Intake("dart 2", 10.0, 90.0, 40.0, 20.0))
    darts = (DartLine(30.0, 90.0), DartLine(10.0, 90.0))
    faults = faults_of(darts, intakes, LayoutLimits(), "in")
    assert faults[0] == "dart 1 takes in 4 3/8 in, 1/16 in more than one dart may"
    assert metric(*faults) == []
    explained = Explained(np.array([0.1, 0.6]), np.array([[0.01, 0.005], [0.005, 0.003]]),
                          np.zeros(2))  # fmt: skip
    rows = tuple(RefitRow(name, 57.0, 55.0, 55.5, True)
                 for name in ("girth upper_arm", "cap_arc at 57", "hang outward"))  # fmt: skip
    lines = findings(explained, rows, "in")
    assert metric(*lines) == []
    assert "sewn 1/32 in outside its lines" in lines[1]
    assert lines[-2].startswith("the cap arc 2 1/4 in above the underarm is 2 1/4 in on the trial")
    assert any("hangs outward is 57.0 degrees" in line for line in lines)


def test_a_fault_of_a_stage_that_knows_no_sheet_is_said_in_inches_first() -> None:
    steps: list[str] = []
    job = Job(DEMO, progress=Progress(lambda step, _: steps.append(step)))
    job.progress("the shoulder within 3.2 mm")
    assert steps == ["the shoulder within 1/8 in (3.2 mm)"]

    def refuse() -> None:
        raise UnrollError("cap_ease is 4 mm; expected more than 50 mm")

    with pytest.raises(UnrollError, match=r"is 3/16 in \(4 mm\); expected more than 1 15/16 in"):
        job.once("a test", lambda: job.once("within another", refuse))


def test_what_a_maker_typed_and_names_of_files_keep_their_millimetres() -> None:
    for text in ('"92 mm" is no length', "sleeve 40 mm.svg is empty", "30 mm² twice",
                 "near 1/16 in (1.6 mm)"):  # fmt: skip
        assert inches_first(text, "in") == text
    assert inches_first("-4 mm across, 3000 mm up", "in") == (
        "-3/16 in (-4 mm) across, 118 in (3000 mm) up"
    )
    assert inches_first("underarm 3 by 4 mm", "in") == "underarm 1/8 by 3/16 in (3 by 4 mm)"
