"""Rows that a report shows: a measure taped, a seam walked."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class TapeRow:
    """One measure, asked and as the tape finds it on the finished mesh.

    Attributes
    ----------
    name : str
        Field name of the sheet ("cap_arc 1" for the first cap arc).
    asked_mm, got_mm : float
    note : str
        Why it gave, and which measure it fights; "" when it came back.
    """

    name: str
    asked_mm: float
    got_mm: float
    note: str = ""


@dataclass(frozen=True)
class SeamRow:
    """Two stitching lines that are sewn together, walked.

    Attributes
    ----------
    name : str
        Seam name.
    source : str
        Source of the pieces.
    lengths_mm : tuple of float
        The two lengths.
    ease_percent : float
        Surplus of the first over the second, percent of the second.
    verdict : str
        Plain words.
    """

    name: str
    source: str
    lengths_mm: tuple[float, float]
    ease_percent: float
    verdict: str = ""

    @property
    def mismatch_mm(self) -> float:
        """First length less the second, mm."""
        return self.lengths_mm[0] - self.lengths_mm[1]
