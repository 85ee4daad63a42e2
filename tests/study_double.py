"""Arms for doubles whose armhole leans, is turned or rolled: python -m tests.study_double [bodies]

For every body and angle, measures to match are taken from an arm that hangs as it should. Its
pieces are those of `unroll make`, sewn again on another mesh; elbow and wrist are looked
up in the room. With `--in-turn` each body has one of the stances, the next body the next.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tests.strategies import random_measures
from unroll.arms.cap import fit_cap
from unroll.arms.lofting import in_the_room, mesh_arm, rounded_shape, shape_arm
from unroll.arms.plate import plate_of
from unroll.arms.taping import tape
from unroll.errors import UnrollError
from unroll.job import Job
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMeasures, CapArc, Cloth, Make, Sheet, Stance
from unroll.sewn.fitting import fit_of
from unroll.sewn.levels import asked_levels, sewn_levels
from unroll.sewn.sewing import sew

ANGLES_DEG = (0.0, 5.0, 10.0, 15.0)
KINDS = ("lean", "roll", "turn")
UNSEEN_MM = 6.5  # the mesh that the pieces are judged on; they were made on others
ENDS = ("elbow", "wrist")


def standing(measures: ArmMeasures, kind: str, angle_deg: float) -> Stance:
    """Return the readings of an armhole that leans, rolls or is turned by an angle."""
    hole, slope = measures.armhole, float(np.sin(np.radians(angle_deg)))
    if kind == "lean":
        return Stance(underarm_inside=hole.height * slope)
    if kind == "roll":
        return Stance(underarm_behind=hole.height * slope)
    return Stance(front_inside=hole.width * slope)


def matching(measures: ArmMeasures, stance: Stance, *, forward: float = 55.0) -> ArmMeasures:
    """Return the measures that a tape finds on an arm that hangs from a plate which stands so.

    Parameters
    ----------
    measures : ArmMeasures
        Whose girths, lengths and armhole it has.
    stance : Stance
        Of the plate.
    forward : float
        How far the wrist hangs forward of the elbow, mm.
    """
    plate, depth = plate_of(measures.armhole, stance), measures.upper_arm_girth / np.pi
    free = fit_cap(measures, plate, without={"cap_height", *_arcs(measures)})
    ups = np.array([0.4, 0.55, 0.7]) * measures.armhole.height
    arcs = tuple(map(CapArc, ups.tolist(), free.taped_arcs(ups).tolist()))
    middle = (plate.stands @ (plate.underarm + [0.0, 0.5 * depth, 0.0])).tolist()
    hung = replace(
        stance,
        elbow_outward=middle[1] + 4.0,
        elbow_forward=middle[0] - 3.0,
        wrist_outward=middle[1] + 12.0,
        wrist_forward=middle[0] + forward,
    )
    made = replace(measures, stance=hung, cap_arcs=arcs, cap_height=free.height, estimated=())
    arm = mesh_arm(shape_arm(made))
    got = {row.name: row.got_mm for row in tape(arm, made)}
    lengths = ("shoulder_to_elbow", "shoulder_to_inner_elbow")
    return replace(made, **{name: got[name] for name in lengths})


def _arcs(measures: ArmMeasures) -> list[str]:
    return [f"cap_arc {number + 1}" for number in range(len(measures.cap_arcs))]


def asked_places(measures: ArmMeasures) -> FloatArray:
    """Return how far elbow and wrist lie forward and outward of the plumb line, (2, 2) mm."""
    s = measures.stance
    return np.array([[s.elbow_forward, s.elbow_outward], [s.wrist_forward, s.wrist_outward]])


def lofted_places(measures: ArmMeasures) -> FloatArray:
    """Return where elbow and wrist lie in the room on the lofted mesh, (2, 2) mm."""
    arm = mesh_arm(shape_arm(measures))
    centres = np.array([level.centre for name, level in asked_levels(arm).items() if name in ENDS])
    return in_the_room(centres, measures)[:, :2]


def sewn_places(measures: ArmMeasures) -> tuple[FloatArray, float]:
    """Return where elbow and wrist of the corrected arm lie in the room, and its swing, degrees.

    The pieces are those of `unroll make`; they are sewn again, and looked at, on another mesh.
    """
    after = Job(Sheet((measures,), Cloth(), Make())).arms[0].to_cut
    sewn = sew(after.pieces, cloth=Cloth(), spacing=UNSEEN_MM, up=after.wanted.up)
    target = mesh_arm(rounded_shape(measures), edge=UNSEEN_MM)
    levels = sewn_levels(sewn, target)
    centres = np.array([levels[name].centre for name in ENDS])
    return in_the_room(centres, measures)[:, :2], fit_of(sewn, target).swing_deg


def rows(bodies: int, *, in_turn: bool) -> Iterator[tuple[str, FloatArray]]:
    """Yield a name, and by how much elbow and wrist miss on the loft and as sewn, and the swing."""
    stances = [(kind, angle) for kind in KINDS for angle in ANGLES_DEG[kind != KINDS[0] :]]
    for body in range(bodies):
        base = random_measures(body)
        for kind, angle in [stances[body % len(stances)]] if in_turn else stances:
            name = f"body {body} {kind} {angle:.0f}"
            try:
                measures = matching(base, standing(base, kind, angle))
                asked = asked_places(measures)
                sewn, swing = sewn_places(measures)
            except UnrollError as error:
                print(f"{name:20s} not made: {error}", flush=True)
                continue
            apart = [*(lofted_places(measures) - asked), *(sewn - asked)]
            yield name, np.array([*np.linalg.norm(apart, axis=1), swing])


def main(words: list[str]) -> None:
    """Print a row for every body and angle, then mean and worst."""
    print("elbow and wrist on the loft, elbow and wrist as sewn, mm; swing, degrees")
    found = []
    bodies = next((int(word) for word in words if word.isdigit()), 20)
    for name, row in rows(bodies, in_turn="--in-turn" in words):
        found.append(row)
        print(f"{name:20s}", *[f"{value:6.2f}" for value in row], flush=True)
    for name, value in (("mean", np.mean(found, axis=0)), ("worst", np.max(found, axis=0))):
        print(f"{name:20s}", *[f"{one:6.2f}" for one in value])


if __name__ == "__main__":
    main(sys.argv[1:])
