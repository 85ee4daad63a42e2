"""Draws the pictures of docs/page.md from the page itself; needs playwright and a chromium."""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT))

from tests.page_browser import browser, field, now, opened, page_of, until, wait_for  # noqa: E402

OUT = ROOT / "docs" / "pictures"
SIZES = {1280: 860, 768: 1024, 390: 844}
COLOURS = 200  # of a palette; the shaded arm needs most of them


def main():
    with tempfile.TemporaryDirectory() as place, browser() as found:
        sheet = Path(shutil.copy(ROOT / "meshes" / "demo.toml", Path(place) / "rosa.toml"))
        with opened(sheet, Path(place)) as (address, _):
            for width, height in SIZES.items():
                for theme in ("light", "dark"):
                    page = page_of(found, address, color_scheme=theme,
                                   viewport={"width": width, "height": height})
                    wait_for(page, "pieces")
                    until(page, "document.querySelector('#figures .is-met') !== null")
                    page.evaluate("document.querySelector('[data-path=\"arm.upper_arm_girth\"]')"
                                  ".focus({ preventScroll: true })")
                    if width < 1100:
                        where = "#tapes" if width > 500 else "#arm"
                        page.evaluate(f"document.querySelector('{where}').scrollIntoView()")
                    page.wait_for_timeout(400)
                    save(page, f"page_{width}_{theme}.png")
                    page.context.close()
            fault(found, address)


def fault(found, address):
    """Draw a fault beside its field, and the pieces with their thin lines of before."""
    page = page_of(found, address, color_scheme="light", viewport={"width": 1280, "height": 860})
    wait_for(page, "pieces")
    start = now(page)
    field(page, "arm.upper_arm_girth").fill("12 1/4")
    wait_for(page, "pieces", after=start)
    field(page, "arm.wrist_girth").fill("6 1/")
    until(page, "document.querySelector('.is-bad') !== null")
    page.evaluate("document.querySelector('#pieces').scrollIntoView()")
    page.wait_for_timeout(400)
    save(page, "page_fault.png")
    for _ in range(2):
        page.locator("#undo").click()
        page.wait_for_timeout(300)
    page.context.close()


def save(page, name):
    from PIL import Image

    path = OUT / name
    page.screenshot(path=path)
    Image.open(path).convert("RGB").quantize(COLOURS).save(path, optimize=True)
    print(path.relative_to(ROOT))


if __name__ == "__main__":
    main()
