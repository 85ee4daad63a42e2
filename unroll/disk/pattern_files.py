"""Finished pieces as SVG and DXF text, true to scale in millimetres."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from anyascii import anyascii
from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.layouts.blocklayout import BlockLayout

from unroll.maths.arrays import FloatArray
from unroll.nouns import FinishedPiece, Lettering, SheetPage
from unroll.paper.board import FONT, STYLES
from unroll.paper.drawing import drawn_alone, grain_mark, reference_lines

CAPITALS = 0.73  # height of capitals over the size of the type
GAP = 20.0  # mm between pieces laid in a row

# Layer meanings of ASTM D6673-10, table of layers; checked in two published listings
LAYERS = {
    "1": "piece boundary: the cutting line",
    "2": "turn points",
    "3": "curve points",
    "4": "notches",
    "7": "grain line",
    "8": "internal lines: references, folds of darts",
    "13": "drill holes: dart points",
    "14": "sew lines: stitching line, dart legs",
    "15": "annotation",
}
TURN_DEG = 5.0  # a boundary point that turns more than this is a turn point, else a curve point


def svg_text(finished: Sequence[FinishedPiece], *, title: str = "Pieces ready to cut") -> str:
    """Return the pieces in a row as one SVG, a group a piece, one user unit a millimetre.

    Stitching lines are cubic curves, as fitted; cutting lines are polylines that stray less than
    0.01 mm. Classes: "cutting", "stitching", "fold", "notch", "mark" (dart points), "ease",
    "grain", "reference".
    """
    moves, width, height = _row(finished)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4f}mm" height="{height:.4f}mm" '
        f'viewBox="0 0 {width:.4f} {height:.4f}">',
        f"<title>{escape(title)}</title>",
        f"<style>{_css()}</style>",
    ]
    for number, (piece, move) in enumerate(zip(finished, moves, strict=True), start=1):
        parts += _svg_piece(piece, number, move, height)
    return "\n".join([*parts, "</svg>", ""])


def dxf_text(finished: Sequence[FinishedPiece]) -> str:
    """Return the pieces as a DXF in millimetres, one block a piece, layers as in ASTM D6673.

    Each block holds the piece in its own coordinates (grain along y), inserted in a row. The same
    pieces always give the same text.
    """
    with _no_time_stamps():
        return _text_of(_drawing(finished))


def page_svg(page: SheetPage) -> str:
    """Return a page as SVG, one user unit a millimetre; a line's class is its style.

    Lines are polylines as the page has them. Areas have the class "area".
    """
    down, styles = np.array([0.0, page.height]), dict.fromkeys(s.style for s in page.strokes)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page.width:.4f}mm" '
        f'height="{page.height:.4f}mm" viewBox="0 0 {page.width:.4f} {page.height:.4f}">',
        f"<title>{escape(page.name)}</title>",
        f"<style>{_css(tuple(styles))}</style>",
    ]
    for patch in page.patches:
        grey = round(255 * patch.grey)
        pairs = " ".join(f"{x:.4f},{y:.4f}" for x, y in _flat(patch.points, down))
        parts.append(f'<polygon class="area" fill="rgb({grey},{grey},{grey})" points="{pairs}"/>')
    parts += [_path(_slug(stroke.style), stroke.points, down) for stroke in page.strokes]
    parts += [_svg_text(text, down) for text in page.letterings]
    return "\n".join([*parts, "</svg>", ""])


def page_dxf(page: SheetPage, *, layers: Mapping[str, str]) -> str:
    """Return a page as a DXF in millimetres: a layer for each style of line, one for words.

    Parameters
    ----------
    page : SheetPage
    layers : mapping of str to str
        Names of layers by style, where they differ from the style's own.
    """
    with _no_time_stamps():
        document: Drawing = new("R2000", units=units.MM)
        for number, style in enumerate(dict.fromkeys(s.style for s in page.strokes)):
            dashes = [d if k % 2 == 0 else -d for k, d in enumerate(STYLES[style].dashes)]
            line = "Continuous"
            if dashes:
                line = _slug(style).upper()
                document.linetypes.add(line, [sum(map(abs, dashes)), *dashes])
            document.layers.add(
                _layer(layers.get(style, style)), color=1 + number % 7, linetype=line
            )
        document.layers.add("words", color=7)
        space = document.modelspace()
        for stroke in page.strokes:
            layer = _layer(layers.get(stroke.style, stroke.style))
            space.add_polyline2d([tuple(p) for p in stroke.points], dxfattribs={"layer": layer})
        for text in page.letterings:
            space.add_text(
                text.text, height=CAPITALS * text.size, rotation=text.turn_deg,
                dxfattribs={"layer": "words", "insert": tuple(text.at)},
            )  # fmt: skip
        return _text_of(document)


def _layer(name: str) -> str:
    """Return a layer's name, which may not hold every sign."""
    return "".join("_" if c in '<>/\\":;?*|=`,' else c for c in name)


def _drawing(finished: Sequence[FinishedPiece]) -> Drawing:
    """Return the pieces as a drawing: layers, a block a piece, and the blocks in a row."""
    document: Drawing = new("R2000", units=units.MM)
    for name, meaning in LAYERS.items():
        document.layers.add(name, color=7).description = meaning
    moves, _, _ = _row(finished)
    for number, (piece, move) in enumerate(zip(finished, moves, strict=True), start=1):
        block = document.blocks.new(f"{number}_{_slug(piece.title)}_{piece.arm}")
        _dxf_piece(block, piece)
        document.modelspace().add_blockref(block.name, tuple(move), dxfattribs={"layer": "1"})
    return document


def _row(finished: Sequence[FinishedPiece]) -> tuple[list[FloatArray], float, float]:
    """Return where each piece's origin lies when they stand in a row, and the row's size."""
    moves, x, tallest = [], GAP, 0.0
    for piece in finished:
        low, high = piece.cutting.min(axis=0), piece.cutting.max(axis=0)
        moves.append(np.array([x, GAP]) - low)
        x += high[0] - low[0] + GAP
        tallest = max(tallest, float(high[1] - low[1]))
    return moves, float(x), tallest + 2 * GAP


USUAL = ("cutting", "stitching", "fold", "notch", "mark", "ease", "grain", "reference")


def _css(names: Sequence[str] = USUAL) -> str:
    """Return line styles as CSS, the same as on paper."""
    rules = ["path{fill:none;stroke:#000;stroke-linejoin:miter}"]
    for name in names:
        style = STYLES[name]
        listed = ",".join(f"{dash:g}" for dash in style.dashes)
        dashes = f";stroke-dasharray:{listed}" if listed else ""
        cap = ";stroke-linecap:round" if style.is_dotted else ""
        colour = f";stroke:{style.colour}" if style.colour else ""
        rules.append(f".{_slug(name)}{{stroke-width:{style.width:g}{dashes}{cap}{colour}}}")
    rules.append(f"text{{font-family:'{FONT}',sans-serif}}")
    return "".join(rules)


def _svg_piece(piece: FinishedPiece, number: int, move: FloatArray, height: float) -> list[str]:
    """Return one piece's group; y is turned downwards."""
    name = f"{number}-{_slug(piece.title)}-{piece.arm}"
    down = np.array([0.0, height])
    out = [f'<g id={quoteattr(name)} class="piece">']
    board = drawn_alone(piece, move)
    for stroke in board.strokes:
        if stroke.style == "cutting":
            out.append(_path("cutting", stroke.points[:-1], down, True))
        elif stroke.style != "stitching":
            out.append(_path(stroke.style, stroke.points, down))
    for side in piece.sides:
        if side.allowance > 0 or side.seam.startswith("dart"):
            out.append(_curve("stitching", side.cubics + move, down, side.seam))
    return [*out, *(_svg_text(text, down) for text in board.letterings), "</g>"]


def _svg_text(text: Lettering, down: FloatArray) -> str:
    x, y = _flat(text.at[None], down)[0]
    weight = ' font-weight="bold"' if text.is_bold else ""
    anchor = {"left": "", "middle": ' text-anchor="middle"', "right": ' text-anchor="end"'}
    turn = f' transform="rotate({-text.turn_deg:.2f} {x:.4f} {y:.4f})"' if text.turn_deg else ""
    return (
        f'<text x="{x:.4f}" y="{y:.4f}" font-size="{text.size:.4f}"{weight}{anchor[text.align]}'
        f"{turn}>{escape(text.text)}</text>"
    )


def _flat(points: FloatArray, move: FloatArray) -> FloatArray:
    return np.asarray(points * [1.0, -1.0] + move)


def _path(name: str, points: FloatArray, move: FloatArray, is_closed: bool = False) -> str:
    pairs = " ".join(f"{x:.4f},{y:.4f}" for x, y in _flat(points, move))
    return f'<path class="{name}" d="M{pairs}{" Z" if is_closed else ""}"/>'


def _curve(name: str, cubics: FloatArray, move: FloatArray, seam: str) -> str:
    placed = _flat(cubics.reshape(-1, 2), move).reshape(-1, 4, 2)
    start = f"M{placed[0, 0, 0]:.4f},{placed[0, 0, 1]:.4f}"
    rest = " ".join(
        "C" + " ".join(f"{x:.4f},{y:.4f}" for x, y in segment[1:]) for segment in placed
    )
    return f'<path class="{name}" data-seam={quoteattr(seam)} d="{start} {rest}"/>'


def _dxf_piece(block: BlockLayout, piece: FinishedPiece) -> None:
    """Draw one piece into its block."""

    def line(points: FloatArray, layer: str, is_closed: bool = False) -> None:
        block.add_polyline2d(
            [tuple(p) for p in points], close=is_closed, dxfattribs={"layer": layer}
        )

    line(piece.cutting, "1", True)
    _dxf_points(block, piece.cutting)
    for side in piece.sides:
        if side.allowance > 0 or side.seam.startswith("dart"):
            line(side.points, "14")
    for mark in piece.notches:
        for slit in mark.slits:
            line(slit, "4")
    for dart in piece.darts:
        block.add_point(tuple(dart.point), dxfattribs={"layer": "13"})
        if dart.fold is not None:
            line(dart.fold, "8")
    for points in reference_lines(piece).values():
        line(points, "8")
    if piece.material == "cloth":
        line(grain_mark(piece), "7")
    _dxf_words(block, piece)


def _dxf_points(block: BlockLayout, loop: FloatArray) -> None:
    """Mark the boundary's corners as turn points, and its other points as curve points."""
    before, after = loop - np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0) - loop
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, np.einsum("ij,ij->i", before, after))))
    for point, angle in zip(loop, turn, strict=True):
        layer = "2" if angle > TURN_DEG else "3"
        block.add_point(tuple(point), dxfattribs={"layer": layer})


def _dxf_words(block: BlockLayout, piece: FinishedPiece) -> None:
    """Write the piece's own words on the boundary's layer, and what paper says as annotation."""
    low = piece.cutting.min(axis=0)
    count = piece.cut_as_drawn + piece.cut_turned_over
    own = (f"Piece Name: {piece.title}", f"Quantity: {count}", f"Material: {piece.material}")
    for row, text in enumerate(own):
        insert = (low[0], low[1] - 6.0 - 5.0 * row)
        block.add_text(text, height=3.0, dxfattribs={"layer": "1", "insert": insert})
    for lettering in drawn_alone(piece, np.zeros(2)).letterings:
        block.add_text(
            lettering.text,
            height=CAPITALS * lettering.size,
            rotation=lettering.turn_deg,
            dxfattribs={"layer": "15", "insert": tuple(lettering.at)},
        )


@contextmanager
def _no_time_stamps() -> Iterator[None]:
    """Keep the time and the chance numbers of a drawing's making out of it, for the while."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _text_of(document: Drawing) -> str:
    stream = io.StringIO()
    document.write(stream)
    return re.sub(r"[^\x00-\x7f]", lambda found: _in_ascii(found[0]), stream.getvalue())


def _in_ascii(character: str) -> str:
    r"""Return a character as R2000 writes it, whose code page holds no other: "\U+00C5".

    The notation has four digits; what needs five, such as a picture sign, is spelt instead.
    """
    code = ord(character)
    return f"\\U+{code:04X}" if code < 0x10000 else anyascii(character)


def _slug(text: str) -> str:
    return "_".join("".join(c if c.isalnum() else " " for c in text).split())
