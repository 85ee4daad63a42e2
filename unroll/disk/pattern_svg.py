"""Finished pieces and pages as SVG, true to scale in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns import FinishedPiece, Lettering, SheetPage
from unroll.paper.board import FONT, STYLES
from unroll.paper.drawing import drawn_alone

GAP = 20.0  # mm between pieces laid in a row



def svg_text(finished: Sequence[FinishedPiece], *, title: str = "Pieces ready to cut") -> str:
    """Return the pieces in a row as one SVG, a group a piece, one user unit a millimetre.

    Stitching lines are cubic curves, as fitted; cutting lines are polylines that stray less than
    0.01 mm. Classes: "cutting", "stitching", "fold", "notch", "mark" (dart points), "ease",
    "grain", "reference".
    """
    moves, width, height = in_a_row(finished)
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
    parts += [_path(slug(stroke.style), stroke.points, down) for stroke in page.strokes]
    parts += [_svg_text(text, down) for text in page.letterings]
    return "\n".join([*parts, "</svg>", ""])


def in_a_row(finished: Sequence[FinishedPiece]) -> tuple[list[FloatArray], float, float]:
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
        rules.append(f".{slug(name)}{{stroke-width:{style.width:g}{dashes}{cap}{colour}}}")
    rules.append(f"text{{font-family:'{FONT}',sans-serif}}")
    return "".join(rules)


def _svg_piece(piece: FinishedPiece, number: int, move: FloatArray, height: float) -> list[str]:
    """Return one piece's group; y is turned downwards."""
    name = f"{number}-{slug(piece.title)}-{piece.arm}"
    down = np.array([0.0, height]) + move * [1.0, -1.0]
    out = [f'<g id="{escape(name)}" class="piece">']
    board = drawn_alone(piece)
    for stroke in board.strokes:
        if stroke.style == "cutting":
            out.append(_path("cutting", stroke.points[:-1], down, True))
        elif stroke.style != "stitching":
            out.append(_path(stroke.style, stroke.points, down))
    for side in piece.sides:
        if side.allowance > 0 or side.seam.startswith("dart"):
            out.append(_curve("stitching", side.cubics, down, side.seam))
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
    return f'<path class="{name}" data-seam="{escape(seam)}" d="{start} {rest}"/>'


def slug(text: str) -> str:
    """Return text as a name in which only letters, digits and underscores occur."""
    return "_".join("".join(c if c.isalnum() else " " for c in text).split())
