"""What a heat map shows: what the threads must give, and the scale that all pieces share."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Iterator

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import MultipleLocator
from PIL import Image

from unroll.maths.arrays import FloatArray
from unroll.maths.triangles import area_percentile, corner_means
from unroll.nouns import Distortion
from unroll.nouns.shown import Legend
from unroll.paper.board import FONT, written
from unroll.units import format_length

BEFORE, AFTER, CLOTH = "#a3362b", "#2f6f8f", "#e9e4da"
WANTED = "#cfe0c8"
DASHES = (0, (5, 2))
PACKED = 3  # of zlib's nine: half the time of the usual six, for a tenth more bytes


def inch_ticks(axis: Axis, most: float) -> None:
    """Put ticks at fractions that a ruler has on an axis in inches, from 0 to `most`."""
    step = next((s for s in (1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0) if 5 * s > most), 2.0)
    axis.set_major_locator(MultipleLocator(step))
    axis.set_major_formatter(
        lambda at, _: format_length(25.4 * at, "in", denominator=32).removesuffix(" in")
    )


def bare(axes: Axes) -> None:
    """Take frame and ticks away, and make both directions alike."""
    axes.set_axis_off()
    axes.set_aspect("equal")


def png_bytes(figure: Figure, *, dots_per_inch: int = 120) -> bytes:
    """Return a figure as PNG; the same figure always gives the same bytes."""
    stream = io.BytesIO()
    _find_letters(figure)
    # "Software" carries matplotlib's version unless it is emptied.
    figure.savefig(
        stream, format="png", dpi=dots_per_inch, metadata={"Software": None},
        pil_kwargs={"compress_level": PACKED},
    )  # fmt: skip
    return stream.getvalue()


def _find_letters(figure: Figure) -> None:
    """Give each text that the common font lacks letters of a font that has them, or spell it."""
    for text in _texts(figure):
        words, fonts = written(text.get_text())
        if (words, fonts) != (text.get_text(), (FONT,)):
            text.set_text(words)
            text.set_fontfamily(list(fonts))


def _texts(artist: Artist) -> Iterator[Text]:
    """Yield the texts of a figure, less those at ticks: the program's own, and costly to make."""
    if isinstance(artist, Text):
        yield artist
    children = [artist.label] if isinstance(artist, Axis) else artist.get_children()
    for child in children:
        yield from _texts(child)


# A drawing has ink, paper and the greys between; more colours than this are shading.
DRAWN_COLOURS = 3000


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
    if image.getcolors(DRAWN_COLOURS) is None:
        image.save(stream, "WEBP", quality=90, method=2)
    else:
        image.save(stream, "WEBP", lossless=True, quality=20, method=2)
    return stream.getvalue()


INK = "#26323a"
PAPER = "#fbf8f2"
FAINT = "#8b8f8c"
DART = "#a3362b"
PIECE_COLOURS = {
    "outer": "#a9c9cf",
    "inner": "#ead9a6",
    "armhole plate": "#cfcac2",
    "wrist plate": "#cfcac2",
}
OTHER_PIECE = "#d9d5cd"

# (lightness, chroma, hue in degrees) in OKLab: paper, straw, madder, aubergine. Lightness falls
# evenly, so the order can be read in grey and with any kind of colour sight.
_GIVE = ((0.965, 0.015, 95.0), (0.80, 0.105, 78.0), (0.56, 0.145, 35.0), (0.28, 0.085, 340.0))
# Blue: too much cloth; madder: too little. Both arms are equally dark at equal amounts.
_SIGNED = (
    (0.34, 0.095, 262.0),
    (0.66, 0.085, 240.0),
    (0.965, 0.008, 95.0),
    (0.66, 0.115, 60.0),
    (0.34, 0.115, 28.0),
)


def oklab_to_srgb(lab: FloatArray) -> FloatArray:
    """Return sRGB colours (n, 3), 0 to 1, of OKLab colours (n, 3), clipped to what screens show.

    Notes
    -----
    Björn Ottosson, "A perceptual color space for image processing" (2020); matrices from there.
    """
    to_lms = np.array(
        [
            [1, 0.3963377774, 0.2158037573],
            [1, -0.1055613458, -0.0638541728],
            [1, -0.0894841775, -1.2914855480],
        ]
    )
    to_linear = np.array(
        [
            [4.0767416621, -3.3077115913, 0.2309699292],
            [-1.2684380046, 2.6097574011, -0.3413193965],
            [-0.0041960863, -0.7034186147, 1.7076147010],
        ]
    )
    linear = np.clip((lab @ to_lms.T) ** 3 @ to_linear.T, 0.0, 1.0)
    out: FloatArray = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055
    )
    return out


def srgb_to_linear(srgb: FloatArray) -> FloatArray:
    """Return linear-light RGB of sRGB, both 0 to 1 (IEC 61966-2-1)."""
    out: FloatArray = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    return out


def _ramp(stops: tuple[tuple[float, float, float], ...], count: int = 256) -> FloatArray:
    lightness, chroma, hue_deg = np.array(stops).T
    hue = np.radians(hue_deg)
    at = np.linspace(0, 1, len(stops))
    t = np.linspace(0, 1, count)
    lab = np.stack(
        [
            np.interp(t, at, lightness),
            np.interp(t, at, chroma * np.cos(hue)),
            np.interp(t, at, chroma * np.sin(hue)),
        ],
        axis=1,
    )
    return oklab_to_srgb(lab)


GIVE_RAMP: FloatArray = _ramp(_GIVE)
SIGNED_RAMP: FloatArray = _ramp(_SIGNED, 257)


def colour_map(ramp: FloatArray) -> ListedColormap:
    """Return a ramp (k, 3) as a matplotlib colour map."""
    return ListedColormap(ramp.tolist())


def ramp_colours(values: FloatArray, low: float, high: float, ramp: FloatArray) -> FloatArray:
    """Return the sRGB colours (n, 3) of `values` (n,) on a ramp that runs from low to high."""
    place = np.clip((values - low) / (high - low), 0.0, 1.0)
    out: FloatArray = ramp[np.rint(place * (len(ramp) - 1)).astype(int)]
    return out


def hex_of(colour: FloatArray) -> str:
    """Return an sRGB triple as "#rrggbb".

    Examples
    --------
    >>> import numpy as np
    >>> hex_of(np.array([1.0, 0.5, 0.0]))
    '#ff8000'
    """
    return "#" + "".join(f"{round(float(c) * 255):02x}" for c in colour)


def rgb_of(text: str) -> FloatArray:
    """Return "#rrggbb" as an sRGB triple, 0 to 1."""
    return np.array([int(text[k : k + 2], 16) / 255.0 for k in (1, 3, 5)])


_NICE_TOPS = (2, 4, 6, 8, 10, 12, 16, 20, 30, 40, 60, 80, 100)
HEAT_TITLE = "Percent that the threads must give"


def give_percent(distortion: Distortion) -> FloatArray:
    """Return how much each face asks its threads to give, the worse of warp and weft, (m,).

    Notes
    -----
    |ln| of a thread's stretch, written as a percentage, so that too long and too short weigh the
    same. It is the number that the advice goes by. Woven cloth skews freely, so shear is left out
    here and told apart in the report's table.
    """
    warp, weft = np.abs(np.log(distortion.warp)), np.abs(np.log(distortion.weft))
    out: FloatArray = 100.0 * np.expm1(np.maximum(warp, weft))
    return out


def give_at_vertices(distortion: Distortion) -> FloatArray:
    """Return `give_percent` carried to the panel's vertices by area, (n,)."""
    mesh = distortion.flattening.panel.mesh
    return corner_means(
        give_percent(distortion), distortion.weights, mesh.faces, len(mesh.vertices)
    )


def heat_top(distortions: Iterable[Distortion], gives_percent: float) -> float:
    """Return the top of the scale that the given pieces share, percent.

    It holds 99 % of every piece's area and at least twice what the cloth gives, so that a calm
    piece looks calm.
    """
    worst = [area_percentile(give_percent(d), d.weights, 99.0) for d in distortions]
    wanted = max([2.0 * gives_percent, *worst])
    return float(next((top for top in _NICE_TOPS if top >= wanted), _NICE_TOPS[-1]))


def heat_legend(top: float, gives_percent: float) -> Legend:
    """Return the legend of a scale from 0 to `top` percent that names the cloth's own limit."""
    ticks = (
        (0.0, "0"),
        (0.25, f"{top / 4:g}"),
        (0.5, f"{top / 2:g}"),
        (0.75, f"{0.75 * top:g}"),
        (1.0, f"{top:g} or more"),
    )
    stops = tuple(hex_of(GIVE_RAMP[round(k * 255 / 16)]) for k in range(17))
    return Legend(f"{HEAT_TITLE}; this cloth allows {gives_percent:g} %", stops, ticks)
