"""Draws the pictures of docs/flattening.md and docs/distortion.md, and prints their figures."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.disk.sheets import load_sheet
from unroll.flat.cutting import cut
from unroll.flat.distortion import (
    advise,
    measure_distortion,
    percentiles_by_area,
    thread_give_percent,
)
from unroll.flat.flattening import flatten, flatten_free
from unroll.job import Job
from unroll.nouns import ArmMesh, Cloth, Distortion, Flattening
from unroll.sewn.fitting import fit_of
from unroll.sewn.rest_meshes import fill_rest_mesh, rest_of_flattenings

HERE = Path(__file__).parent
EDGE_MM = 5.0
SEWN_EDGE_MM = 8.0


def save(figure: Figure, name: str) -> None:
    """Write a figure as a picture of few colours, so that it stays small."""
    figure.set_dpi(100)
    stream = io.BytesIO()
    FigureCanvasAgg(figure).print_png(stream, metadata={"Software": None})
    picture = Image.open(stream).convert("RGB").quantize(96)
    (HERE / "pictures").mkdir(exist_ok=True)
    picture.save(HERE / "pictures" / name, optimize=True)


def draw(axes: Axes, flat: Flattening, values: np.ndarray, top: float, title: str) -> object:
    """Colour a piece's faces, its sides and reference lines over them."""
    mesh = flat.panel.mesh
    shades = axes.tripcolor(
        *flat.points.T, mesh.faces, facecolors=values, cmap="cividis", vmin=0, vmax=top,
        rasterized=True,
    )  # fmt: skip
    for side in flat.panel.sides:
        axes.plot(*flat.points[side.path].T, color="black", linewidth=1.0)
    for trace in flat.panel.traces.values():
        axes.plot(*trace.on(flat.points, mesh.faces).T, color="white", linewidth=0.7)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title(title, fontsize=9)
    return shades


def held_figure(plain: ArmMesh, darted: ArmMesh) -> Figure:
    """Return the outer panel: rim free, rim held, and held with darts."""
    outers = [cut(arm)[0] for arm in (plain, darted)]
    shown = (
        (flatten_free(outers[0], energy="woven"), "rim free:\nseams come out wrong"),
        (flatten(outers[0]), "seams held, no dart:\nthe cloth must give"),
        (flatten(outers[1]), "seams held, darts:\nwhat is cut"),
    )
    figure = Figure(figsize=(7.2, 5.6), facecolor="white", layout="constrained")
    for axes, (flat, title) in zip(figure.subplots(1, 3, sharey=True), shown, strict=True):
        found = measure_distortion(flat)
        curved, laid = found.seam_lengths_mm["cap seam"]
        off = 100 * (laid / curved - 1)
        note = f"{title}\ncap seam " + (f"{off:+.0f} %" if abs(off) > 0.01 else "as on the body")
        shades = draw(axes, flat, thread_give_percent(found), 10.0, note)
    figure.colorbar(shades, ax=figure.axes, shrink=0.6, label="threads give, percent", extend="max")
    return figure


def energies_figure(darted: ArmMesh) -> Figure:
    """Return warp, weft and shear of the outer piece under both energies."""
    figure = Figure(figsize=(7.2, 7.6), facecolor="white", layout="constrained")
    rows = figure.subplots(2, 3)
    for row, energy in zip(rows, ("even", "woven"), strict=True):
        found = measure_distortion(flatten(cut(darted)[0], energy=energy))
        maps = (
            (100 * np.abs(found.warp - 1), 5.0, "warp stretch, %"),
            (100 * np.abs(found.weft - 1), 5.0, "weft stretch, %"),
            (np.degrees(np.abs(found.shear_rad)), 10.0, "shear, degrees"),
        )
        for axes, (values, top, title) in zip(row, maps, strict=True):
            mean = np.average(values, weights=found.weights)
            shades = draw(
                axes, found.flattening, values, top, f"{energy}: {title}\nmean {mean:.1f}"
            )
            figure.colorbar(shades, ax=axes, shrink=0.5, extend="max")
    return figure


def give_figure(darted: ArmMesh) -> Figure:
    """Return how much cloth gives how much, with the percentile that the advice uses."""
    figure = Figure(figsize=(7.2, 3.0), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    for panel, style in zip(cut(darted), ("k-", "k--"), strict=True):
        found = measure_distortion(flatten(panel))
        give = thread_give_percent(found)
        share = np.linspace(0, 100, 401)
        axes.plot(percentiles_by_area(give, found.weights, share), share, style, label=panel.name)
        point = float(percentiles_by_area(give, found.weights, 99))
        axes.plot(point, 99, "ko")
        axes.annotate(
            f"{panel.name}: {point:.1f} %",
            (point, 99),
            (point + 0.6, 72 if panel.name == "outer" else 50),
            arrowprops={"arrowstyle": "-", "color": "0.5"},
            bbox={"color": "white", "pad": 1},
        )
    axes.axvline(3, color="0.6")
    axes.text(3.1, 5, "plain cotton gives about 3 %", color="0.35")
    axes.set_xlabel("threads give, percent")
    axes.set_ylabel("share of the piece's area\nat or below, percent")
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_xlim(0, 8)
    axes.legend(frameon=False, loc="center right")
    return figure


def row(found: Distortion) -> str:
    """Mean and 99th percentile by area of warp, weft and shear."""

    def two(values: np.ndarray) -> str:
        high = float(percentiles_by_area(values, found.weights, 99))
        return f"{np.average(values, weights=found.weights):.2f} / {high:.1f}"

    columns = (100 * np.abs(found.warp - 1), 100 * np.abs(found.weft - 1),
               np.degrees(np.abs(found.shear_rad)))  # fmt: skip
    return " | ".join(two(values) for values in columns)


def print_energies(plain: ArmMesh, darted: ArmMesh) -> None:
    """Print what each energy asks of the cloth, and what the pieces become once sewn and filled."""
    print("| piece | energy | warp % | weft % | shear ° | swing ° | cap mean mm | worst girth % |")
    for name, arm in (("no dart", plain), ("darted", darted)):
        for energy in ("even", "woven"):
            flats = [flatten(panel, energy=energy) for panel in cut(arm)]
            sewn = fill_rest_mesh(arm, rest_of_flattenings(arm, flats), cloth=Cloth())
            off = fit_of(sewn, arm)
            girth = off.worst_girth_percent
            print(
                f"| {name} | {energy} | {row(measure_distortion(flats[0]))} | {off.swing_deg:.1f} "
                f"| {off.cap_mean:.1f} | {girth:.1f} |"
            )


def print_wrists(darted: ArmMesh) -> None:
    """Print what becomes of the wrist edges when they are not held."""
    for panel in cut(darted):
        held = [side.seam for side in panel.sides if "wrist" not in side.seam]
        curved, laid = measure_distortion(flatten(panel, held=held)).seam_lengths_mm[
            f"{panel.name} wrist"
        ]
        print(f"{panel.name} wrist, not held: {curved:.1f} mm becomes {laid:.1f} mm")


def main() -> None:
    """Draw all pictures and print all figures."""
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    shape = shape_arm(sheet.arms[0]).rounded  # filled sections are round
    darts = Job(sheet).arms[0].layouts[0].darts
    plain, darted = mesh_arm(shape, edge=EDGE_MM), mesh_arm(shape, edge=EDGE_MM, darts=darts)
    save(held_figure(plain, darted), "flattening_held.png")
    save(energies_figure(darted), "flattening_energies.png")
    save(give_figure(darted), "distortion_give.png")
    coarse = [mesh_arm(shape, edge=SEWN_EDGE_MM, darts=some) for some in ((), darts)]
    print_energies(*coarse)
    print_wrists(darted)
    undarted = measure_distortion(flatten(cut(plain)[0]))
    for panel in cut(darted):
        flat = measure_distortion(flatten(panel))
        print(
            advise(
                flat,
                has_darts=panel.name == "outer",
                undarted=undarted if panel.name == "outer" else None,
            )
        )


if __name__ == "__main__":
    main()
