"""How far a loft lies from the scan it was made from, level by level."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from unroll.arms.axis import Polyline
from unroll.arms.limb import Limb
from unroll.arms.lofting import shape_arm
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMeasures
from unroll.nouns.scan import LevelGap, ScanFit, ScannedArm, Section
from unroll.scans.cutting import Cutter

AROUND = 72  # places round each level


def scan_fit(scan: ScannedArm, measures: ArmMeasures) -> ScanFit:
    """Return how near the loft of usual girths and the loft of all levels come to a scan.

    Parameters
    ----------
    scan : ScannedArm
    measures : ArmMeasures
        Of the left arm, with the scan's levels.

    Notes
    -----
    The loft's outline at each level is laid into the plane in which the scan was cut there, and the
    distance of its points from the cut taken: the scan's own pose, whatever pose is made. The loft
    of the usual girths has its ellipses about the middle of the scan's sections.
    """
    kept = 0 if measures.scan is None else len(measures.scan.levels)
    sections = scan.sections[len(scan.sections) - kept :]
    levels = shape_arm(measures).surface.limb
    taped = shape_arm(replace(measures, scan=None, girths=())).surface.limb
    outlines = {
        "taped": np.array(list(_taped_outlines(taped, levels, sections, measures))),
        "levels": np.array(list(_level_outlines(levels, measures))),
    }
    cutter, off = Cutter(scan.mesh), dict[str, list[FloatArray]](taped=[], levels=[])
    for k, section in enumerate(sections):
        cut = cutter.segments(section.centre, section.frame, 1.9 * section.girth / (2.0 * np.pi))
        for name, rings in outlines.items():
            off[name].append(off_segments(rings[k], cut))
    return ScanFit(
        scan,
        sections,
        {name: tuple(_gap(section.along, one) for section, one in
                     zip(sections, found, strict=True)) for name, found in off.items()},
        {name: _gap(sections[-1].along, np.concatenate(found)) for name, found in off.items()},
        outlines,
    )  # fmt: skip


def _gap(along: float, off: FloatArray) -> LevelGap:
    return LevelGap(along, float(off.mean()), float(np.quantile(off, 0.95)), float(off.max()))


def _level_outlines(limb: Limb, measures: ArmMeasures) -> Iterable[FloatArray]:
    """Yield what the loft has at each level, about the scan's own axis."""
    scan = measures.scan
    if scan is None:
        return
    own = Polyline(scan.axis, scan.straight, scan.elbow - scan.straight, tuple(scan.axis[0]))
    fraction = np.arange(AROUND) / AROUND
    for level in scan.levels:
        off = limb.centre(level.along) - own.centre(level.along)  # led over from the cap
        yield limb.section(level.along, fraction) + off[:2]


def _taped_outlines(
    taped: Limb, levels: Limb, sections: tuple[Section, ...], measures: ArmMeasures
) -> Iterable[FloatArray]:
    """Yield the ellipses of the usual girths at each level, about the scan's middles."""
    names = ("underarm", "upper_arm", "elbow", "forearm", "wrist")
    here, there = ([one.layout.stations[name] for name in names] for one in (levels, taped))
    fraction = np.arange(AROUND) / AROUND
    known = () if measures.scan is None else measures.scan.levels
    for section, level in zip(sections, known, strict=True):
        along = float(np.interp(level.along, here, there))
        yield taped.section(along, fraction) + section.outline.mean(axis=0)


def off_segments(points: FloatArray, segments: FloatArray) -> FloatArray:
    """Return the distance of points (k, 2) from the nearest of segments (s, 2, 2), (k,), mm."""
    start, way = segments[:, 0], segments[:, 1] - segments[:, 0]
    long = np.maximum(np.sum(way**2, axis=1), 1e-12)
    rest = points[:, None] - start
    share = np.clip(np.sum(rest * way, axis=2) / long, 0.0, 1.0)
    return np.asarray(np.linalg.norm(rest - share[..., None] * way, axis=2).min(axis=1))
