"""Flat pieces as a true-scale SVG drawing: one user unit is one millimetre."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.quiet_places import quiet_place
from unroll.nouns import Notch, Piece, source_called

_GAP = 25.0
_ROW_WIDTH = 1400.0
_WORDS_ROOM, _WORDS_WIDTH, _WORDS_HEIGHT, _WORDS_DROP = 24.0, 80.0, 40.0, 14.0
_PAGE_WORDS_WIDTH, _PAGE_DROP, _PAGE_LETTER = 190.0, 38.0, 16.0  # larger: it is looked at small
_SQUARES = (("100 mm", 100.0), ("4 in", 101.6))
_STYLES = {
    "piece-area": 'fill="#f1ebdd" stroke="none"',
    "stitching-line": 'fill="none" stroke="#26323a" stroke-width="0.6"',
    "dart": 'fill="none" stroke="#a3362b" stroke-width="0.6"',
    "reference-line": 'fill="none" stroke="#6b7278" stroke-width="0.35" stroke-dasharray="6 2"',
    "grain": 'fill="none" stroke="#26323a" stroke-width="0.5"',
    "notch": 'fill="none" stroke="#26323a" stroke-width="0.6"',
    "test-square": 'fill="none" stroke="#26323a" stroke-width="0.4"',
}


@dataclass(frozen=True, eq=False)
class _Placed:
    piece: Piece
    shift: FloatArray
    words: FloatArray

    def on_sheet(self, points: FloatArray) -> FloatArray:
        """SVG's y axis points down, the piece's up."""
        out: FloatArray = points * np.array([1.0, -1.0]) + self.shift
        return out


def pieces_svg(pieces: Sequence[Piece]) -> str:
    """Return the pieces side by side as SVG at true scale.

    Parameters
    ----------
    pieces : sequence of Piece
        At least one.

    Returns
    -------
    str
        Width and height are in mm and equal the viewBox, so that any program opens it at true
        scale. Each piece is a group with an id ("left-outer"); each line has a class:
        "stitching-line", "dart", "reference-line", "grain" or "notch". No transforms.

    Notes
    -----
    The drawing shows stitching lines; no seam allowance is added.
    """
    placed, width, bottom = _laid_out(pieces)
    width = max(width, sum(size + _GAP for _, size in _SQUARES) + _GAP)
    height = bottom + _SQUARES[-1][1] + _GAP
    body = [*_groups(placed), _squares(_GAP, height - _GAP)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" '
        f'viewBox="0 0 {width:.3f} {height:.3f}" font-family="sans-serif">\n'
        "<title>Flat pieces at true scale</title>\n"
        "<desc>Stitching lines in millimetres, no seam allowance. Right side of the cloth up. "
        "Check the test squares after printing.</desc>\n" + "\n".join(body) + "\n</svg>\n"
    )


def page_drawing(pieces: Sequence[Piece]) -> str:
    """Return the pieces as an SVG element for a web page, which gives it its size.

    Parameters
    ----------
    pieces : sequence of Piece
        At least one.
    """
    placed, width, height = _laid_out(
        pieces, letter=_PAGE_LETTER, words_width=_PAGE_WORDS_WIDTH, drop=_PAGE_DROP
    )
    return (
        f'<svg class="drawing" role="img" aria-label="The flat pieces" '
        f'viewBox="0 0 {width:.3f} {height:.3f}">\n' + "\n".join(_groups(placed)) + "\n</svg>"
    )


def _groups(placed: Sequence[_Placed]) -> list[str]:
    names = _ids([item.piece for item in placed])
    return [_piece_group(item, name) for item, name in zip(placed, names, strict=True)]


def _laid_out(
    pieces: Sequence[Piece],
    *,
    letter: float = 0.0,
    words_width: float = _WORDS_WIDTH,
    drop: float = _WORDS_DROP,
) -> tuple[list[_Placed], float, float]:
    """Place the pieces on shelves from left to right; return them, the width and the height."""
    placed: list[_Placed] = []
    left, top, shelf, width = _GAP, _GAP, 0.0, 0.0
    for piece in pieces:
        low, high = piece.outline.min(axis=0), piece.outline.max(axis=0)
        size = high - low
        place, room = quiet_place(piece.outline, piece.lines.values())
        if room < max(_WORDS_ROOM, 0.5 * letter * len(piece.name)):
            # Too small to be written on: the words go beneath, and get a place of their own.
            place = np.array([0.5 * (low[0] + high[0]), low[1] - drop])
            size = np.maximum(size + np.array([0.0, _WORDS_HEIGHT]), [words_width, 0.0])
        if left > _GAP and left + size[0] + _GAP > _ROW_WIDTH:
            left, top, shelf = _GAP, top + shelf + _GAP, 0.0
        inset = 0.5 * (size[0] - (high - low)[0])
        placed.append(_Placed(piece, np.array([left + inset - low[0], top + high[1]]), place))
        left += float(size[0]) + _GAP
        shelf, width = max(shelf, float(size[1])), max(width, left)
    return placed, width, top + shelf + _GAP


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _ids(pieces: Sequence[Piece]) -> list[str]:
    """One id a piece: arm and name, and the source where that is not enough."""
    short = [_slug(f"{piece.arm} {piece.name}") for piece in pieces]
    names: list[str] = []
    for piece, name in zip(pieces, short, strict=True):
        full = name if short.count(name) == 1 else _slug(f"{name} {piece.source}")
        repeats = sum(1 for other in names if other == full or other.startswith(f"{full}--"))
        names.append(f"{full}--{repeats + 1}" if repeats else full)
    return names


def _path(points: FloatArray, kind: str, name: str, *, end: str = "") -> str:
    steps = "L".join(f"{x:.4f} {y:.4f}" for x, y in points)
    return f'  <path class="{kind}" data-name="{escape(name)}" {_STYLES[kind]} d="M{steps}{end}"/>'


def _piece_group(item: _Placed, name: str) -> str:
    piece = item.piece
    lines = [
        f'<g id="{name}" class="piece" data-name="{escape(piece.name)}" '
        f'data-arm="{escape(piece.arm)}" data-source="{escape(piece.source)}" '
        f'data-at="{item.shift[0]:.3f} {item.shift[1]:.3f}">',
        f"  <title>{escape(f'{piece.arm} arm, {piece.name}')}</title>",
        _path(item.on_sheet(piece.outline), "piece-area", piece.name, end="Z"),
    ]
    for line_name, points in piece.lines.items():
        kind = "grain" if line_name == "grain" else "reference-line"
        lines.append(_path(item.on_sheet(points), kind, line_name))
    for side in piece.sides:
        kind = "dart" if side.seam.startswith("dart") else "stitching-line"
        lines.append(_path(item.on_sheet(side.points), kind, side.seam))
    lines += [_notch(item, notch) for notch in piece.notches]
    lines.append(_label(item))
    return "\n".join([*lines, "</g>"])


def _notch(item: _Placed, notch: Notch) -> str:
    """Draw ticks of 5 mm outward from the stitching line: one, or two for a double notch."""
    side = item.piece.sides[notch.side_index].points
    at = item.piece.notch_point(notch)
    steps = np.cumsum(polylines.chords(side))
    k = min(int(np.searchsorted(steps, notch.along)), len(side) - 2)
    along = side[k + 1] - side[k]
    along = along / np.linalg.norm(along)
    outward = np.array([along[1], -along[0]])
    offsets = (np.arange(notch.marks) - (notch.marks - 1) / 2) * 3.0
    starts = [at + offset * along for offset in offsets]
    ticks = [item.on_sheet(np.stack([start, start + 5.0 * outward])) for start in starts]
    strokes = "".join(f"M{a[0]:.4f} {a[1]:.4f}L{b[0]:.4f} {b[1]:.4f}" for a, b in ticks)
    return (
        f'  <path class="notch" data-name="{escape(notch.name)}" data-marks="{notch.marks}" '
        f'{_STYLES["notch"]} d="{strokes}"/>'
    )


def _label(item: _Placed) -> str:
    piece = item.piece
    x, y = item.on_sheet(item.words[None])[0]
    words = (piece.name, f"{piece.arm} arm", source_called(piece.source).label)
    spans = "".join(
        f'<tspan x="{x:.3f}" dy="{"1.2em" if k else "0"}">{escape(word)}</tspan>'
        for k, word in enumerate(words)
    )
    return (
        f'  <text class="label" x="{x:.3f}" y="{y:.3f}" font-size="6" text-anchor="middle" '
        f'fill="#26323a">{spans}</text>'
    )


def _squares(left: float, bottom: float) -> str:
    """Squares to measure after printing, in both units."""
    lines = ['<g id="test-squares">']
    for text, size in _SQUARES:
        lines.append(
            f'  <rect class="test-square" x="{left:.3f}" y="{bottom - size:.3f}" width="{size}" '
            f'height="{size}" {_STYLES["test-square"]}/>'
        )
        lines.append(
            f'  <text x="{left + size / 2:.3f}" y="{bottom - size / 2:.3f}" font-size="6" '
            f'text-anchor="middle" fill="#26323a">{text}</text>'
        )
        left += size + _GAP
    return "\n".join([*lines, "</g>"])
