"""The flat draft closed too: the least change of its numbers that brings the filled arm nearest."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from unroll.correcting import least_change
from unroll.drafting import draft
from unroll.errors import UnrollError
from unroll.lofting import mesh_arm
from unroll.pipeline.closing_loop import Tell, silent
from unroll.pipeline.correction_bench import rounded_shape
from unroll.sewing import sew
from unroll.standing_off import stand_off
from unroll.types import ArmMeasures, ArmMesh, Cloth, FloatArray, Make, Piece, mirrored
from unroll.types.corrected import DraftChange, DraftClosing
from unroll.types.sewn import Sewn, StandOff

# What a hand draft can change, and by how much it is changed to see what it does.
NUMBERS: tuple[tuple[str, float], ...] = (
    ("cap_height", 4.0),
    ("cap_ease", 6.0),
    ("upper_arm_girth", 3.0),
    ("elbow_girth", 3.0),
    ("forearm_girth", 3.0),
    ("shoulder_to_elbow", 4.0),
    ("shoulder_to_inner_elbow", 4.0),
)
LARGE = np.array([10.0, 15.0, 6.0, 6.0, 6.0, 8.0, 8.0])
ROUNDS = 5
SHOWN = ("outer", "inner", "armhole base", "wrist base")


def close_draft(
    measures: ArmMeasures,
    make: Make,
    cloth: Cloth,
    *,
    manner: Literal["ease", "darts"] = "darts",
    spacing: float = 10.0,
    tell: Tell | None = None,
) -> DraftClosing:
    """Return a flat draft from changed numbers, and what it was and is once sewn and filled.

    Parameters
    ----------
    manner : {"ease", "darts"}
        How the draft's cap is fitted.

    Notes
    -----
    Cap height, ease, girths and the two lengths to the elbow are changed by damped Gauss-Newton
    steps towards the girths, the hang, the bend and the shoulder of the measured arm; a change that
    the draft cannot be drawn with, or that does not help, is halved. The flat rules themselves
    stay: what they cannot reach is reported, not hidden.
    """
    tell = tell or silent
    wanted = mesh_arm(rounded_shape(measures), edge=8.0)
    bench = _DraftBench(replace(measures, side="left"), make, cloth, manner, spacing, wanted)
    first = best = bench.attempt(np.zeros(len(NUMBERS)), None)
    for number in range(ROUNDS):
        slopes = bench.slopes(best)
        step = least_change(slopes, best.miss, LARGE)
        found = bench.stepped(best, step)
        if found is None:
            break
        best = found
        tell(f"draft, round {number + 1}: hang off by {best.off.swing_deg:.1f}°")
    changes = tuple(
        DraftChange(name, float(was), float(was + by))
        for (name, _), was, by in zip(NUMBERS, bench.drawn_from, best.numbers, strict=True)
    )
    pieces = bench.pieces(best.numbers)
    if measures.side == "right":
        pieces = tuple(mirrored(piece, "right") for piece in pieces)
    return DraftClosing(manner, pieces, changes, first.off, best.off)


class _Drafted:
    """A draft that was sewn and filled."""

    def __init__(self, numbers: FloatArray, sewn: Sewn, off: StandOff) -> None:
        self.numbers, self.sewn, self.off = numbers, sewn, off
        self.miss = _weighed(off)

    @property
    def cost(self) -> float:
        return float(self.miss @ self.miss)


class _DraftBench:
    """What changes of a draft's numbers are tried on."""

    def __init__(
        self,
        measures: ArmMeasures,
        make: Make,
        cloth: Cloth,
        manner: Literal["ease", "darts"],
        spacing: float,
        wanted: ArmMesh,
    ) -> None:
        self.measures, self.make, self.cloth = measures, make, cloth
        self.manner, self.spacing, self.wanted = manner, spacing, wanted
        self.drawn_from = np.array(
            [make.cap_ease if n == "cap_ease" else getattr(measures, n) for n, _ in NUMBERS]
        )

    def pieces(self, numbers: FloatArray) -> tuple[Piece, ...]:
        """Return the draft from changed numbers."""
        values = dict(zip([name for name, _ in NUMBERS], self.drawn_from + numbers, strict=True))
        ease = float(values.pop("cap_ease"))
        changed = self.measures
        for name, value in values.items():
            changed = replace(changed, **{name: float(value)})  # type: ignore[arg-type]
        drawn = draft(changed, replace(self.make, cap_ease=ease), manner=self.manner)
        return tuple(piece for piece in drawn if piece.name in SHOWN)

    def attempt(self, numbers: FloatArray, near: _Drafted | None) -> _Drafted:
        """Draw, sew and fill."""
        start = None if near is None else near.sewn
        sewn = sew(self.pieces(numbers), cloth=self.cloth, spacing=self.spacing, start=start)
        return _Drafted(numbers, sewn, stand_off(sewn, self.wanted))

    def slopes(self, here: _Drafted) -> FloatArray:
        """Return how the misses follow each number; one that cannot be changed counts as none."""
        columns = []
        for index, (_, step) in enumerate(NUMBERS):
            column = np.zeros(len(here.miss))
            for sign in (1.0, -1.0):
                tried = here.numbers.copy()
                tried[index] += sign * step
                try:
                    column = (self.attempt(tried, here).miss - here.miss) / (sign * step)
                    break
                except UnrollError:
                    continue
            columns.append(column)
        return np.column_stack(columns)

    def stepped(self, here: _Drafted, step: FloatArray) -> _Drafted | None:
        """Return the first of the step and its halves that can be drawn and helps."""
        for share in (1.0, 0.5, 0.25):
            try:
                tried = self.attempt(here.numbers + share * step, here)
            except UnrollError:
                continue
            if tried.cost < 0.98 * here.cost:
                return tried
        return None


def _weighed(off: StandOff) -> FloatArray:
    """Return the misses, each over what is let pass."""
    girths = [girth.off_percent / 0.3 for girth in off.girths if girth.name != "wrist"]
    hang = [off.outward_deg / 1.0, off.forward_deg / 1.0, (off.bend_sewn_deg - off.bend_asked_deg)]
    return np.array(
        [*girths, *hang, (off.length_sewn - off.length_asked) / 2.0, off.cap_mean / 1.5]
    )
