"""What was changed, what is reached, and what would help, in a maker's words and numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.nouns import Flattening, StandOff
from unroll.nouns.corrected import Intake, Miss, PaperChange

PAPER_WIDTHS = {
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
    for name, line in PAPER_WIDTHS.items():
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
    return polylines.length(line)


WIDTHS = {
    "the upper arm": "upper arm width",
    "the elbow": "elbow width",
    "the forearm": "forearm width",
}
SHIFTS = (
    ("cap height", "the cap is {:.1f} mm {}", "higher", "lower"),
    ("outer middle", "the outer piece is {:.1f} mm {} down its middle", "longer", "shorter"),
    ("inner middle", "the inner piece is {:.1f} mm {} down its middle", "longer", "shorter"),
    ("front seam", "the front seam is {:.1f} mm {}", "longer", "shorter"),
    ("back seam", "the back seam is {:.1f} mm {}", "longer", "shorter"),
)
LEAST_MM, LEAST_PERCENT = 0.5, 0.1  # smaller changes are not worth a line


@dataclass(frozen=True)
class Targets:
    """What corrected pieces are to reach.

    Attributes
    ----------
    girth_percent, swing_deg, wrist_mm : float
    cap_mean, cap_p95 : float
        Distance over the cap from the arm with round sections, mm.
    """

    girth_percent: float = 0.3
    swing_deg: float = 0.5
    wrist_mm: float = 3.0
    cap_mean: float = 1.5
    cap_p95: float = 4.0


def targets_for(darts: int) -> Targets:
    """Return the targets for a number of darts: four can follow the shoulder closer than two."""
    return Targets(cap_mean=1.1, cap_p95=2.6) if darts >= 4 else Targets()


def shares(seen: StandOff | Miss, targets: Targets) -> tuple[float, ...]:
    """Return the promised figures, each over its limit: girth, hang, wrist, cap mean and p95."""
    if isinstance(seen, Miss):
        girth = seen.worst_girth_percent
    else:
        girth = max((abs(g.off_percent) for g in seen.girths), default=0.0)
    return (
        girth / targets.girth_percent,
        seen.swing_deg / targets.swing_deg,
        seen.wrist_mm / targets.wrist_mm,
        seen.cap_mean / targets.cap_mean,
        seen.cap_p95 / targets.cap_p95,
    )


def shortfall(seen: StandOff | Miss, targets: Targets) -> float:
    """Return the sum of squares of the promised figures, each over its limit."""
    return sum(share * share for share in shares(seen, targets))


def changes_in_words(
    changes: Sequence[PaperChange], intakes: Sequence[Intake], *, ease: float
) -> tuple[str, ...]:
    """Return what was changed against pieces laid flat as the arm is, one line each."""
    by_name = {change.name: change for change in changes}
    lines = [
        _shift(by_name[name], text, more, less)
        for name, text, more, less in SHIFTS
        if name in by_name
    ]
    for name, width in WIDTHS.items():
        if width not in by_name:
            continue
        percent = 100.0 * (by_name[width].after / by_name[width].before - 1.0)
        if abs(percent) >= LEAST_PERCENT:
            way = "slimmer" if percent < 0 else "wider"
            why = ", because filling rounds it out" if percent < 0 else ""
            lines.append(f"{name} is {abs(percent):.1f} % {way} on paper{why}")
    for intake in intakes:
        before = by_name[f"{intake.name} intake"].before
        lines.append(
            f"{intake.name} takes in {intake.width:.0f} mm ({before:.0f} before) and is "
            f"{intake.length:.0f} mm long"
        )
    lines.append(f"the cap seam has {ease:.0f} mm of ease")
    return tuple(line for line in lines if line)


def verdicts(
    off: StandOff, intakes: Sequence[Intake], targets: Targets
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what is reached, and what is not with what would help, one line each."""
    girth = max((abs(g.off_percent) for g in off.girths), default=0.0)
    found = (
        ("girths", girth, targets.girth_percent, "%", "measure again where they disagree"),
        ("hang", off.swing_deg, targets.swing_deg, "°", _more_room(intakes)),
        ("wrist", off.wrist_mm, targets.wrist_mm, "mm", _more_room(intakes)),
        ("shoulder on average", off.cap_mean, targets.cap_mean, "mm", _more_room(intakes)),
        ("shoulder nearly everywhere", off.cap_p95, targets.cap_p95, "mm", _more_room(intakes)),
    )
    reached, missed = [], []
    for name, value, limit, unit, help_ in found:
        if value <= limit:
            reached.append(f"{name} within {_shown(value)}{_unit(unit)} (wanted {limit:g})")
        else:
            missed.append(f"{name} {_shown(value)}{_unit(unit)} off; wanted {limit:g}: {help_}")
    return tuple(reached), tuple(missed)


def _unit(unit: str) -> str:
    return unit if unit == "°" else f" {unit}"


def _shown(value: float) -> str:
    return f"{value:.2g}" if value < 10.0 else f"{value:.0f}"


def _more_room(intakes: Sequence[Intake]) -> str:
    taken = sum(i.width for i in intakes)
    if not intakes:
        return "add darts; without any the cap's edge cannot take in what its roundness asks"
    return f"the darts take in {taken:.0f} mm; longer darts, another dart or more ease would help"


def _shift(change: PaperChange, text: str, more: str, less: str) -> str:
    by = change.after - change.before
    return "" if abs(by) < LEAST_MM else text.format(abs(by), more if by > 0 else less)
