"""The page for every hand and eye: by keyboard, enlarged, on small screens, by day and by night."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pytest

from tests.page_browser import (
    ROOT,
    browser,
    field,
    needs_browser,
    now,
    opened,
    page_of,
    put,
    saved,
    until,
    wait_for,
)
from tests.test_page_armhole import OVAL

pytestmark = needs_browser
DEMO = ROOT / "meshes" / "demo.toml"
WIDE = {"width": 1280, "height": 860}
UNFOLD = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
# Marks what can be worked with a number, in the order of the page.
NUMBER = """
[...document.querySelectorAll(
  "a[href], button, input, select, textarea, summary, canvas, .handle"
)].filter((one) => one.checkVisibility() && !one.disabled)
  .map((one, k) => { one.dataset.number = k; return one.id || one.dataset.path || one.tagName; })
"""
# The number of what has the focus, and whether that can be seen.
FOCUS = """
(() => {
  const one = document.activeElement, style = getComputedStyle(one);
  const other = one.matches(".handle") && document.querySelector(".handle:not(:focus)");
  const isRinged = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  const isFilled = Boolean(other) && style.fill !== getComputedStyle(other).fill;
  return [Number(one.dataset.number ?? -1), isRinged || isFilled];
})()
"""
SPILLS = """
(() => {
  const out = [], wide = document.documentElement.clientWidth;
  if (document.scrollingElement.scrollWidth > wide) out.push(`page: ${document.scrollingElement.scrollWidth}`);
  for (const one of document.body.querySelectorAll("*")) {
    if (!one.checkVisibility() || one.matches(".skip, script") || one.closest("svg svg, defs")) continue;
    const box = one.getBoundingClientRect(), style = getComputedStyle(one);
    if (!box.width || !box.height) continue;
    if (box.right > wide + 1 || box.left < -1) out.push(`${one.tagName} ${one.id} ${one.className} ${box.right}`);
    if (style.overflowX === "hidden" && !one.matches("input") && one.scrollWidth > one.clientWidth + 1) {
      out.push(`clipped: ${one.tagName} ${one.id} ${one.className}`);
    }
  }
  return out;
})()
"""  # noqa: E501
# Every text that can be seen with too little contrast to what lies under it: WCAG 2.2, 1.4.3,
# https://www.w3.org/TR/WCAG22/#contrast-minimum; what is disabled is left out there too.
FAINT = """
(() => {
  const parts = (text) => {
    const found = text.match(/[\\d.]+/g).map(Number);
    return found.length > 3 ? found : [...found, 1];
  };
  const over = (top, under) => [0, 1, 2].map((k) => top[3] * top[k] + (1 - top[3]) * under[k]).concat(1);
  const light = (colour) => {
    const [r, g, b] = colour.map((part) => part / 255).map((p) => (p <= 0.04045 ? p / 12.92 : ((p + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ratio = (one, other) => {
    const [low, high] = [light(one), light(other)].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  };
  const behind = (one) => {  // what is painted behind an element, its own ground first
    const stack = [];
    for (let at = one; at; at = at.parentElement) {
      const ground = parts(getComputedStyle(at).backgroundColor);
      if (ground[3]) stack.push(ground);
      if (ground[3] === 1) break;
    }
    return stack.reverse().reduce((under, top) => over(top, under), [255, 255, 255, 1]);
  };
  const shape = (text) => {  // the filled shape that a text of a drawing lies on, if any
    text.scrollIntoView({ block: "center" });
    const box = text.getBoundingClientRect();
    const under = document.elementsFromPoint(box.x + box.width / 2, box.y + box.height / 2)
      .find((one) => one.matches("svg *:not(text):not(tspan)") && getComputedStyle(one).fill !== "none");
    return under && parts(getComputedStyle(under).fill);
  };
  const seen = (one) => {
    let share = 1;
    for (let at = one; at; at = at.parentElement) share *= Number(getComputedStyle(at).opacity);
    return share;
  };
  const out = [], told = [];
  const check = (one, colour, words, ground) => {
    const style = getComputedStyle(one), size = parseFloat(style.fontSize);
    const isLarge = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    const [r, g, b, a] = parts(colour), got = ratio(over([r, g, b, a * seen(one)], ground), ground);
    told.push(words);
    if (got < (isLarge ? 3 : 4.5)) out.push(`${got.toFixed(2)}: ${words.trim().slice(0, 40)} (${one.tagName} ${one.className.baseVal ?? one.className})`);
  };
  for (const one of document.body.querySelectorAll("*")) {
    if (!one.checkVisibility() || one.closest("script, defs, :disabled, option")) continue;
    const style = getComputedStyle(one);
    if (style.visibility === "hidden" || one.matches(".skip:not(:focus)")) continue;
    const words = [...one.childNodes].filter((node) => node.nodeType === 3).map((node) => node.data).join("");
    if (one.matches("text, tspan")) {
      if (words.trim()) check(one, style.fill, words, shape(one) || behind(one));
      continue;
    }
    if (words.trim()) check(one, style.color, words, behind(one));
    if (one.matches("input, textarea")) {
      const isEmpty = !one.value, colour = isEmpty ? getComputedStyle(one, "::placeholder").color : style.color;
      check(one, colour, one.value || one.placeholder || "-", behind(one));
    }
  }
  return [out, told.length];
})()
"""  # noqa: E501


@pytest.fixture(scope="module")
def found():
    with browser() as one:
        yield one


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """The demo, open on coarse meshes: (its file, its address)."""
    folder = tmp_path_factory.mktemp("reach")
    sheet = Path(shutil.copy(DEMO, folder / "demo.toml"))
    with opened(sheet, folder, program="tests.coarse_page") as (address, _):
        yield sheet, address


@pytest.fixture(scope="module")
def page(found, served):
    """Its page, once it has come to rest."""
    one = page_of(found, served[1], viewport=WIDE)
    wait_for(one, "done")
    return one


def picture(page) -> bytes:
    from PIL import Image

    return Image.open(io.BytesIO(page.locator("canvas").screenshot())).convert("L").tobytes()


def picture_when(page, holds) -> bytes:
    """Return the 3D view once it is as expected: it is drawn at the browser's next leisure."""
    for _ in range(200):
        if holds(seen := picture(page)):
            return seen
        page.wait_for_timeout(100)
    raise AssertionError("the view did not become what was expected")


def tab_to(page, selector: str) -> None:
    """Go on by the Tab key until something has the focus."""
    for _ in range(250):
        page.keyboard.press("Tab")
        if page.evaluate(f"document.activeElement.matches('{selector}')"):
            return
    raise AssertionError(f"no Tab reached {selector}")


def test_tab_reaches_every_control_in_its_order_and_shows_where_it_is(page) -> None:
    page.evaluate(UNFOLD)
    names = page.evaluate(NUMBER)
    assert len(names) > 100
    page.evaluate("document.activeElement.blur()")
    reached, unseen = [], []
    for _ in range(len(names) + 5):  # a browser also stops at what scrolls
        page.keyboard.press("Tab")
        number, is_seen = page.evaluate(FOCUS)
        if number >= 0:
            reached.append(number)
        if not is_seen:
            unseen.append(names[number])
        if number == len(names) - 1:
            break
    assert [name for k, name in enumerate(names) if k not in reached] == []
    assert reached == sorted(reached)
    assert unseen == []


def test_a_measure_is_typed_the_arm_turned_and_a_dart_moved_by_keyboard_alone(page, served) -> None:
    sheet, _ = served
    page.evaluate("document.activeElement.blur()")
    tab_to(page, '[data-path="arm.wrist_girth"]')
    page.keyboard.type("6 3/8")  # Tab has selected what was there
    saved(sheet, lambda of: of["arm"]["wrist_girth"] == "6 3/8")
    tab_to(page, "canvas")
    start = picture(page)
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    picture_when(page, lambda seen: seen != start)
    until(page, "document.querySelectorAll('#drawing .handle').length >= 4")
    tab_to(page, '.handle[data-what="at"]')
    page.keyboard.press("ArrowRight")
    darts = saved(sheet, lambda of: len(of["make"].get("darts", [])) == 2)["make"]["darts"]
    until(page, "document.activeElement.matches('.handle')")  # drawn anew, it keeps the focus
    until(page, "!document.getElementById('free').hidden")
    tab_to(page, "#free")
    page.keyboard.press("Enter")
    saved(sheet, lambda of: not of["make"].get("darts"))
    page.keyboard.press("Control+z")
    saved(sheet, lambda of: of["make"].get("darts") == darts)
    for _ in range(3):
        page.keyboard.press("Control+z")
    saved(sheet, lambda of: of["arm"]["wrist_girth"] == "6 1/4")


def test_the_tape_of_the_field_lies_on_the_arm_with_what_was_asked_and_got(page) -> None:
    page.locator("#arm .controls button", has_text="as taped").click()
    field(page, "arm.elbow_girth").focus()
    lit = "document.querySelector('.tape-labels .is-lit')?.textContent"
    until(page, f"{lit} === 'elbow girthasked and got 9 5/8 in'")
    field(page, "arm.shoulder_to_inner_elbow").focus()
    until(page, f"{lit} === 'shoulder to inner elbowasked and got 12 7/8 in'")
    page.locator("#arm .controls button", has_text="corrected").click()
    field(page, "arm.forearm_girth").focus()
    until(page, f"/^forearm girthasked 9 1.2 in, got 9 [0-9]+.16 in$/.test({lit})"
                f" || /^forearm girthasked and got 9 1.2 in$/.test({lit})")  # fmt: skip
    ring = "[...document.querySelectorAll('.tape-labels > div')].map((one) => one.offsetWidth > 60)"
    assert page.evaluate(ring).count(True) == 4  # each girth that the sewn arm is held to


def test_a_traced_armhole_is_given_as_a_file(page, served) -> None:
    sheet, _ = served
    before = {one.name for one in sheet.parent.iterdir()}
    field(page, "arm.armhole.outline")
    place = page.locator("#f-arm-armhole-outline-file")

    def give(content: str) -> None:
        place.set_input_files({"name": "../../her secret.svg", "mimeType": "image/svg+xml",
                               "buffer": content.encode()})  # fmt: skip

    fault = "document.querySelector('[data-of=\"arm.armhole.outline\"] .fault').textContent"
    give("<svg/>")
    until(page, f'{fault} === \'armhole outline "armhole.svg" has no line; '
                "expected one closed path'")  # fmt: skip
    give(OVAL)
    saved(sheet, lambda of: of["arm"]["armhole"].get("outline") == "armhole.svg")
    until(page, f"{fault} === ''")
    assert {one.name for one in sheet.parent.iterdir()} - before == {"armhole.svg"}
    page.locator("#undo").click()
    saved(sheet, lambda of: "outline" not in of["arm"]["armhole"])


@pytest.mark.parametrize(
    ("width", "height", "scale"), [(390, 844, 1), (640, 430, 2), (768, 1024, 1), (1280, 860, 1)]
)
def test_nothing_spills_out_of_a_small_screen_or_at_two_hundred_percent(
    found, served, width, height, scale
) -> None:
    page = page_of(found, served[1], viewport={"width": width, "height": height},
                   device_scale_factor=scale)  # fmt: skip
    wait_for(page, "pieces")
    page.evaluate(UNFOLD)
    assert page.evaluate(SPILLS) == []
    verdict = page.locator("#verdict").bounding_box()
    assert verdict["height"] < 0.45 * height or scale == 2  # there it scrolls with the page
    page.context.close()


def test_figures_that_come_late_stay_marked_as_those_of_the_sheet_before_its_fault(page) -> None:
    begun = now(page)
    put(page, "arm.elbow_girth", "9 7/8")
    wait_for(page, "arm", after=begun)  # its pieces are being worked out
    put(page, "arm.wrist_girth", "6 1/")
    wait_for(page, "waiting", after=begun)
    wait_for(page, "pieces", after=begun)
    assert page.evaluate("document.body.matches('.is-old')")
    assert "needs mending" in page.locator("#sentence").inner_text()
    for _ in range(2):
        page.locator("#undo").click()
    until(page, "!document.querySelector('.is-bad') && !document.body.matches('.is-old')")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_text_has_contrast_aa(found, served, theme) -> None:
    page = page_of(found, served[1], viewport=WIDE, color_scheme=theme)
    wait_for(page, "pieces")
    put(page, "arm.elbow_girth", "")
    until(page, "document.querySelector('[data-path=\"arm.elbow_girth\"]').placeholder !== ''")
    put(page, "arm.wrist_girth", "6 1/")
    until(page, "document.querySelector('.is-bad') && document.body.matches('.is-old')")
    page.evaluate(f"{UNFOLD}; for (const name of ['outside', 'ended']) "
                  "document.getElementById(name).hidden = false")  # fmt: skip
    page.wait_for_timeout(300)  # colours fade into each other
    faint, count = page.evaluate(FAINT)
    assert faint == [] and count > 250
    page.evaluate("document.getElementById('outside').hidden = true")
    for _ in range(2):
        page.locator("#undo").click()
    until(page, "document.querySelectorAll('.is-bad').length === 0")
    page.context.close()


def test_a_trial_is_explained_and_the_pieces_corrected_for_it(page) -> None:
    for name, value in (("upper_arm", "11 7/16"), ("elbow", "9 3/4"), ("forearm", "9 5/8")):
        put(page, f"trial.{name}_girth", value)
    until(page, f"{FILED} === '9 5/8'")
    before = page.evaluate("document.getElementById('drawing').innerHTML")
    page.locator("#explain").click()
    until(page, "document.querySelectorAll('#explained tbody tr').length === 3")
    said = page.locator("#explained").text_content()
    assert "Cloth and filling together give" in said and "11 7/16 in" in said
    until(page, "document.getElementById('pieces-state').textContent === 'corrected'")
    until(page, "document.body.dataset.doing === ''")
    assert page.evaluate("document.getElementById('drawing').innerHTML") != before
    assert page.locator("#drawing .before path").count() > 3


FILED = "document.querySelector('[data-path=\"trial.forearm_girth\"]').value"
