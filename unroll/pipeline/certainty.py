"""How far can the figures be trusted? Sew the corrected pieces again, one thing changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from unroll.correcting import miscut
from unroll.errors import UnrollError
from unroll.pipeline.certainty_words import in_one_sentence, in_sentences
from unroll.pipeline.unrolling import Tell
from unroll.sewing import sew
from unroll.standing_off import stand_off
from unroll.types import Cloth, Piece
from unroll.types.corrected import Closing, Spread, SpreadRow
from unroll.types.sewn import StandOff

CUT_ASTRAY_MM = 0.7  # scissors along a chalk line; common practice, no source
SEEDS = (1, 2, 3)
FINER = 0.75
STRAYING = ("outer", "inner")

Case = tuple[str, tuple[Piece, ...], Cloth, float]


def spread(
    closing: Closing, cloth: Cloth, *, spacing: float = 8.0, tell: Tell | None = None
) -> Spread:
    """Return what the corrected pieces come to when the assumptions are off.

    Parameters
    ----------
    closing : Closing
    cloth : Cloth
        As they were corrected for.
    spacing : float
        Edge length of the sewn mesh they were corrected on, mm.
    tell : callable, optional
        Is told each case in a few words.

    Notes
    -----
    Cloth twice and half as stiff, filling at half and double pressure, three cuttings that stray
    by 0.7 mm, and a finer mesh; each sewn anew from the corrected shape. A case that cannot be
    sewn has no row.
    """
    rows = []
    for case in _cases(closing, cloth, spacing):
        if tell is not None:
            tell(f"sewing the corrected pieces again: {case[0]}")
        row = _attempt(closing, case)
        rows += [] if row is None else [row]
    base = _row("as assumed", closing.after)
    apart = closing.round_mean, closing.round_p95
    lines = in_sentences(base, rows, apart, astray=CUT_ASTRAY_MM)
    return Spread(base, tuple(rows), lines, in_one_sentence(base, rows))


def _cases(closing: Closing, cloth: Cloth, spacing: float) -> Iterator[Case]:
    """Yield each case: its name, and the pieces, cloth and mesh it is sewn with."""
    yield "cloth twice as stiff", closing.pieces, _stretched(cloth, 0.5), spacing
    yield "cloth half as stiff", closing.pieces, _stretched(cloth, 2.0), spacing
    yield "filled half as hard", closing.pieces, _filled(cloth, 0.5), spacing
    yield "filled twice as hard", closing.pieces, _filled(cloth, 2.0), spacing
    for seed in SEEDS:
        cut = tuple(
            miscut(piece, astray=CUT_ASTRAY_MM, seed=10 * seed + number)
            if piece.name in STRAYING
            else piece
            for number, piece in enumerate(closing.pieces)
        )
        yield f"cut {CUT_ASTRAY_MM:g} mm astray ({seed})", cut, cloth, spacing
    yield "meshed finer", closing.pieces, cloth, FINER * spacing


def _stretched(cloth: Cloth, factor: float) -> Cloth:
    return replace(
        cloth,
        stretch_percent=factor * cloth.stretch_percent,
        bias_stretch_percent=factor * cloth.bias_stretch_percent,
    )


def _filled(cloth: Cloth, factor: float) -> Cloth:
    return replace(cloth, pressure_kpa=factor * cloth.pressure_kpa)


def _attempt(closing: Closing, case: Case) -> SpreadRow | None:
    name, pieces, cloth, spacing = case
    try:
        sewn = sew(pieces, cloth=cloth, spacing=spacing, start=closing.sewn_after)
        return _row(name, stand_off(sewn, closing.rounded))
    except UnrollError:
        return None


def _row(name: str, off: StandOff) -> SpreadRow:
    girths = tuple(girth.off_percent for girth in off.girths)
    return SpreadRow(
        name,
        max(girths, key=abs, default=0.0),
        off.outward_deg,
        off.forward_deg,
        off.swing_deg,
        off.wrist_mm,
        off.cap_mean,
        off.cap_p95,
        girths,
    )
