"""What each further measure is worth: lofts of modelled arms from more and more of a sheet.

`python -m tests.study_measures` reads every arm of meshes/ (or the files named) as a scan, writes
sheets with more and more of its measures, and prints how far the loft of each sheet lies from the
arm: girths at every level of the scan, sections about their own middles, elbow and wrist. Girths
and sections of the arms are planes cut by trimesh, their hulls by scipy. The armhole and how it
stands are the same in every sheet, so elbow and wrist are told in one frame. The cap is left out:
where a scanned arm stands away from the body, the flesh over its shoulder is not that of one that
hangs. Levels are told as tapes find them, along the inner side of the elbow.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from scipy.spatial import ConvexHull

from tests.study_scans import MESHES, sheet_of
from unroll.arms.limb import ArmSurface, Limb
from unroll.arms.lofting import shape_arm
from unroll.disk.sheets import sheet_of as sheet_of_text
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMeasures
from unroll.nouns.scan import ScannedArm, Section
from unroll.scans.comparing import off_segments
from unroll.sheets.plausibility import bend_deg, elbow_width

AROUND = 72
STATIONS = ("underarm", "upper_arm", "elbow", "forearm", "wrist")
STEPS = (
    "four required measures",
    "and all usual tapes",
    "and a girth half-way down the forearm",
    "and a girth at the underarm's level",
    "and widths over depths, two books",
    "and where elbow and wrist hang",
)
Table = dict[str, object]


@dataclass(frozen=True, eq=False)
class Arm:
    """One arm as its scan has it, posed as it is made, and its sections below the cap."""

    scan: ScannedArm
    measures: ArmMeasures
    surface: ArmSurface
    sections: tuple[Section, ...]

    @property
    def limb(self) -> Limb:
        return self.surface.limb

    def cut(self, section: Section) -> FloatArray:
        """Return the scan's segments in a section's plane, (k, 2, 2), by trimesh."""
        mesh = trimesh.Trimesh(self.scan.mesh.vertices, self.scan.mesh.faces, process=False)
        found = trimesh.intersections.mesh_plane(mesh, section.frame[2], section.centre)
        flat = (found - section.centre) @ section.frame[:2].T
        far = 1.9 * section.girth / (2.0 * np.pi)  # what lies farther off is another part of her
        return np.asarray(flat[np.linalg.norm(flat, axis=2).max(axis=1) < far])


def arm_of(path: Path) -> Arm:
    sheet = sheet_of(path)
    assert sheet.scanned is not None and sheet.arms[0].scan is not None
    measures = sheet.arms[0]
    kept = len(measures.scan.levels)  # type: ignore[union-attr]
    return Arm(sheet.scanned, measures, shape_arm(measures).surface, sheet.scanned.sections[-kept:])


def sheets_of(arm: Arm) -> Iterator[str]:
    """Yield the sheets of `STEPS`, each with all that the one before has."""
    m, at = arm.measures, arm.limb.layout
    table: Table = {
        "armhole": f"{{ width = {m.armhole.width:.2f}, height = {m.armhole.height:.2f} }}"
    }
    table |= _stance(m)
    names = ("shoulder_to_elbow", "inner_elbow_to_wrist", "upper_arm_girth", "wrist_girth")
    table |= _taped(m, names)
    yield _text(table)
    table |= _taped(m, ("shoulder_to_inner_elbow", "upper_arm_up", "elbow_girth", "forearm_girth",
                        "forearm_down", "wrist_width", "wrist_depth"))  # fmt: skip
    yield _text(table)
    half, taped = 0.5 * (at.forearm + at.wrist), arm.scan.limb.taped
    levels = {f"down = {taped(half):.2f}": half}
    yield _text(table | {"girths": _girths(arm, levels)})
    first = arm.limb.levels[1].along  # as near the underarm's level as the scan tells
    levels |= {f"up = {-taped(first):.2f}": first}
    yield _text(table | {"girths": _girths(arm, levels)})
    table |= {name: f"{getattr(m, name):.3f}"
              for name in ("upper_arm_ratio", "elbow_ratio", "forearm_ratio")}  # fmt: skip
    table["girths"] = _girths(arm, levels, books=True)
    yield _text(table)
    joints = _joints(arm.surface)
    table |= {f"{name}_{way}": f"{place:.2f}" for name, where in joints.items()
              for way, place in zip(("forward", "outward"), where[:2], strict=True)}  # fmt: skip
    yield _text(table)


def _stance(m: ArmMeasures) -> Table:
    names = ("underarm_inside", "underarm_behind", "front_inside")
    found = {name: getattr(m.stance, name) for name in names}
    return {name: f"{value:.2f}" for name, value in found.items() if value is not None}


def _taped(m: ArmMeasures, names: tuple[str, ...]) -> Table:
    return {name: f"{getattr(m, name):.2f}" for name in names}


def _girths(arm: Arm, levels: dict[str, float], *, books: bool = False) -> str:
    rows = []
    for where, along in levels.items():
        ring = arm.limb.section(along, np.arange(AROUND) / AROUND)
        wide, deep = np.ptp(ring, axis=0)
        ratio = f", ratio = {wide / deep:.3f}" if books else ""
        rows.append(f"{{ {where}, girth = {float(arm.limb.girth(along)):.2f}{ratio} }}")
    return f"[{', '.join(rows)}]"


def _text(table: Table) -> str:
    rows = (f"{key} = {value}" for key, value in table.items())
    return "\n".join(['unit = "mm"', "[arm]", *rows])


def _joints(surface: ArmSurface) -> dict[str, FloatArray]:
    """Return the middles of elbow and wrist: forward, outward and up of the shoulder point, mm."""
    limb, stands = surface.limb, surface.limb.cap.plate.stands
    found = limb.centre(np.array([limb.layout.elbow, limb.layout.wrist])) @ stands.T
    return dict(zip(("elbow", "wrist"), found, strict=True))


@dataclass(frozen=True, eq=False)
class Gaps:
    """How far one loft lies off: girths in percent, the others in mm."""

    girths: FloatArray
    sections: FloatArray
    elbow: float
    wrist: float


def gaps(arm: Arm, text: str, cuts: list[FloatArray]) -> Gaps:
    """Compare the loft of a sheet with the arm."""
    surface = shape_arm(sheet_of_text(text, Path()).arms[0]).surface
    limb = surface.limb
    here, there = ([one.layout.stations[name] for name in STATIONS] for one in (arm.limb, limb))
    girths, off = [], []
    for level, cut in zip(arm.limb.levels[1:], cuts, strict=True):
        along = float(np.interp(level.along, here, there))
        true = ConvexHull(cut.reshape(-1, 2))
        girths.append(100.0 * (float(limb.girth(along)) / true.area - 1.0))
        ring = limb.section(along, np.arange(AROUND) / AROUND)
        middle = cut.reshape(-1, 2)[true.vertices]
        ring += 0.5 * (middle.min(axis=0) + middle.max(axis=0)) - 0.5 * (ring.min(0) + ring.max(0))
        off.append(off_segments(ring, cut))
    joints, wanted = _joints(surface), _joints(arm.surface)
    missed = {name: float(np.linalg.norm(joints[name] - wanted[name])) for name in joints}
    return Gaps(np.abs(girths), np.concatenate(off), missed["elbow"], missed["wrist"])


def bend_read(m: ArmMeasures) -> float:
    """Return the elbow's bend that the lengths down back and front tell, degrees."""
    width = elbow_width(m.elbow_girth, m.elbow_ratio)
    return bend_deg(m.shoulder_to_elbow, m.shoulder_to_inner_elbow, width)


def line(name: str, many: list[Gaps]) -> str:
    girths = np.concatenate([one.girths for one in many])
    sections = np.concatenate([one.sections for one in many])
    elbow, wrist = ([getattr(one, joint) for one in many] for joint in ("elbow", "wrist"))
    return (f"| {name:38} | {girths.mean():.1f} / {girths.max():.0f} | {sections.mean():.1f} / "
            f"{np.quantile(sections, 0.95):.1f} / {sections.max():.0f} | {np.mean(elbow):.0f} / "
            f"{max(elbow):.0f} | {np.mean(wrist):.0f} / {max(wrist):.0f} |")  # fmt: skip


def main() -> None:
    """Print a line a sheet, over all arms; and what was refused."""
    found: dict[str, list[Gaps]] = {step: [] for step in STEPS}
    for path in [Path(word) for word in sys.argv[1:]] or sorted(MESHES.glob("arm_*.obj")):
        try:
            arm = arm_of(path)
        except UnrollError as fault:
            print(f"{path.stem}: {fault}")
            continue
        cuts = [arm.cut(section) for section in arm.sections]
        for step, text in zip(STEPS, sheets_of(arm), strict=True):
            try:
                found[step].append(gaps(arm, text, cuts))
            except UnrollError as fault:
                print(f"{path.stem}, {step}: {fault}")
        print(path.stem, *(f"{one[-1].wrist:.0f}" for one in found.values() if one),
              f"bend {arm.scan.bend_deg:.0f}, by back and front {bend_read(arm.measures):.0f}",
              flush=True)  # fmt: skip
    print("| the sheet has | girths, % mean / worst | sections, mm mean / 95 % / worst "
          "| elbow, mm mean / worst | wrist, mm mean / worst |\n|---|---|---|---|---|")  # fmt: skip
    for step, many in found.items():
        if many:
            print(line(step, many))


if __name__ == "__main__":
    main()
