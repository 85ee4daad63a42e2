"""Close the loop on many sheets and print what is reached: python tests/study_closing.py [numbers]
(0: left to the search).

The demo sheet, two further ones, and random bodies of fixed seeds; every figure is taken from the
corrected pieces, meshed anew, sewn and filled. Mean and worst are printed, not the best.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.samples import sample_measures
from tests.strategies import random_measures
from unroll.disk.sheets import load_sheet
from unroll.errors import UnrollError
from unroll.job import Job
from unroll.nouns import FIGURES, Armhole, ArmMeasures, CapArc, Cloth, Make, Sheet, verdicts_of


def sheets() -> Iterator[tuple[str, ArmMeasures]]:
    """Yield names and measures."""
    yield "demo", load_sheet(Path(__file__).parents[1] / "meshes" / "demo.toml").arms[0]
    yield "sample", sample_measures()
    yield (
        "strong",
        sample_measures(
            shoulder_to_elbow=372.0,
            shoulder_to_inner_elbow=345.0,
            inner_elbow_to_wrist=258.0,
            upper_arm_girth=352.0,
            upper_arm_up=128.0,
            elbow_girth=282.0,
            forearm_girth=292.0,
            wrist_girth=178.0,
            wrist_width=66.0,
            wrist_depth=46.0,
            cap_height=178.0,
            cap_arcs=(CapArc(45.0, 268.0), CapArc(75.0, 222.0), CapArc(100.0, 161.0)),
            armhole=Armhole(width=112.0, height=130.0, girth=381.0),
        ),
    )
    for seed in range(20):
        yield f"body {seed}", random_measures(seed)


def study(count: int | None, names: list[str]) -> None:
    """Print a row a sheet for one number of darts, None leaving it to the search."""
    heads = ", ".join(f"{figure.key} ({figure.limit:g})" for figure in FIGURES)
    print(f"\n{count or 'any number of'} darts: {heads}")
    rows, reached = [], 0
    for name, measures in sheets():
        if names and name not in names:
            continue
        begun = time.process_time()
        try:
            laid = Job(Sheet((measures,), Cloth(), Make(dart_count=count))).arms[0].to_cut
        except UnrollError as error:
            print(f"{name:10s} not made: {error}", flush=True)
            continue
        verdicts = verdicts_of(laid.fit)
        missed = [verdict.figure.key for verdict in verdicts if not verdict.is_met]
        rows.append([verdict.value for verdict in verdicts])
        reached += not missed
        print(
            f"{name:10s}",
            *[f"{value:6.2f}" for value in rows[-1]],
            f"{time.process_time() - begun:5.1f} s",
            f"{len(laid.darts)} darts",
            "takes",
            *[f"{i.width:.0f}" for i in laid.intakes],
            "reached" if not missed else "missed: " + ", ".join(missed),
            flush=True,
        )
    table = np.array(rows)
    print("mean      ", *[f"{value:6.2f}" for value in table.mean(axis=0)])
    print("worst     ", *[f"{value:6.2f}" for value in table.max(axis=0)])
    print(f"reached by {reached} of {len(rows)}")


if __name__ == "__main__":
    counts = [int(a) or None for a in sys.argv[1:] if a.isdigit()] or [2, 4]
    wanted = [a for a in sys.argv[1:] if not a.isdigit()]
    for number in counts:
        study(number, wanted)
