"""The cut plan: pieces laid on cloth of one width, along the grain, none overlapping."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.packing import pack_on_strip
from unroll.maths.polylines import signed_area
from unroll.nouns import ClothPlan, CutPlan, FinishedPiece, LaidPiece

GAP = 4.0  # mm between cutting lines: room for the shears
CELL, COARSE_CELL = 4.0, 6.0  # mm


def cut_plan(
    finished: Sequence[FinishedPiece],
    width: float,
    *,
    one_way: bool = False,
    material: str = "cloth",
    cell: float = CELL,
) -> CutPlan:
    """Lay every copy that is to be cut on cloth of the given width, right side up.

    Parameters
    ----------
    finished : sequence of FinishedPiece
    width : float
        Usable width of the cloth, mm.
    one_way : bool
        Whether every piece must point the same way (nap, print); else half turns are allowed.
    material : {"cloth", "card"}
        Which pieces to lay.
    cell : float
        Grid on which places are tried, mm; the finer, the longer it takes.

    Returns
    -------
    CutPlan
        Grain along y; pieces that are cut turned over are mirrored.

    Raises
    ------
    UnrollError
        When the width is not positive, or narrower than a piece.
    """
    copies = [c for piece in finished if piece.material == material for c in _copies(piece)]
    outlines = [copy.place(copy.piece.cutting) for copy in copies]
    if not outlines:
        raise UnrollError(f"there is no piece to cut from {material}")
    _check_width(width, copies, outlines)
    turns = (0.0,) if one_way else (0.0, 180.0)
    placed, length = pack_on_strip(outlines, width, turns=turns, gap=GAP, cell=cell)
    area = sum(abs(signed_area(line)) for line in outlines)
    longest = max(float(np.ptp(line[:, 1])) for line in outlines)
    laid = tuple(
        LaidPiece(c.piece, p.move, p.turn_deg, c.is_turned_over, c.arm)
        for c, p in zip(copies, placed, strict=True)
    )
    return CutPlan(float(width), length, max(longest, area / width), laid)


def _copies(piece: FinishedPiece) -> list[LaidPiece]:
    """Return each copy of a piece to be cut, not yet moved, and the arm it is for."""
    over = [False] * piece.cut_as_drawn + [True] * piece.cut_turned_over
    # of what is cut twice for each arm, each takes one of either kind
    arms = ["left", "right"] * (len(over) // 2) if piece.arm == "both" else [piece.arm] * len(over)
    return [
        LaidPiece(piece, np.zeros(2), 0.0, o, arm) for o, arm in zip(over, arms, strict=True)
    ]


def _check_width(width: float, copies: Sequence[LaidPiece], outlines: Sequence[np.ndarray]) -> None:
    if not width > 0:
        raise UnrollError(f"cloth is {width:g} mm wide; expected more than 0")
    for copy, line in zip(copies, outlines, strict=True):
        need = float(np.ptp(line[:, 0]))
        if need > width:
            raise UnrollError(
                f"cloth is {width:g} mm wide; the {copy.piece.name} needs {need:.0f} mm across "
                "the grain"
            )


BUNDLE = 48  # copies packed together: three or four arms; more takes longer than it saves


def cloth_plans(
    sets: Sequence[tuple[str, str, float, Sequence[FinishedPiece]]],
) -> tuple[ClothPlan, ...]:
    """Lay the cloth pieces of many sheets on one length for each kind of cloth.

    Parameters
    ----------
    sets : sequence of (name, cloth, width, finished)
        Of each sheet; width in mm.

    Returns
    -------
    tuple of ClothPlan

    Notes
    -----
    Packing grows with the square of what is packed at once. The sheets are therefore taken a few
    at a time, in their order, and their lays follow one another along the cloth: nobody's pieces
    are scattered over more than one of them. Where a few take less cloth one after the other, each
    gets a lay of its own.
    """
    kinds: dict[tuple[str, float], list[tuple[int, Sequence[FinishedPiece]]]] = {}
    for number, (_, cloth, width, finished) in enumerate(sets, start=1):
        # copies, since a piece is told by its identity and two sheets may share theirs
        own = [replace(piece) for piece in finished]
        kinds.setdefault((cloth, width), []).append((number, own))
    names = tuple(name for name, *_ in sets)
    return tuple(
        ClothPlan(
            cloth,
            tuple(lay for bundle in _bundles(some) for lay in _lays(bundle, width)),
            {id(piece): number for number, finished in some for piece in finished},
            names,
            GAP,
        )
        for (cloth, width), some in kinds.items()
    )


def _lays(bundle: Sequence[Sequence[FinishedPiece]], width: float) -> tuple[CutPlan, ...]:
    """Return the shorter: all pieces of a few sheets in one lay, or each sheet's in its own."""
    apart = tuple(cut_plan(one, width) for one in bundle)
    if len(bundle) == 1:
        return apart
    together = cut_plan([p for one in bundle for p in one], width, cell=COARSE_CELL)
    return (together,) if together.length < sum(lay.length for lay in apart) else apart


def _bundles(
    sets: Sequence[tuple[int, Sequence[FinishedPiece]]],
) -> Iterator[list[list[FinishedPiece]]]:
    """Yield the cloth pieces of a few whole sheets at a time, sheet by sheet."""
    bundle: list[list[FinishedPiece]] = []
    for _, finished in sets:
        cloth = [piece for piece in finished if piece.material == "cloth"]
        if bundle and sum(_count(p) for one in [*bundle, cloth] for p in one) > BUNDLE:
            yield bundle
            bundle = []
        bundle.append(cloth)
    if bundle:
        yield bundle


def _count(piece: FinishedPiece) -> int:
    return piece.cut_as_drawn + piece.cut_turned_over
