"""A bench to try changed numbers of a hand draft on: draw, sew, fill, see what it misses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.drafting import draft
from unroll.errors import UnrollError
from unroll.geometry.bounded_steps import far_cost
from unroll.lofting import mesh_arm
from unroll.pipeline.correction_bench import rounded_shape
from unroll.pipeline.draft_numbers import (
    DraftNumber,
    Drawn,
    Manner,
    drawn_with,
    numbers_for,
)
from unroll.sewing import sew
from unroll.standing_off import stand_off
from unroll.types import ArmMeasures, ArmMesh, Cloth, FloatArray, Make, Piece
from unroll.types.sewn import Sewn, StandOff

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
    off : StandOff
    miss : (m,) float
        Each over what is let pass.
    surplus : float
        Cap seam less armhole, mm.
    """

    changes: FloatArray
    pieces: tuple[Piece, ...]
    sewn: Sewn
    off: StandOff
    miss: FloatArray
    surplus: float

    @property
    def cost(self) -> float:
        """Sum of the misses, squared near by and by their size far off."""
        return far_cost(self.miss)


@dataclass(frozen=True, eq=False)
class DraftBench:
    """What changes of a draft's numbers are tried on.

    Attributes
    ----------
    plain : Drawn
        The left arm's numbers as measured.
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

    plain: Drawn
    cloth: Cloth
    manner: Manner
    spacing: float
    wanted: ArmMesh
    numbers: tuple[DraftNumber, ...]
    surplus: float

    def drawn(self, changes: FloatArray) -> Drawn:
        """Return what a draft from changed numbers is drawn with."""
        named = dict(zip((n.name for n in self.numbers), changes.tolist(), strict=True))
        return drawn_with(self.plain, named)

    def attempt(self, changes: FloatArray, near: DrawnTry | None = None) -> DrawnTry:
        """Draw, sew and fill.

        Raises
        ------
        UnrollError
            When the draft cannot be drawn or sewn from these numbers.
        """
        pieces = pieces_of_draft(self.drawn(changes), self.manner)
        together = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
        start = None if near is None else near.sewn
        sewn = sew(together, cloth=self.cloth, spacing=self.spacing, start=start)
        off, surplus = stand_off(sewn, self.wanted), cap_surplus(pieces)
        miss = np.append(_weighed(off), self._seam(pieces))
        return DrawnTry(changes, pieces, sewn, off, miss, surplus)

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
    surplus = cap_surplus(pieces_of_draft(plain, manner))  # what cannot be drawn is told first
    wanted = mesh_arm(rounded_shape(measures), edge=WANTED_EDGE_MM)
    numbers = numbers_for(manner, make)
    return DraftBench(plain, cloth, manner, spacing, wanted, numbers, surplus)


def pieces_of_draft(drawn: Drawn, manner: Manner) -> tuple[Piece, ...]:
    """Return the five pieces of a draft."""
    return draft(drawn.measures, drawn.make, manner=manner, eased_in=drawn.eased_in)


def cap_surplus(pieces: Sequence[Piece]) -> float:
    """Return by how much the cap seam is longer than the armhole's edge, mm."""
    return _cap_seam(pieces, "outer") - _cap_seam(pieces, "armhole base")


def _cap_seam(pieces: Sequence[Piece], name: str) -> float:
    return next(piece for piece in pieces if piece.name == name).seam_length("cap seam")


def _weighed(off: StandOff) -> FloatArray:
    girths = [girth.off_percent / GIRTH_PERCENT for girth in off.girths if girth.name != "wrist"]
    return np.array(
        [
            *girths,
            off.outward_deg / HANG_DEG,
            off.forward_deg / HANG_DEG,
            (off.bend_sewn_deg - off.bend_asked_deg) / BEND_DEG,
            (off.length_sewn - off.length_asked) / LENGTH_MM,
            off.cap_mean / CAP_MM,
            off.cap_p95 / CAP_P95_MM,
        ]
    )
