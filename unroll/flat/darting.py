"""Propose darts from where the flattening suffers: how many, where, how long."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.nouns import DartChoice, DartLine, Flattening, Make

MOST_PROPOSED = 3
LENGTHS_MM = (50.0, 80.0, 110.0)
SPREADS = (0.75, 0.9, 1.05)
LEAN = 0.75  # dart points draw in towards the fullest place; parallel darts flatten it less
WORTH_IT = 0.8  # another dart must bring what the cloth gives below this share of what it was
WIDEST_INTAKE_MM = 90.0  # wider than a hand: no longer sewn as a dart; common practice, no source


@dataclass(frozen=True, eq=False)
class Surplus:
    """Where a flat cap edge is too long for the armhole that it is sewn to.

    Attributes
    ----------
    at : (k,) float
        Places along the cap seam, from its front end to its back end, mm from the shoulder point,
        positive to the front.
    total : (k,) float
        Surplus gathered from the front end to each place, mm.
    """

    at: FloatArray
    total: FloatArray

    @property
    def whole(self) -> float:
        """Surplus of the whole cap seam, mm."""
        return float(self.total[-1])


@dataclass(frozen=True, eq=False)
class Trial:
    """A dart layout that was flattened.

    Attributes
    ----------
    darts : tuple of DartLine
    asked_percent : float
        What the piece then asks of the cloth, 99th percentile by area, percent.
    intakes : tuple of float
        Cloth taken in at each mouth, mm.
    """

    darts: tuple[DartLine, ...]
    asked_percent: float
    intakes: tuple[float, ...]


def cap_surplus(free: Flattening) -> Surplus:
    """Return the surplus of the cap edge in a flattening whose edges were left free.

    Left free, a domed panel flattens with little stretch and a longer edge; what the edge has
    gained is what darts or ease must take in there.
    """
    panel = free.panel
    path = next(side.path for side in panel.sides if side.seam == "cap seam")
    curved = polylines.chords(panel.mesh.vertices[path])
    flat = polylines.chords(free.points[path])
    if panel.mesh.vertices[path[0], 0] < panel.mesh.vertices[path[-1], 0]:
        curved, flat = curved[::-1], flat[::-1]
    walked = np.concatenate([[0.0], np.cumsum(curved)])
    total = np.concatenate([[0.0], np.cumsum(flat - curved)])
    return Surplus(0.5 * walked[-1] - walked, total)


def layouts(
    surplus: Surplus, make: Make, *, eases_percent: float
) -> tuple[tuple[DartLine, ...], ...]:
    """Return the layouts worth trying, those with fewer darts first.

    Parameters
    ----------
    surplus : Surplus
    make : Make
        The sheet may fix the number of darts, and place and length of each.
    eases_percent : float
        What the cloth eases into a seam; a smaller surplus needs no dart.

    Notes
    -----
    Each dart is put in the middle of its share of the surplus, then all are drawn towards the
    shoulder point or apart by a few steps; lengths go in three steps.
    """
    if make.cap != "darts":
        return ((),)
    seam = 2.0 * float(surplus.at[0])
    fixed = len(make.darts) or make.dart_count
    if fixed is not None:
        counts: Sequence[int] = (fixed,)
    elif surplus.whole <= eases_percent / 100.0 * seam:
        counts = (0,)
    else:
        counts = range(MOST_PROPOSED + 1)
    return tuple(layout for count in counts for layout in _layouts_of(count, surplus, make.darts))


def _layouts_of(
    count: int, surplus: Surplus, chosen: tuple[DartChoice, ...]
) -> list[tuple[DartLine, ...]]:
    if count == 0:
        return [()]
    shares = (np.arange(count) + 0.5) / count * surplus.whole
    places = np.interp(shares, surplus.total, surplus.at)
    # front and back of an arm differ by less than the eye sees: keep the darts in matching pairs
    places = 0.5 * (places - places[::-1])
    choices = [*chosen, *[DartChoice()] * count][:count]
    spreads = SPREADS if any(choice.at is None for choice in choices) and count > 1 else (1.0,)
    lengths = LENGTHS_MM if any(choice.length is None for choice in choices) else (0.0,)
    return [
        tuple(
            DartLine(
                float(spread * place) if choice.at is None else choice.at,
                length if choice.length is None else choice.length,
                LEAN,
            )
            for place, choice in zip(places, choices, strict=True)
        )
        for spread in spreads
        for length in lengths
    ]


def mouth_intakes(flattening: Flattening) -> tuple[float, ...]:
    """Return the width of each dart's open mouth on the flat piece, "dart 1" first, mm."""
    legs: dict[str, list[FloatArray]] = {}
    for side in flattening.panel.sides:
        if side.seam.startswith("dart "):
            legs.setdefault(side.seam, []).append(flattening.points[side.path])
    return tuple(
        float(np.linalg.norm(legs[name][0][0] - legs[name][1][-1]))
        for name in sorted(legs, key=lambda name: int(name.split()[1]))
    )


def choose(trials: Sequence[Trial], *, gives_percent: float) -> Trial:
    """Return the layout to use: the fewest darts beyond which another is not worth sewing.

    Layouts with a mouth wider than can be sewn count only where there is no other.
    """
    sound = [t for t in trials if max(t.intakes, default=0.0) <= WIDEST_INTAKE_MM] or list(trials)
    counts = sorted({len(trial.darts) for trial in sound})
    best = {
        count: min((t for t in sound if len(t.darts) == count), key=lambda t: t.asked_percent)
        for count in counts
    }
    chosen = best[counts[0]]
    for count in counts[1:]:
        if chosen.asked_percent <= gives_percent:
            break
        if best[count].asked_percent < WORTH_IT * chosen.asked_percent:
            chosen = best[count]
    return chosen
