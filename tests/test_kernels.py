"""The same figures, layout and verdicts whichever arithmetic the processor offers.

OpenBLAS has kernels for each family of processors; they add up in another order, so that results
differ in the last bits. Nothing may make more of that.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from unroll.nouns import FIGURES

ROOT = Path(__file__).parent.parent


def kernels() -> list[str]:
    """Kernels that this processor can run."""
    try:
        flags = Path("/proc/cpuinfo").read_text()
    except OSError:
        return []
    needs = {"Haswell": "avx2", "Sandybridge": "avx", "Nehalem": "sse4_2", "SkylakeX": "avx512f"}
    return [kernel for kernel, flag in needs.items() if f" {flag} " in flags]


# One of each kind of arithmetic; what lies between is tried by `tests/study_kernels.py`.
KERNELS = [kernel for kernel in kernels() if kernel != "Sandybridge"]
EDGE_MM = 13.0


def coarse_figures() -> dict[str, object]:
    """Look for a layout, correct it on a coarse mesh, and return what came of it."""
    from tests.samples import sample_measures
    from unroll.arms.lofting import shape_arm
    from unroll.correct.layouts import layout_steps
    from unroll.correct.loop import correct
    from unroll.correct.on_bench import lay_on_bench
    from unroll.nouns import Cloth, Make, verdicts_of

    shape, make, cloth = shape_arm(sample_measures()), Make(), Cloth()
    trials = next(layout_steps(shape, make, cloth))
    taken = trials[0]
    on = lay_on_bench(
        shape, make, cloth, taken.darts, edge=EDGE_MM, spacing=EDGE_MM, ease=taken.ease
    )
    found = correct(on, shape)
    laid = found.before, found.after
    return {
        "layout": [taken.name, [[dart.at, dart.length, dart.lean] for dart in taken.darts]],
        "foretold": [[figure.of(trial.miss) for figure in FIGURES] for trial in trials],
        "rounds": [round_.cost for round_ in found.rounds],
        "figures": [[figure.of(one.fit) for figure in FIGURES] for one in laid],
        "girths": [[girth.sewn_mm for girth in one.fit.girths] for one in laid],
        "sewn": [np.abs(one.sewn.mesh.vertices).mean(axis=0).tolist() for one in laid],
        "verdicts": [[verdict.is_met for verdict in verdicts_of(one.fit)] for one in laid],
    }


@pytest.fixture(scope="module")
def found() -> dict[str, dict]:
    """What each kernel finds, worked out side by side."""
    command = [sys.executable, "-m", "tests.test_kernels"]
    runs = {
        kernel: subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, text=True,
            env=os.environ | {"OPENBLAS_CORETYPE": kernel, "PYTHONPATH": str(ROOT)},
        )
        for kernel in KERNELS
    }  # fmt: skip
    return {kernel: json.loads(run.communicate()[0]) for kernel, run in runs.items()}


pytestmark = pytest.mark.skipif(not KERNELS, reason="needs kernels of x86 processors")


def test_the_same_layout_is_taken(found) -> None:
    name, darts = found[KERNELS[0]]["layout"]
    for other in found.values():
        assert other["layout"][0] == name
        assert np.array(other["layout"][1]) == pytest.approx(np.array(darts), rel=1e-6)


def test_the_same_verdicts_are_given(found) -> None:
    for other in found.values():
        assert other["verdicts"] == found[KERNELS[0]]["verdicts"]
        assert len(other["rounds"]) == len(found[KERNELS[0]]["rounds"])


def test_the_filled_arm_is_the_same(found) -> None:
    first = found[KERNELS[0]]
    for other in found.values():
        # girths as a tape finds them; the figures are what is left of lengths like them
        assert np.array(other["girths"]) == pytest.approx(np.array(first["girths"]), rel=2e-6)
        # mean place of the sewn vertices, mm; measured 0.6 thousandths apart
        assert np.array(other["sewn"]) == pytest.approx(np.array(first["sewn"]), abs=2e-3)


def test_figures_agree_to_a_thousandth_of_what_is_let_pass(found) -> None:
    # the loft's least squares end where slopes taken by differences no longer lead on, up to 5e-6
    # mm apart between kernels; the first round of correcting makes fifty times that of it
    limits = np.array([figure.limit for figure in FIGURES])
    for other in found.values():
        for key in ("foretold", "figures"):
            apart = np.array(other[key]) - np.array(found[KERNELS[0]][key])
            assert np.abs(apart / limits).max() < 1e-3


if __name__ == "__main__":
    json.dump(coarse_figures(), sys.stdout)
