"""What own drafts lose by drawings and photographs: python -m tests.study_photographs

The demo's corrected pieces and both flat drafts are written as SVG, and laid before the synthetic
camera of `tests/camera.py`; both are read back as a maker's own draft, sewn and filled. Printed for
each: worst girth against the measures, whole arm's turn, and by how much girths (worst of them)
and turn differ from those of the pieces themselves. A photograph shows no pencilled level line, so
its pieces are held against the pieces without their level lines. Before that, for the flat drafts
of three sheets, by how much each side's length differs, mm.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)
from tests.camera import Camera, around, jpeg
from unroll.arm_job import MANNERS, SEWN_TOGETHER
from unroll.disk.drawings import pieces_svg
from unroll.disk.own_pieces import read_pieces
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.drafts.own_lines import with_levels
from unroll.errors import UnrollError
from unroll.finish.notching import place_notches
from unroll.job import Job
from unroll.nouns import ArmMeasures, Fit, Piece, Sheet
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew

MESHES = Path(__file__).parents[1] / "meshes"
DEMO, SHEETS = MESHES / "demo.toml", ("demo", "few_measures", "two_arms")
SPACING_MM = 8.0


def laid(piece: Piece, x: float, y: float, deg: float) -> np.ndarray:
    """Return a piece's outline, turned and moved on the floor, (k, 2) mm."""
    a = np.radians(deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return piece.outline @ turn + [x, y]


def photographs(pieces: Sequence[Piece], folder: Path) -> list[Path]:
    """Take two pictures of the pieces, and return their files."""
    of = {piece.name: piece for piece in pieces}
    inner = laid(of["inner"], 0, 0, -5)
    beside = inner[:, 0].max() + 0.6 * np.ptp(of["armhole base"].outline[:, 1])
    sets = [
        [laid(of["outer"], 0, 0, 3)],
        [inner, laid(of["armhole base"], beside, -80, 25),
         laid(of["wrist base"], beside, -260, -40)],
    ]  # fmt: skip
    cameras = Camera(tilt_deg=14, seed=1), Camera(tilt_deg=22, radial=(0.04, -0.01), seed=2)
    files = []
    for number, (camera, some) in enumerate(zip(cameras, sets, strict=True)):
        files.append(folder / f"{number}.jpg")
        files[-1].write_bytes(jpeg(camera.picture(some, around(some))))
    return files


def without_levels(pieces: Sequence[Piece], measures: ArmMeasures) -> tuple[Piece, ...]:
    """Return pieces whose level lines are placed as those of a draft that shows none."""
    bare = {p.name: replace(p, lines={"grain": p.lines["grain"]}) for p in pieces}
    none = {"outer": (), "inner": ()}
    outer, inner, _ = with_levels(bare["outer"], bare["inner"], none, measures)
    return outer, inner, *(p for p in pieces if p.name not in none)


def told(name: str, fit: Fit, of_pieces: Fit) -> None:
    """Print a row."""
    girths = [
        abs(one.off_percent - other.off_percent)
        for one, other in zip(fit.girths, of_pieces.girths, strict=True)
    ]
    turn = np.hypot(fit.outward_deg - of_pieces.outward_deg,
                    fit.forward_deg - of_pieces.forward_deg)  # fmt: skip
    print(f"{name:30s} {fit.worst_girth_percent:6.2f} % {fit.swing_deg:6.2f} deg | differs by "
          f"{max(girths):5.2f} % {turn:5.2f} deg", flush=True)


def seams_lost(sheet: Sheet) -> None:
    """Print by how much the sides of a sheet's flat drafts differ once photographed, mm."""
    for manner in MANNERS:
        pieces = [p for p in draft(sheet.arms[0], sheet.make, manner=manner)
                  if p.name in SEWN_TOGETHER]  # fmt: skip
        with tempfile.TemporaryDirectory() as place:
            own = {p.name: p for p in read_pieces(sheet, photographs(pieces, Path(place))).pieces}
        for piece in (p for p in pieces if p.name in ("outer", "inner")):
            seams = dict.fromkeys(side.seam for side in piece.sides)
            off = {s: own[piece.name].seam_length(s) - piece.seam_length(s) for s in seams}
            told = ", ".join(f"{seam} {mm:+.1f}" for seam, mm in off.items())
            print(f"{sheet.owner}, {manner}, {piece.name}: {told}", flush=True)


def main() -> None:
    for name in SHEETS:
        seams_lost(load_sheet(MESHES / f"{name}.toml"))
    sheet = load_sheet(DEMO)
    measures = sheet.arms[0]
    arm = Job(sheet).arms[0]
    sets = {"corrected": arm.to_cut.pieces, **arm.drafted.pieces}
    wanted = arm.to_cut.wanted

    def sewn(pieces: Sequence[Piece]) -> Fit:
        together = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
        return fit_of(sew(together, cloth=sheet.cloth, spacing=SPACING_MM, up=wanted.up), wanted)

    for source, pieces in sets.items():
        kept = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
        itself = sewn(kept)
        told(source, itself, itself)
        bare = sewn(place_notches(without_levels(kept, measures)))
        told("  without its level lines", bare, itself)
        with tempfile.TemporaryDirectory() as place:
            drawing = Path(place) / "draft.svg"
            drawing.write_text(pieces_svg(kept), "utf-8")
            for how, files in (("drawing", [drawing]),
                               ("photographs", photographs(kept, Path(place)))):  # fmt: skip
                try:
                    own = place_notches(read_pieces(sheet, files).pieces)
                    told(f"  its {how}", sewn(own), itself if how == "drawing" else bare)
                except UnrollError as error:
                    print(f"  its {how}: {error}", flush=True)


if __name__ == "__main__":
    main()
