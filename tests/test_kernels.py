"""The same figures, layout and verdicts whichever arithmetic the processor offers.

OpenBLAS has kernels for each family of processors; they add up in another order, so that results
differ in the last bits. Nothing may make more of that.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent
KERNELS = ("Haswell", "Sandybridge", "Nehalem")
EDGE_MM = 13.0


def coarse_figures() -> dict[str, object]:
    """Look for a layout, correct it on a coarse mesh, and return what came of it."""
    from tests.samples import sample_measures
    from unroll.arms.lofting import shape_arm
    from unroll.correct.layouts import layout_steps
    from unroll.correct.loop import correct, lay_on_bench
    from unroll.nouns import FIGURES, Cloth, Make, verdicts_of

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


if __name__ == "__main__":
    json.dump(coarse_figures(), sys.stdout)
