"""Many sheets at once: python -m tests.study_batch [sheets] [alone] [look|squares] [cluster]

Sheets as makers might write them (`tests/wild_sheets.py`), made with `--quick` by two processes,
killed when half is done and then continued; the first of them, `alone`, by one process too, all of
them where left out. Whether both come to the same bytes; time a sheet, memory over time, and what
became of the sheets. With "look" the search for darts is shorter still and meshes are coarse; with
"squares" nothing is worked out and each sheet's folder holds two squares, which shows what running
many costs by itself. With "cluster" the first are made on a local Dask cluster of two workers too.
Needs /proc.
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)
from tests.many_jobs import make_squares
from tests.wild_sheets import wild_sheet
from unroll.arm_job import LOOK
from unroll.batch.making import Settings, make_one, settings_for
from unroll.batch.orders import orders_in
from unroll.batch.running import each_on, make_all
from unroll.progress import Progress

COARSELY = Settings(search=LOOK, corrects=False, edge=20.0)
FIRST = 5000  # of the wild sheets' seeds
MB = 1e6
MOST_ROWS = 12


def run(sheets: Path, out: Path, how: str, kind: str) -> None:
    """Make every sheet, telling each that is done; `how` is a number of processes or an address."""
    each = each_on(int(how)) if how.isdecimal() else each_on(address=how)
    settings = COARSELY if kind == "look" else settings_for(quick=True)
    make = make_squares if kind == "squares" else make_one
    tell = Progress(lambda step, _share: print(step, flush=True))
    made = make_all(orders_in(sheets), out, settings, each=each, progress=tell, make=make)
    faults = [f"{one.name}: {fault}" for one in made for fault in one.faults]
    print(*faults, sep="\n", flush=True)


def children_of(parent: int) -> list[int]:
    """Return a process and all that descend from it."""
    parents = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except (FileNotFoundError, ProcessLookupError):
            continue
        parents[int(path.parent.name)] = int(fields[1])
    found = [parent]
    for one in found:
        found += [child for child, its in parents.items() if its == one]
    return found


def memory_of(process: int) -> float:
    """Return how much memory is a process's own and in use, MB."""
    try:
        pages = Path(f"/proc/{process}/statm").read_text().split()
    except (FileNotFoundError, ProcessLookupError):
        return 0.0
    return (int(pages[1]) - int(pages[2])) * os.sysconf("SC_PAGE_SIZE") / MB


def watched(
    sheets: Path, out: Path, how: str, kind: str, kill_at: int = 10**9
) -> list[float]:
    """Run, killed once so many sheets are done; print and return the times at which each was."""
    words = [sys.executable, "-m", "tests.study_batch", "run", str(sheets), str(out), how, kind]
    begun, done, largest = time.monotonic(), [], {}
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, bufsize=1) as process:
        os.set_blocking(process.stdout.fileno(), False)
        while process.poll() is None:
            time.sleep(0.5)
            own, *others = (memory_of(one) for one in children_of(process.pid))
            slot = len(done)
            top = largest.get(slot, (0.0, 0.0, 0.0))
            now = (own, max(others, default=0.0), own + sum(others))
            largest[slot] = tuple(map(max, zip(top, now, strict=True)))
            for line in iter(process.stdout.readline, ""):
                if kind != "squares":
                    print(f"  {time.monotonic() - begun:6.0f} s  {line}", end="", flush=True)
                if " sheets done" in line:
                    done.append(time.monotonic() - begun)
            if len(done) > kill_at:
                process.send_signal(signal.SIGKILL)
                process.wait()
    print("  memory, MB (own process, largest other, all together), while each sheet was made:")
    step = -(-len(largest) // MOST_ROWS)
    for slot in sorted(largest)[::step]:
        print("   ", slot, *(f"{value:.0f}" for value in largest[slot]))
    return done


def sums(out: Path) -> dict[str, str]:
    """Return the sum of every file."""
    return {
        str(path.relative_to(out)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in out.rglob("*") if path.is_file()
    }  # fmt: skip


def write_sheets(folder: Path, count: int) -> None:
    """Write wild sheets, each with its drawings."""
    folder.mkdir()
    for seed in range(FIRST, FIRST + count):
        wild = wild_sheet(seed)
        text = wild.text
        for name, data in wild.files.items():
            (folder / f"{wild.name}-{name}").write_bytes(data)
            text = text.replace(f'"{name}"', f'"{wild.name}-{name}"')
        (folder / f"{wild.name}.toml").write_text(text, "utf8")


def became(out: Path, sheets: Path) -> str:
    """Return what became of the sheets, and each one that did not come to paper."""
    counts: Counter[str] = Counter()
    for path in sorted(sheets.glob("*.toml")):
        slip = wild_sheet(int(path.stem.removeprefix("wild"))).slip
        report, pattern = out / path.stem / "report.json", out / path.stem / "pattern.pdf"
        if not report.exists():
            kind = "a slip, told" if slip else "REFUSED"
        elif slip:
            kind = "A SLIP, TAKEN"
        elif not pattern.exists():
            kind = "WITHHELD"
        else:
            met = all(row["met"] for row in json.loads(report.read_text("utf8"))["verdicts"])
            kind = "paper, within limits" if met else "paper, outside limits"
        counts[kind] += 1
        if kind.isupper():
            print(f"  {kind}: {path.stem} {slip}")
    return ", ".join(f"{number} {kind}" for kind, number in counts.most_common())


def study(count: int, alone: int, kind: str, on_cluster: bool) -> int:
    """Run all of it; return how many files differ."""
    os.environ["SOURCE_DATE_EPOCH"] = "0"
    place = Path(tempfile.mkdtemp())
    sheets, few = place / "sheets", place / "few"
    write_sheets(sheets, count)
    write_sheets(few, alone)
    print(f"{count} sheets; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"two processes, killed when {count // 2} are done")
    first = watched(sheets, place / "two", "2", kind, kill_at=count // 2)
    left = [path.name for path in (place / "two").iterdir()]
    whole, half = [n for n in left if not n.startswith(".")], [n for n in left if n[0] == "."]
    print(f"left by the killed run: {len(whole)} folders, {len(half)} half ones")
    print("continued")
    second = watched(sheets, place / "two", "2", kind)
    if kind == "quick":
        print(became(place / "two", sheets))
    print(f"the first {alone} by one process")
    one = watched(few, place / "one", "1", kind)
    print(f"seconds a sheet: {one[-1] / alone:.1f} with one process; with two "
          f"{first[alone - 1] / alone:.1f} for the same, {first[-1] / len(first):.1f} before it "
          f"was killed and {second[-1] / len(second):.1f} after; load {os.getloadavg()[0]:.1f}")
    runs = {"two": sums(place / "two")}
    if on_cluster:
        import distributed

        print(f"the first {alone} on a cluster of two workers")
        with distributed.LocalCluster(n_workers=2, threads_per_worker=1,
                                      dashboard_address=None) as cluster:  # fmt: skip
            watched(few, place / "cluster", cluster.scheduler_address, kind)
        runs["cluster"] = sums(place / "cluster")
    expected, differing = sums(place / "one"), 0
    for name, found in runs.items():
        other = {n for n in expected if expected[n] != found.get(n)}
        differing += len(other)
        print(f"{name}: {len(expected)} files, {len(other)} differ", *sorted(other)[:5])
    print(f"left to be looked at: {place}")
    return differing


if __name__ == "__main__":
    words = sys.argv[1:]
    if words[:1] == ["run"]:
        run(Path(words[1]), Path(words[2]), words[3], words[4])
    else:
        numbers = [int(word) for word in words if word.isdecimal()] or [24]
        own = next((word for word in words if word in ("look", "squares")), "quick")
        sys.exit(study(numbers[0], numbers[-1], own, "cluster" in words))
