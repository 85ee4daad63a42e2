"""Draw the pictures of the pages on drafting, walking and comparing from the demo sheet."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib
from PIL import Image

matplotlib.use("Agg")
from matplotlib.figure import Figure

from unroll.disk.sheets import load_sheet
from unroll.drafts.advising import draft_notices, ease_advice
from unroll.drafts.comparing import compare
from unroll.drafts.drafting import draft
from unroll.drafts.taping import tape_draft
from unroll.finish.notching import place_notches
from unroll.finish.walking import walk
from unroll.job import Job
from unroll.nouns import Comparison
from unroll.show.drafts import levels_figure, over_unrolled_figure, walked_figure
from unroll.show.pictures import pieces_figure

HERE = Path(__file__).parent


def main() -> None:
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    measures = sheet.arms[0]
    (HERE / "pictures").mkdir(exist_ok=True)
    unrolled = Job(sheet, corrects=False).shapes().arms[0].to_cut
    print(ease_advice(measures, sheet.make, sheet.cloth))
    for manner, words in (("ease", "raised by the ease"), ("darts", "fitted with darts")):
        pieces = place_notches(draft(measures, sheet.make, manner=manner))
        seams = walk(pieces, cloth=sheet.cloth)
        found = compare(pieces, unrolled, measures)
        _save(pieces_figure(pieces, title=f"Flat draft, cap {words}"), f"drafting_{manner}.png")
        _save(walked_figure(seams, title=f"Seams walked: cap {words}"), f"walking_{manner}.png")
        _save(over_unrolled_figure(found, pieces, unrolled), f"comparing_{manner}.png")
        levels = tuple(x for x in found.levels if x.source == found.drafted)
        _save(levels_figure(levels, title=f"Cloth over the cap: {words}"), f"cap_{manner}.png")
        for row in (*draft_notices(measures, sheet.make, manner=manner),
                    *tape_draft(pieces, measures)):
            print(manner, row)
        for seam in seams:
            print(manner, seam.name, seam.text)
        _tell(found)


def _tell(found: Comparison) -> None:
    """Print the figures that the pages quote."""
    for piece in found.pieces:
        print(found.drafted, piece.piece, f"area {piece.area_difference_percent:+.1f} %",
              f"outline {piece.outline_distance_mean_mm:.1f} mm on average,",
              f"{piece.outline_distance_max_mm:.1f} at most")
        for line in piece.lines:
            print("   ", line)
    for cap in found.caps:
        print("   ", cap)
    for level in found.levels:
        print("   ", f"{level.source} {level.name}: {level.surplus_mm:+.1f}, "
              f"stands off {level.standoff_mm:.0f}")


def _save(figure: Figure, name: str) -> None:
    stream = io.BytesIO()
    figure.savefig(stream, dpi=100)
    picture = Image.open(stream).convert("RGB")
    small = picture.quantize(160, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    small.save(HERE / "pictures" / name, optimize=True)


if __name__ == "__main__":
    main()
