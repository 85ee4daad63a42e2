"""How long the report is on a telephone as it opens, and that nothing is wider than its screen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.page_browser import browser, needs_browser
from tests.report_pages import BOTH_CORRECTED, CORRECTED
from tests.test_clear_pages import finished_of
from tests.test_words import READY
from unroll.disk.outputs import job_files
from unroll.disk.sheets import load_sheet
from unroll.nouns import MakeResult

pytestmark = needs_browser

TELEPHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
MOST_SCREENS = 6
# What the page itself lets move sideways may be wider.
WIDER = """
() => [...document.querySelectorAll("body *")].filter((one) => {
  const box = one.getBoundingClientRect();
  return box.width > 0 && box.right > innerWidth + 1 && !one.closest(".sideways, svg");
}).map((one) => `${one.tagName} ${one.className} ${Math.round(one.getBoundingClientRect().right)}`)
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Whole reports in a browser: one pair of arms, and two unlike arms."""
    folder = tmp_path_factory.mktemp("reports")
    with browser() as found:

        def opened(result: MakeResult, name: str, size: dict[str, int]):
            path = folder / f"{name}.html"
            if not path.exists():
                sheet = load_sheet("meshes/demo.toml" if name == "one" else "meshes/two_arms.toml")
                ready = replace(READY, finished=finished_of(sheet))
                path.write_text(str(job_files(result, ready)["report.html"]), "utf8")
            page = found.new_context(viewport=size).new_page()
            page.goto(path.as_uri())
            page.wait_for_function("[...document.images].every((one) => one.complete)")
            return page

        yield opened


@pytest.mark.parametrize("size", [TELEPHONE, DESK], ids=["telephone", "desk"])
@pytest.mark.parametrize(("result", "name"), [(CORRECTED, "one"), (BOTH_CORRECTED, "two")])
def test_the_report_opens_short_and_no_wider_than_its_screen(pages, result, name, size) -> None:
    page = pages(result, name, size)
    screens = page.evaluate("document.documentElement.scrollHeight") / size["height"]
    assert screens <= MOST_SCREENS
    assert page.evaluate(WIDER) == []
    assert page.evaluate("document.querySelectorAll('details[open]').length") == 0
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert page.evaluate(WIDER) == []
    longer = page.evaluate("document.documentElement.scrollHeight") / size["height"]
    assert longer > screens  # all else is there, folded
