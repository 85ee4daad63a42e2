"""A small report and its page, for the tests of both."""

from __future__ import annotations

import dataclasses
import io
from pathlib import Path

from lxml import html
from PIL import Image

from tests.made_arms import made_arm_result, made_result
from unroll.disk.drawings import page_drawing
from unroll.disk.outputs import job_files
from unroll.nouns import MakeResult
from unroll.nouns.shown import Figure
from unroll.show.models import arm_model
from unroll.show.page import closing_sections, opening_sections, report_html

RESULT = made_result(rings=12)
BOTH = made_result("left", "right", rings=12)
FILES = job_files(RESULT)
PAGE = str(FILES["report.html"])
TREE = html.fromstring(PAGE)


def png_of(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue()


DOT = png_of(Image.new("RGB", (1, 1)))
KEYS = Path(__file__).parent.parent / "docs" / "report_keys.md"


def with_extra(**extra: object) -> MakeResult:
    arm = dataclasses.replace(made_arm_result(rings=12), extra=extra)
    return dataclasses.replace(RESULT, arms=(arm,))


def page_of(result: MakeResult) -> str:
    """The page with stand-ins for its pictures, which take the time."""
    dot = Figure("A dot", DOT)
    arms = {arm.measures.side: arm for arm in result.arms}
    opening = opening_sections(
        result,
        [arm_model(arm.arm, arm.distortions) for arm in arms.values()],
        {f"{side} {name}": dot for side in arms for name in ("arm", "heat outer", "heat inner")},
        [page_drawing(arm.pieces["unrolled"]) for arm in arms.values()],
    )
    return report_html(result, [*opening, *closing_sections(result)], style="", script="")


def text_of(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())
