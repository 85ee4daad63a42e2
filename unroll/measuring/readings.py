"""Repeated readings of one measure: which value wins, and how far they lie apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median, multimode

SPREAD_WARNING_PERCENT = 3.0  # house rule: above it, one of the readings is likely a slip


@dataclass(frozen=True)
class Reading:
    """One measure, read once or more.

    Attributes
    ----------
    mm : float
        The value that wins, mm.
    readings : tuple of float
        As given, mm.
    """

    mm: float
    readings: tuple[float, ...]

    @property
    def spread(self) -> float:
        """Largest less smallest reading, mm."""
        return max(self.readings) - min(self.readings)

    @property
    def spread_percent(self) -> float:
        """Spread, percent of the value that wins."""
        return 100.0 * self.spread / self.mm if self.mm > 0 else 0.0


def reading_of(readings: Sequence[float]) -> Reading:
    """Return the reading that wins: the most frequent, else the median.

    Parameters
    ----------
    readings : sequence of float
        One or more values, mm. Values within 0.01 mm count as the same.

    Examples
    --------
    >>> reading_of([350.0, 352.0, 352.0]).mm, reading_of([350.0, 352.0, 355.0]).mm
    (352.0, 352.0)
    >>> reading_of([350.0, 350.0, 352.0, 352.0]).mm
    351.0
    """
    rounded = [round(value, 2) for value in readings]
    modes = multimode(rounded)
    if len(modes) == 1:
        return Reading(readings[rounded.index(modes[0])], tuple(readings))
    return Reading(float(median(readings)), tuple(readings))
