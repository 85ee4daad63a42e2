"""The page in a real browser, for its tests, its benchmark and its pictures."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
STARTS_WITHIN = 120  # seconds; on an idle machine it takes two
PATIENCE = 240  # seconds, with what should come: on a machine as busy as may be
SHORTEST_PAUSE_MS, LONGEST_PAUSE_MS = 10.0, 150.0
# The 3D view is drawn by software, where there is no graphics card; the page itself then is put
# together as browsers do without one, and not by the same software.
FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader",
         "--enable-unsafe-swiftshader", "--disable-gpu-compositing"]  # fmt: skip
# Notes when what was asked for came, in the browser's own clock.
CLOCK = """
window.came = [];
document.addEventListener("told", (event) => {
  requestAnimationFrame(() => window.came.push([event.detail, performance.now()]));
});
"""


def chromium() -> str | None:
    """Return this machine's browser, or None."""
    named = (os.environ.get("UNROLL_BROWSER"), "chromium", "chromium-browser", "google-chrome")
    return next((found for name in named if name and (found := shutil.which(name))), None)


MISSING = " and ".join(
    name for name, is_there in (("playwright", find_spec("playwright")), ("chromium", chromium()))
    if not is_there
)  # fmt: skip
needs_browser = pytest.mark.skipif(
    bool(MISSING), reason=f"not tried in a browser: there is no {MISSING} here"
)


@contextmanager
def opened(
    sheet: Path | None, folder: Path, *, program: str = "unroll"
) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Give the address that `unroll open` prints, and its program; end it afterwards.

    `program` may be `tests.coarse_page`: the same on coarse meshes.
    """
    words = [sys.executable, "-m", program, "open", "--no-browser"]
    words += [str(sheet)] if sheet else []
    running = subprocess.Popen(
        words, cwd=folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    late = threading.Timer(STARTS_WITHIN, running.kill)
    late.start()
    try:
        assert running.stdout is not None
        address = running.stdout.readline().strip()
        late.cancel()
        assert address.startswith("http://127.0.0.1:"), address
        yield address, running
    finally:
        late.cancel()
        if running.poll() is None:
            running.terminate()
        running.wait(timeout=30)


@contextmanager
def browser() -> Iterator[Any]:
    """Give a browser without a window."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        found = play.chromium.launch(executable_path=chromium(), args=FLAGS)
        try:
            yield found
        finally:
            found.close()


def page_of(found: Any, address: str, **how: Any) -> Any:
    """Return the page at an address, once its arm is drawn or it asks for measures."""
    page = found.new_context(**how).new_page()
    page.add_init_script(CLOCK)
    page.set_default_timeout(1000 * PATIENCE)
    page.goto(address)
    until(page, "document.querySelector('#form input') !== null")
    return page


def until(page: Any, holds: str, seconds: float = PATIENCE) -> Any:
    """Return what an expression comes to once it is true.

    The browser's own waiting would evaluate text in the page, which the page's policy forbids.
    """
    end, pause = time.monotonic() + seconds, SHORTEST_PAUSE_MS
    while not (found := page.evaluate(holds)):
        assert time.monotonic() < end, f"not within {seconds:.0f} s: {holds}"
        page.wait_for_timeout(pause)
        pause = min(1.5 * pause, LONGEST_PAUSE_MS)  # asking takes time from what is waited for
    return found


def field(page: Any, path: str) -> Any:
    """Return the field of an entry, its group unfolded."""
    found = page.locator(f'[data-path="{path}"]')
    found.evaluate("one => { const fold = one.closest('details'); if (fold) fold.open = true; }")
    return found


def put(page: Any, path: str, value: str) -> Any:
    """Write into the field of an entry at one go, and return it."""
    found = field(page, path)
    found.evaluate(
        """(one, value) => {
          one.focus();
          one.value = value;
          one.dispatchEvent(new Event("input", { bubbles: true }));
        }""", value)  # fmt: skip
    return found


def wait_for(page: Any, kind: str, *, after: float = 0.0) -> float:
    """Return when, by the browser's clock, something was told and drawn after a time, ms."""
    return float(until(
        page, f"window.came.find((one) => one[0] === '{kind}' && one[1] > {after})?.[1]"
    ))


def now(page: Any) -> float:
    """Return the browser's clock, ms."""
    return float(page.evaluate("performance.now()"))


def saved(sheet: Path, holds: Callable[[dict[str, Any]], Any], seconds: float = PATIENCE) -> Any:
    """Return what a sheet's file says once it says what is expected: it is saved a little later."""
    end = time.monotonic() + seconds
    while not holds(found := tomllib.loads(sheet.read_text("utf8"))):
        assert time.monotonic() < end, found
        time.sleep(0.1)
    return found


def gently_ended(program: subprocess.Popen[str], seconds: float = 20.0) -> int | None:
    """Return a program's exit code once it ends by itself; None where it does not."""
    end = time.monotonic() + seconds
    while program.poll() is None and time.monotonic() < end:
        time.sleep(0.1)
    return program.poll()
