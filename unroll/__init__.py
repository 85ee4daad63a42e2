"""See an arm before cloth is cut: loft it from measures, unroll it, sew and fill it numerically.

The same steps that the commands run: a `Job` works out whatever is asked of a sheet, once; and each
stage is a function from value to value.

Examples
--------
>>> import unroll
>>> sheet = unroll.load_sheet("meshes/demo.toml")
>>> arm = unroll.loft(sheet.arms[0], edge=12.0)
>>> outer, inner = unroll.cut(arm)
>>> distortion = unroll.measure_distortion(unroll.flatten(outer))
>>> distortion.flips
0
"""

import importlib
import os
from typing import Any

# Every system solved here is small; two threads on a busy machine make it tens of times slower.
# Whoever sets the variable keeps the last word. It must stand before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Loaded when first asked for, so that the commands answer at once. A name that a room has too would
# be the room once that is imported: such a function has another here, its own after the colon.
_HOMES = {
    "Job": "job",
    "NotConverged": "errors",
    "Progress": "progress",
    "SheetFaults": "errors",
    "UnrollError": "errors",
    "advise": "flat.distortion",
    "blank_sheet": "sheets.blank",
    "certainty_of": "correct.certainty",
    "compare": "drafts.comparing",
    "correct_pieces": "correct.loop:correct",
    "cut": "flat.cutting",
    "cut_plan": "finish.cut_plan",
    "draft": "drafts.drafting",
    "finish_pieces": "finish.finishing:finish",
    "fit_of": "sewn.fitting",
    "flatten": "flat.flattening",
    "flatten_free": "flat.flattening",
    "lay_on_bench": "correct.on_bench",
    "layout_steps": "correct.layouts",
    "load_scanned_sheet": "disk.scans",
    "load_sheet": "disk.sheets",
    "loft": "arms.lofting",
    "measure_distortion": "flat.distortion",
    "mesh_arm": "arms.lofting",
    "nouns": "nouns",
    "outline": "flat.cutting",
    "place_notches": "finish.notching",
    "read_pieces": "disk.own_pieces",
    "read_sheet": "sheets.reading",
    "sew": "sewn.sewing",
    "shape_arm": "arms.lofting",
    "tape": "arms.taping",
    "walk": "finish.walking",
    "work_beside": "workers:workers",
}
__all__ = [*_HOMES, "__version__"]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        return importlib.import_module("unroll.version").VERSION
    if name not in _HOMES:
        raise AttributeError(f"unroll has no {name!r}; it has {', '.join(__all__)}")
    home, _, own_name = _HOMES[name].partition(":")
    module = importlib.import_module(f"unroll.{home}")
    return module if name == "nouns" else getattr(module, own_name or name)
