"""Pictures of the sewn and filled arm: where its cap stands off, and its profile."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.triangles import face_normals
from unroll.nouns import Fit, Sewn

INK, PAPER, FAINT, CLOTH = "#26323a", "#fbf8f2", "#8b8f8c", "#e9e4da"
# Blue where the cloth lies too low, madder where it stands proud; equally dark at equal amounts.
SIGNED = LinearSegmentedColormap.from_list(
    "stand-off", ["#0b356a", "#5097bc", "#f6f3ec", "#d38351", "#741a1b"]
)
NAMES = {
    "drafted-ease": "flat draft with ease",
    "drafted-darts": "flat draft with darts",
    "unrolled": "unrolled pieces",
    "corrected": "corrected pieces",
    "before": "before correction",
    "after": "after correction",
}
STYLES = {
    "drafted-ease": ("#a3362b", (0, (6, 2))),
    "drafted-darts": ("#b8862b", (0, (6, 2, 1.2, 2))),
    "unrolled": ("#2f6f8f", "solid"),
    "corrected": ("#3d7a45", (0, (2, 1.2))),
    "before": ("#a3362b", (0, (5, 2))),
    "after": ("#2f6f8f", "solid"),
}
# Ways of looking: across to the right and up on the page, towards the eye, for the left arm.
VIEWS = (
    ("from the side", (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    ("from the front", (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
    ("from behind", (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0)),
)
NICE_TOPS = (2.0, 3.0, 5.0, 8.0, 10.0, 15.0, 20.0, 30.0, 50.0)
UP = np.array([0.0, 0.0, 1.0])


def stand_off_figure(filled: Sequence[tuple[Sewn, Fit]]) -> Figure:
    """Return the sewn arms' caps coloured by their distance from the measured arm, one a row.

    Parameters
    ----------
    filled : sequence of (Sewn, Fit)
        Of the same arm; all on one scale. The whole arm's swing is taken out.
    """
    top = _scale_top([off for _, off in filled])
    # Inches: names of the views, then a headline and a picture a row, then the scale.
    names, headline, picture, scale = 0.34, 0.26, 2.35, 0.72
    tall = names + len(filled) * (headline + picture) + scale
    figure = Figure(figsize=(7.6, tall), facecolor=PAPER)
    for row, (sewn, off) in enumerate(filled):
        low = tall - names - (row + 1) * (headline + picture)
        figure.text(0.03, (low + picture + 0.05) / tall, _headline(off), fontsize=9.5, color=INK)
        for column, (_, across, toward) in enumerate(VIEWS):
            box = (0.02 + 0.325 * column, low / tall, 0.31, picture / tall)
            axes = figure.add_axes(box)
            _paint_cap(axes, sewn, off, np.array(across), np.array(toward), top)
    for column, (name, _, _) in enumerate(VIEWS):
        at = (0.175 + 0.325 * column, 1 - 0.2 / tall)
        figure.text(*at, name, fontsize=9, color=FAINT, ha="center")
    _colour_bar(figure, top, (0.25, 0.46 / tall, 0.5, 0.1 / tall))
    return figure


def _colour_bar(figure: Figure, top: float, box: tuple[float, float, float, float]) -> None:
    """Draw the scale of distances."""
    scale = ScalarMappable(Normalize(-top, top), SIGNED)
    bar = figure.colorbar(scale, cax=figure.add_axes(box), orientation="horizontal")
    bar.outline.set_visible(False)
    bar.ax.tick_params(labelsize=8, colors=INK, length=2)
    label = "mm from the measured arm: blue too low, red too proud"
    bar.set_label(label, fontsize=8, color=INK, labelpad=1)


def profile_figure(standoffs: Sequence[Fit]) -> Figure:
    """Return the profiles through the middle of the cap, laid over the measured arm's.

    Left with the swing of the whole arm taken out, right as the sewn arms hang.
    """
    figure = Figure(figsize=(7.6, 4.9), facecolor=PAPER)
    panels = (
        ("the cap, swing taken out", [off.profile_sewn for off in standoffs]),
        ("as it hangs once filled", [off.profile_swung for off in standoffs]),
    )
    lines = [*(line for _, many in panels for line in many), standoffs[0].profile_asked]
    across = max(float(line[:, 0].max()) for line in lines) + 62.0
    low = min(float(line[:, 1].min()) for line in lines) - 6.0
    high = max(float(line[:, 1].max()) for line in lines) + 8.0
    for column, (title, many) in enumerate(panels):
        axes = figure.add_axes((0.05 + 0.48 * column, 0.17, 0.44, 0.73))
        axes.set_title(title, fontsize=9.5, color=INK, loc="left")
        axes.axvline(0.0, color=FAINT, linewidth=0.8)
        axes.fill_betweenx(*_under(standoffs[0].profile_asked), color=CLOTH, linewidth=0)
        axes.plot(*standoffs[0].profile_asked.T, color=INK, linewidth=2.2, label="measured arm")
        for off, line in zip(standoffs, many, strict=True):
            colour, style = STYLES.get(off.source, (FAINT, "solid"))
            label = NAMES.get(off.source, off.source)
            axes.plot(*line.T, color=colour, linestyle=style, linewidth=1.7, label=label)
        axes.set_aspect("equal", adjustable="box", anchor="W")
        axes.set_xlim(-12.0, across)
        axes.set_ylim(low, high)
        _scale_bar(axes, across, low)
        middle = 0.5 * low
        axes.text(-4, middle, "armhole", fontsize=7.5, color=FAINT, rotation=90, ha="right")
        axes.set_axis_off()
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(
        handles, labels, loc="lower center", ncols=min(len(labels), 3), frameon=False,
        fontsize=8.5, labelcolor=INK, handlelength=3.2,
    )  # fmt: skip
    return figure


def _scale_top(standoffs: Sequence[Fit]) -> float:
    """Return the scale's end: a round number of mm that few places are beyond."""
    most = max(float(np.nanpercentile(np.abs(off.distances), 99)) for off in standoffs)
    return next((top for top in NICE_TOPS if top >= most), NICE_TOPS[-1])


def _headline(off: Fit) -> str:
    """Return a row's title: whose cap it is and how far it stands off."""
    name = NAMES.get(off.source, off.source)
    return (
        f"{name[:1].upper()}{name[1:]}: up to {off.bulge_max:.0f} mm proud, "
        f"{off.hollow_max:.0f} mm low; swing {off.swing_deg:.0f}°"
    )


def _paint_cap(
    axes: Axes, sewn: Sewn, off: Fit, across: FloatArray, toward: FloatArray, top: float
) -> None:
    """Paint the upper arm as seen one way, far faces first, the cap coloured by its distance."""
    mirror = np.array([1.0, 1.0 if off.arm == "left" else -1.0, 1.0])
    points = off.turned * mirror
    faces = sewn.mesh.faces if off.arm == "left" else sewn.mesh.faces[:, ::-1]
    low = np.nanmin(points[np.isfinite(off.distances), 2]) - 55.0
    near = np.flatnonzero(points[faces][:, :, 2].max(axis=1) > low)
    normals = face_normals(points, faces[near])
    normals = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    is_seen = normals @ toward > 0
    near, normals = near[is_seen], normals[is_seen]
    order = np.argsort(points[faces[near]].mean(axis=1) @ toward)
    near, normals = near[order], normals[order]
    colours = _face_colours(off, faces[near], top)
    # Light from above and the eye's side, so that the form reads without spoiling the colours.
    light = 0.6 * toward + 0.8 * UP
    colours[:, :3] *= (0.86 + 0.14 * np.clip(normals @ light, 0, 1))[:, None]
    shapes = np.stack([points[faces[near]] @ across, points[faces[near]][:, :, 2]], axis=2)
    axes.add_collection(
        PolyCollection(list(shapes), facecolors=colours, edgecolors=colours, linewidths=0.3)
    )
    _draw_seams(axes, sewn, points, across, toward, low)
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.set_ylim(low, float(points[:, 2].max()) + 4.0)
    axes.set_axis_off()


def _face_colours(off: Fit, faces: IntArray, top: float) -> FloatArray:
    """Return RGBA colours (m, 4): cloth's colour away from the cap."""
    away = off.distances[faces].mean(axis=1)
    colours = np.asarray(SIGNED(np.clip(0.5 + 0.5 * np.nan_to_num(away) / top, 0, 1)))
    plain = tuple(int(CLOTH[k : k + 2], 16) / 255 for k in (1, 3, 5))
    colours[~np.isfinite(away), :3] = plain
    return colours


def _draw_seams(
    axes: Axes, sewn: Sewn, points: FloatArray, across: FloatArray, toward: FloatArray, low: float
) -> None:
    """Draw the seams and darts that face the eye."""
    normals = np.zeros_like(points)
    np.add.at(
        normals,
        sewn.mesh.faces.ravel(),
        np.repeat(face_normals(points, sewn.mesh.faces), 3, axis=0),
    )
    mirrored = 1.0 if sewn.arm == "left" else -1.0
    for name, path in sewn.seam_paths.items():
        is_seen = (mirrored * (normals[path] @ toward) > 0) & (points[path, 2] > low)
        line = np.stack([points[path] @ across, points[path, 2]], axis=1)
        line[~is_seen] = np.nan
        width = 0.9 if name.startswith("dart") or name == "cap seam" else 0.6
        axes.plot(*line.T, color=INK, linewidth=width)


def _under(line: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return levels and both ends of the area between the armhole and a profile."""
    return line[:, 1], np.zeros(len(line)), line[:, 0]


def _scale_bar(axes: Axes, across: float, low: float) -> None:
    """Draw a bar of 50 mm at the lower right."""
    axes.plot([across - 54.0, across - 4.0], [low + 5.0] * 2, color=INK, linewidth=1.2)
    axes.text(across - 29.0, low + 7.5, "50 mm", fontsize=7.5, color=INK, ha="center")
