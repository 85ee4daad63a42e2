"""Hide causes in trials of the demo sheet and print what is found: python tests/study_refitting.py.

Each trial is sewn from the corrected pieces on another mesh than it is explained with. The refitted
pieces are made ready to cut and written to a file; what is walked are the lines in that file.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.test_correction_round_trip import of_the_cut_pieces
from unroll.arms.lofting import shape_arm
from unroll.correct.loop import correct
from unroll.correct.on_bench import lay_on_bench
from unroll.correct.refit import measured_on, refit, sewn_otherwise
from unroll.disk.pattern_svg import svg_text
from unroll.disk.sheets import load_sheet
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.finish.walking import walk
from unroll.nouns import DartLine, Piece, Sheet, TrialMeasures, WalkedSeam

DARTS = (DartLine(35.0, 118.0), DartLine(-35.0, 118.0))
GIRTHS, UPS = ("upper_arm", "elbow", "forearm"), (45.0, 70.0)
HIDDEN = ((1.0, 0.0), (3.0, 0.0), (1.0, 0.8), (2.5, -0.6), (6.0, 0.5))
SLIP_MM = 12.0
COARSE, OTHER = 12.0, 10.5


def walked_from_the_file(pieces: tuple[Piece, ...], sheet: Sheet) -> tuple[WalkedSeam, ...]:
    """Return the seams of pieces as they stand in the drawing that is cut from."""
    finished = finish(place_notches(pieces), sheet)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cut_pieces.svg"
        path.write_text(svg_text(finished), "utf-8")
        return walk(tuple(of_the_cut_pieces(path)), cloth=sheet.cloth)


def walked_words(seams: tuple[WalkedSeam, ...]) -> str:
    """Return how many seams are good, the worst that is not eased on purpose, and any that fail."""
    plain = [seam for seam in seams if seam.name != "cap seam"]
    worst = max(plain, key=lambda seam: abs(seam.lengths_mm[0] - seam.lengths_mm[1]))
    off = abs(worst.lengths_mm[0] - worst.lengths_mm[1])
    wrong = [seam.name for seam in seams if seam.verdict == "wrong"]
    good = sum(seam.verdict == "good" for seam in seams)
    return f"{good} of {len(seams)} good, {worst.name} {off:.2f} mm off" + (
        f"; wrong: {', '.join(wrong)}" if wrong else ""
    )


def main() -> None:
    """Print a row a trial, and one with a misread girth."""
    sheet = load_sheet(Path(__file__).parents[1] / "meshes" / "demo.toml")
    shape, make, cloth = shape_arm(sheet.arms[0]), sheet.make, sheet.cloth
    on = lay_on_bench(shape, make, cloth, DARTS, edge=COARSE, spacing=COARSE)
    laid = correct(on, shape).after
    form = TrialMeasures(tuple((g, 0.0) for g in GIRTHS), tuple((u, 0.0) for u in UPS), 0.0, 0.0)

    def trial(give: float, cut: float, slip: float = 0.0) -> TrialMeasures:
        sewn = sewn_otherwise(laid, cloth, give_factor=give, cut_mm=cut, spacing=OTHER)
        v = measured_on(sewn, laid, form)
        girths = dict(zip(GIRTHS, (float(x) for x in v[:3]), strict=True))
        girths["elbow"] += slip
        arcs = tuple(zip(UPS, (float(x) for x in v[3:5]), strict=True))
        return TrialMeasures(tuple(girths.items()), arcs, float(v[5]), float(v[6]))

    print(
        "| hidden give, stitching | found give | found stitching mm | girths left mm | odd "
        "| seams walked from cut_pieces.svg |"
    )
    for give, cut, slip in (*((g, c, 0.0) for g, c in HIDDEN), (1.0, 0.0, SLIP_MM)):
        found = refit(
            shape, make, cloth, laid, trial(give, cut, slip), edge=COARSE, spacing=COARSE
        )
        share = found.give_error / found.give_factor
        low, high = found.give_factor * np.exp([-share, share])
        left = max(
            abs(row.trial - row.explained)
            for row in found.rows
            if row.name.startswith("girth") and not row.is_odd
        )
        odd = ", ".join(row.name for row in found.rows if row.is_odd) or "none"
        print(
            f"| {give:g}, {cut:+g}{f', elbow misread by {slip:g}' if slip else ''} "
            f"| {found.give_factor:.1f} ({low:.1f} to {high:.1f}) "
            f"| {found.cut_mm:+.1f} ± {found.cut_error:.1f} | {left:.2f} | {odd} "
            f"| {walked_words(walked_from_the_file(found.correction.after.pieces, sheet))} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
