"""Draws the pictures of docs/measuring.md, and prints its measured figures."""

from __future__ import annotations

import io
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from unroll.disk.sheets import load_sheet
from unroll.paper.measuring_guide import guide_figure, guide_pages
from unroll.sheets.reading import read_sheet
from unroll.sheets.survey import STANDS_FOR, survey_range, survey_row

HERE = Path(__file__).parent
LEAST = (
    'unit = "mm"\n[arm]\nshoulder_to_elbow = {}\ninner_elbow_to_wrist = {}\n'
    "upper_arm_girth = {}\nwrist_girth = {}\n"
)


def save(figure: Figure, name: str, dots_per_inch: float) -> None:
    """Write a figure as a picture of few greys, so that it stays small."""
    figure.set_dpi(dots_per_inch)
    stream = io.BytesIO()
    FigureCanvasAgg(figure).print_png(stream, metadata={"Software": None})
    picture = Image.open(stream).convert("L").quantize(32)
    (HERE / "pictures").mkdir(exist_ok=True)
    picture.save(HERE / "pictures" / name, optimize=True)


def ranges_figure() -> Figure:
    """Return the demo arm's measures within the surveys' ranges."""
    arm = load_sheet(HERE.parent / "meshes" / "demo.toml").arms[0]
    names = [name for name in STANDS_FOR if " " not in name]
    figure = Figure(figsize=(7.2, 3.2), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    for place, name in enumerate(reversed(names)):
        low, high = survey_range(name) or (0.0, 0.0)
        axes.barh(place, high - low, left=low, height=0.5, color="0.85", edgecolor="0.4")
        axes.plot(getattr(arm, name), place, "ko", markersize=7)
    axes.set_yticks(range(len(names)), list(reversed(names)), family="DejaVu Sans Mono")
    axes.set_xlim(left=0)
    axes.set_xlabel("mm; bars: mean ± 3.3 SD, women and men of both surveys;\ndots: the demo arm")
    axes.spines[["top", "right"]].set_visible(False)
    return figure


def print_figures() -> None:
    """Print how far the estimates lie from the surveys' own means."""
    print("| estimated from four measures | women: estimate / survey mean | men |")
    print("|---|---|---|")
    arms = []
    for sex in "fm":
        means = (survey_row(1988, name, sex).mean for name in (
            "SHOULDER_ELBOW_LNTH", "RADIALE-STYLION_LNTH", "ARM_CIRC-AXILLARY",
            "WRIST_CIRC-STYLION"))
        arms.append(read_sheet(LEAST.format(*means)).arms[0])
    for name, year, measure in (
        ("elbow_girth", 1988, "ELBOW_CIRC-EXTENDED"),
        ("forearm_girth", 1988, "FOREARM_CIRC-FLEXED"),
        ("shoulder_length", 2012, "shoulderlength"),
        ("armhole girth", 1988, "SCYE_CIRC_OVER_ACROMION"),
    ):
        cells = []
        for sex, arm in zip("fm", arms, strict=True):
            value = arm.armhole.girth if name == "armhole girth" else getattr(arm, name)
            mean = survey_row(year, measure, sex).mean
            cells.append(f"{value:.1f} / {mean:.1f} ({100 * (value / mean - 1):+.1f} %)")
        print(f"| {name} ({measure}, {year}) | {cells[0]} | {cells[1]} |")


if __name__ == "__main__":
    save(guide_figure(), "measuring-guide.png", 96)
    save(guide_pages()[2], "measuring-plumb.png", 96)
    save(ranges_figure(), "measuring-ranges.png", 100)
    print_figures()
