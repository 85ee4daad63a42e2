"""Run sheets as makers might write them through the commands, and count what becomes of them.

    python -m tests.study_sheets --count 40                  # make --quick, fresh sheets
    python -m tests.study_sheets --count 20 --full --seed 900
    python -m tests.study_sheets --read --count 2000         # read and lofted only, in this process
    python -m tests.study_sheets --look --count 100          # and made ready to cut, coarsely

Each sheet is a process of its own, ended after `--minutes`; sheets that were refused, withheld or
left something outside its limits stay in `--keep` with what was said. The sheets come from
`tests/wild_sheets.py`, which takes no value and no limit from the program.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean

from tests.wild_sheets import WildSheet, wild_sheet

HOME = Path(__file__).parents[1]
BAD_SHEET, OUTSIDE = 1, 2


@dataclass(frozen=True)
class Outcome:
    """What became of one sheet."""

    sheet: WildSheet
    code: int | None  # None where it was ended
    said: tuple[str, ...]
    seconds: float
    paper: bool
    missed: tuple[str, ...]  # figures outside their limits

    @property
    def why(self) -> str:
        """The line that says why something is outside its limits; "" where none does."""
        return next((line for line in self.said if any(why in line for why in WHYS)), "")

    @property
    def kind(self) -> str:
        """One word or two."""
        if self.code is None:
            return "hang"
        if any("Traceback" in line for line in self.said) or self.code not in (0, 1, 2):
            return "traceback"
        if self.code == BAD_SHEET:
            return "refused, a slip" if self.sheet.slip else "refused"
        if self.sheet.slip:
            return "a slip, taken"
        if not self.paper:
            return "withheld"
        if any("is not printed" in line for line in self.said):
            return "a piece withheld"
        return "within limits" if self.code == 0 else "paper, outside limits"


WHYS = ("First look", "Before you cut", "Not as wanted", "To be sewn with care",
        "takes in too little", "is not printed")  # fmt: skip


def run(sheet: WildSheet, place: Path, *, full: bool, minutes: float) -> Outcome:
    """Make one sheet in a process of its own."""
    here = place / sheet.name
    here.mkdir(parents=True, exist_ok=True)
    _written(sheet, here)
    out = here / "out"
    command = [sys.executable, "-m", "unroll", "make", "sheet.toml", "--out", "out", "--overwrite"]
    start = time.monotonic()
    try:
        done = subprocess.run(
            [*command, *([] if full else ["--quick"])],
            cwd=here,
            capture_output=True,
            text=True,
            timeout=60 * minutes,
            check=False,
            env={**os.environ, "PYTHONPATH": str(HOME)},
        )
        code, said = done.returncode, tuple((done.stdout + done.stderr).splitlines())
    except subprocess.TimeoutExpired:
        code, said = None, ()
    seconds = time.monotonic() - start
    missed = _missed(out / "report.json")
    paper = (out / "pattern.pdf").exists()
    outcome = Outcome(sheet, code, said, seconds, paper, missed)
    _keep(outcome, here)
    return outcome


def _missed(report: Path) -> tuple[str, ...]:
    if not report.exists():
        return ()
    found = json.loads(report.read_text("utf-8"))
    return tuple(
        f"{row['arm']} {row['figure']} {row['value']:.2f} > {row['limit']:g}"
        for row in found["verdicts"]
        if not row["met"]
    )


def _keep(outcome: Outcome, here: Path) -> None:
    """Leave of a sheet's folder what a person needs to see why."""
    if outcome.kind in ("within limits", "refused, a slip"):
        shutil.rmtree(here)
        return
    sheet = outcome.sheet
    told = [outcome.kind, *sorted(sheet.traits), sheet.slip, *outcome.missed, *outcome.said]
    (here / "said.txt").write_text("\n".join(told) + "\n", "utf-8")
    kept = {"report.json", "pattern.pdf"}
    for path in (here / "out").glob("*"):
        if path.name not in kept:
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def table(outcomes: list[Outcome], demo: float) -> str:
    """Return the counts, and the times as they are and over the demo's."""
    times = [one.seconds for one in outcomes if one.paper]
    kinds = Counter(one.kind for one in outcomes)
    sound = [one for one in outcomes if not one.sheet.slip]
    papers = sum(one.paper and one.kind != "a piece withheld" for one in sound)
    rows = [("sheets", str(len(outcomes)))]
    rows += [(kind, str(count)) for kind, count in kinds.most_common()]
    rows.append(("paper, of sheets without a slip", f"{papers} of {len(sound)}"))
    whole = sum(one.kind == "within limits" for one in sound)
    figures = sum(one.paper and not one.missed for one in sound)
    rows.append(("all within limits", f"{whole} of {len(sound)}"))
    rows.append(("arm within limits, whatever is said of the seams", f"{figures} of {len(sound)}"))
    outside = [one for one in sound if one.kind == "paper, outside limits"]
    rows.append(("outside limits, with a line that says why",
                 f"{sum(bool(one.why) for one in outside)} of {len(outside)}"))  # fmt: skip
    if times:
        rows.append(("seconds, mean and worst", f"{fmean(times):.0f}, {max(times):.0f}"))
        if demo:
            ratios = f"{fmean(times) / demo:.1f}, {max(times) / demo:.1f}"
            rows.append(("over the demo's time", ratios))
    return "\n".join(["| | |", "|---|---|", *(f"| {name} | {value} |" for name, value in rows)])


def here_only(seeds: range, *, finishes: bool) -> int:
    """Read and loft sheets in this process; print each refusal of a sound one.

    Parameters
    ----------
    seeds : range
    finishes : bool
        Whether pieces are made ready to cut too: of the first dart layouts, on coarse meshes.
    """
    from tests.coarse import EDGE_MM, coarsely
    from unroll.arm_job import LOOK
    from unroll.arms.lofting import shape_arm
    from unroll.disk.sheets import load_sheet
    from unroll.errors import UnrollError
    from unroll.job import Job

    counts: Counter[str] = Counter()
    for seed in seeds:
        wild = wild_sheet(seed)
        counts["without a slip"] += not wild.slip
        try:
            with tempfile.TemporaryDirectory() as folder, coarsely():
                sheet = load_sheet(_written(wild, Path(folder)))
                for arm in sheet.arms:
                    shape_arm(arm)
                if finishes:
                    job = Job(sheet, corrects=False, search=LOOK, edge=EDGE_MM)
                    ready = job.ready(job.shapes())
                    withheld = any("is not printed" in line for line in ready.facts.faults)
                    counts["all pieces to paper"] += not (withheld or wild.slip)
                    print(f"{wild.name}: {'; '.join(ready.facts.faults)}", flush=True)
            if wild.slip:
                counts["slips taken"] += 1
                print(f"{wild.name} taken in spite of its slip: {wild.slip}", flush=True)
        except UnrollError as error:
            counts["slips told"] += bool(wild.slip)
            if not wild.slip:
                counts["refused without a slip"] += 1
                print(f"{wild.name} ({wild.body}, {wild.unit}): {error}", flush=True)
    print(f"{len(seeds)} sheets: " + ", ".join(f"{n} {name}" for name, n in counts.items()))
    return counts["refused without a slip"]


def _written(wild: WildSheet, folder: Path) -> Path:
    """Write a sheet and its drawings; return the sheet's file."""
    (folder / "sheet.toml").write_text(wild.text, "utf-8")
    for name, data in wild.files.items():
        (folder / name).write_bytes(data)
    return folder / "sheet.toml"


def _line(one: Outcome) -> str:
    what = f" ({one.sheet.slip})" if one.sheet.slip else ""
    said = next((line for line in one.said if re.match(r"line \d|no piece", line)), "")
    return (
        f"{one.sheet.name} {one.sheet.body}, {one.sheet.unit}: {one.kind}{what}, "
        f"{one.seconds:.0f} s {'; '.join(one.missed)} {said}"
    )


def main() -> int:
    """Run the study; the exit code counts refusals of sound sheets, tracebacks and hangs."""
    words = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    words.add_argument("--count", type=int, default=40)
    words.add_argument("--seed", type=int, default=0, help="of the first sheet")
    words.add_argument("--full", action="store_true", help="correct the pieces too")
    words.add_argument("--read", action="store_true", help="read and loft only")
    words.add_argument("--look", action="store_true", help="and finish the first layouts, coarsely")
    words.add_argument("--jobs", type=int, default=1)
    words.add_argument("--minutes", type=float, default=10.0, help="after which one is ended")
    words.add_argument("--until", type=float, default=1e9, help="start none after so many minutes")
    words.add_argument("--keep", type=Path, default=Path("study_sheets"))
    given = words.parse_args()
    seeds = range(given.seed, given.seed + given.count)
    if given.read or given.look:
        return here_only(seeds, finishes=given.look)
    began, outcomes = time.monotonic(), []

    def one(seed: int) -> Outcome | None:
        if time.monotonic() - began > 60 * given.until:
            return None
        found = run(wild_sheet(seed), given.keep, full=given.full, minutes=given.minutes)
        print(_line(found), flush=True)
        return found

    lines = (HOME / "meshes" / "demo.toml").read_text("utf-8").splitlines()
    usual = WildSheet("demo", "demo", "in", lines)
    demo = run(usual, given.keep, full=given.full, minutes=given.minutes).seconds
    print(f"the demo: {demo:.0f} s", flush=True)
    with ThreadPoolExecutor(given.jobs) as pool:
        outcomes = [found for found in pool.map(one, seeds) if found is not None]
    print(table(outcomes, demo))
    return sum(found.kind in ("refused", "traceback", "hang") for found in outcomes)


if __name__ == "__main__":
    sys.exit(main())
