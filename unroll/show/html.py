"""Small pieces of HTML: escaped text, tables, pictures that need no other file."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterable, Sequence
from html import escape

from PIL import Image

from unroll.nouns import ArmResult, MakeResult
from unroll.nouns.shown import Figure
from unroll.units import format_length

# A drawing has ink, paper and the greys between; more colours than this are shading.
_DRAWN_COLOURS = 3000
PATTERN_NAMES = {
    "unrolled": "unrolled pieces",
    "corrected": "corrected pieces",
    "drafted-ease": "flat draft with ease",
    "drafted-darts": "flat draft with darts",
}


def words(name: str) -> str:
    """Return a field name as plain, escaped words.

    Examples
    --------
    >>> words("upper_arm_girth")
    'upper arm girth'
    """
    return escape(name.replace("_", " "))


def table(
    caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]], *, text_columns: int = 1
) -> str:
    """Return a table; the first cell of a row is its head.

    Parameters
    ----------
    caption : str
        Plain text.
    heads : sequence of str
        Plain text.
    rows : iterable of sequences of str
        Cells as HTML.
    text_columns : int
        Columns from the left that hold words; the others hold numbers and align right, except a
        column headed "Note".
    """
    caption = caption[:1].upper() + caption[1:]
    is_text = [k < text_columns or head == "Note" for k, head in enumerate(heads)]
    marks = ["" if text else ' class="number"' for text in is_text]
    head = "".join(
        f'<th scope="col"{mark}>{escape(h)}</th>' for h, mark in zip(heads, marks, strict=True)
    )
    body = "".join(
        f'<tr><th scope="row">{row[0]}</th>'
        + "".join(f"<td{mark}>{cell}</td>" for cell, mark in zip(row[1:], marks[1:], strict=True))
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="scroller" tabindex="0" role="region" aria-label="{escape(caption)}"><table>'
        f"<caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>"
    )


def bullets(lines: Iterable[str]) -> str:
    """Return plain lines as a list; nothing where there is none.

    Examples
    --------
    >>> bullets(["a < b"]), bullets([])
    ('<ul><li>a &lt; b</li></ul>', '')
    """
    items = "".join(f"<li>{_together(escape(line))}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


def _together(text: str) -> str:
    """Return text in which a number and its unit stay on one line."""
    return re.sub(r"(?<=\d) (?=(%|mm|in|cm)\b|%)", "\u00a0", text)


def data_uri(content: bytes) -> str:
    """Return a PNG or SVG as an address that holds the whole picture, packed small."""
    kind = "svg+xml"
    if content.startswith(b"\x89PNG"):
        smaller = _webp(content)
        kind, content = ("webp", smaller) if len(smaller) < len(content) else ("png", content)
    return f"data:image/{kind};base64,{base64.b64encode(content).decode()}"


def _webp(png: bytes) -> bytes:
    """Return a PNG as WebP: drawings as they are, shaded pictures with a loss nobody sees."""
    image = Image.open(io.BytesIO(png)).convert("RGBA")
    if image.getchannel("A").getextrema() == (255, 255):
        image = image.convert("RGB")
    stream = io.BytesIO()
    if image.getcolors(_DRAWN_COLOURS) is None:
        image.save(stream, "WEBP", quality=90, method=3)
    else:
        image.save(stream, "WEBP", lossless=True, quality=20, method=2)
    return stream.getvalue()


def picture(figure: Figure) -> str:
    """Return a figure with its caption."""
    title = escape(figure.title)
    return (
        f'<figure><img src="{data_uri(figure.content)}" alt="{title}">'
        f"<figcaption>{title}</figcaption></figure>"
    )


def lengths(mm: float, unit: str) -> str:
    """Return a length in millimetres and, beneath it, in the maker's own unit.

    Examples
    --------
    >>> lengths(92.075, "in")
    '92.1 mm<br><span class="own">3 5/8 in</span>'
    """
    metric = f"{mm:.1f} mm"
    if unit == "mm":
        return metric
    own = format_length(mm, "in" if unit == "in" else "cm")
    return f'{metric}<br><span class="own">{escape(own)}</span>'


def signed(mm: float) -> str:
    """Return a difference with its sign; what rounds to nothing has none.

    Examples
    --------
    >>> signed(0.6), signed(-0.04)
    ('+0.6 mm', '0.0 mm')
    """
    text = f"{mm:+.1f}".replace("-", "\u2212")
    return ("0.0" if text[1:] == "0.0" else text) + " mm"


def serves_both(result: MakeResult) -> bool:
    """Tell whether one arm stands for two equal ones, the right being its mirror image."""
    return len(result.arms) == 1


def whose(result: MakeResult, arm: ArmResult) -> str:
    """Return "left arm: " where the arms differ, nothing where one serves both."""
    return "" if serves_both(result) else f"{arm.measures.side} arm: "


def arm_heading(result: MakeResult, arm: ArmResult) -> str:
    """Return a heading with the arm's side where the arms differ, nothing where one serves both."""
    side = arm.measures.side
    return "" if serves_both(result) else f"<h3>{side[:1].upper()}{side[1:]} arm</h3>"
