"""How far the loft's girths lie from those of modelled arms, between the levels that were taped.

`python -m tests.study_taper` fits the usual taper to some arms of meshes/ and prints the error of
the loft on the others, girths at every 2 % of the limb, against planes cut by trimesh. Then the
arms' width over depth where the sheet asks for it, mean and spread.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from scipy.interpolate import PchipInterpolator
from scipy.spatial import ConvexHull

from tests.samples import sample_measures
from unroll.arms.cap import fit_cap
from unroll.arms.levels import lay_out_limb, taped_limb
from unroll.arms.plate import plate_of
from unroll.maths.ellipses import ellipse_half_depth
from unroll.nouns import Armhole, ArmMeasures, GirthLevel
from unroll.nouns.measures import USUAL_RATIOS, USUAL_TAPER

FITTED = ("arm_p50", "arm_girl", "arm_strong_man", "arm_old_woman", "arm_old_man")
KEPT_APART = ("arm_rest", "arm_p05", "arm_man", "arm_boy", "arm_full_woman", "arm_very_full")
# Elbow to wrist over shoulder to wrist: mean of the arms in meshes/ that name these points.
LOWER_SHARE = 0.49
BEND_MM = 30.0  # over which the tape turns from one axis to the other, either side of the elbow
FOREARM, UPPER_ARM = 0.26, -0.4  # where the sheet's girths are taped


@dataclass(frozen=True, eq=False)
class ArmFile:
    """One arm of meshes/: `girth` at a share of elbow to wrist, or (negative) elbow to shoulder.

    `ratios` are width (front to back) over depth at upper arm, elbow and forearm.
    """

    lower: float
    upper: float
    girth: PchipInterpolator
    ratios: tuple[float, ...]


def arm_file(name: str) -> ArmFile:
    """Return an arm's girths by planes square to its bones."""
    path = Path("meshes") / f"{name}.obj"
    mesh = trimesh.load(path, process=False)
    shoulder, elbow, wrist = _joints(path, mesh)
    lower, upper = np.linalg.norm(wrist - elbow), np.linalg.norm(elbow - shoulder)
    ways = (elbow - shoulder) / upper, (wrist - elbow) / lower

    def plane(share: float) -> tuple[np.ndarray, np.ndarray]:
        along = share * (upper if share < 0.0 else lower)
        turn = np.clip(0.5 + 0.5 * along / BEND_MM, 0.0, 1.0)
        normal = (1.0 - turn) * ways[0] + turn * ways[1]
        return elbow + along * ways[0 if share < 0.0 else 1], normal / np.linalg.norm(normal)

    shares = np.arange(-0.44, 0.99, 0.02)
    girths = [_girth(mesh, *plane(share)) for share in shares]
    ratios = tuple(_ratio(mesh, *plane(share)) for share in (UPPER_ARM, 0.0, FOREARM))
    girths.append(_taut(min(_ends(mesh), key=lambda e: np.linalg.norm(e.mean(axis=0) - wrist))))
    girth = PchipInterpolator(np.append(shares, 1.0), girths)
    return ArmFile(float(lower), float(upper), girth, ratios)


def _joints(path: Path, mesh: trimesh.Trimesh) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return shoulder, elbow and wrist as the file names them, or its ends and a usual share."""
    named = {
        line.split()[1]: np.array(line.split()[2:], dtype=float)
        for line in path.read_text().splitlines()
        if line.startswith(("# shoulder", "# elbow", "# wrist"))
    }
    if named:
        return named["shoulder"], named["elbow"], named["wrist"]
    ends = [end.mean(axis=0) for end in _ends(mesh)]
    shoulder, wrist = sorted(ends, key=lambda end: -end[1])  # the arm hangs: y is up in the files
    way = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
    line = shoulder + np.linspace(0.12, 0.98, 44)[:, None] * (wrist - shoulder)
    centres = np.array([shoulder, *(_centre(mesh, point, way) for point in line), wrist])
    walked = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(centres, axis=0), axis=1)))
    at = (1.0 - LOWER_SHARE) * walked[-1]
    return shoulder, np.array([np.interp(at, walked, c) for c in centres.T]), wrist


def _loop(mesh: trimesh.Trimesh, point: np.ndarray, normal: np.ndarray) -> np.ndarray:
    return trimesh.intersections.mesh_plane(mesh, normal, point).reshape(-1, 3)


def _centre(mesh: trimesh.Trimesh, point: np.ndarray, normal: np.ndarray) -> np.ndarray:
    return _loop(mesh, point, normal).mean(axis=0)


def _girth(mesh: trimesh.Trimesh, point: np.ndarray, normal: np.ndarray) -> float:
    return _taut(_loop(mesh, point, normal))


def _ratio(mesh: trimesh.Trimesh, point: np.ndarray, normal: np.ndarray) -> float:
    """Return a section's width over its depth; the files' z is forward."""
    loop, forward = _loop(mesh, point, normal), np.array([0.0, 0.0, 1.0])
    forward -= forward @ normal * normal
    forward /= np.linalg.norm(forward)
    return float(np.ptp(loop @ forward) / np.ptp(loop @ np.cross(normal, forward)))


def _taut(loop: np.ndarray) -> float:
    frame = np.linalg.svd(loop - loop.mean(axis=0), full_matrices=False)[2][:2]
    return float(ConvexHull(loop @ frame.T).area)  # the perimeter, in two dimensions


def _ends(mesh: trimesh.Trimesh) -> list[np.ndarray]:
    """Return the two open edges of the file's arm."""
    outline = mesh.outline()
    return [outline.vertices[entity.points] for entity in outline.entities]


def measures_of(arm: ArmFile, further: tuple[float, ...] = ()) -> ArmMeasures:
    """Return the sheet of a modelled arm, its girths those of the mesh, its armhole a usual one."""
    upper_girth, height = float(arm.girth(UPPER_ARM)), 0.34 * arm.upper
    depth = 2.0 * float(ellipse_half_depth(upper_girth, 1.05))
    wrist = float(arm.girth(1.0))
    wrist_depth = 2.0 * float(ellipse_half_depth(wrist, 1.45))
    width = 1.05 * 1.05 * depth
    return sample_measures(
        shoulder_to_elbow=arm.upper + 15.0,
        shoulder_to_inner_elbow=arm.upper,
        inner_elbow_to_wrist=arm.lower,
        upper_arm_girth=upper_girth,
        upper_arm_up=-UPPER_ARM * arm.upper,
        elbow_girth=float(arm.girth(0.0)),
        forearm_girth=float(arm.girth(FOREARM)),
        forearm_down=FOREARM * arm.lower,
        wrist_girth=wrist,
        wrist_width=1.45 * wrist_depth,
        wrist_depth=wrist_depth,
        cap_height=1.06 * float(np.hypot(height, depth)),
        cap_arcs=(),
        armhole=Armhole(width, height, float(np.pi * np.hypot(width, height) / np.sqrt(2.0))),
        girths=tuple(
            GirthLevel(share * (arm.lower if share > 0 else arm.upper), float(arm.girth(share)))
            for share in further
        ),
    )


def girth_errors(arm: ArmFile, girth, layout) -> np.ndarray:
    """Return a limb's girths over the mesh's, less 1, from the upper arm's level to the wrist."""
    shares = np.arange(UPPER_ARM, 1.001, 0.02)
    lower = layout.wrist - layout.elbow
    upper = (layout.elbow - layout.upper_arm) / -UPPER_ARM
    along = layout.elbow + shares * np.where(shares < 0.0, upper, lower)
    return np.asarray(girth(along)) / arm.girth(shares) - 1.0


def loft_errors(arm: ArmFile, further: tuple[float, ...] = ()) -> np.ndarray:
    """Return the errors of the loft; `further` are shares at which one more girth is taped."""
    measures = measures_of(arm, further)
    cap = fit_cap(measures, plate_of(measures.armhole))
    layout = lay_out_limb(measures, arm.upper - measures.armhole.height, 0.0, arm.lower)
    return girth_errors(arm, taped_limb(measures, cap, layout).girth, layout)


def untapered_errors(arm: ArmFile, further: tuple[float, ...] = ()) -> np.ndarray:
    """Return the errors of a monotone curve through the taped girths and nothing else."""
    shares = np.array(sorted((UPPER_ARM, 0.0, FOREARM, *further, 1.0)))
    curve = PchipInterpolator(shares, arm.girth(shares))
    at = np.arange(UPPER_ARM, 1.001, 0.02)
    return np.asarray(curve(at) / arm.girth(at) - 1.0)


def fitted_taper() -> tuple[tuple[float, float], ...]:
    """Return the mean of what is left of the fall from forearm to wrist, over the fitted arms."""
    shares = np.array([share for share, _ in USUAL_TAPER])
    left = []
    for name in FITTED:
        girth = arm_file(name).girth
        left.append((girth(shares) - girth(1.0)) / (girth(shares[0]) - girth(1.0)))
    mean = np.minimum.accumulate(np.clip(np.mean(left, axis=0), 0.0, 1.0))
    return tuple(zip(shares.tolist(), mean.tolist(), strict=True))


HALF_WAY = 0.5 * (FOREARM + 1.0)
CASES = {"as taped today": (), "half-way girth too": (HALF_WAY,)}


def main() -> None:
    print("taper fitted:", [(share, round(left, 3)) for share, left in fitted_taper()])
    print("taper used:  ", list(USUAL_TAPER))
    for name in (*FITTED, *KEPT_APART):
        arm = arm_file(name)
        row = [f"{name:16}{'fitted' if name in FITTED else 'apart':8}"]
        for further in CASES.values():
            for found in (untapered_errors(arm, further), loft_errors(arm, further)):
                row.append(f"{100 * np.abs(found).mean():5.2f} {100 * np.abs(found).max():5.1f} |")
        print(" ".join(row))
    print("mean and worst error of girth, percent: monotone curve | loft | the same with half-way")
    ratios = np.array([arm_file(name).ratios for name in (*FITTED, *KEPT_APART)])
    for name, column in zip(USUAL_RATIOS, ratios.T, strict=True):
        print(f"{name:16} {column.mean():.2f}, standard deviation {column.std(ddof=1):.2f}; used: "
              f"{USUAL_RATIOS[name]:g}")


if __name__ == "__main__":
    main()
