"""What was found on a scan: its landmarks, and where lofts and the real arm part."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from unroll.maths.arrays import FloatArray
from unroll.nouns.scan import ScanFit, ScannedArm, place_in_words
from unroll.show.colours import AFTER, BEFORE, DASHES, FAINT, INK, PAPER, bare, inch_ticks
from unroll.units import MM_PER_UNIT, Unit, format_length, format_small

LABELS = {"taped": "the loft of the usual girths", "levels": "the loft of every level"}
COLOURS = {"taped": BEFORE, "levels": AFTER}
STYLES = {"taped": "-", "levels": DASHES}
VIEWS = (("from the front", 1), ("from outside", 0))
SHOWN_LEVELS = 6
LEAST_IN_MM = 25.4 / 16.0


def landmarks_figure(scan: ScannedArm) -> Figure:
    """Return a scan's level lines from two sides, with its axis and its landmarks numbered.

    Parameters
    ----------
    scan : ScannedArm
        Drawn as the left arm, the upper arm hanging as it does on the scan.
    """
    figure = Figure(figsize=(8.4, 5.6), facecolor=PAPER)
    upright = upright_of(scan)
    for column, (title, across) in enumerate(VIEWS):
        axes = figure.add_axes((0.02 + 0.37 * column, 0.04, 0.36, 0.88))
        bare(axes)
        axes.set_title(title, fontsize=9, color=INK)

        def seen(points: FloatArray, across: int = across) -> FloatArray:
            turned = (points - scan.axis[0]) @ upright.T
            # from the front, the wearer's left lies to the right; from outside, front to the left
            return np.column_stack([turned[:, across] * (1.0 if across else -1.0), turned[:, 2]])

        rings = [seen(s.placed(np.vstack([s.outline, s.outline[:1]]))) for s in scan.sections[::3]]
        axes.add_collection(LineCollection(rings, colors=FAINT, linewidths=0.6))
        cloud = scan.mesh.vertices[:: max(1, len(scan.mesh.vertices) // 1500)]
        axes.plot(*seen(cloud).T, ".", color=FAINT, ms=1.0)
        axes.plot(*seen(scan.axis).T, color=INK, lw=1.0, ls=DASHES)
        for number, point in enumerate(scan.landmarks.values(), start=1):
            x, y = seen(point[None])[0]
            axes.plot(x, y, "o", color=BEFORE, ms=12, clip_on=False)
            axes.text(x, y, str(number), color=PAPER, fontsize=8, ha="center", va="center")
        axes.autoscale()
    for number, (name, point) in enumerate(scan.landmarks.items(), start=1):
        place = place_in_words(scan.in_file(point), scan.unit)
        figure.text(0.76, 0.88 - 0.075 * number,
                    f"{number}  {name.replace('_', ' ')}\n     {place}",
                    fontsize=8.5, color=INK, va="top")  # fmt: skip
    figure.text(0.76, 0.26, "dashed: the arm's middle line\nplaces are the file's own numbers,\n"
                f"as [scan] takes them ({scan.unit})",
                fontsize=8, color=INK, va="top")  # fmt: skip
    return figure


def upright_of(scan: ScannedArm) -> FloatArray:
    """Return forward, outward and up of a picture: the upper arm leans as it does on the scan."""
    frame = scan.sections[0].frame
    lean = np.radians(min(scan.away_deg, 80.0))
    turn = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(lean), -np.sin(lean)],
                     [0.0, np.sin(lean), np.cos(lean)]])  # fmt: skip
    return np.asarray(turn @ frame)


def levels_figure(fit: ScanFit, unit: Unit) -> Figure:
    """Return how far lofts lie from the scan down the arm, and some levels laid over each other."""
    figure = Figure(figsize=(8.4, 4.6), facecolor=PAPER)
    axes = figure.add_axes((0.075, 0.13, 0.4, 0.73), facecolor="none")
    down, off = float(MM_PER_UNIT[unit]), 25.4 if unit == "in" else 1.0
    for name, gaps in fit.gaps.items():
        along = [gap.along / down for gap in gaps]
        mean, worst = (np.array([getattr(g, what) for g in gaps]) / off
                       for what in ("mean", "worst"))  # fmt: skip
        axes.fill_betweenx(along, mean, worst, color=COLOURS[name], alpha=0.18, lw=0)
        axes.plot(worst, along, color=COLOURS[name], ls=STYLES[name], lw=0.5)
        whole = fit.whole[name]
        axes.plot(mean, along, color=COLOURS[name], ls=STYLES[name],
                  label=f"{LABELS[name]}: {_near(whole.mean, unit)} on average")  # fmt: skip
    limb = fit.scan.limb
    axes.axhline(limb.elbow / down, color=INK, lw=0.6, ls=":")
    axes.text(axes.get_xlim()[1], limb.elbow / down, "elbow ", fontsize=7.5, ha="right",
              va="bottom")
    axes.set_ylim(limb.levels[-1].along / down, 0.0)
    axes.set_xlim(left=0.0)
    if unit == "in":
        inch_ticks(axes.xaxis, axes.get_xlim()[1])
    words = "inches" if unit == "in" else "mm"
    axes.set_xlabel(f"off the scan, {words}: mean, shaded up to the worst", fontsize=8)
    axes.set_ylabel(f"below the underarm, {'inches' if unit == 'in' else unit}", fontsize=8)
    axes.tick_params(labelsize=7.5)
    axes.spines[["top", "right"]].set_visible(False)
    figure.legend(*axes.get_legend_handles_labels(), loc="upper left", fontsize=8, frameon=False,
                  bbox_to_anchor=(0.05, 1.0), ncols=1)  # fmt: skip
    shown = np.linspace(0, len(fit.sections) - 1, SHOWN_LEVELS).astype(int)
    for place, k in enumerate(shown):
        row, column = divmod(place, 3)
        there = (0.51 + 0.16 * column, 0.45 - 0.44 * row, 0.155, 0.4)
        _level(figure.add_axes(there), fit, int(k), unit)
    figure.text(0.51, 0.93, "sections: grey is the scan; front to the right, outside up",
                fontsize=8, color=INK)  # fmt: skip
    return figure


def _level(axes: Axes, fit: ScanFit, k: int, unit: Unit) -> None:
    bare(axes)
    section = fit.sections[k]
    axes.fill(*section.outline.T, facecolor="#d9d5cb", edgecolor=INK, lw=0.5)
    for name, rings in fit.outlines.items():
        axes.plot(*np.vstack([rings[k], rings[k][:1]]).T, color=COLOURS[name], lw=1.2,
                  ls=STYLES[name])  # fmt: skip
    down = format_length(round(section.along), unit, denominator=4)
    axes.set_title(f"{down} down", fontsize=7.5, color=INK)
    axes.margins(0.1)


def scan_row(fit: ScanFit) -> dict[str, Any]:
    """Return what was found on a scan as plain numbers."""
    scan = fit.scan
    return {
        "file": scan.name, "side": scan.side, "bend_deg": scan.bend_deg,
        "away_deg": scan.away_deg,
        "landmarks_mm": {name: scan.in_file(at).tolist() for name, at in scan.landmarks.items()},
        "measures": [
            {"name": name, "ratio" if name.endswith("_ratio") else "scan_mm": value}
            for name, value in scan.values.items()
        ],
        "off_scan": {
            name: {"mean_mm": gap.mean, "p95_mm": gap.p95, "worst_mm": gap.worst}
            for name, gap in fit.whole.items()
        },
        "told": list(scan.told),
    }  # fmt: skip


def level_rows(fit: ScanFit) -> list[dict[str, Any]]:
    """Return each level's girth, and how far lofts lie from it, as plain numbers."""
    taped, levels = fit.gaps["taped"], fit.gaps["levels"]
    return [
        {
            "below_underarm_mm": section.along, "girth_mm": section.girth,
            "taped_mean_mm": a.mean, "taped_p95_mm": a.p95, "taped_worst_mm": a.worst,
            "levels_mean_mm": b.mean, "levels_p95_mm": b.p95, "levels_worst_mm": b.worst,
        }
        for section, a, b in zip(fit.sections, taped, levels, strict=True)
    ]  # fmt: skip


def _near(mm: float, unit: Unit) -> str:
    """Return a small distance; what no ruler of the unit shows is called less than it shows."""
    if unit == "in" and mm < LEAST_IN_MM:
        return "less than 1/16 in"
    return format_small(mm, unit, decimals=1)


def scan_lines(fit: ScanFit, unit: Unit) -> list[str]:
    """Return what a scan gave, a sentence each."""
    scan = fit.scan
    taped, levels = fit.whole["taped"], fit.whole["levels"]
    return [
        f"{scan.name} was measured at {len(scan.sections)} levels; its elbow bends by "
        f"{scan.bend_deg:.0f} degrees, and its upper arm stands {scan.away_deg:.0f} degrees away "
        "from where an arm hangs.",
        f"Below the underarm the arm that is made lies {_near(levels.mean, unit)} off the scan on "
        f"average, 95 % of it within {_near(levels.p95, unit)}. From the usual four girths alone "
        f"it would lie {_near(taped.mean, unit)} off, 95 % within {_near(taped.p95, unit)}.",
    ]
