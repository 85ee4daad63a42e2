"""How far can the figures be trusted? Sew the corrected pieces again, one thing changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import Case, Certainty, Cloth, Laid, Piece, PieceSide
from unroll.sewn.fitting import fit_of
from unroll.sewn.joining import Joined
from unroll.sewn.sewing import as_joined, joined_again, refilled
from unroll.workers import Each

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


CUT_ASTRAY_MM = 0.7  # scissors along a chalk line; common practice, no source
SEEDS = (1, 2, 3)
SPACING_MM, FINER = 8.0, 0.75
STRAYING = ("outer", "inner")
CARD = ("armhole base", "wrist base")

BESIDE_MM = 1.0  # sewn beside the line by a beginner; common practice, no source


@dataclass(frozen=True, eq=False)
class Resewing:
    """The pieces to cut, to be sewn again with one thing changed.

    Attributes
    ----------
    name, cause : str
        As `Case` has them.
    laid : Laid
        The pieces as they are.
    cloth : Cloth
    pieces : tuple of Piece
        The pieces as they are cut this time.
    spacing : float or None
        Edge length of a new mesh, mm; None for the mesh as it was.
    """

    name: str
    cause: str
    laid: Laid
    cloth: Cloth
    pieces: tuple[Piece, ...]
    spacing: float | None = None

    def case(self) -> Case | None:
        """Sew, fill and measure; None where it cannot be sewn, or measured then."""
        try:
            sewn = refilled(
                self._joined(), cloth=self.cloth, start=self.laid.sewn, up=self.laid.wanted.up
            )
            return Case(self.name, self.cause, fit_of(sewn, self.laid.wanted))
        except UnrollError:
            return None

    def _joined(self) -> Joined:
        if self.spacing is None:
            return as_joined(self.laid.sewn, self.pieces)
        return joined_again(self.pieces, cloth=self.cloth, spacing=self.spacing)


def certainty_of(
    laid: Laid, cloth: Cloth, *, spacing: float = SPACING_MM, each: Each = map
) -> Certainty:
    """Return what pieces come to when the assumptions are off.

    Parameters
    ----------
    laid : Laid
        The pieces to cut.
    cloth : Cloth
        As they were made for.
    spacing : float
        Edge length of the sewn mesh they were made on, mm.
    each : callable
        Sews the cases, which do not know of each other: `map`, or the like on other cores.

    Notes
    -----
    Cloth twice and half as stiff, filling at half and double pressure, no weight and twice the
    weight, sewn 1 mm inside and outside the line, three cuttings that stray by 0.7 mm, and a
    finer mesh; each filled anew from the shape as assumed. A case that cannot be sewn is left out.
    """
    return certainty_from(laid, each(Resewing.case, resewings(laid, cloth, spacing=spacing)))


def certainty_from(laid: Laid, cases: Iterable[Case | None]) -> Certainty:
    """Return what pieces come to, given every case of `resewings` in order."""
    found = tuple(case for case in cases if case is not None)
    return Certainty(Case("as assumed", "none", laid.fit), found, CUT_ASTRAY_MM)


def resewings(laid: Laid, cloth: Cloth, *, spacing: float = SPACING_MM) -> tuple[Resewing, ...]:
    """Return the pieces to be sewn again in every way; the last, on a finer mesh, takes longest."""
    cloths = (
        ("cloth twice as stiff", "stiffness", stretched(cloth, 0.5)),
        ("cloth half as stiff", "stiffness", stretched(cloth, 2.0)),
        ("filled half as hard", "filling", _filled(cloth, 0.5)),
        ("filled twice as hard", "filling", _filled(cloth, 2.0)),
        ("as if nothing weighed", "weight", _weighing(cloth, 0.0)),
        ("all twice as heavy", "weight", _weighing(cloth, 2.0)),
    )
    as_cut = [Resewing(name, cause, laid, other, laid.pieces) for name, cause, other in cloths]
    beside = [
        Resewing(
            f"sewn {BESIDE_MM:g} mm {way} the line", "sewing", laid, cloth,
            resized(laid.pieces, by), spacing,
        )
        for way, by in (("inside", -BESIDE_MM), ("outside", BESIDE_MM))
    ]  # fmt: skip
    astray = [
        Resewing(
            f"cut {CUT_ASTRAY_MM:g} mm astray ({seed})", "cutting", laid, cloth,
            _astray(laid.pieces, seed), spacing,
        )
        for seed in SEEDS
    ]  # fmt: skip
    finer = Resewing("on a finer mesh", "mesh", laid, cloth, laid.pieces, FINER * spacing)
    return (*as_cut, *beside, *astray, finer)


def _astray(pieces: Sequence[Piece], seed: int) -> tuple[Piece, ...]:
    return tuple(
        miscut(piece, astray=CUT_ASTRAY_MM, seed=10 * seed + number)
        if piece.name in STRAYING
        else piece
        for number, piece in enumerate(pieces)
    )


def stretched(cloth: Cloth, factor: float) -> Cloth:
    """Return a cloth that stretches so many times as far."""
    return replace(
        cloth,
        stretch_percent=factor * cloth.stretch_percent,
        bias_stretch_percent=factor * cloth.bias_stretch_percent,
    )


def _weighing(cloth: Cloth, factor: float) -> Cloth:
    """Return the cloth with itself and its filling so many times as heavy."""
    return replace(
        cloth, filling_g_per_litre=factor * cloth.filling_g_per_litre,
        weighs_g_per_m2=factor * cloth.weighs_g_per_m2,
    )  # fmt: skip


def resized(pieces: Sequence[Piece], by: float) -> tuple[Piece, ...]:
    """Return the pieces sewn `by` mm outside their lines; card ends keep their size."""
    return tuple(piece if piece.name in CARD else grown(piece, by=by) for piece in pieces)


def _filled(cloth: Cloth, factor: float) -> Cloth:
    return replace(cloth, pressure_kpa=factor * cloth.pressure_kpa)
