"""A bench to try changed numbers of a hand draft on: draw, sew, fill, see what it misses."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from unroll.arms.lofting import mesh_arm, rounded_shape
from unroll.drafts.caps import are_intakes_free, drawn_darts
from unroll.drafts.drafting import draft
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.bounded_steps import far_cost
from unroll.nouns import ArmMeasures, ArmMesh, Cloth, Fit, Make, Piece, Sewn
from unroll.nouns.corrected import DraftChange
from unroll.sewn.fitting import fit_of
from unroll.sewn.sewing import sew

Manner = Literal["ease", "darts"]
GIRTHS = ("upper_arm_girth", "elbow_girth", "forearm_girth")
LENGTHS = ("shoulder_to_elbow", "shoulder_to_inner_elbow")
EASED_IN, LENGTH, WEDGE = "eased in", "length to the elbow", "elbow wedge"


@dataclass(frozen=True)
class DraftNumber:
    """One number that may be changed.

    Attributes
    ----------
    name : str
        Field of the sheet; or "eased in" (what the darts leave in the cap seam: their intake),
        "length to the elbow" (back and front alike), "elbow wedge" (the back longer than the
        front: what bends the elbow).
    probe, large, most : float
        Change that shows what it does, one that counts as large, and the most that is made, mm.
    """

    name: str
    probe: float
    large: float
    most: float


@dataclass(frozen=True, eq=False)
class Drawn:
    """What a draft is drawn with.

    Attributes
    ----------
    measures : ArmMeasures
    make : Make
    eased_in : float
        What the darts leave in the cap seam, mm.
    """

    measures: ArmMeasures
    make: Make
    eased_in: float = 0.0


def numbers_for(manner: Manner, make: Make) -> tuple[DraftNumber, ...]:
    """Return the numbers that a draft of one manner can be told.

    Each manner has its own number for the height of its cap. An eased cap has no dart, and what
    the sheet fixes of every dart's intake stays.
    """
    caps = [DraftNumber("cap_ease", 6.0, 15.0, 30.0)]
    if manner == "darts":
        caps = [DraftNumber("cap_height", 4.0, 10.0, 30.0)]
        caps += [DraftNumber(EASED_IN, 4.0, 8.0, 20.0)] if are_intakes_free(make) else []
    return (
        *caps,
        *(DraftNumber(name, 3.0, 6.0, 12.0) for name in GIRTHS),
        DraftNumber(LENGTH, 4.0, 16.0, 48.0),
        DraftNumber(WEDGE, 3.0, 6.0, 12.0),
    )


def drawn_with(drawn: Drawn, changes: Mapping[str, float]) -> Drawn:
    """Return what a draft from changed numbers is drawn with.

    Parameters
    ----------
    changes : mapping of str to float
        By the names of `numbers_for`, mm.
    """
    added = {name: changes.get(name, 0.0) for name in ("cap_height", *GIRTHS)}
    half = 0.5 * changes.get(WEDGE, 0.0)
    for name, sign in zip(LENGTHS, (1.0, -1.0), strict=True):
        added[name] = changes.get(LENGTH, 0.0) + sign * half
    fields = {name: float(getattr(drawn.measures, name)) + by for name, by in added.items()}
    cap_ease = drawn.make.cap_ease + changes.get("cap_ease", 0.0)
    return Drawn(
        replace(drawn.measures, **fields),  # type: ignore[arg-type]
        replace(drawn.make, cap_ease=cap_ease),
        drawn.eased_in + changes.get(EASED_IN, 0.0),
    )


def told(before: Drawn, after: Drawn, manner: Manner) -> tuple[DraftChange, ...]:
    """Return every number as it was and as it is to be drawn with.

    Raises
    ------
    UnrollError
        When no cap can be drawn with them.
    """
    was, now = before.measures, after.measures
    if manner == "ease":
        out = [DraftChange("cap_ease", before.make.cap_ease, after.make.cap_ease)]
    else:
        out = [DraftChange("cap_height", was.cap_height, now.cap_height)]
        out += _intakes(before, after)
    out += [
        DraftChange(name, float(getattr(was, name)), float(getattr(now, name)))
        for name in (*GIRTHS, *LENGTHS)
    ]
    return (*out, DraftChange("elbow_wedge", _wedge(was), _wedge(now)))


def _intakes(before: Drawn, after: Drawn) -> list[DraftChange]:
    darts = (
        drawn_darts(drawn.measures, drawn.make, eased_in=drawn.eased_in)
        for drawn in (before, after)
    )
    return [
        DraftChange(f"dart {number} intake", one.intake or 0.0, other.intake or 0.0)
        for number, (one, other) in enumerate(zip(*darts, strict=True), start=1)
    ]


def _wedge(measures: ArmMeasures) -> float:
    return measures.shoulder_to_elbow - measures.shoulder_to_inner_elbow


WANTED_EDGE_MM = 8.0
SEWN_TOGETHER = ("outer", "inner", "armhole base", "wrist base")
# What is let pass; the hang's two parts together, and the cap, as of corrected pieces.
GIRTH_PERCENT, HANG_DEG, BEND_DEG, LENGTH_MM, CAP_MM, CAP_P95_MM = 0.3, 0.5, 2.0, 2.0, 1.5, 4.0
LONGER_MM = 1.0  # an eased cap's seam is far too long as it is: it is hardly made longer


@dataclass(frozen=True, eq=False)
class DrawnTry:
    """A draft that was sewn and filled.

    Attributes
    ----------
    changes : (k,) float
        Of the numbers, mm.
    pieces : tuple of Piece
        All five.
    sewn : Sewn
    fit : Fit
    miss : (m,) float
        Each over what is let pass.
    surplus : float
        Cap seam less armhole, mm.
    """

    changes: FloatArray
    pieces: tuple[Piece, ...]
    sewn: Sewn
    fit: Fit
    miss: FloatArray
    surplus: float

    @property
    def cost(self) -> float:
        """Sum of the misses, squared near by and by their size far fit."""
        return far_cost(self.miss)


@dataclass(frozen=True, eq=False)
class DraftBench:
    """What changes of a draft's numbers are tried on.

    Attributes
    ----------
    draw : callable
        Returns the left arm's pieces drawn with changes of the numbers, by name, mm.
    cloth : Cloth
    manner : {"ease", "darts"}
    spacing : float
        Edge length of the sewn mesh, mm.
    wanted : ArmMesh
        The measured arm with round sections.
    numbers : tuple of DraftNumber
    surplus : float
        Of the unchanged draft: cap seam less armhole, mm.
    """

    draw: Callable[[Mapping[str, float]], tuple[Piece, ...]]
    cloth: Cloth
    manner: Manner
    spacing: float
    wanted: ArmMesh
    numbers: tuple[DraftNumber, ...]
    surplus: float

    def named(self, changes: FloatArray) -> dict[str, float]:
        """Return the changes by the names of the numbers, mm."""
        return dict(zip((n.name for n in self.numbers), changes.tolist(), strict=True))

    def attempt(self, changes: FloatArray, near: DrawnTry | None = None) -> DrawnTry:
        """Draw, sew and fill.

        Raises
        ------
        UnrollError
            When the draft cannot be drawn or sewn from these numbers.
        """
        pieces = self.draw(self.named(changes))
        together = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
        start = None if near is None else near.sewn
        sewn = sew(
            together, cloth=self.cloth, spacing=self.spacing, start=start, up=self.wanted.up
        )
        fit, surplus = fit_of(sewn, self.wanted), cap_surplus(pieces)
        miss = np.append(_weighed(fit), self._seam(pieces))
        return DrawnTry(changes, pieces, sewn, fit, miss, surplus)

    def slopes(self, here: DrawnTry) -> FloatArray:
        """Return how the misses follow each number, (m, k); one that cannot be changed: not."""
        columns = [self._slope(here, index) for index in range(len(self.numbers))]
        return np.column_stack(columns)

    def _slope(self, here: DrawnTry, index: int) -> FloatArray:
        for share in (1.0, -1.0, 0.4, -0.4):
            step = share * self.numbers[index].probe
            tried = here.changes.copy()
            tried[index] += step
            try:
                return (self.attempt(tried, here).miss - here.miss) / step
            except UnrollError:
                continue
        return np.zeros(len(here.miss))

    def _seam(self, pieces: Sequence[Piece]) -> float:
        """Return how ill the cap seam fits the armhole, over what is let pass.

        Darts leave what the cloth eases in; an eased cap is far beyond, and is not to grow.
        """
        surplus = cap_surplus(pieces)
        if self.manner == "ease":
            return (surplus - self.surplus) / LONGER_MM
        armhole = _cap_seam(pieces, "armhole base")
        least, most = (0.01 * share * armhole for share in self.cloth.eases_percent)
        return (surplus - 0.5 * (least + most)) / max(0.5 * (most - least), 0.5)


def draft_bench(
    measures: ArmMeasures, make: Make, cloth: Cloth, manner: Manner, *, spacing: float
) -> DraftBench:
    """Return a bench for one arm's draft; of a right arm its mirror image is worked on."""
    plain = Drawn(replace(measures, side="left"), make)

    def draw(changes: Mapping[str, float]) -> tuple[Piece, ...]:
        return pieces_of_draft(drawn_with(plain, changes), manner)

    surplus = cap_surplus(draw({}))  # what cannot be drawn is told first
    numbers = numbers_for(manner, make)
    return DraftBench(draw, cloth, manner, spacing, wanted_arm(measures), numbers, surplus)


def wanted_arm(measures: ArmMeasures) -> ArmMesh:
    """Return the left arm that is aimed at, with round sections."""
    return mesh_arm(rounded_shape(measures), edge=WANTED_EDGE_MM)


def pieces_of_draft(drawn: Drawn, manner: Manner) -> tuple[Piece, ...]:
    """Return the five pieces of a draft."""
    return draft(drawn.measures, drawn.make, manner=manner, eased_in=drawn.eased_in)


def cap_surplus(pieces: Sequence[Piece]) -> float:
    """Return by how much the cap seam is longer than the armhole's edge, mm."""
    return _cap_seam(pieces, "outer") - _cap_seam(pieces, "armhole base")


def _cap_seam(pieces: Sequence[Piece], name: str) -> float:
    return next(piece for piece in pieces if piece.name == name).seam_length("cap seam")


def _weighed(fit: Fit) -> FloatArray:
    girths = [girth.off_percent / GIRTH_PERCENT for girth in fit.girths if girth.name != "wrist"]
    return np.array(
        [
            *girths,
            fit.outward_deg / HANG_DEG,
            fit.forward_deg / HANG_DEG,
            (fit.bend_sewn_deg - fit.bend_asked_deg) / BEND_DEG,
            (fit.length_sewn - fit.length_asked) / LENGTH_MM,
            fit.cap_mean / CAP_MM,
            fit.cap_p95 / CAP_P95_MM,
        ]
    )
