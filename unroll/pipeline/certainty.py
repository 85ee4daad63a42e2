"""How far can the figures be trusted? Sew the corrected pieces again, one thing changed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from unroll.correcting import miscut
from unroll.sewing import sew
from unroll.standing_off import stand_off
from unroll.types import Cloth, Piece
from unroll.types.corrected import Closing, Spread, SpreadRow
from unroll.types.sewn import StandOff

CUT_ASTRAY_MM = 0.7  # scissors along a chalk line; common practice, no source
SEEDS = (1, 2, 3)
FINER = 0.75


def spread(closing: Closing, cloth: Cloth, *, spacing: float = 8.0) -> Spread:
    """Return what the corrected pieces come to when the assumptions are off.

    Parameters
    ----------
    closing : Closing
    cloth : Cloth
        As they were corrected for.
    spacing : float
        Edge length of the sewn mesh they were corrected on, mm.

    Notes
    -----
    Cloth twice and half as stiff, filling at half and double pressure, three cuttings that stray
    by 0.7 mm, and a finer mesh; each sewn anew from the corrected shape.
    """
    cases: list[tuple[str, tuple[Piece, ...], Cloth, float]] = [
        ("cloth twice as stiff", closing.pieces, _stretched(cloth, 0.5), spacing),
        ("cloth half as stiff", closing.pieces, _stretched(cloth, 2.0), spacing),
        ("filled half as hard", closing.pieces, _filled(cloth, 0.5), spacing),
        ("filled twice as hard", closing.pieces, _filled(cloth, 2.0), spacing),
    ]
    for seed in SEEDS:
        cut = tuple(
            miscut(piece, astray=CUT_ASTRAY_MM, seed=10 * seed + number)
            if piece.name in ("outer", "inner")
            else piece
            for number, piece in enumerate(closing.pieces)
        )
        cases.append((f"cut {CUT_ASTRAY_MM:g} mm astray ({seed})", cut, cloth, spacing))
    cases.append(("meshed finer", closing.pieces, cloth, FINER * spacing))
    rows = tuple(
        _row(name, _sewn(closing, pieces, used, size)) for name, pieces, used, size in cases
    )
    base = _row("as assumed", closing.after)
    return Spread(base, rows, _lines(base, rows, closing))


def _stretched(cloth: Cloth, factor: float) -> Cloth:
    return replace(
        cloth,
        stretch_percent=factor * cloth.stretch_percent,
        bias_stretch_percent=factor * cloth.bias_stretch_percent,
    )


def _filled(cloth: Cloth, factor: float) -> Cloth:
    return replace(cloth, pressure_kpa=factor * cloth.pressure_kpa)


def _sewn(closing: Closing, pieces: tuple[Piece, ...], cloth: Cloth, spacing: float) -> StandOff:
    sewn = sew(pieces, cloth=cloth, spacing=spacing, start=closing.sewn_after)
    return stand_off(sewn, closing.rounded)


def _row(name: str, off: StandOff) -> SpreadRow:
    girth = max((g.off_percent for g in off.girths), key=abs, default=0.0)
    return SpreadRow(
        name,
        girth,
        off.outward_deg,
        off.forward_deg,
        off.swing_deg,
        off.wrist_mm,
        off.cap_mean,
        off.cap_p95,
    )


def _lines(base: SpreadRow, rows: tuple[SpreadRow, ...], closing: Closing) -> tuple[str, ...]:
    def most(kind: str, figure: str) -> float:
        return max(
            abs(float(getattr(row, figure)) - float(getattr(base, figure)))
            for row in rows
            if kind in row.name
        )

    def hang(kind: str) -> float:
        return max(
            float(np.hypot(row.outward_deg - base.outward_deg, row.forward_deg - base.forward_deg))
            for row in rows
            if kind in row.name
        )

    return (
        f"Stiffer or softer cloth, by half and double, moves the girths by up to "
        f"{most('stiff', 'girth_percent'):.1f} % and the hang by {hang('stiff'):.1f}°.",
        f"Filling half or twice as hard moves the girths by up to "
        f"{most('hard', 'girth_percent'):.1f} % and the hang by {hang('hard'):.1f}°.",
        f"Cutting {CUT_ASTRAY_MM:g} mm astray moves the girths by up to "
        f"{most('astray', 'girth_percent'):.1f} %, the hang by {hang('astray'):.1f}° "
        f"and the wrist by {most('astray', 'wrist_mm'):.0f} mm: careful cutting matters more than "
        "any further correction.",
        f"A finer mesh changes the hang by {hang('finer'):.1f}° and the shoulder by "
        f"{most('finer', 'cap_mean'):.1f} mm: read nothing below that out of the figures.",
        f"Filled cloth goes round: {closing.round_mean:.1f} mm over the shoulder on average "
        f"({closing.round_p95:.1f} mm nearly everywhere) is the difference between the measured "
        "arm's oval sections and round ones, and no pattern can remove it.",
    )
