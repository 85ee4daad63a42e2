"""How far figures can be trusted: the pieces sewn otherwise, the readings taken otherwise."""

from __future__ import annotations

from dataclasses import dataclass

from unroll.nouns.fit import Fit


@dataclass(frozen=True)
class Slip:
    """What one reading moves when it is off by what readings usually are.

    The pieces follow the sheet, so the arm sewn from them follows the slip. The attributes that
    `FIGURES` reads are those of a `Fit`.

    Attributes
    ----------
    name : str
        Field of the sheet; "cap_arcs" stands for all of them together.
    by : float
        The usual error, mm.
    is_guess : bool
        Whether nobody took the reading: a guess is off by more.
    worst_girth_percent, swing_deg, elbow_mm, wrist_mm, cap_mean, cap_p95 : float
        How far it moves each.
    """

    name: str
    by: float
    is_guess: bool
    worst_girth_percent: float
    swing_deg: float
    elbow_mm: float
    wrist_mm: float
    cap_mean: float
    cap_p95: float

    @property
    def moves(self) -> float:
        """How far elbow, wrist or shoulder are carried at most, mm."""
        return max(self.elbow_mm, self.wrist_mm, self.cap_p95)


@dataclass(frozen=True, eq=False)
class Case:
    """The pieces to cut, sewn again with one thing not as assumed.

    Attributes
    ----------
    name : str
        In plain words: "cloth half as stiff", "cut 0.7 mm astray (1)", ...
    cause : str
        What such cases have in common: "stiffness", "filling", "weight", "sewing", "cutting",
        "mesh".
    fit : Fit
    """

    name: str
    cause: str
    fit: Fit


@dataclass(frozen=True, eq=False)
class Certainty:
    """How far the figures of the pieces to cut can be trusted.

    Attributes
    ----------
    base : Case
        As assumed.
    cases : tuple of Case
    astray : float
        How far the cuttings stray, mm.
    """

    base: Case
    cases: tuple[Case, ...]
    astray: float

    @property
    def causes(self) -> tuple[str, ...]:
        """What was varied, in order."""
        return tuple(dict.fromkeys(case.cause for case in self.cases))

    def of(self, cause: str) -> tuple[Case, ...]:
        """Return the cases of one cause."""
        return tuple(case for case in self.cases if case.cause == cause)
