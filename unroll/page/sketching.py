"""The first look while she types: the arm in half a second, its pieces and sewn shape soon after.

Pure functions that other cores run; each returns plain values, ready to be sent.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from unroll.arms.levels import Start
from unroll.arms.lofting import ArmShape, mesh_arm, shape_arm
from unroll.arms.taping import tape
from unroll.correct.layouts import untried_layout
from unroll.correct.loop import sketch
from unroll.errors import UnrollError
from unroll.finish.notching import place_notches
from unroll.flat.distortion import measure_distortion
from unroll.maths.placing import upright
from unroll.nouns import ArmMeasures, ArmMesh, DartLine, Sheet, verdicts_of
from unroll.nouns.mirroring import (
    mirrored_arm,
    mirrored_fit,
    mirrored_piece,
    mirrored_sewn,
    mirrored_tape,
)
from unroll.nouns.shown import Model
from unroll.page.showing import (
    Told,
    figures_told,
    foretold_sentence,
    pieces_told,
    side_name,
    tape_told,
)
from unroll.show.models import arm_model, filled_model, gap_span, packed, tapes_of

ROUGH_EDGE_MM, ROUGH = 16.0, 1e-3  # lengths within a millimetre
SHOWN_EDGE_MM = 11.0  # of the arm that is seen
FIRST_EDGE_MM, BETTER_EDGE_MM = 18.0, 12.0  # of the pieces
FIRST_ROUNDS, BETTER_ROUNDS = 1, 4
FORETOLD = "corrected, foretold"

Layout = tuple[tuple[DartLine, ...], float | None]


def roughly(measures: ArmMeasures, start: Start | None = None) -> ArmShape:
    """Return an arm's shape with its lengths within a millimetre, in a third of the time.

    From the start that a like shape gives it takes a tenth.
    """
    rough = partial(shape_arm, measures, finest=ROUGH_EDGE_MM, exact=ROUGH)
    try:
        return rough(start=start)
    except UnrollError:
        if start is None:
            raise
        return rough()  # what it was before led astray


def sketched_arm(
    sheet: Sheet, index: int, start: Start | None = None
) -> tuple[Told, Start | None]:
    """Return the measured arm, what a tape finds on it, and where a like one may start."""
    measures = sheet.arms[index]
    left = replace(measures, side="left")
    shape = roughly(left, start)
    arm = mesh_arm(shape, edge=SHOWN_EDGE_MM, inner_share=sheet.make.inner_share)
    seen = arm if measures.side == "left" else mirrored_arm(arm)
    name = f"{side_name(sheet, measures.side)}as taped"
    rows = tape(arm, left, fights=shape.fights, unit=sheet.unit)
    on_it = rows if measures.side == "left" else mirrored_tape(rows)
    told = {
        "side": measures.side,
        "models": [_hung(arm_model(seen, {}, name=name, tapes=tapes_of(on_it, sheet.unit)), seen)],
        "tape": tape_told(rows, sheet.unit),
    }
    return told, start_of(shape)


def _hung(model: Model, arm: ArmMesh) -> Told:
    """Return the arm's model for the page, as it hangs in the room."""
    return packed(model.turned(upright(arm.up)))


def start_of(shape: ArmShape) -> Start | None:
    """Return where the search for a like shape may start; none where nothing was searched for."""
    return None if shape.measures.scan else shape.start


def sketched_pieces(
    sheet: Sheet, index: int, layout: Layout | None, start: Start | None = None, *,
    edge: float = FIRST_EDGE_MM, rounds: int = FIRST_ROUNDS,
) -> tuple[Told, Start | None]:  # fmt: skip
    """Return the corrected pieces and their sewn shape, as foretold, and where to start next."""
    measures, make, unit = sheet.arms[index], sheet.make, sheet.unit
    rounded = roughly(replace(measures.rounded(), side="left"), start)
    darts, ease = layout or untried_layout(rounded, make, sheet.cloth)
    laid, miss = sketch(
        rounded, make, sheet.cloth, darts, ease=ease, edge=edge, rounds=rounds
    )  # fmt: skip
    side, before = measures.side, side_name(sheet, measures.side)
    pieces, sewn, fit, wanted = laid.pieces, laid.sewn, laid.fit, laid.wanted
    if side == "right":
        pieces = tuple(mirrored_piece(piece, "right") for piece in pieces)
        sewn, fit, wanted = mirrored_sewn(sewn), mirrored_fit(fit), mirrored_arm(wanted)
    verdicts = verdicts_of(miss)
    sewn_model = filled_model(
        f"{before}sewn: corrected pieces", sewn, fit, span=gap_span([fit], unit),
        asked={f.panel.name: measure_distortion(f) for f in laid.flattenings}
        if side == "left" else None,
        gives_percent=sheet.cloth.gives_percent,
        unit=unit,
    )  # fmt: skip
    told = {
        "side": side,
        "models": [
            _hung(arm_model(wanted, {}, name=f"{before}wanted arm"), wanted),
            _hung(sewn_model, wanted),
        ],
        "pieces": pieces_told(
            place_notches(pieces), laid.intakes, unit, side=side, source=FORETOLD
        ),
        "sentence": foretold_sentence(
            verdicts, unit, subject=f"the {side} arm" if before else "this arm"
        ),
        "figures": figures_told(verdicts, unit),
    }  # fmt: skip
    return told, start_of(rounded)


def better_pieces(sheet: Sheet, index: int, layout: Layout) -> tuple[Told, Start | None]:
    """Return the same on a finer mesh and from more rounds, once the darts were looked for."""
    return sketched_pieces(sheet, index, layout, edge=BETTER_EDGE_MM, rounds=BETTER_ROUNDS)
