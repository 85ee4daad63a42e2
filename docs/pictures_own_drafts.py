"""Draw the pictures of docs/own_drafts.md: `python docs/pictures_own_drafts.py`."""

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parent.parent))

from tests.camera import Camera, around, jpeg
from unroll.disk.drawings import pieces_svg
from unroll.disk.own_pieces import read_pieces
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.nouns import OwnCheck
from unroll.show.colours import png_bytes
from unroll.show.own import outlines_figure, shot_figure

HERE = Path(__file__).parent / "pictures"


def main() -> None:
    sheet = load_sheet(Path("meshes/demo.toml"))
    pieces = draft(sheet.arms[0], sheet.make, manner="darts")
    with TemporaryDirectory() as folder:
        drawing, photograph = Path(folder, "draft.svg"), Path(folder, "plates.jpg")
        drawing.write_text(pieces_svg(pieces))
        outlines = [p.outline for p in pieces if p.name == "inner"]
        plate = next(p for p in pieces if p.name == "wrist base")
        outlines.append(plate.outline + [140.0, -380.0])
        photograph.write_bytes(jpeg(Camera(tilt_deg=15.0).picture(outlines, around(outlines))))
        outer = Path(folder, "outer.svg")
        outer.write_text(pieces_svg([p for p in pieces if p.name == "outer"]))
        drawn, shot = read_pieces(sheet, [drawing]), read_pieces(sheet, [outer, photograph])
    (HERE / "own_outlines.png").write_bytes(png_bytes(outlines_figure(OwnCheck(drawn, (), ()))))
    (HERE / "own_photograph.png").write_bytes(png_bytes(shot_figure(shot.shots[0])))


if __name__ == "__main__":
    main()
