"""A dart layout tried: laid flat and filled on a coarse mesh, its correction foretold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from unroll.arms.grid import bounded_edge
from unroll.arms.lofting import ArmShape
from unroll.correct.bench import bench_of
from unroll.correct.loop import FARTHEST_MM
from unroll.correct.rulers import missed
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.closest_points import closest_on_faces
from unroll.nouns import (
    Cloth,
    DartChoice,
    DartLine,
    Flattening,
    Intake,
    LayoutTrial,
    Make,
    Mesh,
)
from unroll.nouns.corrected import LayoutLimits
from unroll.units import Unit, format_small

SEARCH_EDGE_MM = 15.0
FORETOLD_RESERVE = 0.5  # dearer than in a round: a first step that goes far promises too much
OUTER_SEAM = "outer seam"
MARGIN = 0.95  # share of a limit that the search keeps to
OVER_MM, OVER_DEG = 0.5, 0.5  # less than that is not printed, so it is not told either


@dataclass(frozen=True)
class Plan:
    """A layout in shares of the cap.

    Attributes
    ----------
    count : int
    spread : float
        Mouth of the outermost dart, share of the cap edge from the shoulder to its end.
    length : float
        Of the longest dart, share of the cap's.
    side : float
        Of three or more darts, the outermost's length as a share of the longest: the fullest place
        lies nearer to it.
    lean : float
        How far the dart points draw in, as in a dart line.
    ease : float
        Of the cap seam, as a multiple of what the cloth takes without puckers.
    """

    count: int
    spread: float
    length: float
    side: float = 0.8
    lean: float = 0.75
    ease: float = 1.0

    @property
    def name(self) -> str:
        """Words for it."""
        if self.count == 1 and self.length > 1.2:
            return OUTER_SEAM
        return "no dart" if self.count == 0 else f"{self.count} dart{'s' * (self.count > 1)}"


@dataclass(frozen=True, eq=False)
class Ground:
    """What every trial of a search starts from.

    Attributes
    ----------
    rounded : ArmShape
        The left arm with round sections.
    make : Make
    cloth : Cloth
    limits : LayoutLimits
    edge_length : float
        Of the cap seam from the shoulder to its end, mm.
    ease : float
        What the cloth takes into the cap seam without puckers, mm.
    inner_flat : Flattening or None
        The inner panel laid flat, which is the same whatever the darts.
    """

    rounded: ArmShape
    make: Make
    cloth: Cloth
    limits: LayoutLimits
    edge_length: float
    ease: float
    inner_flat: Flattening | None = None


@dataclass(frozen=True, eq=False)
class FilledArm:
    """An arm's mesh as it was lofted, and where its vertices came to lie once it was filled.

    Attributes
    ----------
    lofted : Mesh
    filled : (n, 3) float
        mm.
    """

    lofted: Mesh
    filled: FloatArray

    def carried(self, points: FloatArray) -> FloatArray:
        """Return points of the same arm (k, 3), each moved as far as the place nearest to it."""
        vertices, faces = self.lofted.vertices, self.lofted.faces
        index, weights = closest_on_faces(points, vertices, faces)
        moves = (self.filled - vertices)[faces[index]]
        return np.asarray(points + np.einsum("kc,kcx->kx", weights, moves))


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of a plan.

    Attributes
    ----------
    plan : Plan
    trial : LayoutTrial
    arm : FilledArm
        A filling of a like layout may start where this one ended.
    """

    plan: Plan
    trial: LayoutTrial
    arm: FilledArm


def search_edge(shape: ArmShape) -> float:
    """Return the edge length of the mesh that layouts are tried on, mm.

    What is larger than any arm of a body gets longer ones, as any mesh of it does, and here once
    more: every number of darts is tried on it, since few take in what its cap asks.
    """
    return bounded_edge(SEARCH_EDGE_MM, shape.measures)


def outcome_of(ground: Ground, plan: Plan, near: FilledArm | None = None) -> Outcome | None:
    """Lay a plan flat, fill it and foretell its correction; None where it folds or does not fit.

    Filling starts from another layout's filled arm where one is given: it takes fewer steps, and
    ends in the same place, but for slack cloth, which can wrinkle in more ways than one.
    """
    make, ease = ground.make, plan.ease * ground.ease
    most = 0.01 * MARGIN * ground.cloth.eases_percent[1] * 2.0 * ground.edge_length
    try:
        bench = bench_of(
            ground.rounded, make, ground.cloth, darts_of(ground, plan),
            edge=search_edge(ground.rounded), inner_flat=ground.inner_flat,
            ease=make.cap_ease if make.cap == "ease" else min(ease, most),
        )  # fmt: skip
        lofted = bench.arm.mesh
        first = bench.plain(near.carried(lofted.vertices) if near else None)
        response = bench.response(first)
        reach = bench.reach(first, bench.seams(first.points), response)
    except UnrollError:
        return None
    wanted = bench.wanted(first)
    change, _ = reach.change(wanted, farthest=FARTHEST_MM, reserve=FORETOLD_RESERVE)
    intakes = bench.intakes(first.points + change)
    trial = LayoutTrial(
        name=plan.name,
        darts=bench.darts,
        ease=bench.ease,
        intakes=intakes,
        miss=missed(bench.readings.ruler, first.filled + response.moved(change)),
        faults=faults_of(bench.darts, intakes, ground.limits),
        excess=excess_of(bench.darts, intakes, ground.limits),
    )
    return Outcome(plan, trial, FilledArm(lofted, first.filled))


def darts_of(ground: Ground, plan: Plan) -> tuple[DartLine, ...]:
    """Return the darts of a plan, front to back, with what the sheet fixes."""
    places = np.linspace(1.0, -1.0, plan.count) if plan.count > 1 else np.zeros(plan.count)
    out = []
    choices = [*ground.make.darts, *[DartChoice()] * plan.count]
    for place, choice in zip(places, choices, strict=False):
        middle = 1.0 - (1.0 - plan.side) * abs(place) if plan.count > 2 else 1.0
        at = float(place) * plan.spread * ground.edge_length
        length = plan.length * middle * ground.rounded.surface.cap_length
        out.append(
            DartLine(
                at if choice.at is None else choice.at,
                length if choice.length is None else choice.length,
                plan.lean,
            )
        )
    return tuple(out)


def limits_of(make: Make) -> LayoutLimits:
    """Return what the maker can sew, as her sheet says it.

    Examples
    --------
    >>> limits_of(Make(widest_dart=80.0)).intake
    80.0
    """
    return LayoutLimits(
        intake=make.widest_dart,
        tongue=make.narrowest_tongue,
        point_deg=make.widest_point_deg,
        most_darts=make.most_darts,
    )


def excess_of(
    darts: Sequence[DartLine], intakes: Sequence[Intake], limits: LayoutLimits
) -> float:
    """Return by how much a layout is beyond what can be sewn, mm and degrees added up.

    A little is kept free below the limits, since the last corrections move a mouth by some mm.
    """
    widths = [i.width - MARGIN * limits.intake for i in intakes if not i.is_seam]
    angles = [i.point_deg - MARGIN * limits.point_deg for i in intakes]
    places = np.sort([dart.at for dart in darts])
    tongues = limits.tongue - np.diff(places)
    return float(sum(max(0.0, over) for over in (*widths, *angles, *tongues)))


def faults_of(
    darts: Sequence[DartLine], intakes: Sequence[Intake], limits: LayoutLimits, unit: Unit = "mm"
) -> tuple[str, ...]:
    """Return why a layout cannot be sewn, one plain line each."""
    out = []
    for intake in intakes:
        if intake.width > limits.intake + OVER_MM and not intake.is_seam:
            over = format_small(intake.width - limits.intake, unit)
            out.append(
                f"{intake.name} takes in {format_small(intake.width, unit)}, {over} more than "
                "one dart may"
            )
        if intake.point_deg > limits.point_deg + OVER_DEG:
            out.append(
                f"{intake.name} comes to a point of {intake.point_deg:.0f}°; "
                f"at most {limits.point_deg:.0f}°"
            )
    places = sorted(dart.at for dart in darts)
    for one, other in zip(places[:-1], places[1:], strict=True):
        if other - one < limits.tongue - OVER_MM:
            out.append(
                f"two darts lie {format_small(other - one, unit)} apart; expected "
                f"{format_small(limits.tongue, unit)} between"
            )
    return tuple(out)


def fault_help(make: Make) -> str:
    """Return what would bring darts within what can be sewn.

    Examples
    --------
    >>> fault_help(Make())
    'one dart more (most_darts), or darts that may take in more, would help'
    >>> fault_help(Make(dart_count=1))
    'another dart, or leaving the darts to the search, would help'
    """
    if make.darts or make.dart_count is not None:
        return "another dart, or leaving the darts to the search, would help"
    return "one dart more (most_darts), or darts that may take in more, would help"
