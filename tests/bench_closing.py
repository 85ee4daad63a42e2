"""Print how long correcting and searching take, and how they grow: python tests/bench_closing.py.

Processor seconds of one thread, so that a busy machine does not count.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from unroll.files.sheets import load_sheet
from unroll.lofting import shape_arm
from unroll.pipeline.closing_loop import close_loop
from unroll.pipeline.dart_layouts import known_of, search_layouts


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
    print(f"layout search  {len(layouts):3d} layouts  {seconds:5.1f} s")
    before = None
    for edge in (13.0, 8.0, 5.5):
        for name, known in (("probed anew", None), ("slopes known", known_of(best))):
            seconds, closing = timed(
                lambda edge=edge, known=known: close_loop(
                    shape,
                    make,
                    cloth,
                    best.darts,
                    edge=edge,
                    spacing=edge,
                    ease=best.ease,
                    known=known,
                )
            )
            faces = len(closing.sewn_after.mesh.faces)
            print(f"correction  {name:12s} {faces:6d} triangles  {seconds:5.1f} s", end="")
            if known is None:
                if before:
                    print(f"  {seconds / before[1]:.1f} times for {faces / before[0]:.1f}", end="")
                before = faces, seconds
            print(flush=True)


if __name__ == "__main__":
    main()
