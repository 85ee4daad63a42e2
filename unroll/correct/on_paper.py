"""What a correction changes on paper, in numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns import Flattening
from unroll.nouns.corrected import Intake, PaperChange

WIDTHS = {
    "upper arm width": "upper arm line",
    "elbow width": "elbow line",
    "forearm width": "forearm line",
}


def changes_on_paper(
    before: Sequence[Flattening],
    after: Sequence[Flattening],
    intakes: tuple[Sequence[Intake], Sequence[Intake]],
) -> tuple[PaperChange, ...]:
    """Return measures of the flat panels before and after correction.

    Parameters
    ----------
    before, after : sequence of Flattening
        Outer and inner panel, grain upright.
    intakes : (sequence of Intake, sequence of Intake)
        Of the darts, before and after.
    """
    one, other = _measures(before), _measures(after)
    darts = [
        PaperChange(f"{a.name} intake", a.width, b.width) for a, b in zip(*intakes, strict=True)
    ]
    return (*(PaperChange(name, one[name], other[name]) for name in one), *darts)


def _measures(panels: Sequence[Flattening]) -> dict[str, float]:
    outer, inner = panels
    out = {
        "cap height": _cap_height(outer),
        "outer middle": _length(_line(outer, "grain")),
        "inner middle": _length(_line(inner, "grain")),
    }
    for seam in ("front seam", "back seam"):
        out[seam] = sum(
            _length(outer.points[side.path]) for side in outer.panel.sides if side.seam == seam
        )
    for name, line in WIDTHS.items():
        if line in outer.panel.traces and line in inner.panel.traces:
            out[name] = _length(_line(outer, line)) + _length(_line(inner, line))
    return out


def _cap_height(outer: Flattening) -> float:
    """Return how far the cap's top lies above the middle of the underarm line."""
    top = max(
        float(outer.points[side.path, 1].max())
        for side in outer.panel.sides
        if side.seam == "cap seam"
    )
    line = _line(outer, "underarm line")
    middle = line[int(np.argmin(np.abs(line[:, 0])))]
    return top - float(middle[1])


def _line(flattening: Flattening, name: str) -> FloatArray:
    return flattening.panel.traces[name].on(flattening.points, flattening.panel.mesh.faces)


def _length(line: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
