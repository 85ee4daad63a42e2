"""How soon a keystroke is seen, in a real browser: `python -m tests.bench_page [times]`.

Types a girth again and again, and asks the browser's own clock when the new arm (with its tape)
and the corrected pieces with their sewn shape, as foretold, were drawn. What else the machine does
meanwhile is in the figures: they are upper bounds.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

from tests.page_browser import ROOT, browser, field, now, opened, page_of, wait_for

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


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    print(f"{count} keystrokes, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    for kind, found in times_of(count).items():
        middle, most = statistics.median(found), statistics.quantiles(found, n=20)[-1]
        print(f"{MEANS[kind]}: median {middle:.0f} ms, 95th percentile {most:.0f} ms "
              f"(wanted: {WANTED_MS[kind]:.0f} ms)")


if __name__ == "__main__":
    main()
