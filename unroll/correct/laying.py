"""Panels laid flat for the bench: the ease of the cap, mouths that the sheet fixes, overlaps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from unroll.errors import UnrollError
from unroll.flat.flattening import flatten
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.mesh_checks import overlap_area
from unroll.nouns import ArmMesh, Cloth, Flattening, Make, Panel

OVERLAP_MM2 = 1e-3  # cloth that may lie double: what rounding leaves at a closed dart


def laid_flat(
    arm: ArmMesh,
    panels: tuple[Panel, ...],
    make: Make,
    ease: float,
    *,
    inner_flat: Flattening | None = None,
) -> tuple[tuple[Flattening, ...], float]:
    """Return the panels laid flat, and the ease that the cap seam then has.

    What a mouth that the sheet fixes takes in less than the cap asks for becomes ease.

    Parameters
    ----------
    inner_flat : Flattening, optional
        The inner panel laid flat, where it was before: no dart changes it.
    """
    outer, inner = panels
    length = path_length(arm, "cap seam")
    laid = flatten(outer, energy=make.weave, lengths={"cap seam": length + ease})
    intakes = mouth_intakes(laid)
    mouths = fixed_mouths(make, len(intakes))
    if mouths:
        asked = {f"dart {k}": intake for k, intake in enumerate(intakes, start=1)}
        ease += max(0.0, sum(asked[name] - width for name, width in mouths.items()))
        lengths = {"cap seam": length + ease}
        laid = flatten(outer, energy=make.weave, lengths=lengths, mouths=mouths, start=laid.points)
    if inner_flat is None:
        inner_flat = flatten(inner, energy=make.weave)
    return (laid, replace(inner_flat, panel=inner)), ease


def mouth_intakes(flattening: Flattening) -> tuple[float, ...]:
    """Return the width of each dart's open mouth on the flat piece, "dart 1" first, mm."""
    legs: dict[str, list[FloatArray]] = {}
    for side in flattening.panel.sides:
        if side.seam.startswith("dart "):
            legs.setdefault(side.seam, []).append(flattening.points[side.path])
    return tuple(
        float(np.linalg.norm(legs[name][0][0] - legs[name][1][-1]))
        for name in sorted(legs, key=lambda name: int(name.split()[1]))
    )


def fixed_mouths(make: Make, count: int) -> Mapping[str, float]:
    """Return the mouths that the sheet fixes, by dart, mm."""
    return {
        f"dart {number}": choice.intake
        for number, choice in enumerate(make.darts[:count], start=1)
        if choice.intake is not None
    }


def check_apart(flattening: Flattening) -> None:
    """Refuse a piece that covers the same cloth twice."""
    loop = np.concatenate([side.path[:-1] for side in flattening.panel.sides])
    overlap = overlap_area(flattening.points[loop])
    if overlap > OVERLAP_MM2:
        raise UnrollError(
            f"{flattening.panel.name}: the changed piece covers {overlap:.0f} mm² of cloth twice; "
            "expected none (a dart that closes before its point?)"
        )


def usual_ease(cloth: Cloth, arm: ArmMesh) -> float:
    """Return what the cloth eases into the cap seam without puckers, mm."""
    low, high = cloth.eases_percent
    return 0.005 * (low + high) * path_length(arm, "cap seam")


def path_length(arm: ArmMesh, name: str) -> float:
    """Return the length of one of the arm's lines, mm."""
    line = arm.mesh.vertices[arm.paths[name]]
    return polylines.length(line)
