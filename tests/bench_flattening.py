"""How fast panels are laid flat: ratios against libigl's SLIM, growth with size, memory.

Run `OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/bench_flattening.py [part ...]` with any
of the parts slim, local_global, growth, held, memory; all when none is named. Times are CPU
seconds. Each ratio is of two times taken in the same process, one after the other.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import igl
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.surfaces import arm_like, grid_panel
from unroll.flat.flattening import flatten, flatten_free, flatten_steps
from unroll.flat.starting import convex_start, local_global_steps
from unroll.maths.energies import EvenEnergy
from unroll.maths.mesh_checks import boundary_loop
from unroll.maths.sparse import pinned_factor
from unroll.maths.triangles import triangles_of
from unroll.nouns import Panel

CLOSE = 1 + 1e-3
SLIM_STEPS = {2_000: 200, 20_000: 150, 100_000: 80}


def arm_panel(triangles: int, *, darted: bool) -> Panel:
    """An outer arm of about that many triangles, 2.4 times as many rows as columns."""
    columns = 2 * round(np.sqrt(triangles / 2 / 2.4) / 2)
    rows = round(triangles / 2 / columns)
    slits = {columns // 3: rows // 5, columns - columns // 3: rows // 5} if darted else None
    return grid_panel(arm_like(), rows, columns, slits=slits)


def excess(panel: Panel, points: np.ndarray) -> float:
    """Area-weighted mean symmetric Dirichlet energy less 4."""
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    values = EvenEnergy().value(*triangles.differentials(points @ np.array([1, 1j])))
    return float(np.average(values, weights=triangles.areas))


def seconds_until(steps: Iterator, panel: Panel, target: float) -> tuple[float, int, bool]:
    """CPU seconds, steps, and whether the target was reached; judging is not timed."""
    total, count = 0.0, 0
    while True:
        before = time.process_time()
        step = next(steps, None)
        total += time.process_time() - before
        if step is None:
            return total, count, False
        count += 1
        if excess(panel, getattr(step, "points", step)) <= target:
            return total, count, True


def slim_steps(panel: Panel, start: np.ndarray, most: int) -> Iterator[np.ndarray]:
    """Points after each SLIM step."""
    vertices = np.asfortranarray(panel.mesh.vertices)
    faces = np.asfortranarray(panel.mesh.faces.astype(np.int32))
    nothing, nowhere = np.zeros(0, np.int32), np.zeros((0, 2), order="F")
    energy = igl.MappingEnergyType.SYMMETRIC_DIRICHLET
    data = igl.slim_precompute(
        vertices, faces, np.asfortranarray(start), energy, nothing, nowhere, 0.0
    )
    for _ in range(most):
        yield igl.slim_solve(data, 1)


def starts(panel: Panel) -> dict[str, np.ndarray]:
    """SLIM's usual start, a convex map, and ours, which spares it most of the way."""
    loop = boundary_loop(panel.mesh.faces, len(panel.mesh.vertices))
    steps = panel.mesh.vertices[np.roll(loop, -1)] - panel.mesh.vertices[loop]
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    convex = convex_start(triangles, loop, np.linalg.norm(steps, axis=1))
    ours = next(flatten_steps(panel, energy="even", held=()))
    return {
        "convex start": np.stack([convex.real, convex.imag], 1),
        "our start": ours.points.copy(),
    }


def slim() -> None:
    """Time both to the same energy."""
    print("triangles darts | ours s (steps) | SLIM from a convex start | SLIM from our start")
    for size, most in SLIM_STEPS.items():
        for darted in (False, True):
            panel = arm_panel(size, darted=darted)
            best = excess(panel, flatten_free(panel).points)
            target = best * CLOSE
            runs = []
            for _ in range(3):
                steps = flatten_steps(panel, energy="even", held=())
                runs.append(seconds_until(steps, panel, target))
            ours, count, _ = min(runs)
            line = f"{len(panel.mesh.faces):9d} {2 * darted:5d} | {ours:8.4f} ({count:3d}) "
            for start in starts(panel).values():
                taken, needed, reached = seconds_until(
                    slim_steps(panel, start, most), panel, target
                )
                sign = "=" if reached else ">"
                line += f"| {taken:7.2f} s ({needed:3d}) ratio {sign} {taken / ours:6.1f} "
            print(line, flush=True)


def rotated(panel: Panel, points: np.ndarray, most: int) -> np.ndarray:
    """Points after `most` local/global steps."""
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    factor = pinned_factor(triangles.cotangent_laplacian())
    steps = local_global_steps(triangles, points @ np.array([1, 1j]), factor)
    for _ in range(most):
        now = next(steps)
    return np.stack([now.real, now.imag], axis=1)


def local_global() -> None:
    """Do local/global steps before the descent pay? From both starts, to the same energy."""
    for darted in (False, True):
        panel = arm_panel(20_000, darted=darted)
        target = excess(panel, flatten_free(panel).points) * CLOSE
        for name, start in starts(panel).items():
            for most in (0, 3, 6, 12):
                before = time.process_time()
                begun = rotated(panel, start, most) if most else start
                spent = time.process_time() - before
                steps = flatten_steps(panel, energy="even", held=(), start=begun)
                taken, count, _ = seconds_until(steps, panel, target)
                print(
                    f"{2 * darted} darts, {name}, {most:2d} local/global steps: excess "
                    f"{excess(panel, begun):.5f}, then {count - 1} descent steps, "
                    f"{spent + taken:.3f} s",
                    flush=True,
                )


def growth() -> None:
    """Exponent of time over size, from 20k to 350k triangles."""
    for name, run in (
        ("free, even", lambda panel: flatten_free(panel)),
        ("held, woven", lambda panel: flatten(panel)),
    ):
        taken = []
        sizes = (20_000, 85_000, 350_000)
        for size in sizes:
            panel = arm_panel(size, darted=True)
            runs = []
            for _ in range(3 if size < 300_000 else 1):
                before = time.process_time()
                run(panel)
                runs.append(time.process_time() - before)
            taken.append(min(runs))
        power = np.log(taken[-1] / taken[0]) / np.log(sizes[-1] / sizes[0])
        times = ", ".join(f"{s // 1000}k {t:.2f} s" for s, t in zip(sizes, taken, strict=True))
        print(f"{name}: {times}; n^{power:.2f}", flush=True)


def held() -> None:
    """20k triangles with every seam exact, one core."""
    for darted in (False, True):
        panel = arm_panel(20_000, darted=darted)
        for energy in ("even", "woven"):
            before = time.process_time()
            flat = flatten(panel, energy=energy)
            taken = time.process_time() - before
            warm = flat.points + 0.0
            before = time.process_time()
            again = flatten(panel, energy=energy, start=warm)
            print(
                f"{len(panel.mesh.faces)} triangles, {2 * darted} darts, {energy}: {taken:.2f} s, "
                f"{flat.steps} steps, seam error {flat.seam_error:.1e}; from its own answer "
                f"{time.process_time() - before:.2f} s, {again.steps} steps",
                flush=True,
            )


def memory() -> None:
    """Peak memory of a million triangles, each in a process of its own."""
    for kind in ("free", "held"):
        subprocess.run([sys.executable, __file__, f"million-{kind}"], check=True)


def million(kind: str) -> None:
    panel = arm_panel(1_000_000, darted=True)
    before = time.process_time()
    flat = flatten_free(panel) if kind == "free" else flatten(panel)
    taken = time.process_time() - before
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(
        f"{kind}: {len(panel.mesh.faces)} triangles, {taken:.1f} s, {flat.steps} steps, "
        f"peak {peak:.2f} GB (process, mesh and all), seam error {flat.seam_error:.1e}",
        flush=True,
    )


if __name__ == "__main__":
    parts = {
        "slim": slim,
        "local_global": local_global,
        "growth": growth,
        "held": held,
        "memory": memory,
    }
    for part in sys.argv[1:] or list(parts):
        if part.startswith("million-"):
            million(part.removeprefix("million-"))
        else:
            print(f"-- {part}")
            parts[part]()
