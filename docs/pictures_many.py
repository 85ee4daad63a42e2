"""Draw the pictures of the page on many sheets: a nest of sizes, and their pieces on one cloth."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib
from PIL import Image

matplotlib.use("Agg")
from unroll.arm_job import LOOK
from unroll.batch.orders import orders_for
from unroll.disk.print_files import png_bytes
from unroll.finish.cut_plan import cloth_plans, cut_plan
from unroll.finish.grading import graded, nests_of
from unroll.job import Job
from unroll.paper.cloth_pages import lay_pages, share_used
from unroll.paper.nest_page import nest_page, styles_of
from unroll.show.overview import grading_cells

HERE = Path(__file__).parent
SHOWN = ("front seam", "width at upper arm line", "height over all", "dart 1 intake")


def main() -> None:
    orders = orders_for(HERE.parent / "meshes" / "sizes.toml", search=LOOK)
    sets = {}
    for order in orders.each:
        job = Job(order.sheet, search=LOOK, corrects=False)
        sets[order.name] = job.ready(job.shapes()).finished
    nests = nests_of(sets)
    outer = next(nest for nest in nests if nest.title == "outer")
    save(png_bytes(nest_page(outer, styles_of(orders.sizes)), dots_per_inch=54), "many_nest.png")
    for piece, name, cells in grading_cells(graded(nests)):
        if piece == "outer" and name in SHOWN:
            print("|", name, "|", " | ".join(cells), "|")
    for width in (900.0, 1400.0):
        plan = cloth_plans([(name, "cloth", width, some) for name, some in sets.items()])[0]
        alone = sum(cut_plan(some, width).length for some in sets.values())
        print(f"{width:.0f} mm wide: {plan.length:.0f} mm together, {alone:.0f} one by one, "
              f"{100 * share_used(plan):.0f} % used")
    save(png_bytes(lay_pages(plan)[0], dots_per_inch=70), "many_cut_plan.png")


def save(content: bytes, name: str) -> None:
    image = Image.open(io.BytesIO(content)).convert("RGB")
    image.quantize(32, dither=Image.Dither.NONE).save(HERE / "pictures" / name, optimize=True)


if __name__ == "__main__":
    main()
