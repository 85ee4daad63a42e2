"""Finished pieces and pages as DXF, true to scale in millimetres."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

import numpy as np
from anyascii import anyascii
from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.layouts.blocklayout import BlockLayout

from unroll.disk.pattern_svg import in_a_row, slug
from unroll.maths.arrays import FloatArray
from unroll.nouns import FinishedPiece, SheetPage
from unroll.paper.board import STYLES
from unroll.paper.drawing import drawn_alone, grain_mark, reference_lines

CAPITALS = 0.73  # height of capitals over the size of the type

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


def dxf_text(finished: Sequence[FinishedPiece]) -> str:
    """Return the pieces as a DXF in millimetres, one block a piece, layers as in ASTM D6673.

    Each block holds the piece in its own coordinates (grain along y), inserted in a row. The same
    pieces always give the same text.
    """
    with _no_time_stamps():
        return _text_of(_drawing(finished))


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
                line = slug(style).upper()
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
    moves, _, _ = in_a_row(finished)
    for number, (piece, move) in enumerate(zip(finished, moves, strict=True), start=1):
        block = document.blocks.new(f"{number}_{slug(piece.title)}_{piece.arm}")
        _dxf_piece(block, piece)
        document.modelspace().add_blockref(block.name, tuple(move), dxfattribs={"layer": "1"})
    return document


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
    for lettering in drawn_alone(piece).letterings:
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
