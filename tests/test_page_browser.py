"""The page in a real browser: typing, dragging, correcting, printing, and no request outside."""

from __future__ import annotations

import io
import re
import shutil
import signal
import tomllib
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.page_browser import (
    ROOT,
    browser,
    field,
    gently_ended,
    needs_browser,
    now,
    opened,
    page_of,
    put,
    saved,
    until,
    wait_for,
)
from unroll.page.form import GROUPS

pytestmark = needs_browser
DEMO = ROOT / "meshes" / "demo.toml"
FULL = tomllib.loads(DEMO.read_text("utf8"))
# nothing while the page is being loaded
VALUE = "document.querySelector('[data-path=\"{}\"]')?.value".format
FAULTS_AT_ONCE = 11  # of the twelve that are told at a time
BREAKS = {"cap": None, "ends": None, "weave": None, "paper": "papyrus", "name": "\u0007bell"}


@pytest.fixture(scope="module")
def found():
    with browser() as one:
        yield one


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("page")


@pytest.fixture(scope="module")
def demo(found, folder):
    """The demo on coarse meshes: (page, its file, its address, each address the browser asked)."""
    sheet = Path(shutil.copy(DEMO, folder / "demo.toml"))
    with opened(sheet, folder, program="tests.coarse_page") as (address, _):
        page = page_of(found, address, viewport={"width": 1280, "height": 860})
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.errors = []
        page.on("pageerror", lambda error: page.errors.append(str(error)))
        page.on("console", lambda line: page.errors.append(line.text)
                if line.type == "error" else None)  # fmt: skip
        wait_for(page, "pieces")
        yield page, sheet, address, asked


def typed(path: str, value: object) -> dict[str, str]:
    """Return what a maker types for an entry of the demo, by path."""
    if isinstance(value, dict):
        return {k: v for key, one in value.items() for k, v in typed(f"{path}.{key}", one).items()}
    if isinstance(value, list) and isinstance(value[0], dict):
        return {k: v for n, one in enumerate(value) for k, v in typed(f"{path}.{n}", one).items()}
    if isinstance(value, list):
        return {path: "; ".join(map(str, value))}
    return {path: str(value)}


def test_the_demo_typed_from_a_blank_sheet_gives_the_demos_numbers(found, demo, tmp_path) -> None:
    with opened(None, tmp_path, program="tests.coarse_page") as (address, program):
        page = page_of(found, address, viewport={"width": 1280, "height": 860})
        page.locator("#f-unit").select_option("in")
        for table in ("arm", "cloth", "make"):
            for path, value in typed(table, FULL[table]).items():
                put(page, path, value)
        until(page, "!document.getElementById('correct').disabled")
        told = "[...document.querySelectorAll('#tape-found tr')].map((row) => row.textContent)"
        shown = demo[0].evaluate(f"JSON.stringify(JSON.stringify({told}))")
        until(page, f"JSON.stringify({told}) === {shown}")
        written = (tmp_path / "my_arm.toml").read_text("utf8")
        assert tomllib.loads(written)["arm"]["cap_arcs"][2] == {"up": "3 1/4", "length": "6 7/8"}
        assert "# " in written and written.count("required") >= 4
        page.locator("#close").click()
        assert gently_ended(program) == 0
        page.context.close()


def tell_and_undo(page, broken: list[str]) -> None:
    """Wait until each broken field says its own fault, then take everything back."""
    for path in broken:
        line = f"document.querySelector('[data-path=\"{path}\"]').closest('.field')"
        until(page, f"{line}.querySelector('.fault').textContent && {line}.matches("
                    "'.is-bad, :has(.is-bad)') && !document.getElementById('undo').disabled")
    page.evaluate("(times) => { while (times--) document.getElementById('undo').click(); }",
                  len(broken))  # fmt: skip
    broken.clear()
    until(page, "document.querySelectorAll('.is-bad').length === 0")


def test_every_field_says_its_own_fault_and_lights_its_own_tape(demo) -> None:
    page, sheet, _, _ = demo
    before = sheet.read_text("utf8")
    dark, broken = [], []
    for group in GROUPS:
        for name in group.names:
            path = f"{group.table}.{name}"
            path += {"armhole": ".width", "seam_allowances": ".cap_seam"}.get(name, "")
            path += {"cap_arcs": ".0.up", "girths": ".0.girth"}.get(name, "")
            if name == "darts" or (name in BREAKS and BREAKS[name] is None):
                continue  # chosen from a list, or none there yet
            one = field(page, path)
            one.evaluate("one => one.focus()")
            if group.table == "arm" and "ratio" not in name and not page.locator(
                ".measured .is-lit").count():  # fmt: skip
                dark.append(name)
            if one.evaluate("e => e.tagName") == "SELECT":
                continue
            put(page, path, BREAKS.get(name, "12 l"))
            broken.append(path)
            if len(broken) == FAULTS_AT_ONCE:
                tell_and_undo(page, broken)
    tell_and_undo(page, broken)
    assert dark == []
    assert sheet.read_text("utf8") == before


def test_the_number_is_written_where_the_tape_lies(demo) -> None:
    page, *_ = demo
    field(page, "arm.cap_height").focus()
    said = page.locator(".measured.arms .said text")
    assert said.text_content() == "6 5/16 in"
    ring, label = page.locator(".is-lit .ring").bounding_box(), said.bounding_box()
    assert abs(ring["x"] - label["x"]) < 80 and abs(ring["y"] - label["y"]) < 60
    assert "over the outside" in page.locator("#tape-says").text_content()


def test_the_arm_keeps_its_view_while_its_shape_changes(demo) -> None:
    page, *_ = demo
    page.locator("#arm .controls button", has_text="as taped").click()
    page.locator("canvas").focus()
    page.keyboard.press("ArrowRight")
    found = "document.getElementById('tape-found').textContent.includes('{} in')".format
    until(page, found("9 1/2"))
    page.evaluate("document.querySelector('.tape-labels').hidden = true")  # the arm alone
    field(page, "arm.forearm_girth").focus()  # its tape is lit before and after
    page.wait_for_timeout(500)
    before = picture(page)
    field(page, "arm.forearm_girth").fill("10 1/2")
    until(page, found("10 1/2"))
    share = 0.0
    for _ in range(80):  # it is drawn at the browser's next leisure
        after = picture(page)
        share = sum(a != b for a, b in zip(before, after, strict=True)) / len(before)
        if share > 0.0005:
            break
        page.wait_for_timeout(250)
    pressed = page.locator("#arm .controls button[aria-pressed=true]").first.text_content()
    assert pressed == "as taped"
    assert 0.0005 < share < 0.1  # the forearm alone is another
    page.evaluate("document.querySelector('.tape-labels').hidden = false")
    page.keyboard.press("Control+z")
    until(page, f"{VALUE('arm.forearm_girth')} === '9 1/2'")


def picture(page) -> bytes:
    from PIL import Image

    return Image.open(io.BytesIO(page.locator("canvas").screenshot())).convert("L").tobytes()


def test_a_dart_is_dragged_and_stands_in_the_sheet(demo) -> None:
    page, sheet, _, _ = demo
    until(page, "document.querySelectorAll('#drawing .handle').length >= 4")
    ring = page.locator('#drawing .handle[data-dart="dart 1"][data-what="length"]')
    ring.scroll_into_view_if_needed()
    box, start = ring.bounding_box(), now(page)
    before = float(ring.get_attribute("aria-valuenow"))
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 8, steps=4)
    page.mouse.up()
    wait_for(page, "pieces", after=start)
    fixed = saved(sheet, lambda of: len(of["make"].get("darts", [])) == 2)["make"]["darts"]
    assert all(set(dart) == {"at", "length"} for dart in fixed)
    until(page, "Number(document.querySelector('.handle[data-dart=\"dart 1\"][data-what=length]')"
                f".getAttribute('aria-valuenow')) > {before + 3}")  # fmt: skip
    # the line before, thin; what was drawn first may still be there while she drags
    until(page, "document.querySelectorAll('#drawing .before path').length > 3")
    page.locator('#drawing .handle[data-dart="dart 2"][data-what="at"]').focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    saved(sheet, lambda of: of["make"]["darts"][1] != fixed[1])
    page.locator("#free").click()
    until(page, "document.getElementById('free').hidden")
    saved(sheet, lambda of: not of["make"].get("darts"))


def test_two_windows_agree_and_a_reload_forgets_nothing(found, demo) -> None:
    page, _, address, _ = demo
    other = page_of(found, address, viewport={"width": 900, "height": 700})
    field(page, "arm.wrist_depth").fill("1 11/16")
    shows = f"{VALUE('arm.wrist_depth')} === '1 11/16'"
    until(other, shows)
    other.locator("#undo").click()
    until(page, f"{VALUE('arm.wrist_depth')} === '1 5/8'")
    other.locator("#redo").click()
    page.reload()
    until(page, shows)
    page.locator("#undo").click()
    until(other, f"!({shows})")
    other.context.close()


def test_a_file_changed_outside_is_offered(demo) -> None:
    page, sheet, _, _ = demo
    theirs = sheet.read_text("utf8").replace("Rosa Lindqvist\"\ndate", "Rosa L.\"\ndate")
    sheet.write_text(theirs, "utf8")
    page.locator("#outside").wait_for(state="visible")
    page.locator("#take").click()
    until(page, "document.querySelector('#f-owner').value === 'Rosa L.'")


def test_correcting_can_be_cancelled_and_leaves_the_page_usable(demo) -> None:
    page, sheet, *_ = demo
    before = sheet.read_text("utf8")
    page.locator("#correct").click()
    page.locator("#cancel").wait_for(state="visible")
    assert page.locator("#step").text_content()
    start = now(page)
    page.locator("#cancel").click()
    wait_for(page, "done", after=start)
    page.locator("#correct").wait_for(state="visible")
    assert "foretold" in page.locator("#pieces-state").text_content()
    start = now(page)
    field(page, "arm.wrist_width").fill("2 3/8")
    wait_for(page, "pieces", after=start)
    page.locator("#undo").click()
    saved(sheet, lambda _: sheet.read_text("utf8") == before)


def test_a_foreign_page_cannot_reach_it(found, demo) -> None:
    _, sheet, address, _ = demo
    before = sheet.read_text("utf8")
    stranger = found.new_context().new_page()
    stranger.route("http://evil.example/", lambda route: route.fulfill(
        body="<p>hello", content_type="text/html"))  # fmt: skip
    stranger.goto("http://evil.example/")
    reached = stranger.evaluate(
        """async (address) => {
          const tries = [];
          for (const how of [{}, { method: "POST", body: "{}" }, { mode: "no-cors" }]) {
            const asked = fetch(address + "do/undo", how);
            tries.push(await asked.then((answer) => answer.type, () => "refused"));
          }
          return tries;
        }""", address)  # fmt: skip
    assert set(reached) <= {"refused", "opaque"}
    wrong = stranger.goto(re.sub(r"/[^/]+/$", "/wrong/", address))
    assert wrong.status == 403
    assert sheet.read_text("utf8") == before
    stranger.context.close()


def test_the_pieces_are_corrected_printed_and_read_back(demo) -> None:
    import pypdf

    page, _, address, _ = demo
    page.locator("#paper").select_option("a4")
    page.locator("#print").click()
    page.locator("#made").wait_for(state="visible", timeout=600_000)  # idle: a minute
    assert page.locator("#pieces-state").text_content() == "corrected"
    assert page.locator("#sentence").text_content().startswith("Sewn and filled, this arm will")
    assert page.locator("#figures .is-met, #figures .is-over").count() == 6
    assert page.locator("#figures .is-met").count() >= 3  # on so coarse a mesh
    shown = page.locator("#pages img").first
    shown.evaluate("one => one.decode()")
    assert shown.evaluate("one => one.naturalWidth") > 300
    with page.expect_download() as taken:
        page.locator("a", has_text="Pattern to print").click()
    pdf = pypdf.PdfReader(taken.value.path())
    assert len(pdf.pages) == page.locator("#pages img").count()
    boxes = [one.mediabox for one in pdf.pages]
    sizes = {tuple(round(25.4 * float(side) / 72) for side in box[2:]) for box in boxes}
    assert sizes == {(210, 297)}
    for name, begins in (("cut_pieces.svg", "<?xml"), ("cut_pieces.dxf", "  0"),
                         ("report.html", "<!doctype html>")):  # fmt: skip
        answer = page.request.get(f"{address}out/{name}", timeout=300_000)
        assert answer.ok and answer.text().lstrip("\n").startswith(begins), name


def test_no_request_left_the_machine_and_nothing_went_wrong(demo) -> None:
    page, _, address, asked = demo
    assert len(asked) > 20
    assert {urlsplit(one).netloc for one in asked if not one.startswith(("data:", "blob:"))} == {
        urlsplit(address).netloc
    }
    assert page.errors == []


def test_ctrl_c_ends_it_cleanly(found, folder) -> None:
    with opened(DEMO, folder) as (address, program):
        page = page_of(found, address)
        program.send_signal(signal.SIGINT)
        assert gently_ended(program) == 0
        assert "Traceback" not in program.stdout.read()
        page.locator("#ended").wait_for(state="visible")
        page.context.close()
