"""Draw the pictures of the pages on piecing, printing and the sewing guide, and their figures."""

from __future__ import annotations

import io
import time
from pathlib import Path

import matplotlib
import numpy as np
from PIL import Image

matplotlib.use("Agg")
from matplotlib.figure import Figure

from unroll.disk.print_files import png_bytes
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.finish.truing import check_truing
from unroll.job import Job
from unroll.nouns import FinishedPiece, Piece, PieceSide, Sheet
from unroll.paper.layouts import lay_out, paper_called

HERE = Path(__file__).parent
DESK = (226, 224, 218)


def main() -> None:
    sheet = load_sheet(HERE.parent / "meshes" / "demo.toml")
    job = Job(sheet)
    shapes = job.shapes()
    ready = job.ready(shapes)
    (HERE / "pictures").mkdir(exist_ok=True)
    for number, page in enumerate(job.ready(shapes, paper="a4").pattern, start=1):
        save(page_picture(page, 72).convert("L").convert("RGB"), f"demo_a4_{number}.png")
    pages = [page_picture(page, 40) for page in ready.pattern]
    save(side_by_side(pages, columns=5), "printing_pages.png")
    tiled = [page for page in ready.pattern if page.tile]
    save(side_by_side([page_picture(tiled[len(tiled) // 2], 70)], columns=1), "printing_page.png")
    save(side_by_side([page_picture(page, 50) for page in ready.guide], 3), "sewing_guide.png")
    save(side_by_side([page_picture(ready.pattern[1], 70)], 1, keep=0.5), "printing_cut_plan.png")
    save_figure(mouths(sheet, ready.finished), "piecing_mouths.png")
    figures(sheet, ready.finished)


def page_picture(page: object, dots_per_inch: float) -> Image.Image:
    return Image.open(io.BytesIO(png_bytes(page, dots_per_inch=dots_per_inch))).convert("RGB")


def side_by_side(images: list[Image.Image], columns: int, keep: float = 1.0) -> Image.Image:
    images = [im.crop((0, 0, im.width, int(keep * im.height))) for im in images]
    width, height = max(im.width for im in images), max(im.height for im in images)
    rows = -(-len(images) // columns)
    gap = 10
    desk = Image.new(
        "RGB", (columns * (width + gap) + gap, rows * (height + gap) + gap), DESK
    )
    for index, image in enumerate(images):
        row, column = divmod(index, columns)
        desk.paste(image, (gap + column * (width + gap), gap + row * (height + gap)))
    return desk


def save(image: Image.Image, name: str) -> None:
    image.quantize(32, dither=Image.Dither.NONE).save(HERE / "pictures" / name, optimize=True)


def save_figure(figure: Figure, name: str) -> None:
    stream = io.BytesIO()
    figure.savefig(stream, dpi=90)
    save(Image.open(stream).convert("RGB"), name)


def mouths(sheet: Sheet, finished: tuple[FinishedPiece, ...]) -> Figure:
    """A narrow dart folded under, and this arm's wide ones cut out."""
    figure = Figure(figsize=(9, 4.2), layout="constrained")
    left, right = figure.subplots(1, 2)
    narrow = finish([narrow_dart()], sheet)[0]
    draw(left, narrow, (-75, 75), (-10, 95))
    left.set_title("a narrow dart: its mouth peaks, so that it lies true once folded", fontsize=9)
    outer = next(piece for piece in finished if piece.name == "outer")
    top = outer.cutting[:, 1].max()
    middle = outer.cutting[outer.cutting[:, 1] > top - 150, 0].mean()
    draw(right, outer, (middle - 150, middle + 150), (top - 205, top + 5))
    right.set_title("wide darts are cut out along their legs", fontsize=9)
    return figure


def draw(
    axes: object, piece: FinishedPiece, x: tuple[float, float], y: tuple[float, float]
) -> None:
    loop = np.vstack([piece.cutting, piece.cutting[:1]])
    axes.plot(*loop.T, color="black", lw=1.8)
    for side in piece.sides:
        axes.plot(*side.points.T, color="black", lw=0.9, ls=(0, (6, 3)))
    for mark in piece.notches:
        for slit in mark.slits:
            axes.plot(*slit.T, color="black", lw=1.8)
    for dart in piece.darts:
        axes.plot(*dart.point, marker="+", color="black", ms=8)
        if dart.fold is not None:
            axes.plot(*dart.fold.T, color="black", lw=0.7, ls=":")
    axes.set_xlim(*x)
    axes.set_ylim(*y)
    axes.set_aspect("equal")
    axes.set_axis_off()


def narrow_dart() -> Piece:
    """A straight edge with one dart of 30 mm, leaning a little."""
    outline = np.array(
        [[-90, -40], [90, -40], [90, 62], [15, 70], [0, 0], [-15, 70], [-90, 62], [-90, -40.0]]
    )
    names = ("low", "right", "cap seam", "dart 1", "dart 1", "cap seam", "left")
    sides = tuple(PieceSide(n, outline[i : i + 2]) for i, n in enumerate(names))
    return Piece("edge", "drafted-darts", "left", sides)


def figures(sheet: Sheet, finished: tuple[FinishedPiece, ...]) -> None:
    """Print what the pages say they measured."""
    truing = check_truing(finished, sheet)
    plain = [abs(check.difference) for check in truing.seams if not check.is_ease]
    segments = [len(side.cubics) for piece in finished for side in piece.sides]
    print(f"largest difference between notches {max(plain):.3f} mm")
    print(f"cubic segments a side: most {max(segments)}, in all {sum(segments)}")
    for name in ("a4", "letter", "a3", "tabloid", "a0"):
        layout = lay_out(finished, paper_called(name))
        area = sum(area_of(piece.cutting) for piece in finished)
        tile = layout.paper.tile
        print(f"{name}: {len(layout.tiles)} pages; area alone {area / (tile[0] * tile[1]):.1f}")
    for width in (700.0, 900.0, 1120.0, 1380.0, 1500.0):
        plan = cut_plan(finished, width)
        share = plan.length / plan.bound
        print(f"cloth {width:.0f}: {plan.length:.0f} mm, {share:.3f} of the bound")
    measures = sheet.arms[0]
    pieces = place_notches(draft(measures, sheet.make, manner="darts"))
    start = time.perf_counter()
    done = finish(pieces, sheet, arm="both")
    one = time.perf_counter()
    book = lay_out(done, paper_called("a4"))
    two = time.perf_counter()
    print(f"finish {one - start:.2f} s, lay out {two - one:.2f} s, {len(book.tiles)} pages")
    start = time.perf_counter()
    ready = cut_plan(done, 1400.0)
    print(f"cut plan {time.perf_counter() - start:.2f} s, {ready.length:.0f} mm")


def area_of(loop: np.ndarray) -> float:
    x, y = loop.T
    return abs(float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))


if __name__ == "__main__":
    main()
