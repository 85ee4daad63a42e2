"""How long sewing takes and how far its figures can be trusted: `python -m tests.bench_sewing`.

Set OPENBLAS_NUM_THREADS=1: on a busy machine several threads make the small solves many times
slower.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.sewn_shapes import even_cloth, two_discs, two_squares
from unroll.arms.lofting import loft
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.nouns import ArmMesh, Cloth, Piece, Sheet
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew

DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"
MYLAR = np.array([0.7627598, 0.913893, 1.218524])  # Paulsen 1994: radius, thickness, volume


def main() -> None:
    sheet = load_sheet(DEMO)
    pieces = _drafted(sheet, "darts")
    target = loft(sheet.arms[0], edge=6.0)
    _time(pieces, sheet.cloth)
    _balloon()
    _bag()
    _mesh(pieces, sheet.cloth, target)
    _cloth(pieces, sheet.cloth, target)


def _drafted(sheet: Sheet, manner: str) -> tuple[Piece, ...]:
    pieces = draft(sheet.arms[0], replace(sheet.make, cap=manner), manner=manner)  # type: ignore[arg-type]
    return tuple(piece for piece in pieces if piece.name != "shoulder extension")


def _time(pieces: Sequence[Piece], cloth: Cloth) -> None:
    """Processor time from pieces to result, the least of three, and its growth."""
    print("mm   triangles  steps  seconds  growth")
    before = None
    for spacing in (18.0, 16.0, 12.0, 8.0, 6.5, 4.6):
        best = np.inf
        for _ in range(3):
            start = time.process_time()
            sewn = sew(pieces, cloth=cloth, spacing=spacing)
            best = min(best, time.process_time() - start)
        count = len(sewn.mesh.faces)
        order = (
            "" if before is None else f"{np.log(best / before[1]) / np.log(count / before[0]):.2f}"
        )
        print(f"{spacing:4.1f} {count:9d} {sewn.steps:6d} {best:8.2f}  {order:>6s}")
        before = count, best


def _balloon() -> None:
    """Errors against the Mylar balloon, extrapolated to no stretch, percent."""
    print("\nMylar balloon: triangles, error of radius, thickness, volume in percent")
    for spacing in (12.0, 9.0, 6.9, 4.85):
        rows = []
        for stiffness in (50.0, 100.0):
            sewn = sew(two_discs(), cloth=even_cloth(stiffness), spacing=spacing)
            points = sewn.mesh.vertices
            rim = points[sewn.seam_paths["rim"][:-1]]
            axes = np.linalg.svd(rim - rim.mean(axis=0), full_matrices=False)[2]
            radius = np.hypot(*((rim - rim.mean(axis=0)) @ axes[:2].T).T).mean()
            rows.append([radius / 100, np.ptp(points @ axes[2]) / 100, sewn.volume / 1e6])
        errors = 100 * ((2 * np.array(rows[1]) - rows[0]) / MYLAR - 1)
        print(f"{len(sewn.mesh.faces):6d}  " + "  ".join(f"{error:+.2f}" for error in errors))


def _bag() -> None:
    print("\nSquare bag: triangles, volume of unit squares (0.2017 to 0.206)")
    for spacing in (8.0, 5.0, 3.2):
        soft, stiff = (
            sew(two_squares(), cloth=even_cloth(k), spacing=spacing).volume for k in (50.0, 100.0)
        )
        count = len(sew(two_squares(), cloth=even_cloth(), spacing=spacing).mesh.faces)
        print(f"{count:6d}  {(2 * stiff - soft) / 1e6:.4f}")


def _figures(
    name: str, pieces: Sequence[Piece], cloth: Cloth, target: ArmMesh, size: float
) -> None:
    off = fit_of(sew(pieces, cloth=cloth, spacing=size), target)
    girths = "  ".join(f"{girth.sewn_mm:7.2f}" for girth in off.girths)
    print(
        f"{name:28s} {girths}  {off.bulge_max:5.2f} {off.bulge_mean:5.2f} {off.cap_mean:5.2f} "
        f"{off.swing_deg:6.2f} {off.wrist_mm:6.1f}"
    )


def _mesh(pieces: Sequence[Piece], cloth: Cloth, target: ArmMesh) -> None:
    print("\nmesh size: girths mm; cap: bulge max, bulge mean, mean; swing deg; wrist mm")
    for size in (16.0, 12.0, 10.0, 8.0, 6.5, 5.0):
        _figures(f"{size:g} mm", pieces, cloth, target, size)


def _cloth(pieces: Sequence[Piece], cloth: Cloth, target: ArmMesh) -> None:
    print("\ncloth and filling, mesh 8 mm: the same figures")
    changes: dict[str, dict[str, float]] = {
        "as given": {},
        "twice as stretchy": {"stretch_percent": 2 * cloth.stretch_percent},
        "half as stretchy": {"stretch_percent": cloth.stretch_percent / 2},
        "no softer on the bias": {"bias_stretch_percent": cloth.stretch_percent},
        "twice as soft on the bias": {"bias_stretch_percent": 2 * cloth.bias_stretch_percent},
        "pressure doubled": {"pressure_kpa": 2 * cloth.pressure_kpa},
        "pressure halved": {"pressure_kpa": cloth.pressure_kpa / 2},
    }
    for name, change in changes.items():
        _figures(name, pieces, replace(cloth, **change), target, 8.0)
    _figures("ends of cloth", pieces, replace(cloth, ends="cloth"), target, 8.0)


if __name__ == "__main__":
    main()
