"""Print how long searching and correcting take: python tests/bench_correction.py.

Processor seconds of one thread, so that a busy machine counts little.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from unroll.arms.lofting import shape_arm
from unroll.correct.layouts import layout_steps
from unroll.correct.loop import correct
from unroll.correct.on_bench import lay_on_bench
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
    steps = layout_steps(shape, make, cloth)
    for name in ("first look", "coarse", "fine"):
        seconds, layouts = timed(lambda: next(steps))
        print(f"layout search, {name:10s}  {len(layouts):3d} layouts  {seconds:5.1f} s", flush=True)
    best = layouts[0]
    before = None
    for spacing in SPACINGS:
        laid, on = timed(
            lambda spacing=spacing: lay_on_bench(
                shape, make, cloth, best.darts, edge=1.25 * spacing, spacing=spacing,
                ease=best.ease,
            )
        )  # fmt: skip
        corrected, found = timed(lambda on=on: correct(on, shape))
        seconds = laid + corrected
        faces = len(found.after.sewn.mesh.faces)
        print(f"correction  {faces:6d} triangles  {seconds:5.1f} s", end="")
        if before:
            print(f"  {seconds / before[1]:.1f} times for {faces / before[0]:.1f}", end="")
        before = faces, seconds
        print(flush=True)


if __name__ == "__main__":
    main()
