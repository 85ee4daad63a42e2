"""A small report and its page, for the tests of both."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

from lxml import html
from PIL import Image

from tests.made_arms import corrected_result, made_result, result_of
from unroll.disk.drawings import page_drawing
from unroll.disk.outputs import job_files, page_files
from unroll.nouns import CutPlan, MakeResult, PrintFacts, Ready, SheetPage
from unroll.nouns.shown import Figure
from unroll.show.figures import models_of
from unroll.show.report import report_html

RESULT = made_result(rings=12)
BOTH = made_result("left", "right", rings=12)
CORRECTED = result_of(corrected_result())
BOTH_CORRECTED = result_of(corrected_result(), corrected_result("right", swing_deg=0.8))
PAGES = (SheetPage("cover", 210.0, 297.0), SheetPage("page 1", 210.0, 297.0))
READY = Ready((), CutPlan(1400.0, 610.0, 600.0, ()), PAGES, (), PrintFacts("0", 2.6), ())


@cache
def files() -> dict[str, bytes | str]:
    """Every file of the small report, written once."""
    return job_files(RESULT)


def page() -> str:
    return str(files()["report.html"])


@cache
def tree() -> html.HtmlElement:
    return html.fromstring(page())


def png_of(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue()


DOT = png_of(Image.new("RGB", (1, 1)))
KEYS = Path(__file__).parent.parent / "docs" / "report_keys.md"
PICTURES = ("arm", "hang", "heat outer", "heat inner", "certainty", "layouts", "pieces-changed")


def page_of(result: MakeResult) -> str:
    """The page with stand-ins for its pictures, which take the time."""
    dots = dict.fromkeys(PICTURES, Figure("A dot", DOT))
    return report_html(
        result,
        [model for arm in result.arms for model in models_of(result, arm)],
        {arm.measures.side: dots for arm in result.arms},
        {arm.measures.side: page_drawing(arm.to_cut) for arm in result.arms},
        files=page_files(),
    )


def text_of(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())
