"""The page on coarse meshes: `python -m tests.coarse_page open`, as `python -m unroll open`.

The same steps, each several times as quick; the figures are coarse too.
"""

from __future__ import annotations

from functools import partial

import pytest

from tests.coarse import EDGE_MM
from unroll import arm_job, job
from unroll.arm_job import LOOK
from unroll.cli import main
from unroll.correct import draft_loop
from unroll.page import live

if __name__ == "__main__":
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(live, "FINE", LOOK)
        patch.setattr(live, "EDGE_MM", EDGE_MM)
        patch.setattr(draft_loop, "ROUNDS", 1)
        patch.setattr(arm_job, "SPACING_MM", 17.0)
        patch.setattr(job, "refit", partial(job.refit, edge=EDGE_MM, spacing=EDGE_MM))
        main()
