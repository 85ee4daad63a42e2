"""Draw the pictures of docs/sewing.md and docs/stand_off.md from the demo sheet."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib
import numpy as np

matplotlib.use("Agg")
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from PIL import Image

from unroll.disk.sheets import load_sheet
from unroll.job import Job
from unroll.nouns import Cloth, Piece, PieceSide, Sewn
from unroll.sewn.sewing import sew, sew_steps
from unroll.show.figures import sewn_figures
from unroll.show.words import fit_lines

HERE = Path(__file__).parent
INK, SOFT, RED, PAPER = "#26323a", "#8b8f8c", "#a3362b", "#fbf8f2"
COLOURS = {"outer": "#a9c9cf", "inner": "#ead9a6"}


def main() -> None:
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    (arm,) = Job(sheet).filled().arms
    (HERE / "pictures").mkdir(exist_ok=True)
    _save(_steps_figure(arm.pieces["unrolled"], sheet.cloth), "sewing_steps.png")
    _save(_balloon_figure(), "sewing_balloon.png")
    drawn = sewn_figures(arm, sheet.unit)
    for name, file_name in (("cap", "stand_off_cap"), ("profile", "stand_off_profile")):
        (HERE / "pictures" / f"{file_name}.png").write_bytes(drawn[name].content)
    print(*fit_lines(arm, sheet.unit), sep="\n")


def _save(figure: Figure, name: str) -> None:
    memory = io.BytesIO()
    figure.savefig(memory, dpi=90, facecolor=PAPER)
    picture = Image.open(memory).convert("RGB").quantize(256, dither=Image.Dither.NONE)
    picture.save(HERE / "pictures" / name, optimize=True)


def _steps_figure(pieces: tuple[Piece, ...], cloth: Cloth) -> Figure:
    """The flat meshes, where the filling starts from, and the filled arm."""
    steps = [s for s in sew_steps(pieces, cloth=cloth, spacing=14.0)]
    first, last = steps[0], steps[-1]
    figure = Figure(figsize=(7.6, 5.2))
    axes = figure.add_axes((0.01, 0.02, 0.42, 0.9))
    figure.text(0.2, 0.945, "the pieces, meshed flat", fontsize=9.5, color=INK, ha="center")
    shift = 0.0
    for name in ("inner", "outer"):
        flat = last.rest[last.faces_of(name)]
        place = flat - [flat[..., 0].min() - shift, flat[..., 1].max()]
        shift = place[..., 0].max() + 25.0
        axes.add_collection(
            PolyCollection(list(place), facecolors=COLOURS[name], edgecolors=INK, linewidths=0.25)
        )
    _finish(axes)
    for column, (sewn, title) in enumerate(
        [(first, "sewn: a crude start"), (last, f"filled, after {last.steps} steps")]
    ):
        axes = figure.add_axes((0.44 + 0.28 * column, 0.02, 0.27, 0.9))
        at = 0.575 + 0.28 * column
        figure.text(at, 0.945, title, fontsize=9.5, color=INK, ha="center")
        _paint(axes, sewn)
        _finish(axes)
    return figure


def _paint(axes, sewn: Sewn) -> None:
    """The arm from the front and a little from outside, far faces first."""
    turn = np.radians(35.0)
    across = np.array([-np.sin(turn), np.cos(turn), 0.0])
    toward = np.array([np.cos(turn), np.sin(turn), 0.0])
    corners = sewn.mesh.vertices[sewn.mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    seen = np.flatnonzero(normals @ toward > 0)
    seen = seen[np.argsort(corners[seen].mean(axis=1) @ toward)]
    shade = 0.72 + 0.28 * np.clip(normals[seen] @ (0.6 * toward + [0, 0, 0.8]), 0, 1)
    base = np.array([
        [int(COLOURS.get(sewn.piece_names[k], "#cfcac2")[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        for k in sewn.face_pieces[seen]
    ])  # fmt: skip
    shapes = np.stack([corners[seen] @ across, corners[seen][..., 2]], axis=2)
    axes.add_collection(
        PolyCollection(
            list(shapes), facecolors=base * shade[:, None], edgecolors=INK, linewidths=0.15
        )
    )


def _finish(axes) -> None:
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.set_axis_off()


def _balloon_figure() -> Figure:
    """Two discs, sewn and filled, over the curve that Paulsen gives."""
    angle = 2 * np.pi * np.arange(721) / 720
    rim = 100.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    discs = [Piece(n, "drafted-ease", "left", (PieceSide("rim", rim),)) for n in ("front", "back")]
    film = Cloth(stretch_percent=0.05, bias_stretch_percent=0.05)
    sewn = sew(discs, cloth=film, spacing=6.0)
    points = sewn.mesh.vertices
    edge = points[sewn.seam_paths["rim"][:-1]]
    axes_of = np.linalg.svd(edge - edge.mean(axis=0), full_matrices=False)[2]
    place = (points - edge.mean(axis=0)) @ axes_of.T
    figure = Figure(figsize=(7.6, 2.9))
    axes = figure.add_axes((0.06, 0.13, 0.6, 0.74), facecolor=PAPER)
    label = f"vertices of the filled shape,\n{len(sewn.mesh.faces)} triangles"
    axes.plot(place[:, 0], place[:, 2], ".", color="#7fa9bd", markersize=1.6, label=label)
    # z(x) = ∫ t² / √(r⁴ − t⁴) dt from x to r, with t = r √(cos φ) to take out the root's pole.
    radius = 76.27598
    phi = np.linspace(0.0, np.pi / 2, 2001)
    root = np.sqrt(np.cos(phi))
    height = (
        0.5 * radius * np.concatenate([[0], np.cumsum(0.5 * np.diff(phi) * (root[1:] + root[:-1]))])
    )
    for across in (radius, -radius):
        for up in (1, -1):
            label = "outline after Paulsen 1994" if across > 0 and up > 0 else None
            axes.plot(across * root, up * height, color=RED, linewidth=1.3, label=label)
    figure.text(
        0.06,
        0.92,
        "two discs of 100 mm radius, sewn and filled, edge on (mm)",
        fontsize=9.5,
        color=INK,
    )
    axes.set_aspect("equal")
    axes.tick_params(labelsize=8, colors=INK)
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, fontsize=8.5, frameon=False, loc="center right", labelcolor=INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure


if __name__ == "__main__":
    main()
