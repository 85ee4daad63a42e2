"""Draw the pictures of docs/closing_the_loop.md from the demo sheet, and print its certainty."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from unroll.disk.sheets import load_sheet
from unroll.job import Job
from unroll.nouns.shown import Figure
from unroll.progress import Progress
from unroll.show.figures import corrected_figures, redrawn_figures, sewn_figures
from unroll.show.phrases import certainty_lines

HERE = Path(__file__).parent
SEWN = {"hang": "closing_hang", "cap": "closing_stand_off", "profile": "closing_profile"}
CORRECTED = {
    "pieces-changed": "closing_pieces", "layouts": "closing_layouts",
    "certainty": "closing_certainty",
}  # fmt: skip


def main() -> None:
    """Correct the pieces and the hand draft of the demo sheet, and save the pictures."""
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    job = Job(sheet, progress=Progress(lambda step, _share: print(step, file=sys.stderr)))
    (arm,) = job.everything().arms
    laid = {source: arm.fits[source] for source in ("corrected", "unrolled")}
    save(sewn_figures(replace(arm, fits=laid), sheet.unit), SEWN)
    save(corrected_figures(arm, sheet.unit), CORRECTED)
    print(*certainty_lines(arm.certainty, sheet.unit), sep="\n")
    (redrawn,) = job.redrafts()
    save(redrawn_figures(redrawn, sheet.unit), {"pieces": "closing_draft"})


def save(figures: Mapping[str, Figure], names: Mapping[str, str]) -> None:
    """Write some figures as PNG into docs/pictures."""
    for name, file_name in names.items():
        (HERE / "pictures" / f"{file_name}.png").write_bytes(figures[name].content)


if __name__ == "__main__":
    main()
