"""Files handed over to the page in a real browser: a scan with its landmarks, her own draft."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from tests.arm_files import MESHES
from tests.page_browser import (
    ROOT,
    browser,
    field,
    needs_browser,
    opened,
    page_of,
    put,
    saved,
    until,
)
from tests.test_page_own import DRAWN
from unroll.disk.scans import read_scan
from unroll.page import session

pytestmark = needs_browser
ARM = MESHES / "arm_p50.obj"
VALUE = "document.querySelector('[data-path=\"scan.{}\"]')?.value".format


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """The demo, open: (page, its file)."""
    folder = tmp_path_factory.mktemp("page")
    sheet = Path(shutil.copy(ROOT / "meshes" / "demo.toml", folder / "mine.toml"))
    with browser() as found, opened(sheet, folder, program="tests.coarse_page") as (address, _):
        page = page_of(found, address, viewport={"width": 1280, "height": 860})
        until(page, "!document.getElementById('correct').disabled")
        yield page, sheet


def test_a_draft_is_judged_drawn_and_shown_sewn(shown, tmp_path) -> None:
    page, _ = shown
    (tmp_path / "text.svg").write_text("not a drawing", "utf8")
    (tmp_path / "draft.svg").write_text(DRAWN, "utf8")
    text = "document.getElementById('{}').textContent".format
    page.locator("#own-files").set_input_files(tmp_path / "text.svg")
    page.locator("#judge").click()
    until(page, f"{text('own-fault')}.includes('neither a drawing nor a photograph')")
    page.locator("#own-files").set_input_files(tmp_path / "draft.svg")
    page.locator("#judge").click()
    until(page, "!document.getElementById('judged').hidden")
    assert "go together" in page.locator("#own-sentence").text_content()
    assert page.locator("#own-figures li").count() == 6
    names = page.locator("#own-drawing g.piece").evaluate_all(
        "(all) => all.map((one) => one.dataset.name)")  # fmt: skip
    assert sorted(names) == ["armhole base", "inner", "outer", "wrist base"]
    state = page.locator("#arm .controls [aria-pressed=true]").first
    assert state.text_content() == "sewn: pieces of your draft"
    page.locator("#own summary", has_text="What was taken").click()
    page.locator("#own-outlines").scroll_into_view_if_needed()
    until(page, "document.getElementById('own-outlines').naturalWidth > 300")
    assert page.locator("#own-old").is_hidden()
    put(page, "arm.wrist_girth", "6 1/2")
    until(page, "!document.getElementById('own-old').hidden")


def test_landmarks_of_a_scan_are_dragged_moved_by_key_mended_and_let_go(shown, tmp_path) -> None:
    page, sheet = shown
    scan = shutil.copy(ARM, tmp_path / "from_her_phone.obj")
    place = "document.querySelector('.mark[data-mark={}]')".format
    field(page, "scan.wrist")  # unfolds its group
    page.locator("#f-scan-file").set_input_files(scan)
    until(page, f"{place('wrist')} && !document.querySelector('.marks').hidden")
    assert saved(sheet, lambda made: "scan" in made)["scan"] == {"file": "scan.obj"}
    wrist = page.locator(".mark[data-mark=wrist]")
    wrist.scroll_into_view_if_needed()
    box = wrist.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 14, y - 14, steps=3)
    page.mouse.up()
    until(page, VALUE("wrist"), 60)
    dragged = saved(sheet, lambda made: "wrist" in made["scan"])["scan"]["wrist"]
    vertices = read_scan(ARM).vertices
    assert np.linalg.norm(vertices - dragged, axis=1).min() < 15.0  # on a coarse mesh's face
    assert dragged[1] > 95.0  # it was found at 87, and up the arm is up the file
    wrist.focus()
    page.keyboard.press("ArrowUp")
    by_key = saved(sheet, lambda made: made["scan"]["wrist"] != dragged)["scan"]["wrist"]
    assert 0.5 < np.linalg.norm(np.subtract(by_key, dragged)) < 8.0
    put(page, "scan.wrist", "9000; 0; 0")
    line = "document.querySelector('[data-path=\"scan.wrist\"]').closest('.field')"
    until(page, f"{line}.textContent.includes('off its surface')")
    page.wait_for_timeout(1000 * session.TOGETHER_S + 100)  # else one undo takes both back
    page.evaluate(f"{place('wrist')}.focus()")
    page.keyboard.press("Delete")
    until(page, f"{VALUE('wrist')} === '' && !document.querySelector('.is-bad')")
    until(page, f"{place('wrist')}.ariaLabel.startsWith('wrist, found at 48')")
    page.evaluate("document.getElementById('undo').click()")
    until(page, f"{VALUE('wrist')} === '9000; 0; 0'", 20)
    page.locator("button", has_text="Do without the scan").click()
    until(page, "document.querySelector('.marks').hidden && !document.querySelector('.mark')")
