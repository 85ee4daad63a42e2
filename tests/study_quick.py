"""How long `make --quick` takes on wild sheets, in times the demo: python -m tests.study_quick.

Processor seconds of one process, so that other cores and a busy machine count little. The exit
code tells whether one of them takes more than three times as long as the demo; a word asks for
those that have it in their name. `python -m tests.study_quick mesh` tells instead how far the
coarse mesh moves what is told of the shipped sheets.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)
from unroll import arm_job
from unroll.arm_job import COARSE
from unroll.disk.outputs import job_files
from unroll.disk.print_files import print_files
from unroll.disk.sheets import load_sheet
from unroll.errors import UnrollError
from unroll.job import Job
from unroll.nouns import Armhole, ArmMeasures, CapArc, DartChoice, Sheet

MESHES = Path(__file__).parents[1] / "meshes"
MOST = 3.0  # times the demo's
SHIPPED, FINE_MM = ("demo", "few_measures", "two_arms"), 6.0
LENGTHS = ("shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist",
           "upper_arm_girth", "upper_arm_up", "elbow_girth", "forearm_girth", "forearm_down",
           "wrist_girth", "wrist_width", "wrist_depth", "cap_height", "shoulder_length")
GIRTHS = ("upper_arm_girth", "elbow_girth", "forearm_girth", "wrist_girth", "wrist_width",
          "wrist_depth")


def scaled(arm: ArmMeasures, by: float) -> ArmMeasures:
    """Return an arm of other size and the same shape."""
    hole = arm.armhole
    arcs = tuple(CapArc(by * arc.up, by * arc.length) for arc in arm.cap_arcs)
    sized = {name: by * getattr(arm, name) for name in LENGTHS}
    girth = None if hole.girth is None else by * hole.girth
    return replace(
        arm, **sized, cap_arcs=arcs, armhole=Armhole(by * hole.width, by * hole.height, girth),
        girths=(),
    )  # fmt: skip


def wild(demo: Sheet) -> Iterator[tuple[str, Sheet]]:
    """Yield a name and a sheet, from a small child to what no body has."""
    arm, make = demo.arms[0], demo.make
    for by in (0.4, 0.62, 1.3, 1.7, 2.5):
        yield f"{by:g} times as large", replace(demo, arms=(scaled(arm, by),))
    thin = replace(arm, girths=(), **{name: 0.75 * getattr(arm, name) for name in GIRTHS})
    yield "thin below a full cap", replace(demo, arms=(thin,))
    yield "cap eased, not darted", replace(demo, make=replace(make, cap="ease"))
    yield "a large arm eased", replace(
        demo, arms=(scaled(arm, 1.5),), make=replace(make, cap="ease")
    )
    yield "four darts asked for", replace(demo, make=replace(make, dart_count=4))
    fixed = tuple(DartChoice(at=at, length=110.0) for at in (60.0, 0.0, -60.0))
    yield "three darts fixed", replace(demo, make=replace(make, darts=fixed))
    yield "soft cloth, filled hard", replace(
        demo, cloth=replace(demo.cloth, stretch_percent=2.0, pressure_kpa=8.0)
    )
    yield "two unlike arms", load_sheet(MESHES / "two_arms.toml")


def seconds_of(sheet: Sheet) -> tuple[float, str]:
    """Return processor seconds of everything that `make --quick` does, and how it ended."""
    begun, told = time.process_time(), ""
    try:
        job = Job(sheet, corrects=False, search=COARSE)
        result = job.filled()
        ready = job.ready(result)
        print_files(ready)
        job_files(result, ready=ready)
    except UnrollError as fault:
        told = str(fault).splitlines()[0]
    return time.process_time() - begun, told


def told_on(sheet: Sheet, spacing: float) -> list[dict[str, float]]:
    """Return each arm's figures where its pieces are sewn on a mesh of this edge, mm."""
    before, arm_job.HURRIED_MM = arm_job.HURRIED_MM, spacing
    try:
        result = Job(sheet, corrects=False, search=COARSE).shapes()
    finally:
        arm_job.HURRIED_MM = before
    return [{one.figure.name: one.value for one in arm.verdicts} for arm in result.arms]


def mesh() -> None:
    """Print each figure of the shipped sheets on the coarse mesh and on a fine one."""
    for name in SHIPPED:
        sheet = load_sheet(MESHES / f"{name}.toml")
        pairs = zip(told_on(sheet, arm_job.HURRIED_MM), told_on(sheet, FINE_MM), strict=True)
        for coarse, fine in pairs:
            for figure, value in coarse.items():
                print(f"{name:14s} {figure:32s} {value:7.2f} {fine[figure]:7.2f}", flush=True)


def main(asked: str) -> int:
    """Print a table of the sheets with `asked` in their name; return 1 where one takes too long."""
    if asked == "mesh":
        mesh()
        return 0
    demo = load_sheet(MESHES / "demo.toml")
    usual, _ = seconds_of(demo)
    worst = 1.0
    print(f"{'demo':26s} {usual:6.1f} s")
    for name, sheet in wild(demo):
        if asked not in name:
            continue
        seconds, told = seconds_of(sheet)
        worst = max(worst, seconds / usual)
        print(f"{name:26s} {seconds:6.1f} s  {seconds / usual:4.1f} times  {told}", flush=True)
    return int(worst > MOST)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else ""))
