"""See an arm before cloth is cut: loft it from measures, unroll it, sew and fill it numerically.

The same stages that the commands run, as functions from value to value.

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

import os

# Every system solved here is small; two threads on a busy machine make it tens of times slower.
# Whoever sets the variable keeps the last word. It must stand before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from unroll.arms.lofting import loft, mesh_arm, shape_arm
from unroll.arms.taping import tape
from unroll.disk.sheets import load_sheet
from unroll.drafts.comparing import compare
from unroll.drafts.drafting import draft
from unroll.errors import NotConverged, SheetFaults, UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.finish.walking import walk
from unroll.flat.cutting import cut, outline
from unroll.flat.distortion import advise, measure_distortion
from unroll.flat.flattening import flatten, flatten_free
from unroll.job import make_result
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew
from unroll.sheets.blank import blank_sheet
from unroll.sheets.reading import read_sheet
from unroll.version import VERSION as __version__

__all__ = [
    "NotConverged", "SheetFaults", "UnrollError", "__version__", "advise", "blank_sheet", "compare",
    "cut", "cut_plan", "draft", "finish", "flatten", "flatten_free", "load_sheet", "loft",
    "make_result", "measure_distortion", "mesh_arm", "outline", "place_notches", "read_sheet",
    "sew", "shape_arm", "fit_of", "tape", "walk",
]  # fmt: skip
