"""What was changed, what is reached, and what would help, in a maker's words and numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from unroll.types.corrected import Correction, Intake
from unroll.types.sewn import StandOff

GIRTH_NAMES = {1: "the upper arm", 3: "the elbow", 5: "the forearm"}
LEAST_MM, LEAST_DEG, LEAST_PERCENT = 0.5, 0.2, 0.1  # smaller changes are not worth a line


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


def changes_in_words(
    correction: Correction, intakes: Sequence[Intake], *, ease: float
) -> tuple[str, ...]:
    """Return what was changed against pieces laid flat as the arm is, one line each."""
    lines = [
        _turn(
            correction.outward_rad, "the arm leaves the shoulder {:.1f}° {}", "outward", "inward"
        ),
        _turn(correction.forward_rad, "it hangs {:.1f}° further {}", "forward", "back"),
        _turn(correction.bend_rad, "the elbow is drawn {:.1f}° {}", "more bent", "straighter"),
        _turn(
            correction.twist_rad,
            "the arm is turned {:.1f}° about its length, front {}",
            "outward",
            "inward",
        ),
        _shift(correction.reach, "it stands {:.1f} mm {} the body", "further from", "closer to"),
        _shift(correction.upper, "the upper arm is {:.1f} mm {}", "longer", "shorter"),
        _shift(correction.lower, "the forearm is {:.1f} mm {}", "longer", "shorter"),
        _shift(correction.cap, "the cap is {:.1f} mm {}", "higher", "lower"),
    ]
    for index, name in GIRTH_NAMES.items():
        percent = 100.0 * float(correction.girths[index])
        if abs(percent) >= LEAST_PERCENT:
            way = "slimmer" if percent < 0 else "wider"
            why = ", because filling rounds it out" if percent < 0 else ""
            lines.append(f"{name} is {abs(percent):.1f} % {way} on paper{why}")
    lines += [f"{i.name} takes in {i.width:.0f} mm and is {i.length:.0f} mm long" for i in intakes]
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
            reached.append(f"{name} within {_shown(value)} {unit} (wanted {limit:g})")
        else:
            missed.append(f"{name} {_shown(value)} {unit} off; wanted {limit:g}: {help_}")
    return tuple(reached), tuple(missed)


def _shown(value: float) -> str:
    return f"{value:.2g}" if value < 10.0 else f"{value:.0f}"


def _more_room(intakes: Sequence[Intake]) -> str:
    taken = sum(i.width for i in intakes)
    if not intakes:
        return "add darts; without any the cap's edge cannot take in what its roundness asks"
    return f"the darts take in {taken:.0f} mm; longer darts, another dart or more ease would help"


def _turn(angle_rad: float, text: str, more: str, less: str) -> str:
    degrees = float(np.degrees(angle_rad))
    if abs(degrees) < LEAST_DEG:
        return ""
    return text.format(abs(degrees), more if degrees > 0 else less)


def _shift(mm: float, text: str, more: str, less: str) -> str:
    return "" if abs(mm) < LEAST_MM else text.format(abs(mm), more if mm > 0 else less)
