"""Draw the pictures of the pages on lofting, cutting and darts from the demo sheet."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import matplotlib
import numpy as np
from PIL import Image

matplotlib.use("Agg")
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from unroll.arms.lofting import in_the_room, mesh_arm, shape_arm
from unroll.disk.sheets import load_sheet
from unroll.flat.cutting import cut
from unroll.job import Job
from unroll.nouns import ArmMeasures, ArmMesh, DartLine, LayoutTrial, Mesh, Stance

HERE = Path(__file__).parent
INK, SOFT, RED, BLUE = "#22303a", "#8a949b", "#9c2f2f", "#2f6f8f"
PAPER = "#fbf8f1"


def main() -> None:
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    shape = shape_arm(sheet.arms[0])
    (HERE / "pictures").mkdir(exist_ok=True)
    _save(_loft_figure(mesh_arm(shape)), "lofting_arm.png")
    _save(_stance_figure(mesh_arm(shape), sheet.arms[0]), "lofting_stance.png")
    _save(_levels_figure(shape), "lofting_levels.png")
    _save(_cut_figure(mesh_arm(shape, darts=(DartLine(45, 80), DartLine(-45, 80)))), "cutting.png")
    _save(_trials_figure(Job(sheet).arms[0].layouts), "darting_trials.png")


def _save(figure: Figure, name: str) -> None:
    stream = io.BytesIO()
    figure.savefig(stream, dpi=90, facecolor=PAPER)
    # 96 colours keep a shaded picture under 200 kB
    picture = Image.open(stream).convert("RGB")
    small = picture.quantize(96, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    small.save(HERE / "pictures" / name, optimize=True)


def _painted(axes, arm: ArmMesh, first: int, second: int, toward: int, sign: float) -> None:
    v, f = arm.mesh.vertices, arm.mesh.faces
    normals = np.cross(v[f[:, 1]] - v[f[:, 0]], v[f[:, 2]] - v[f[:, 0]])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    seen = np.flatnonzero(sign * normals[:, toward] > 0)
    order = seen[np.argsort(sign * v[f[seen]].mean(axis=1)[:, toward])]
    shade = 0.72 + 0.25 * np.abs(normals[order, toward])
    axes.add_collection(
        PolyCollection(
            v[f[order]][:, :, [first, second]],
            facecolors=np.outer(shade, [0.93, 0.95, 0.96]),
            edgecolors="#b9c2c7",
            linewidths=0.25,
        )
    )
    axes.set_aspect("equal")
    axes.autoscale()
    axes.set_axis_off()


def _loft_figure(arm: ArmMesh) -> Figure:
    figure = Figure(figsize=(8.4, 8.6))
    for k, (first, toward, sign, title) in enumerate(
        [(0, 1, 1.0, "outside"), (1, 0, 1.0, "front"), (0, 1, -1.0, "inside")]
    ):
        axes = figure.add_subplot(1, 3, k + 1)
        _painted(axes, arm, first, 2, toward, sign)
        if title == "outside":
            axes.invert_xaxis()
        for name, path in arm.paths.items():
            if "middle" in name or (title == "outside" and "underarm" in name):
                continue
            points = arm.mesh.vertices[path]
            axes.plot(points[:, first], points[:, 2], color=INK, linewidth=1.6)
        for name, station in arm.stations.items():
            half = station.girth / (2 * np.pi)
            across = np.cross(station.normal, np.eye(3)[toward])
            ends = station.origin + np.outer([-1.15, 1.15], half * across)
            axes.plot(ends[:, first], ends[:, 2], color=RED, linewidth=1.0, linestyle=(0, (5, 3)))
            if title == "inside":
                side = ends[np.argmax(ends[:, first])]
                axes.text(
                    side[first] + 6,
                    side[2],
                    name.replace("_", " "),
                    color=RED,
                    fontsize=9,
                    va="center",
                )
        axes.set_title(title, color=INK, fontsize=12)
    figure.subplots_adjust(0.01, 0.01, 0.9, 0.95, 0.0)
    return figure


def _levels_figure(shape) -> Figure:
    cap = shape.surface.limb.cap
    figure = Figure(figsize=(8.4, 4.2))
    axes = figure.add_subplot(1, 2, 1)
    angles = np.linspace(0.25, np.pi - 1e-4, 7)
    for angle in angles:
        alpha, b, r = (
            float(cap.opening(angle)),
            float(cap.half_depth(angle)),
            float(cap.ratio(angle)),
        )
        turn = np.linspace(alpha - np.pi / 2, 1.5 * np.pi - alpha, 200)
        x, y = r * b * np.cos(turn), b * (np.cos(alpha) + np.sin(turn))
        level = float(cap.plate.level(angle))
        axes.plot(-x, y, color=BLUE, linewidth=1.4)
        if level > -80:
            axes.text(0, y.max() + 1, f"{level:.0f}", color=SOFT, fontsize=8, ha="center")
    axes.axhline(0, color=INK, linewidth=2)
    axes.text(-62, -6, "armhole plate", color=INK, fontsize=9)
    axes.set_ylim(-10, None)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title("levels of the cap, seen from above", color=INK, fontsize=11)
    profile = cap.profile(np.linspace(1e-3, np.pi, 200))
    axes = figure.add_subplot(1, 2, 2)
    axes.plot(profile[:, 0], profile[:, 1], color=BLUE, linewidth=2)
    axes.plot([0, 0], [0, -cap.plate.height], color=INK, linewidth=3)
    axes.text(
        -5,
        -0.5 * cap.plate.height,
        "armhole plate",
        rotation=90,
        va="center",
        ha="right",
        fontsize=9,
    )
    axes.text(
        profile[120, 0] + 3,
        profile[120, 1],
        f"cap height\n{cap.height:.0f} mm",
        color=BLUE,
        fontsize=9,
    )
    axes.set_aspect("equal")
    axes.set_xlim(-25, 130)
    axes.set_axis_off()
    axes.set_title("profile over the shoulder, seen from the front", color=INK, fontsize=11)
    figure.subplots_adjust(0.02, 0.02, 0.98, 0.9)
    return figure


def _stance_figure(arm: ArmMesh, measures: ArmMeasures) -> Figure:
    """The same arm on an upright armhole, and on ones that lean and roll by 20 mm."""
    figure = Figure(figsize=(8.4, 4.4))
    cases = [
        (Stance(), 1, 0, "upright, from the front"),
        (Stance(underarm_inside=20.0), 1, 0, "underarm_inside 20 mm"),
        (Stance(), 0, 1, "upright, from outside"),
        (Stance(underarm_behind=20.0), 0, 1, "underarm_behind 20 mm"),
    ]
    for k, (stance, across, toward, title) in enumerate(cases):
        stood = replace(measures, stance=stance)
        points = in_the_room(arm.mesh.vertices, stood)
        axes = figure.add_subplot(1, 4, k + 1)
        shown = replace(arm, mesh=Mesh(points, arm.mesh.faces))
        _painted(axes, shown, across, 2, toward, 1.0)
        hole = np.concatenate([arm.paths["cap seam"], arm.paths["underarm seam"][::-1]])
        axes.plot(points[hole, across], points[hole, 2], color=INK, linewidth=2.5)
        axes.plot([0, 0], [20, -560], color=RED, linewidth=1.2, linestyle=(0, (6, 3)))
        underarm, wrist = in_the_room(
            np.array([arm.landmarks["underarm"], arm.landmarks["wrist centre"]]), stood
        )
        for place in (underarm, wrist):
            axes.plot([0, place[across]], [place[2]] * 2, color=RED, linewidth=2)
            axes.text(place[across], place[2] - 18, f"{place[across]:.0f}", color=RED, fontsize=9)
        axes.set_xlim((-110, 190) if toward == 0 else (190, -110))
        axes.set_ylim(-580, 30)
        axes.set_title(title, color=INK, fontsize=10)
    figure.subplots_adjust(0.01, 0.01, 0.99, 0.94)
    return figure


def _cut_figure(arm: ArmMesh) -> Figure:
    figure = Figure(figsize=(8.4, 6.4))
    outer, inner = cut(arm)
    colours = {"front seam": RED, "back seam": "#b8742a", "cap seam": BLUE, "underarm seam": BLUE}
    for k, (panel, sign) in enumerate([(outer, 1.0), (inner, -1.0)]):
        axes = figure.add_subplot(1, 2, k + 1)
        v, f = panel.mesh.vertices, panel.mesh.faces
        flip = -sign
        named: set[str] = set()
        axes.add_collection(
            PolyCollection(
                v[f][:, :, [0, 2]] * [flip, 1],
                facecolors="#eef1f2",
                edgecolors="#c6cdd1",
                linewidths=0.25,
            )
        )
        for side in panel.sides:
            p = v[side.path]
            axes.plot(flip * p[:, 0], p[:, 2], linewidth=2.4, color=colours.get(side.seam, INK))
            if not side.seam.startswith("dart") and side.seam not in named:
                named.add(side.seam)
                m = p[len(p) // 2]
                axes.annotate(
                    side.seam,
                    (flip * m[0], m[2]),
                    xytext=(6, 4),
                    fontsize=9,
                    textcoords="offset points",
                    color=colours.get(side.seam, INK),
                )
        for trace in panel.traces.values():
            p = trace.on(v, f)
            axes.plot(flip * p[:, 0], p[:, 2], color=SOFT, linewidth=1.0, linestyle=(0, (6, 3)))
        axes.set_aspect("equal")
        axes.autoscale()
        axes.margins(0.15)
        axes.set_axis_off()
        axes.set_title(f"{panel.name} panel, right side", color=INK, fontsize=12)
    figure.subplots_adjust(0.01, 0.01, 0.99, 0.94)
    return figure


def _trials_figure(trials: tuple[LayoutTrial, ...]) -> Figure:
    figure = Figure(figsize=(7.6, 4.2))
    axes = figure.add_subplot()
    marks = {
        "no dart": ("s", INK), "1 dart": ("v", RED), "outer seam": ("^", RED),
        "2 darts": ("o", BLUE), "3 darts": ("D", "#3f7d4e"), "4 darts": ("P", "#8a6d1f"),
    }  # fmt: skip
    for name, (mark, colour) in marks.items():
        own = [trial for trial in trials if trial.name == name]
        axes.scatter(
            [max((intake.width for intake in trial.intakes), default=0.0) for trial in own],
            [trial.miss.cap_mean for trial in own],
            marker=mark, s=46, facecolor="none", edgecolor=colour, linewidths=1.6,
            label=name if own else None,
        )  # fmt: skip
    taken = trials[0]
    widest = max((intake.width for intake in taken.intakes), default=0.0)
    axes.annotate("taken", (widest, taken.miss.cap_mean), xytext=(10, 10),
                  textcoords="offset points", color=INK, fontsize=9)  # fmt: skip
    axes.set_xlabel("widest mouth of a dart, mm", color=INK)
    axes.set_ylabel("shoulder off on average once corrected,\nas it is foretold, mm", color=INK)
    axes.set_ylim(0, None)
    axes.legend(frameon=False)
    axes.set_facecolor(PAPER)
    for spine in ("top", "right"):
        axes.spines[spine].set_visible(False)
    figure.subplots_adjust(0.13, 0.14, 0.97, 0.96)
    return figure


if __name__ == "__main__":
    main()
