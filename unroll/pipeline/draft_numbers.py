"""The numbers that a hand draft starts from, and a draft from changed ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from unroll.drafting import are_intakes_free, drawn_darts
from unroll.types import ArmMeasures, Make
from unroll.types.corrected import DraftChange

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
