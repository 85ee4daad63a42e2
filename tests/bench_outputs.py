"""How long the outputs take, and how large they are: `python -m tests.bench_outputs`."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from unroll.disk.drawings import pieces_svg
from unroll.disk.meshes import arm_glb, arm_obj
from unroll.disk.outputs import job_files
from unroll.disk.sheets import load_sheet
from unroll.job import Job
from unroll.show.colours import png_bytes
from unroll.show.figures import models_of
from unroll.show.numbers import report_json
from unroll.show.pictures import arm_figure, heat_figure, pieces_figure

DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"


def _timed(name: str, work: Callable[[], object]) -> None:
    """Print the least of three processor times; a busy machine only ever adds."""
    best = float("inf")
    for _ in range(3):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    print(f"{name:24s} {best:6.2f} s")


def main() -> None:
    result = Job(load_sheet(DEMO)).everything()
    arm = result.arms[0]
    model = models_of(result, arm)[0]
    print(f"{len(arm.arm.mesh.faces)} triangles, one arm")
    _timed("arm.png", lambda: png_bytes(arm_figure(model)))
    _timed("heat_outer.png", lambda: png_bytes(heat_figure(arm.distortions["outer"])))
    _timed("pieces.png", lambda: png_bytes(pieces_figure(arm.to_cut)))
    _timed("pieces.svg", lambda: pieces_svg(arm.to_cut))
    _timed("arm.glb", lambda: arm_glb(model))
    _timed("arm.obj", lambda: arm_obj(arm.arm))
    _timed("report.json", lambda: report_json(result))
    _timed("everything", lambda: job_files(result))
    for name, content in job_files(result).items():
        print(f"{name:24s} {len(content) / 1000:6.0f} kB")


if __name__ == "__main__":
    main()
