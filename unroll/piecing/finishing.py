"""Pieces of one arm made ready to cut."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from unroll.errors import UnrollError
from unroll.piecing.allowance import Corners, cutting_line
from unroll.piecing.darts import Dart, cut_out_wide_darts, find_darts, is_cut_out
from unroll.piecing.inserts import BASES, card_insert
from unroll.piecing.labels import label
from unroll.piecing.notches import dart_notches, notch_marks
from unroll.piecing.seams import SmoothPiece, ease_spans, seam_pairs, walk
from unroll.piecing.smoothing import is_dart, smooth_sides
from unroll.types import (
    DartMark,
    EaseSpan,
    FinishedPiece,
    FloatArray,
    Notch,
    Piece,
    Sheet,
    StitchingSide,
)

BEST_FIRST = ("corrected", "unrolled")
ORDER = ("outer", "inner", "armhole base", "wrist base", "shoulder extension")
TWICE = ("shoulder extension",)  # sewn from two layers, right sides together, and turned


def finish(
    pieces: Sequence[Piece],
    sheet: Sheet,
    *,
    arm: str | None = None,
    version: str = "",
    corners: Corners = "squared",
) -> tuple[FinishedPiece, ...]:
    """Return the pieces of one arm ready to cut, card inserts last.

    Parameters
    ----------
    pieces : sequence of Piece
        One arm's pieces, notches placed.
    sheet : Sheet
        Allowances, cloth, owner and date.
    arm : {"left", "right", "both"}, optional
        "both" where one set of pieces serves both arms, the other cut with the paper turned over;
        by default the arm that the pieces are for.
    version : str
        The tool's version, for the labels.
    corners : {"squared", "mitred"}
        How the ends of the long seams are cut.

    Raises
    ------
    UnrollError
        When an allowance is negative, names no seam, or is wider than a curve allows.
    """
    allowance_of = _allowances(pieces, sheet)
    smooth = [_smooth(piece, allowance_of) for piece in pieces]
    eases: dict[str, list[EaseSpan]] = {}
    for first, second in seam_pairs(smooth):
        for name, spans in ease_spans(first, second, walk(first, second)).items():
            eases.setdefault(name, []).extend(spans)
    done = []
    for piece, soft in zip(pieces, smooth, strict=True):
        done.append(_finish_one(piece, soft, tuple(eases.get(piece.name, ())), corners))
    if sheet.cloth.ends == "card":
        done += [card_insert(piece) for piece in done if piece.name in BASES]
    done.sort(
        key=lambda piece: (
            piece.material == "card",
            ORDER.index(piece.name) if piece.name in ORDER else len(ORDER),
        )
    )
    return tuple(_labelled(piece, arm or piece.arm, sheet, version) for piece in done)


def best_pieces(
    by_source: Mapping[str, Sequence[Piece]], *, cap: str, source: str | None = None
) -> tuple[Piece, ...]:
    """Return the pieces to cut: the best source that exists, completed from the flat draft.

    Parameters
    ----------
    by_source : mapping of str to sequence of Piece
        "corrected", "unrolled", "drafted-ease", "drafted-darts".
    cap : {"ease", "darts"}
        Manner of the flat draft to fall back on.
    source : str, optional
        The source the maker chose.

    Raises
    ------
    UnrollError
        When the chosen source was not made, or nothing was.
    """
    draft = (f"drafted-{cap}", "drafted-darts", "drafted-ease")
    order = (source,) if source else (*BEST_FIRST, *draft)
    found = next((name for name in order if by_source.get(name)), None)
    if found is None:
        made = ", ".join(name for name, some in by_source.items() if some) or "none"
        raise UnrollError(f"no pieces of source {source or 'any'}; made here: {made}")
    chosen = {piece.name: piece for piece in by_source[found]}
    for name in draft:
        for piece in by_source.get(name, ()):
            chosen.setdefault(piece.name, piece)
    return tuple(chosen.values())


def _allowances(pieces: Sequence[Piece], sheet: Sheet) -> Callable[[str], float]:
    """Return the allowance by seam name, checked."""
    seams = dict.fromkeys(s.seam for p in pieces for s in p.sides if not is_dart(s.seam))
    special = sheet.make.seam_allowances
    for name, width in [("every seam", sheet.make.seam_allowance), *special.items()]:
        if not 0 <= width <= 100:
            raise UnrollError(
                f"seam allowance on {name} is {width:g} mm; expected 0 to 100 (wrong unit?)"
            )
        if name != "every seam" and name not in seams:
            raise UnrollError(f'seam_allowances names "{name}"; the seams are {", ".join(seams)}')
    return lambda seam: special.get(seam, sheet.make.seam_allowance)


def _smooth(piece: Piece, allowance_of: Callable[[str], float]) -> SmoothPiece:
    """Smooth a piece's sides; notches keep their share of each side's length."""
    sides = cut_out_wide_darts(smooth_sides(piece, allowance_of))
    notches = tuple(
        replace(n, along=n.along * sides[n.side_index].length / piece.sides[n.side_index].length)
        for n in piece.notches
    )
    return SmoothPiece(piece.name, sides, notches)


def _finish_one(
    piece: Piece, soft: SmoothPiece, eases: tuple[EaseSpan, ...], corners: Corners
) -> FinishedPiece:
    cutting = cutting_line(soft.sides, corners=corners, what=piece.name)
    darts = find_darts(soft.sides)
    notches: tuple[Notch, ...] = soft.notches
    marks = notch_marks(soft.sides, cutting, notches) + dart_notches(soft.sides, cutting, darts)
    return FinishedPiece(
        piece.name,
        piece.source,
        piece.arm,
        "cloth",
        soft.sides,
        cutting,
        marks,
        tuple(_dart_mark(soft.sides, dart, cutting, piece.arm) for dart in darts),
        eases,
        dict(piece.lines),
    )


def _dart_mark(
    sides: Sequence[StitchingSide], dart: Dart, cutting: FloatArray, arm: str
) -> DartMark:
    """Return a dart's marks; its fold runs from the point to the peak of the cutting line."""
    there, back = (sides[i] for i in dart.legs)
    point, mouth = there.points[-1], np.stack([there.points[0], back.points[-1]])
    if is_cut_out(sides, dart):
        return DartMark(dart.name, dart.legs, point, mouth, None, "open")
    peak = mouth.mean(axis=0)
    beyond = (cutting - peak) @ (peak - point) / np.linalg.norm(peak - point)
    near = np.linalg.norm(cutting - peak, axis=1) < np.linalg.norm(mouth[1] - mouth[0]) + 40
    if near.any():
        peak = cutting[np.argmax(np.where(near, beyond, -np.inf))]
    # outlines of a left cap run from back to front; a mirrored one from front to back
    is_back = dart.is_pressed_back == (arm != "right")
    pressed = "towards the back" if is_back else "towards the front"
    return DartMark(dart.name, dart.legs, point, mouth, np.stack([point, peak]), pressed)


def _labelled(piece: FinishedPiece, arm: str, sheet: Sheet, version: str) -> FinishedPiece:
    each = 1 if piece.name in TWICE else 0
    drawn, turned = 1, each
    if arm == "both":
        drawn, turned = 1 + each, 1 + each
    text = label(
        piece.title, piece.source, arm, piece.material, (drawn, turned), sheet, version=version
    )
    return replace(piece, arm=arm, cut_as_drawn=drawn, cut_turned_over=turned, label=text)
