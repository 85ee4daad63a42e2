"""Print how long correcting and searching take, and how they grow: python tests/bench_closing.py.

Processor seconds of one thread, so that a busy machine counts little.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from unroll.arms.lofting import shape_arm
from unroll.correct.layouts import search_layouts
from unroll.correct.loop import close_loop
from unroll.disk.sheets import load_sheet

SPACINGS = (11.5, 8.0, 5.7)


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Return processor seconds and the result."""
    begun = time.process_time()
    result = work()
    return time.process_time() - begun, result


def main() -> None:
    """Print a table."""
    sheet = load_sheet(Path(__file__).parents[1] / "meshes" / "demo.toml")
    shape, make, cloth = shape_arm(sheet.arms[0]), sheet.make, sheet.cloth
    seconds, layouts = timed(lambda: search_layouts(shape, make, cloth))
    best = layouts[0]
    print(f"layout search  {len(layouts):3d} layouts  {seconds:5.1f} s", flush=True)
    before = None
    for spacing in SPACINGS:
        edge = 1.25 * spacing
        seconds, closing = timed(
            lambda edge=edge, spacing=spacing: close_loop(
                shape, make, cloth, best.darts, edge=edge, spacing=spacing, ease=best.asked_ease
            )
        )
        faces = len(closing.sewn_after.mesh.faces)
        print(f"correction  {faces:6d} triangles  {seconds:5.1f} s", end="")
        if before:
            print(f"  {seconds / before[1]:.1f} times for {faces / before[0]:.1f}", end="")
        before = faces, seconds
        print(flush=True)


if __name__ == "__main__":
    main()
