"""The page on coarse meshes: `python -m tests.coarse_page open`, as `python -m unroll open`.

The same steps, each several times as quick; the figures are coarse too. Each process that works for
the page loads this module anew, so that what only the page needs is loaded below.
"""

from __future__ import annotations

COARSEST_MM = 17.0


def sewn(pieces, cloth, up):
    """Sew a draft, on another core too, which knows nothing of what is patched here."""
    from unroll.sewn.sewing import sew

    return sew(pieces, cloth=cloth, spacing=COARSEST_MM, up=up)


def main() -> None:
    from functools import partial

    import pytest

    from tests import coarse_page
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
        patch.setattr(arm_job, "SPACING_MM", COARSEST_MM)
        patch.setattr(arm_job, "_sewn", coarse_page.sewn)  # as other cores find it
        patch.setattr(job, "refit", partial(job.refit, edge=EDGE_MM, spacing=EDGE_MM))
        cli.main()


if __name__ == "__main__":
    main()
