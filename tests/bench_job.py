"""What each step of the demo's job costs, and how it grows: python -m tests.bench_job.

Processor seconds of one process, so that other cores and a busy machine count little; compare
within one run only.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)
from unroll import arm_results
from unroll.arm_job import COARSE
from unroll.disk.outputs import job_files, job_pictures
from unroll.disk.print_files import print_files
from unroll.disk.sheets import load_sheet
from unroll.job import Job
from unroll.sewn.sewing import sew

DEMO = Path(__file__).parents[1] / "meshes" / "demo.toml"
SPACINGS = (8.0, 5.7, 4.0)  # about 4 500, 9 000 and 18 000 triangles


def seconds(work: Callable[[], Any]) -> tuple[float, Any]:
    """Return processor seconds, and what the work gave."""
    begun = time.process_time()
    result = work()
    return time.process_time() - begun, result


def told(name: str, work: Callable[[], Any]) -> Any:
    """Print what a step costs, and return what it gave."""
    spent, result = seconds(work)
    print(f"{name:34s} {spent:6.2f} s", flush=True)
    return result


def main() -> None:
    """Print the steps, then the growth."""
    job = told("read the sheet", lambda: Job(load_sheet(DEMO)))
    arm = job.arms[0]
    told("loft", lambda: (arm.shape, arm.shape.rounded))
    told("draft by the flat rules", lambda: arm.drafted)
    told("search; lay flat, sew, fill", lambda: arm.layouts)
    told("correct", lambda: arm.correction)
    told("what each reading moves", lambda: arm.slips)
    told("sew and fill the drafts", arm.begun)
    told("compare", lambda: arm_results.compared(arm))
    told("certainty", lambda: arm.certainty)
    result = told("gather, finish the pieces", job.everything)
    pictures = told("draw the pictures", lambda: job_pictures(result))
    ready = told("lay on cloth and paper", lambda: job.ready(result))
    told("pages, SVG, DXF", lambda: print_files(ready))
    told("report and 3D files", lambda: job_files(result, ready, pictures))
    quick = Job(load_sheet(DEMO), corrects=False, search=COARSE)
    told("quick: search, lay, fill, compare", quick.filled)
    print()
    before = None
    for spacing in SPACINGS:
        spent, sewn = seconds(
            lambda spacing=spacing: sew(arm.to_cut.pieces, cloth=job.sheet.cloth, spacing=spacing)
        )
        faces = len(sewn.mesh.faces)
        grown = f"{spent / before[1]:5.1f} times for {faces / before[0]:.1f}" if before else ""
        print(f"sew and fill {faces:6d} triangles {spent:10.2f} s {grown}", flush=True)
        before = before or (faces, spent)


if __name__ == "__main__":
    main()
