"""The page on coarse meshes: `python -m tests.coarse_page open`, as `python -m unroll open`.

The same steps, each several times as quick; the figures are coarse too. Each process that works for
the page loads this module anew, so that what only the page needs is loaded below.
"""

from __future__ import annotations

COARSEST_MM = 17.0


def main() -> None:
    from functools import partial

    import pytest

    from unroll.undocumented import undocumented

    with undocumented():
        from tests.coarse import EDGE_MM
        from unroll import arm_job, cli, job
        from unroll.arm_job import LOOK
        from unroll.correct import draft_loop
        from unroll.page import live
        from unroll.page.sketching import FIRST_EDGE_MM, sketched_pieces

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(live, "FINE", LOOK)
        patch.setattr(live, "EDGE_MM", EDGE_MM)
        patch.setattr(
            live, "better_pieces", partial(sketched_pieces, edge=FIRST_EDGE_MM, rounds=2)
        )
        patch.setattr(draft_loop, "ROUNDS", 1)
        for name in ("SPACING_MM", "HURRIED_MM"):
            patch.setattr(arm_job, name, COARSEST_MM)
        patch.setattr(job, "refit", partial(job.refit, edge=EDGE_MM, spacing=EDGE_MM))
        cli.main()


if __name__ == "__main__":
    main()
