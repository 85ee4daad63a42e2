"""How near lofts come to the scans they are made from, level by level.

`python -m tests.study_scans` reads every arm of meshes/ (or the files named) without any hint, and
prints how far off it lie the loft of the sheet's four girths ("before") and the loft of every
level ("after"): mean, 95th percentile, worst. `--levels` prints each level; `--correct` also makes
corrected pieces and prints whether the filled arm is within limits of the scan's rounded shape.
`--million` reads and measures one arm cut up into 1.1 million noisy triangles, and prints the
processor's seconds and the memory.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import trimesh

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)
from unroll import arm_results
from unroll.disk.scans import load_scanned_sheet
from unroll.errors import UnrollError
from unroll.job import Job
from unroll.nouns import Sheet
from unroll.nouns.scan import LevelGap
from unroll.scans.comparing import scan_fit

MESHES = Path(__file__).resolve().parent.parent / "meshes"
LEVEL_STEP = 10


def sheet_of(arm: Path) -> Sheet:
    """Return a sheet that says nothing but its unit, its arm the scan's."""
    with tempfile.TemporaryDirectory() as folder:
        sheet = Path(folder) / "sheet.toml"
        sheet.write_text('unit = "mm"\n')
        return load_scanned_sheet(sheet, arm)


def three(gap: LevelGap) -> str:
    return f"{gap.mean:5.2f} {gap.p95:5.2f} {gap.worst:6.2f}"


def study(arm: Path, options: set[str]) -> None:
    sheet = sheet_of(arm)
    fit = scan_fit(sheet.scanned, sheet.arms[0])
    scan = fit.scan
    row = f"{arm.stem:28} {scan.side:5} {scan.bend_deg:4.0f} {scan.away_deg:4.0f}"
    print(f"{row} | {three(fit.whole['taped'])} | {three(fit.whole['levels'])}", flush=True)
    if "--levels" in options:
        pairs = list(zip(fit.gaps["taped"], fit.gaps["levels"], strict=True))
        for before, after in pairs[::LEVEL_STEP]:
            print(f"{before.along:39.0f} mm | {three(before)} | {three(after)}")
    if "--correct" in options:
        correct(sheet)


def correct(sheet: Sheet) -> None:
    """Print the figures of the corrected pieces against their limits."""
    job = Job(sheet).arms[0]
    for verdict in arm_results.shown(job).verdicts:
        met = "within" if verdict.is_met else "OUTSIDE"
        print(f"{verdict.figure.key:>45} {verdict.value:7.2f} of {verdict.limit:g} {met}")


def million() -> None:
    """Print what it costs to read and measure a scan of 1.1 million triangles."""
    mesh = trimesh.load(MESHES / "arm_rest.obj", process=False)
    for _ in range(5):
        mesh = mesh.subdivide()
    mesh.vertices = mesh.vertices + np.random.default_rng(0).normal(0.0, 0.1, mesh.vertices.shape)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "arm.ply"
        mesh.export(path)
        count, started = len(mesh.faces), time.process_time()
        sheet_of(path)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{count} triangles: {time.process_time() - started:.1f} s, {most:.2f} GB at most")


def main() -> None:
    if "--million" in sys.argv:
        million()
        return
    options = {word for word in sys.argv[1:] if word.startswith("--")}
    files = [Path(word) for word in sys.argv[1:] if not word.startswith("--")]
    print(f"{'':28} {'arm':5} bend away | before: mean, 95 %, worst | after, mm")
    for arm in files or sorted(MESHES.glob("arm_*.obj")):
        try:
            study(arm, options)
        except UnrollError as fault:
            print(f"{arm.stem:28} {fault}")


if __name__ == "__main__":
    main()
