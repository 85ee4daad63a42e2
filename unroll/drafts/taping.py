"""A tape on the flat draft: what each measure of the sheet comes to on paper."""

from __future__ import annotations

import numpy as np

from unroll.drafts.comparing import (
    armhole_half,
    cap_height,
    cap_levels,
    cloth_along,
    net_seam,
    piece_named,
)
from unroll.nouns import ArmMeasures, Piece, TapeRow
from unroll.units import Unit, format_small

GIRTHS = ("upper_arm_girth", "elbow_girth", "forearm_girth")


def tape_draft(
    pieces: tuple[Piece, ...], measures: ArmMeasures, *, unit: Unit = "mm"
) -> tuple[TapeRow, ...]:
    """Measure a flat draft with the tape: girths, cap arcs, cap height, lengths.

    Parameters
    ----------
    pieces : tuple of Piece
        "outer", "inner", "armhole base" and "wrist base" of one draft.
    measures : ArmMeasures
    unit : {"in", "cm", "mm"}
        Of the notes.

    Raises
    ------
    UnrollError
        When one of the four pieces is missing.
    """
    outer, inner = piece_named(pieces, "outer"), piece_named(pieces, "inner")
    rows = []
    for name in GIRTHS:
        line = f"{name.removesuffix('_girth').replace('_', ' ')} line"
        got = sum(cloth_along(piece, piece.lines[line]) for piece in (outer, inner))
        rows.append(TapeRow(name, getattr(measures, name), got))
    wrist = net_seam(outer, "outer wrist") + net_seam(inner, "inner wrist")
    rows.append(TapeRow("wrist_girth", measures.wrist_girth, wrist))
    rows.extend(_plates(pieces, measures))
    half = armhole_half(pieces, (), measures)
    levels = [x for x in cap_levels(pieces, measures, half) if x.name != "cap seam"]
    rows.extend(
        TapeRow(x.name.replace("level", "arc"), x.arm_mm, x.cloth_mm,
                "" if abs(x.surplus_mm) < 0.5 else _too(x.surplus_mm, unit))
        for x in levels
    )
    rows.extend(_lengths(outer, inner, measures, unit))
    return tuple(rows)


def _too(surplus: float, unit: Unit) -> str:
    """Return a surplus in words."""
    too = "much" if surplus > 0 else "little"
    return f"{format_small(abs(surplus), unit)} of cloth too {too}"


def _plates(pieces: tuple[Piece, ...], measures: ArmMeasures) -> list[TapeRow]:
    """Measure the two end plates around and across."""
    hole, wrist = piece_named(pieces, "armhole base"), piece_named(pieces, "wrist base")
    rows = []
    for name, piece, width, height, girth in (
        ("armhole", hole, measures.armhole.width, measures.armhole.height, measures.armhole.girth),
        ("wrist base", wrist, measures.wrist_width, measures.wrist_depth, measures.wrist_girth),
    ):
        across = np.ptp(piece.outline, axis=0)
        around = sum(side.length for side in piece.sides)
        rows += [
            TapeRow(f"{name} width", width, float(across[0])),
            TapeRow(f"{name} height" if name == "armhole" else f"{name} depth", height,
                    float(across[1])),
            TapeRow(f"{name} girth", girth, around),
        ]
    return rows


def _lengths(
    outer: Piece, inner: Piece, measures: ArmMeasures, unit: Unit
) -> list[TapeRow]:
    """Measure the cap's height and the lengths to elbow and wrist."""
    top = max(float(s.points[:, 1].max()) for s in outer.sides if s.seam == "cap seam")
    corners = inner.sides[[s.seam for s in inner.sides].index("underarm seam")].points
    half = 0.5 * float(np.ptp(corners[:, 0]))
    back, front = sorted(inner.lines["elbow line"][[0, -1]], key=lambda p: p[1])
    slope = (front - back) / np.linalg.norm(front - back)
    middle = 0.5 * (front + back)
    reach = half / abs(slope[0])
    low, high = (middle[1] - reach * slope[1], middle[1] + reach * slope[1])
    down = np.array([slope[1], -slope[0]]) if slope[0] > 0 else np.array([-slope[1], slope[0]])
    wrist = inner.sides[[s.seam for s in inner.sides].index("inner wrist")].points
    how, rises = format_small(abs(top), unit), "rises" if top > 0 else "stays"
    where = "above" if top > 0 else "below"
    note = f"the cap {rises} {how} {where} the shoulder level" if abs(top) > 0.5 else ""
    return [
        TapeRow("cap_height", measures.cap_height, cap_height(outer)),
        TapeRow("shoulder_to_elbow", measures.shoulder_to_elbow, top - float(low), note),
        TapeRow("shoulder_to_inner_elbow", measures.shoulder_to_inner_elbow, top - float(high),
                note),
        TapeRow("inner_elbow_to_wrist", measures.inner_elbow_to_wrist,
                float((0.5 * (wrist[0] + wrist[-1]) - middle) @ down)),
    ]
