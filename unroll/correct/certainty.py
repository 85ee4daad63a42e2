"""How far can the figures be trusted? Sew the corrected pieces again, one thing changed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.correct.unrolling import Tell
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import Cloth, Fit, Piece, PieceSide
from unroll.nouns.corrected import Closing, Spread, SpreadRow
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew

SHORTEST_WAVE_MM = 60.0  # a hand that strays comes back over about a hand's breadth


def miscut(piece: Piece, *, astray: float, seed: int) -> Piece:
    """Return a piece whose stitching line strays by `astray` mm (root mean square).

    The line wanders in and out in waves of a hand's breadth and more; sides still meet.
    """
    outline = piece.outline
    steps = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    at, total = np.concatenate([[0.0], np.cumsum(steps)[:-1]]), float(steps.sum())
    waves = np.arange(1, max(int(total / SHORTEST_WAVE_MM), 1) + 1)
    random = np.random.default_rng(seed)
    phases, sizes = random.uniform(0.0, 2.0 * np.pi, len(waves)), random.normal(size=len(waves))
    angles = 2.0 * np.pi * np.outer(at / total, waves) + phases
    stray = np.sin(angles) @ sizes
    stray *= astray / np.sqrt(np.mean(stray**2))
    return _with_outline(piece, outline + stray[:, None] * _outward(outline))


def grown(piece: Piece, *, by: float) -> Piece:
    """Return a piece whose stitching line lies `by` mm further out all round; darts stay.

    Parameters
    ----------
    by : float
        mm; negative for a smaller piece.
    """
    outline = piece.outline
    names = np.concatenate([[side.seam] * (len(side.points) - 1) for side in piece.sides])
    is_dart = np.array([name.startswith("dart ") for name in names])
    kept = is_dart & np.roll(is_dart, 1)
    # where the outline turns, both its lines move out by the same amount
    normals = _outward(outline)
    lines = _line_normals(outline)
    facing = np.maximum(np.sum(normals * lines, axis=1), 0.5)
    shift = np.where(kept, 0.0, by / facing)
    moved = outline + shift[:, None] * normals
    mouths = is_dart ^ np.roll(is_dart, 1)
    seam_side = np.where(is_dart[:, None], np.roll(lines, 1, axis=0), lines)
    moved[mouths] = outline[mouths] + by * seam_side[mouths]
    return _with_outline(piece, moved)


def _line_normals(outline: FloatArray) -> FloatArray:
    """Return the outward unit normal of the line that starts at each point."""
    way = np.roll(outline, -1, axis=0) - outline
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    return np.asarray(np.column_stack([way[:, 1], -way[:, 0]]))


def _outward(outline: FloatArray) -> FloatArray:
    """Return the outward unit normal at each point of an anticlockwise outline."""
    lines = _line_normals(outline)
    normals = lines + np.roll(lines, 1, axis=0)
    size = np.linalg.norm(normals, axis=1)
    return np.asarray(
        np.where(size[:, None] > 1e-6, normals / np.maximum(size, 1e-6)[:, None], lines)
    )


def _with_outline(piece: Piece, outline: FloatArray) -> Piece:
    closed, start, sides = np.vstack([outline, outline[:1]]), 0, []
    for side in piece.sides:
        stop = start + len(side.points) - 1
        sides.append(PieceSide(side.seam, closed[start : stop + 1]))
        start = stop
    return replace(piece, sides=tuple(sides))


# A word of the cases' names, and what the maker calls their cause; stretch and filling do the same.
CAUSES = (("stiff", "cloth and filling"), ("hard", "cloth and filling"), ("astray", "cutting"))


@dataclass(frozen=True)
class Moved:
    """By how much a cause moves the figures, at most.

    Attributes
    ----------
    girth, hang, wrist, shoulder : float
        Percent, degrees, and mm: what any girth and the hang change by, how far off the
        wrist may then lie, and what the mean over the shoulder changes by.
    """

    girth: float
    hang: float
    wrist: float
    shoulder: float


def moved(base: SpreadRow, rows: Sequence[SpreadRow], kind: str) -> Moved | None:
    """Return what the cases of one kind do; None where none could be sewn.

    Parameters
    ----------
    kind : str
        A word that the names of its cases hold.
    """
    found = [row for row in rows if kind in row.name]
    if not found:
        return None
    return Moved(
        max(
            (
                abs(now - was)
                for row in found
                for now, was in zip(row.girths, base.girths, strict=True)
            ),
            default=0.0,
        ),
        max(
            math.hypot(row.outward_deg - base.outward_deg, row.forward_deg - base.forward_deg)
            for row in found
        ),
        max(row.wrist_mm for row in found),
        max(abs(row.cap_mean - base.cap_mean) for row in found),
    )


def in_sentences(
    base: SpreadRow, rows: Sequence[SpreadRow], apart: tuple[float, float], *, astray: float
) -> tuple[str, ...]:
    """Return a sentence a cause, and what no pattern can remove.

    Parameters
    ----------
    apart : (float, float)
        Mean and 95th percentile of the distance over the cap between the measured arm and the same
        with round sections, mm.
    astray : float
        How far the cuttings stray, mm.
    """
    starts = (
        ("stiff", "Stiffer or softer cloth, by half and double,"),
        ("hard", "Filling half or twice as hard"),
    )
    lines = []
    for kind, start in starts:
        by = moved(base, rows, kind)
        if by is not None:
            lines.append(
                f"{start} moves the girths by up to {by.girth:.1f} % and the hang by up to "
                f"{by.hang:.1f}°."
            )
    lines += _cutting(base, moved(base, rows, "astray"), astray)
    finer = moved(base, rows, "finer")
    if finer is not None:
        lines.append(
            f"Reckoned on a finer mesh, the hang changes by {max(finer.hang, 0.1):.1f}° and the "
            f"shoulder by {max(finer.shoulder, 0.1):.1f} mm or less: read nothing smaller than "
            "that out of the figures."
        )
    mean, most = apart
    return (
        *lines,
        f"Filled cloth goes round: {mean:.1f} mm over the shoulder on average ({most:.1f} mm "
        "nearly everywhere) is the difference between the measured arm's oval sections and round "
        "ones, and no pattern can remove it.",
    )


def _cutting(base: SpreadRow, by: Moved | None, astray: float) -> list[str]:
    if by is None:
        return []
    line = (
        f"Cutting {astray:g} mm astray moves the girths by up to {by.girth:.1f} % and the hang by "
        f"up to {by.hang:.1f}°, and leaves the wrist up to {by.wrist:.0f} mm off "
        f"({base.wrist_mm:.0f} as assumed)"
    )
    if by.girth > abs(base.girth_percent) and by.hang > base.swing_deg:
        line += ": careful cutting matters more than any further correction"
    return [f"{line}."]


def in_one_sentence(base: SpreadRow, rows: Sequence[SpreadRow]) -> str:
    """Return the whole spread in one sentence; empty where no case could be sewn."""
    found = [(by, name) for kind, name in CAUSES if (by := moved(base, rows, kind)) is not None]
    if not found:
        return ""
    girth = max(by.girth for by, _ in found)
    most, cause = max(found, key=lambda pair: pair[0].hang)
    return (
        f"How sure that is: other cloth, filling or cutting moves the girths by up to "
        f"{girth:.1f} % and the hang by up to {most.hang:.1f}° (most of it by {cause})."
    )


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
        return _row(name, fit_of(sewn, closing.rounded))
    except UnrollError:
        return None


def _row(name: str, off: Fit) -> SpreadRow:
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
