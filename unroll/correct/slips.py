"""What a reading that is off does to the arm: the arm lofted again with one reading changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace

import numpy as np

from unroll.arms.cap import ROUGH
from unroll.arms.levels import Start
from unroll.arms.lofting import ArmShape, in_the_room, mesh_arm, shape_arm
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.placing import angle_between
from unroll.nouns import Armhole, ArmMeasures, ArmMesh, Slip
from unroll.sewn.fitting import cap_apart
from unroll.sewn.levels import asked_levels

# How far a careful tape is off: what ISO 20685-1:2018 lets measures of a body differ, small
# circumferences by 4 mm and lengths of a limb by 5; quoted from memory.
GIRTH_MM, LENGTH_MM = 4.0, 5.0
STRING_MM = 5.0  # a ruler against a plumb line; common practice, no source
GUESSED = 3.0  # a guess is off by so many times a reading's error; common practice, no source
LENGTHS = ("shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist", "cap_height")
LIMB_GIRTHS = ("elbow_girth", "forearm_girth", "wrist_girth")
PLATE = ("underarm_inside", "underarm_behind", "front_inside")
ARMHOLE = ("armhole width", "armhole height")
EDGE_MM = 16.0

Reading = tuple[str, float, bool, ArmMeasures]


def slips_of(shape: ArmShape) -> tuple[Slip, ...]:
    """Return what each reading moves when it is off by its usual error, the worst first.

    Parameters
    ----------
    shape : ArmShape
        The left arm.

    Notes
    -----
    The pieces are made for the arm of the sheet, so what a slip moves on the lofted arm it moves on
    the sewn one. Places are compared in the room, where the double stands. A girth of the limb
    changes itself alone, which needs no lofting. An arm that cannot be lofted with a
    reading off is left out.
    """
    measures, start = shape.measures, replace(shape.start, cap=None)
    arm = _roughly(measures, start)
    found = [_slip(arm, measures, start, reading) for reading in _otherwise(measures)]
    plain = (
        Slip(name, by, is_guess, 100.0 * by / getattr(measures, name), 0.0, 0.0, 0.0, 0.0, 0.0)
        for name, by, is_guess in _limb_girths(measures)
    )
    slips = [slip for slip in found if slip is not None]
    return tuple(sorted([*slips, *plain], key=lambda slip: -slip.moves))


def _limb_girths(measures: ArmMeasures) -> Iterator[tuple[str, float, bool]]:
    for name in LIMB_GIRTHS:
        is_guess = measures.is_estimated(name)
        yield name, GIRTH_MM * (GUESSED if is_guess else 1.0), is_guess


def _otherwise(measures: ArmMeasures) -> Iterator[Reading]:
    """Yield each reading, how far it is off, whether it is a guess, and the measures with it."""
    for name in ("upper_arm_girth", *LENGTHS):
        usual = GIRTH_MM if name == "upper_arm_girth" else LENGTH_MM
        is_guess = measures.is_estimated(name)
        by = usual * (GUESSED if is_guess else 1.0)
        yield name, by, is_guess, replace(measures, **{name: getattr(measures, name) + by})
    if measures.cap_arcs:
        longer = tuple(replace(arc, length=arc.length + GIRTH_MM) for arc in measures.cap_arcs)
        yield "cap_arcs", GIRTH_MM, False, replace(measures, cap_arcs=longer)
    is_guess = any(map(measures.is_estimated, ARMHOLE))
    by = GIRTH_MM * (GUESSED if is_guess else 1.0)
    yield "armhole", by, is_guess, replace(measures, armhole=_wider(measures, by))
    stance = measures.stance
    for name in (field.name for field in fields(stance)):
        value = getattr(stance, name)
        if value is None and name not in PLATE:
            continue  # the lengths along the arm say where it hangs
        by = STRING_MM * (GUESSED if value is None else 1.0)
        off = replace(stance, **{name: (value or 0.0) + by})
        yield name, by, value is None, replace(measures, stance=off)


def _wider(measures: ArmMeasures, by: float) -> Armhole:
    """Return the armhole a little larger, of the same shape."""
    hole = measures.armhole
    grown = 1.0 + by / hole.height
    return replace(
        hole, width=hole.width * grown, height=hole.height * grown, girth=hole.girth * grown,
        outline=None if hole.outline is None else hole.outline * grown,
    )  # fmt: skip


def _roughly(measures: ArmMeasures, start: Start) -> ArmMesh:
    """Return the arm of like measures; its lengths are taped on the mesh that is looked at."""
    shape = shape_arm(measures, finest=EDGE_MM, exact=ROUGH, start=start)
    return mesh_arm(shape, edge=EDGE_MM)


def _slip(
    arm: ArmMesh, measures: ArmMeasures, start: Start, reading: Reading
) -> Slip | None:
    name, by, is_guess, changed = reading
    try:
        other = _roughly(changed, start)
    except UnrollError:
        return None
    here, there = _seen(arm, measures), _seen(other, changed)
    apart = np.linalg.norm(there[0] - here[0], axis=1)
    length = here[0][-1] - here[0][0], there[0][-1] - there[0][0]
    mean, most = cap_apart(other, arm)
    return Slip(
        name, by, is_guess,
        worst_girth_percent=float(100.0 * np.abs(there[1] / here[1] - 1.0).max()),
        swing_deg=float(np.degrees(angle_between(*length))),
        elbow_mm=float(apart[0]), wrist_mm=float(apart[1]), cap_mean=mean, cap_p95=most,
    )  # fmt: skip


def _seen(arm: ArmMesh, measures: ArmMeasures) -> tuple[FloatArray, FloatArray]:
    """Return where elbow and wrist lie in the room, (2, 3) mm, and all levels' girths, (k,) mm."""
    levels = asked_levels(arm)
    centres = np.array([levels[name].centre for name in ("elbow", "wrist")])
    return in_the_room(centres, measures), np.array([one.girth for one in levels.values()])
