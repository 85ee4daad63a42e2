"""How soon a keystroke is seen, in a real browser: `python -m tests.bench_page [times]`.

Types a girth again and again, and asks the browser's own clock when the new arm (with its tape)
and the corrected pieces with their sewn shape, as foretold, were drawn. What else the machine does
meanwhile is in the figures: they are upper bounds. The stages' own seconds of a core are told too.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from tests.page_browser import ROOT, browser, field, now, opened, page_of, wait_for
from unroll.disk.sheets import sheet_of
from unroll.page.editing import changed, entries
from unroll.page.session import Session
from unroll.page.sketching import sketched_arm, sketched_pieces

WANTED_MS = {"arm": 500.0, "pieces": 1500.0}
MEANS = {"arm": "new arm and tape", "pieces": "pieces and sewn shape"}


def times_of(count: int) -> dict[str, list[float]]:
    """Return how many ms after a keystroke each was drawn, by kind."""
    out: dict[str, list[float]] = {kind: [] for kind in WANTED_MS}
    with tempfile.TemporaryDirectory() as place, browser() as found:
        sheet = Path(shutil.copy(ROOT / "meshes" / "demo.toml", Path(place) / "demo.toml"))
        with opened(sheet, Path(place)) as (address, _):
            page = page_of(found, address, viewport={"width": 1280, "height": 860})
            wait_for(page, "done")
            one = field(page, "arm.forearm_girth")
            for number in range(count):
                one.fill("9 1")
                page.wait_for_timeout(1500)  # she looks for the next key
                start = now(page)
                one.press("End")
                one.press_sequentially(f"/{2 if number % 2 else 4}")
                for kind, found_ms in out.items():
                    found_ms.append(wait_for(page, kind, after=start + 40.0) - start)
    return out


def core_ms() -> dict[str, float]:
    """Return what each stage of a keystroke takes of a core, ms: the least of five times."""
    session = Session(ROOT / "meshes" / "demo.toml")
    sheet = session.sheet
    assert sheet is not None
    arm = replace(sheet.arms[0], forearm_girth=sheet.arms[0].forearm_girth + 3.0)
    other = replace(sheet, arms=(arm,))
    _, arm_start = sketched_arm(sheet, 0)
    _, start = sketched_pieces(sheet, 0, None)
    stages = {
        "reading the sheet": lambda: changed_and_read(session),
        "the arm, the first time": lambda: sketched_arm(other, 0),
        "the arm after another": lambda: sketched_arm(other, 0, arm_start),
        "pieces and sewn shape after others": lambda: sketched_pieces(other, 0, None, start),
    }
    return {name: min(_core_ms(stage) for _ in range(5)) for name, stage in stages.items()}


def changed_and_read(session: Session) -> None:
    text = changed(session.text, ("arm", "forearm_girth"), "9 3/4")
    sheet_of(text, ROOT / "meshes")
    entries(text)


def _core_ms(stage: Callable[[], object]) -> float:
    start = time.process_time()
    stage()
    return 1000.0 * (time.process_time() - start)


def main() -> None:
    for name, ms in core_ms().items():
        print(f"{name}: {ms:.0f} ms of a core")
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    print(f"{count} keystrokes, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    for kind, found in times_of(count).items():
        middle, most = statistics.median(found), statistics.quantiles(found, n=20)[-1]
        print(f"{MEANS[kind]}: median {middle:.0f} ms, 95th percentile {most:.0f} ms "
              f"(wanted: {WANTED_MS[kind]:.0f} ms)")


if __name__ == "__main__":
    main()
