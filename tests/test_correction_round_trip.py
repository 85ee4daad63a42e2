"""Corrected pieces, written to files, read by other readers, meshed anew and sewn: the same arm.

What may differ is said in docs/closing_the_loop.md: a mesh of more than 8 mm moves the hang by up
to 1°, which is 10 mm at the wrist of this arm. Pieces that are cut are smoothed within 0.1 mm too.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from lxml import etree
from scipy.interpolate import BPoly

from tests.samples import sample_measures
from unroll.disk.atomic import write_folder
from unroll.disk.drawings import pieces_svg
from unroll.disk.pattern_dxf import dxf_text
from unroll.disk.pattern_svg import svg_text
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.finish.smoothing import smooth_piece
from unroll.nouns import Cloth, Correction, Fit, Laid, Make, Piece, PieceSide, Sheet
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew

SPACING = 8.0  # of the correction
SEWN = ("outer", "inner", "armhole base", "wrist base")
MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}
WORKED = ("stitching-line", "dart")  # classes of pieces.svg that are sewn along


@dataclass(frozen=True, eq=False)
class Written:
    """Corrected pieces, and the folder that they were written to."""

    correction: Correction
    folder: Path

    @property
    def laid(self) -> Laid:
        return self.correction.after

    def sewn_anew(self, pieces: list[Piece], spacing: float) -> Fit:
        cloth = self.laid.sewn.cloth
        wanted = self.laid.wanted
        return fit_of(sew(pieces, cloth=cloth, spacing=spacing, up=wanted.up), wanted)


@pytest.fixture(scope="module")
def written(fine_correction: Correction, tmp_path_factory: pytest.TempPathFactory) -> Written:
    pieces = fine_correction.after.pieces  # as they were sewn; those that are cut are smoothed
    smooth = [smooth_piece(piece) for piece in pieces]
    finished = finish(place_notches(smooth), Sheet((sample_measures(),), Cloth(), Make()))
    folder = tmp_path_factory.mktemp("corrected") / "files"
    write_folder(
        folder,
        {
            "pieces.svg": pieces_svg(pieces),
            "cut_pieces.svg": svg_text(finished),
            "cut_pieces.dxf": dxf_text(finished),
        },
    )
    return Written(fine_correction, folder)


def svg_groups(path: Path) -> tuple[float, list[etree._Element]]:
    """Millimetres a unit, from the page's size alone, and the drawing's pieces."""
    root = etree.parse(str(path)).getroot()
    number, unit = re.fullmatch(r"([\d.]+)([a-z]+)", root.get("width")).groups()
    across = float(root.get("viewBox").split()[2])
    return float(number) * MM[unit] / across, root.findall(".//{*}g[@class='piece']")


def numbers(path: etree._Element) -> np.ndarray:
    return np.array(re.findall(r"-?\d+(?:\.\d+)?", path.get("d")), dtype=float).reshape(-1, 2)


def polyline(path: etree._Element) -> np.ndarray:
    assert set(re.findall("[A-Za-z]", path.get("d"))) <= {"M", "L"}
    return numbers(path)


def curve(path: etree._Element) -> np.ndarray:
    """Points along cubic curves, the Bernstein form worked out by another library."""
    assert set(re.findall("[A-Za-z]", path.get("d"))) == {"M", "C"}
    points = numbers(path)
    count = (len(points) - 1) // 3
    control = points[3 * np.arange(count) + np.arange(4)[:, None]]  # (4, count, 2)
    return BPoly(control, np.arange(count + 1.0))(np.linspace(0.0, count, 64 * count + 1))


def of_the_drawing(path: Path) -> list[Piece]:
    scale, groups = svg_groups(path)
    turn = np.array([scale, -scale])  # a page's y runs down
    out = []
    for group in groups:
        drawn = [p for p in group.findall("{*}path") if p.get("class") in WORKED]
        sides = [PieceSide(p.get("data-name"), polyline(p) * turn) for p in drawn]
        marks = group.findall("{*}path[@class='reference-line']")
        lines = {p.get("data-name"): polyline(p) * turn for p in marks}
        out.append(Piece(group.get("data-name"), "corrected", "left", tuple(sides), lines))
    return out


def of_the_cut_pieces(path: Path) -> list[Piece]:
    scale, groups = svg_groups(path)
    out = []
    for group in groups:
        drawn = group.findall("{*}path[@class='stitching']")
        sides = [PieceSide(p.get("data-seam"), curve(p) * [scale, -scale]) for p in drawn]
        name = group.get("id").split("-")[1].replace("_", " ")
        out.append(Piece(name, "corrected", "left", tuple(sides)))
    return [piece for piece in out if piece.sides and piece.name in SEWN]


def of_the_dxf(path: Path) -> dict[str, list[np.ndarray]]:
    """The sewing lines, layer 14 of ASTM D6673-10, of each piece where it stands, mm."""
    document = ezdxf.readfile(path)
    scale = ezdxf.units.conversion_factor(document.units, ezdxf.units.MM)
    out = {}
    for insert in document.modelspace().query("INSERT"):
        drawn = [e for e in insert.virtual_entities() if e.dxf.layer == "14"]
        lines = [np.array([v.dxf.location.vec2 for v in e.vertices]) * scale for e in drawn]
        words = [e.dxf.text for e in insert.virtual_entities() if e.dxftype() == "TEXT"]
        name = next(w for w in words if w.startswith("Piece Name: ")).removeprefix("Piece Name: ")
        out[name] = lines
    return out


def differences(one: Fit, other: Fit) -> dict[str, float]:
    girths = zip(one.girths, other.girths, strict=True)
    return {
        "girth, %": max(abs(a.off_percent - b.off_percent) for a, b in girths),
        "hang, degrees": max(
            abs(one.outward_deg - other.outward_deg), abs(one.forward_deg - other.forward_deg)
        ),
        "twist, degrees": abs(one.twist_deg - other.twist_deg),
        "wrist, mm": abs(one.wrist_mm - other.wrist_mm),
        "length, mm": abs(one.length_sewn - other.length_sewn),
        "cap, mm": abs(one.cap_mean - other.cap_mean),
        "volume, %": 100.0 * abs(one.volume_sewn / other.volume_sewn - 1.0),
    }


def assert_within(found: dict[str, float], limits: dict[str, float]) -> None:
    over = {name: value for name, value in found.items() if value > limits[name]}
    assert not over, over


def test_the_drawing_read_back_and_sewn_gives_the_figures_that_were_told(written: Written) -> None:
    pieces = of_the_drawing(written.folder / "pieces.svg")
    assert [piece.name for piece in pieces] == list(SEWN)
    # the same mesh size: what is left is rounding to 1e-4 mm and where the solver stops
    limits = {
        "girth, %": 0.005, "hang, degrees": 0.02, "twist, degrees": 0.02, "wrist, mm": 0.1,
        "length, mm": 0.05, "cap, mm": 0.01, "volume, %": 0.01,
    }  # fmt: skip
    off = written.sewn_anew(pieces, SPACING)
    assert_within(differences(off, written.laid.fit), limits)


def test_the_pieces_that_are_cut_meshed_anew_and_sewn_give_them_within_the_meshs_noise(
    written: Written,
) -> None:
    # reference lines are left out: levels are found by their share of the seams; measured 0.14 %
    # of girth, 0.6° of hang and 4.6 mm at the wrist, at 12 mm as at 10
    pieces = of_the_cut_pieces(written.folder / "cut_pieces.svg")
    assert [piece.name for piece in pieces] == list(SEWN)
    limits = {
        "girth, %": 0.3, "hang, degrees": 1.0, "twist, degrees": 0.5, "wrist, mm": 10.0,
        "length, mm": 1.5, "cap, mm": 0.2, "volume, %": 0.6,
    }  # fmt: skip
    off = written.sewn_anew(pieces, 10.0)
    assert_within(differences(off, written.laid.fit), limits)
    # and it is the correction that survives: uncorrected the arm hangs some 7° outward
    assert written.correction.before.fit.outward_deg > 3.0 > 1.5 > abs(off.outward_deg)


def test_both_pattern_files_hold_the_same_lines_at_the_same_scale(written: Written) -> None:
    by_name = of_the_dxf(written.folder / "cut_pieces.dxf")
    wanted = {piece.name: piece for piece in written.laid.pieces}
    for piece in of_the_cut_pieces(written.folder / "cut_pieces.svg"):
        lines = by_name[piece.name]
        assert len(lines) == len(piece.sides) == len(wanted[piece.name].sides)
        for line, side, plain in zip(lines, piece.sides, wanted[piece.name].sides, strict=True):
            length = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
            assert length == pytest.approx(side.length, abs=0.05)
            assert side.seam == plain.seam
            # smoothed within 0.1 mm; a round seam is longer than the mesh's chords
            assert side.length == pytest.approx(plain.length, rel=3e-3)
        read = replace(piece, sides=tuple(PieceSide("", line) for line in lines))
        # the DXF's chords stray at most 0.01 mm from the curves, as its writer says
        around = sum(side.length for side in piece.sides)
        assert read.area == pytest.approx(piece.area, abs=0.01 * around)
        assert read.area == pytest.approx(wanted[piece.name].area, rel=5e-3)
