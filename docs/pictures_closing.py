"""Draw the pictures of docs/closing_the_loop.md from the demo sheet."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

from matplotlib.figure import Figure

from unroll.arms.lofting import shape_arm
from unroll.correct.certainty import spread
from unroll.correct.layouts import close_best
from unroll.correct.verdicts import targets_for
from unroll.disk.sheets import load_sheet
from unroll.job import redraft_arm
from unroll.show.corrected_pictures import Wanted, certainty_figure, hang_figure, layouts_figure
from unroll.show.overlays import corrected_overlay_figure, redrawn_figure
from unroll.show.redrawn import short_line
from unroll.show.sewn import profile_figure, stand_off_figure

HERE = Path(__file__).parent


def main() -> None:
    """Close the loop and correct the hand draft of the demo sheet, and save the pictures."""
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")

    def tell(words: str) -> None:
        print(words, file=sys.stderr)

    closing = close_best(shape_arm(sheet.arms[0]), sheet.make, sheet.cloth, tell=tell)
    both = [
        (closing.sewn_before, replace(closing.before, source="before")),
        (closing.sewn_after, replace(closing.after, source="after")),
    ]
    names = ("before correction", "after correction")
    save(
        hang_figure(closing.rounded, closing.sewn_before, closing.sewn_after, names=names),
        "closing_hang",
    )
    wanted = targets_for(len(closing.darts))
    limits = Wanted(wanted.girth_percent, wanted.swing_deg, wanted.wrist_mm, wanted.cap_mean)
    found = spread(closing, sheet.cloth, tell=tell)
    print(*found.lines, sep="\n")
    save(certainty_figure(found, limits), "closing_certainty")
    redrawn = redraft_arm(sheet.arms[0], sheet.make, sheet.cloth, tell=tell)
    told = [short_line(change, sheet.unit) for change in redrawn.changes]
    save(redrawn_figure(redrawn, told), "closing_draft")
    save(corrected_overlay_figure(closing), "closing_pieces")
    save(layouts_figure(closing.layouts), "closing_layouts")
    save(stand_off_figure(both), "closing_stand_off")
    save(profile_figure([off for _, off in both]), "closing_profile")


def save(figure: Figure, name: str) -> None:
    """Write a figure as PNG into docs/pictures."""
    figure.savefig(HERE / "pictures" / f"{name}.png", dpi=95, facecolor=figure.get_facecolor())


if __name__ == "__main__":
    main()
