"""Surplus cloth over the cap, level by level, and the stand-off that it stands for."""

from __future__ import annotations

from unroll.comparing.measuring_pieces import cloth_along, cloth_at_height, net_seam, piece_named
from unroll.comparing.standing_off import chord_stand_off, chord_stand_off_about
from unroll.types import ArmMeasures, LevelSurplus, Piece


def cap_levels(
    pieces: tuple[Piece, ...], measures: ArmMeasures, armhole_half: float
) -> tuple[LevelSurplus, ...]:
    """Return the cloth on each cap level against the measured arc, the cap seam last.

    Parameters
    ----------
    pieces : tuple of Piece
        A pattern with "outer" and "inner"; levels are read where the outer bears lines "cap
        level 1", ... (the flat draft does).
    measures : ArmMeasures
    armhole_half : float
        Length of the armhole's upper half, mm.

    Notes
    -----
    A tape below the armhole's middle also passes over the inner arm's horns beside the armhole:
    their width on that level counts as cloth.
    """
    outer, inner = piece_named(pieces, "outer"), piece_named(pieces, "inner")
    rows = []
    for number, arc in enumerate(sorted(measures.cap_arcs, key=lambda a: a.up), start=1):
        line = outer.lines.get(f"cap level {number}")
        if line is None:
            continue
        cloth = cloth_along(outer, line) + _horns(inner, float(line[0, 1]))
        rows.append(_row(f"cap level {number}", outer.source, arc.up, cloth, arc.length))
    height = measures.armhole.height
    seam = net_seam(outer, "cap seam")
    rows.append(_row("cap seam", outer.source, height, seam, armhole_half))
    return tuple(rows)


def _horns(inner: Piece, height: float) -> float:
    """Return the width of the inner arm beside the armhole on a level, mm."""
    edge = [s.points for s in inner.sides if s.seam == "underarm seam"]
    lowest = min(float(points[:, 1].min()) for points in edge)
    return cloth_at_height(inner, height) if height > lowest else 0.0


def _row(name: str, source: str, up: float, cloth: float, arm: float) -> LevelSurplus:
    """Return one level's row."""
    extra = cloth - arm
    return LevelSurplus(
        name, source, up, cloth, arm, chord_stand_off(arm, extra), chord_stand_off_about(arm, extra)
    )
