"""Draw the pictures of the page on scans from the arms in meshes/."""

from __future__ import annotations

import tempfile
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

from unroll.disk.scans import load_scanned_sheet
from unroll.scans.comparing import scan_fit
from unroll.show.colours import png_bytes
from unroll.show.scan import landmarks_figure, levels_figure

HERE = Path(__file__).parent


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.toml"
        path.write_text('unit = "mm"\n')
        sheet = load_scanned_sheet(path, HERE.parent / "meshes" / "arm_p50.obj")
    pictures = HERE / "pictures"
    pictures.mkdir(exist_ok=True)
    drawn = landmarks_figure(sheet.scanned)
    (pictures / "scans_landmarks.png").write_bytes(png_bytes(drawn, dots_per_inch=90))
    drawn = levels_figure(scan_fit(sheet.scanned, sheet.arms[0]), "mm")
    (pictures / "scans_levels.png").write_bytes(png_bytes(drawn, dots_per_inch=90))


if __name__ == "__main__":
    main()
