"""An arm's measures as they are filled in: readings first, then what keeps to them."""

from __future__ import annotations

import math

from unroll.nouns import Estimate, Notice
from unroll.nouns.measures import USUAL_RATIOS
from unroll.sheets.plausibility import ArmValues

FINEST = 0.1  # mm; what differs by less is not told
KEPT = "; kept within what the readings leave open"


class Completing:
    """The measures of one arm, filled in one by one; what comes later keeps to what is there.

    Parameters
    ----------
    arm : ArmValues
        Sound readings.

    Attributes
    ----------
    values : dict of str to float
        Readings and estimates so far, mm.
    estimates : list of Estimate
    notices : list of Notice
        Readings that fight each other, and what was taken instead.
    """

    def __init__(self, arm: ArmValues) -> None:
        """Start from what was measured."""
        self.arm = arm
        self.values = {**USUAL_RATIOS, **arm.values}
        self.estimates: list[Estimate] = []
        self.notices: list[Notice] = []

    def __contains__(self, name: str) -> bool:
        """Tell whether the measure is there, measured or estimated."""
        return name in self.values

    def __getitem__(self, name: str) -> float:
        """Return a value, measured or estimated."""
        return self.values[name]

    def fill(
        self, name: str, value: float, source: str, *, least: float = 0.0, most: float = math.inf
    ) -> None:
        """Estimate `name` unless it is there; the limits go before the value, `least` first."""
        if name in self.values:
            return
        kept = max(least, min(value, most))
        self.values[name] = kept
        self.estimates.append(Estimate(name, kept, source + (KEPT if kept != value else "")))

    def weigh(self, name: str, least: float, most: float, why: str) -> None:
        """Take a reading outside its limits at the nearest value that goes, and say so."""
        if name not in self.arm or name not in self.values:
            return
        value = self.values[name]
        kept = max(least, min(value, most))
        self.values[name] = kept
        if abs(kept - value) < FINEST or self.arm.say(kept) == self.arm.say(value):
            return  # nothing that the sheet could show
        self.notices.append(Notice(
            name, f"{name} {self.arm.say(value)} {why}; {self.arm.say(kept)} is taken instead"))
