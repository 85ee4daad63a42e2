"""From measures to flat pieces: loft, tape, dart, cut, flatten, judge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from unroll.arms.lofting import ArmShape, mesh_arm, shape_arm
from unroll.arms.taping import tape
from unroll.drafts.bases import armhole_base, wrist_base
from unroll.errors import NotConverged, UnrollError
from unroll.flat.cutting import cut, cut_panel, outline
from unroll.flat.darting import Trial, cap_surplus, choose, layouts, mouth_intakes
from unroll.flat.distortion import (
    advise,
    measure_distortion,
    percentiles_by_area,
    thread_give_percent,
)
from unroll.flat.flattening import flatten, flatten_free
from unroll.maths import polylines
from unroll.nouns import (
    ArmMeasures,
    ArmMesh,
    Cloth,
    DartLine,
    Distortion,
    Flattening,
    Make,
    Panel,
    Piece,
    TapeRow,
)

Tell = Callable[[str], None]
TRIAL_EDGE_MM = 16.0  # layouts are compared on a coarse mesh: their order is the same on a fine one


@dataclass(frozen=True, eq=False)
class Unrolled:
    """An arm lofted, cut and laid flat.

    Attributes
    ----------
    shape : ArmShape
    arm : ArmMesh
    tape : tuple of TapeRow
    distortions : dict of str to Distortion
        By panel name.
    undarted : Distortion or None
        The outer panel without its darts.
    trials : tuple of Trial
        The dart layouts that were compared.
    pieces : tuple of Piece
        Outer, inner, armhole base, wrist base.
    advice : dict of str to str
        One plain sentence a piece.
    """

    shape: ArmShape
    arm: ArmMesh
    tape: tuple[TapeRow, ...]
    distortions: dict[str, Distortion]
    undarted: Distortion | None
    trials: tuple[Trial, ...]
    pieces: tuple[Piece, ...]
    advice: dict[str, str]


def unroll_arm(
    measures: ArmMeasures, make: Make, cloth: Cloth, *, edge: float, tell: Tell
) -> Unrolled:
    """Loft one arm, choose its darts, cut it and lay it flat."""
    tell("lofting the arm from the measures")
    shape = shape_arm(measures)
    trials = try_darts(shape, make, cloth, tell=tell)
    tell("laying the tape round it, cutting it along its seams and laying it flat")
    arm, distortions = _lay_best(shape, make, cloth, trials, edge)
    rows = tape(arm, measures, fights=shape.fights)
    darts = [name for name in arm.paths if name.startswith("dart ")]
    undarted = _undarted(shape, make, edge) if darts else None
    advice = {
        name: advise(
            distortion,
            gives_percent=cloth.gives_percent,
            cloth=cloth.name,
            source=_give_source(cloth),
            has_darts=bool(darts) and name == "outer",
            undarted=undarted if name == "outer" else None,
        )
        for name, distortion in distortions.items()
    }
    pieces = (
        *(outline(d.flattening, arm=measures.side) for d in distortions.values()),
        armhole_base(measures),
        wrist_base(measures, make.inner_share),
    )
    return Unrolled(shape, arm, rows, distortions, undarted, trials, pieces, advice)


def _give_source(cloth: Cloth) -> str:
    """Return where the cloth's give comes from."""
    usual = cloth.gives_percent == Cloth().gives_percent
    return "common practice, no source" if usual else "your sheet"


def _lay_best(
    shape: ArmShape, make: Make, cloth: Cloth, trials: tuple[Trial, ...], edge: float
) -> tuple[ArmMesh, dict[str, Distortion]]:
    """Lay the arm flat with the best layout that a fine mesh bears out."""
    left = list(trials)
    while True:
        chosen = choose(left, gives_percent=cloth.gives_percent)
        arm = mesh_arm(shape, edge=edge, inner_share=make.inner_share, darts=chosen.darts)
        try:
            return arm, {p.name: measure_distortion(lay(p, make)) for p in cut(arm)}
        except NotConverged:
            left.remove(chosen)
            if not left:
                raise


def try_darts(shape: ArmShape, make: Make, cloth: Cloth, *, tell: Tell) -> tuple[Trial, ...]:
    """Flatten the outer arm with each layout worth trying, on a coarse mesh.

    Raises
    ------
    UnrollError
        When none of them can be laid flat, with the first one's reason.
    """
    outer = _outer(shape, make, TRIAL_EDGE_MM, ())
    surplus = cap_surplus(flatten_free(outer, energy="woven"))
    trials, faults = [], []
    for layout in layouts(surplus, make, eases_percent=cloth.eases_percent[1]):
        tell(f"trying {len(layout)} darts" if layout else "trying without darts")
        try:
            flat = lay(_outer(shape, make, TRIAL_EDGE_MM, layout), make)
        except UnrollError as error:
            faults.append(str(error))
            continue
        distortion = measure_distortion(flat)
        give = thread_give_percent(distortion)
        asked = float(percentiles_by_area(give, distortion.weights, 99.0))
        trials.append(Trial(layout, asked, mouth_intakes(flat)))
    if not trials:
        raise UnrollError(faults[0])
    return tuple(trials)


def lay(panel: Panel, make: Make) -> Flattening:
    """Lay a panel flat with its seams held; in the manner "ease" the cap seam has its ease."""
    slit = {side.seam for side in panel.sides}
    mouths = {
        f"dart {number}": choice.intake
        for number, choice in enumerate(make.darts, start=1)
        if choice.intake is not None and f"dart {number}" in slit
    }
    if mouths:
        return _lay_with_intakes(panel, make, mouths)
    if panel.name != "outer" or make.cap != "ease" or make.cap_ease == 0.0:
        return flatten(panel, energy=make.weave)
    return flatten(
        panel, energy=make.weave, lengths={"cap seam": cap_length(panel) + make.cap_ease}
    )


def _lay_with_intakes(panel: Panel, make: Make, mouths: dict[str, float]) -> Flattening:
    """Lay a panel flat with darts that open just so far.

    What they take in less than the cap asks for becomes ease of the cap seam.
    """
    asked = flatten(panel, energy=make.weave)
    intakes = mouth_intakes(asked)
    wanted = [mouths.get(f"dart {k}", asked_k) for k, asked_k in enumerate(intakes, start=1)]
    ease = max(0.0, sum(intakes) - sum(wanted))
    lengths = {"cap seam": cap_length(panel) + ease}
    return flatten(panel, energy=make.weave, lengths=lengths, mouths=mouths, start=asked.points)


def cap_length(panel: Panel) -> float:
    """Return the length of a panel's cap seam on the arm, mm."""
    v = panel.mesh.vertices
    return float(
        sum(
            polylines.length(v[side.path])
            for side in panel.sides
            if side.seam == "cap seam"
        )
    )


def _outer(shape: ArmShape, make: Make, edge: float, darts: tuple[DartLine, ...]) -> Panel:
    arm = mesh_arm(shape, edge=edge, inner_share=make.inner_share, darts=darts)
    return cut_panel(arm, "outer")


def _undarted(shape: ArmShape, make: Make, edge: float) -> Distortion | None:
    """Return the outer panel's distortion without darts; None where it cannot be laid flat so."""
    try:
        return measure_distortion(lay(_outer(shape, make, edge, ()), make))
    except NotConverged as stopped:
        return measure_distortion(stopped.best)
