"""Draw the pictures of docs/closing_the_loop.md from the demo sheet."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

from unroll import Job, load_sheet, workers
from unroll.show.figures import corrected_figures, redrawn_figures, sewn_figures
from unroll.show.phrases import certainty_lines

HERE = Path(__file__).parent
NAMES = {
    "hang": "closing_hang", "profile": "closing_profile", "cap": "closing_stand_off",
    "pieces-changed": "closing_pieces", "layouts": "closing_layouts",
    "certainty": "closing_certainty",
}  # fmt: skip


def main() -> None:
    """Correct the demo's pieces and its hand draft, and save the pictures."""
    with workers() as others:
        job = Job(load_sheet(HERE.parent / "meshes" / "demo.toml"), workers=others)
        (arm,) = job.everything().arms
        (redrawn,) = job.redrafts()
    unit = job.sheet.unit
    two = {name: fit for name, fit in arm.fits.items() if name in ("corrected", "unrolled")}
    figures = sewn_figures(replace(arm, fits=two), unit) | corrected_figures(arm, unit)
    for name, saved in NAMES.items():
        save(figures[name].content, saved)
    save(redrawn_figures(redrawn, unit)["pieces"].content, "closing_draft")
    print(*certainty_lines(arm.certainty, unit), sep="\n")


def save(content: bytes, name: str) -> None:
    """Write a PNG into docs/pictures."""
    (HERE / "pictures" / f"{name}.png").write_bytes(content)


if __name__ == "__main__":
    main()
