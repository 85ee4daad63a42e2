"""Draw the pictures of docs/closing_the_loop.md from the demo sheet."""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

from matplotlib.figure import Figure

from unroll.files.sheets import load_sheet
from unroll.lofting import shape_arm
from unroll.picturing_corrected import layouts_figure, overlay_figure
from unroll.picturing_sewn import profile_figure, stand_off_figure
from unroll.pipeline.dart_layouts import close_best

HERE = Path(__file__).parent


def main() -> None:
    """Close the loop on the demo sheet and save four pictures."""
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    closing = close_best(
        shape_arm(sheet.arms[0]), sheet.make, sheet.cloth,
        tell=lambda words: print(words, file=sys.stderr),
    )
    both = [(closing.sewn_before, closing.before), (closing.sewn_after, closing.after)]
    save(overlay_figure(closing), "closing_pieces")
    save(layouts_figure(closing.layouts), "closing_layouts")
    save(stand_off_figure(both), "closing_stand_off")
    save(profile_figure([off for _, off in both]), "closing_profile")


def save(figure: Figure, name: str) -> None:
    """Write a figure as PNG into docs/pictures."""
    figure.savefig(HERE / "pictures" / f"{name}.png", dpi=95, facecolor=figure.get_facecolor())


if __name__ == "__main__":
    main()
