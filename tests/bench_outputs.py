"""How long the outputs take, and how large they are: `python -m tests.bench_outputs`."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from unroll.disk.drawings import pieces_svg
from unroll.disk.meshes import arm_glb, arm_obj
from unroll.disk.outputs import job_files
from unroll.disk.print_files import print_files
from unroll.disk.sheets import load_sheet
from unroll.job import Job
from unroll.show.figures import arm_picture, models_of, names_of_arm_pictures
from unroll.show.numbers import report_json

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
    job = Job(load_sheet(DEMO))
    result = job.everything()
    arm = result.arms[0]
    model = models_of(result, arm)[0]
    print(f"{len(arm.arm.mesh.faces)} triangles, one arm")
    for name in names_of_arm_pictures(arm):
        _timed(f"{name}.png", lambda name=name: arm_picture(result, arm, model, name))
    _timed("pieces.svg", lambda: pieces_svg(arm.to_cut))
    _timed("arm.glb", lambda: arm_glb(model))
    _timed("arm.obj", lambda: arm_obj(arm.arm))
    _timed("report.json", lambda: report_json(result))
    _timed("all but what is printed", lambda: job_files(result))
    ready = job.ready(result)
    _timed("what is printed", lambda: print_files(ready))
    files = job_files(result, ready) | print_files(ready)
    for name, content in files.items():
        print(f"{name:24s} {len(content) / 1000:6.0f} kB")
    print(f"{'together':24s} {sum(map(len, files.values())) / 1e6:6.1f} MB")


if __name__ == "__main__":
    main()
