"""Solve the arm's shape from the tape, then mesh it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, partial

import numpy as np

from unroll.arms.cap import EXACT, Cap, fit_cap
from unroll.arms.closed_mesh import close_mesh
from unroll.arms.grid import bounded_edge, lay_grids
from unroll.arms.levels import (
    Start,
    check_scan,
    elbow_half_width,
    guessed_lengths,
    hung,
    lay_out_limb,
    scan_layout,
    scanned_limb,
    taped_limb,
    underarm_girth,
)
from unroll.arms.limb import ArmSurface, monotone_girths
from unroll.arms.plate import plate_of
from unroll.errors import NotConverged
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import superellipse_perimeter
from unroll.maths.sections import taut_line
from unroll.nouns import (
    Armhole,
    ArmMeasures,
    ArmMesh,
    CapArc,
    DartLine,
    LimbScan,
    Side,
)
from unroll.nouns.mirroring import mirrored_arm

FIGHT_MM = 1.0  # a cap measure that is missed by more is said to fight another
LENGTH_FIGHT_MM = 3.0  # a length: what a tape slips; common practice, no source
COARSE_ROUNDS, LENGTH_ROUNDS, LENGTH_TOLERANCE_MM = 6, 18, 0.2
STUCK_MM = 0.02  # a round that changes no length by more
LENGTH_LEFT_MM = 20.0  # more is refused; the tapes tell what is left
COARSE_EDGE_MM, FINE_EDGE_MM = 16.0, 5.0
OVERSHOT = 0.1  # of what was missed before: less is what any step leaves
MAX_BEND_RAD = 1.4
SCANNED_UNDERARM_ERROR_MM = 3.0  # for the scan's first level lies a little below the underarm's


@dataclass(frozen=True, eq=False)
class ArmShape:
    """The solved shape of one arm, before any mesh.

    Attributes
    ----------
    measures : ArmMeasures
    surface : ArmSurface
        Of the left arm; a right arm is meshed as its mirror image.
    fights : mapping of str to str
        Cap measures that could not be met, each with the measure it fights most.
    with_round_sections : ArmShape, optional
        `rounded`, where it is known already.
    """

    measures: ArmMeasures
    surface: ArmSurface
    fights: Mapping[str, str] = field(default_factory=dict)
    with_round_sections: ArmShape | None = None

    @property
    def start(self) -> Start:
        """What the search for a like shape may begin with."""
        limb = self.surface.limb
        layout = limb.layout
        solved = [layout.elbow, layout.bend_rad, layout.wrist - layout.elbow]
        return Start(limb.cap.numbers, tuple((solved - guessed_lengths(self.measures)).tolist()))

    @cached_property
    def rounded(self) -> ArmShape:
        """The left arm of the same measures with round sections, as filling makes them."""
        return self.with_round_sections or rounded_shape(self.measures)


def rounded_shape(measures: ArmMeasures) -> ArmShape:
    """Return the left arm of the same measures with round sections, as filling makes them.

    Raises
    ------
    UnrollError
        As `shape_arm`.
    """
    return shape_arm(replace(measures.rounded(), side="left"))


def loft(
    measures: ArmMeasures,
    *,
    edge: float = 5.0,
    inner_share: Fraction = Fraction(1, 3),
    darts: Sequence[DartLine] = (),
) -> ArmMesh:
    """Return the closed mesh of an arm.

    Parameters
    ----------
    measures : ArmMeasures
    edge : float
        Length of the mesh's edges, mm: 5 gives about 12 000 triangles, 13 about 2 000.
    inner_share : Fraction
        Share of each girth that the inner panel takes.
    darts : sequence of DartLine
        Lines of the cap that must be mesh lines, so that they can be slit.

    Raises
    ------
    UnrollError
        When the measures cannot make an arm, or a dart does not fit the cap.

    Examples
    --------
    >>> from unroll.nouns import Armhole, ArmMeasures
    >>> arm = loft(ArmMeasures("left", 338, 319, 236, 286, 125, 246, 243, 62, 158, 58, 41, 162, (),
    ...                        Armhole(98, 116, 336.6), 128), edge=13)
    >>> sorted(arm.panel_faces)
    ['armhole plate', 'inner', 'outer', 'wrist plate']
    """
    return mesh_arm(shape_arm(measures), edge=edge, inner_share=inner_share, darts=darts)


def mesh_arm(
    shape: ArmShape,
    *,
    edge: float = 5.0,
    inner_share: Fraction = Fraction(1, 3),
    darts: Sequence[DartLine] = (),
) -> ArmMesh:
    """Return the closed mesh of a solved shape; see `loft`."""
    edge = bounded_edge(edge, shape.measures)
    grids = lay_grids(shape.surface, edge=edge, inner_share=float(inner_share), darts=darts)
    arm = replace(close_mesh(shape.surface, grids), up=way_up(shape.measures))
    return arm if shape.measures.side == "left" else mirrored_arm(arm)


def shape_arm(
    measures: ArmMeasures,
    *,
    finest: float = FINE_EDGE_MM,
    exact: float = EXACT,
    start: Start | None = None,
) -> ArmShape:
    """Solve the shape of an arm so that the tape finds its measures again.

    Parameters
    ----------
    measures : ArmMeasures
    finest : float
        Edge of the finest mesh that its lengths are taped on, mm; on one of 16 mm they come out
        within a millimetre, in a third of the time.
    exact : float
        Share by which the cap's numbers may still change when its fit ends.
    start : Start, optional
        Of a like shape.

    Notes
    -----
    The cap is fitted first. Then three numbers (distance to the elbow, its bend, distance to the
    wrist) are corrected by what a tape finds on a coarse mesh, until the lengths come back: a
    fixed point that gains about a digit a round. A girth that turns out to lie at the underarm's
    level belongs to the cap, which is then fitted again. A scan's lengths stand as they are.

    Raises
    ------
    UnrollError
        When the measures cannot make an arm.
    """
    plate, scan = plate_of(measures.armhole, measures.stance), measures.scan
    if scan is not None:
        layout = scan_layout(measures, scan)
        girth = (scan.levels[0].girth, SCANNED_UNDERARM_ERROR_MM)
        cap = fit_cap(measures, plate, underarm_girth=girth, exact=exact)
        surface = ArmSurface(scanned_limb(scan, cap, layout))
        return ArmShape(measures, surface, _fights(measures, cap, girth))
    first, lengths = (None, None) if start is None else (start.cap, start.lengths)
    cap = fit_cap(measures, plate, exact=exact, start=first)
    surface, left = _solve_lengths(measures, cap, finest, lengths)
    told = underarm_girth(measures, surface.limb.layout)
    if told is not None:
        cap = fit_cap(measures, plate, underarm_girth=told, exact=exact, start=first)
        surface, left = _solve_lengths(measures, cap, finest, lengths)
    fights = {**_fights(measures, cap, told), **_fights_lengths(measures, left),
              **_fights_wrist(measures, surface)}  # fmt: skip
    return ArmShape(measures, surface, fights)


def in_the_room(points: FloatArray, measures: ArmMeasures) -> FloatArray:
    """Return points of an arm as they lie in the room once it hangs on the double, (n, 3) mm.

    Parameters
    ----------
    points : (n, 3) float
        In the arm's frame, in which the armhole's plate is upright and faces straight out.
    measures : ArmMeasures
    """
    mirror = np.array([1.0, 1.0 if measures.side == "left" else -1.0, 1.0])
    stands = plate_of(measures.armhole, measures.stance).stands
    return np.asarray((points * mirror) @ stands.T * mirror)


def way_up(measures: ArmMeasures) -> FloatArray:
    """Return the unit vector away from the ground in the frame of the left arm's plate, (3,)."""
    return np.asarray(plate_of(measures.armhole, measures.stance).stands[2])


def _is_bend_settled(measures: ArmMeasures) -> bool:
    """Tell whether the elbow's bend comes from elsewhere than the lengths down back and front.

    It is the wrist's; or where one length was estimated from a usual bend, though the upper arm
    does not hang straight, that bend.
    """
    stance = measures.stance
    names = ("shoulder_to_elbow", "shoulder_to_inner_elbow")
    is_guessed = any(measures.is_estimated(name) for name in names)
    return stance.wrist_forward is not None or (is_guessed and stance.elbow_forward is not None)


def _trusted(measures: ArmMeasures) -> FloatArray:
    """Return the shares of back and front length in how long the upper arm is, (2,)."""
    names = ("shoulder_to_elbow", "shoulder_to_inner_elbow")
    taped = np.array([0.0 if measures.is_estimated(name) else 1.0 for name in names])
    return np.asarray(taped / taped.sum())


def _fights_lengths(measures: ArmMeasures, left: FloatArray) -> dict[str, str]:
    """Return the lengths that are missed by more than a tape slips, and what they fight.

    Parameters
    ----------
    left : (3,) float
        What back, front and forearm are short of, mm.
    """
    hangs = measures.stance.elbow_forward is not None
    other = {
        "shoulder_to_elbow": "shoulder_to_inner_elbow",
        "shoulder_to_inner_elbow": "shoulder_to_elbow",
        "inner_elbow_to_wrist": "shoulder_to_elbow",
    }
    return {
        name: "elbow_forward" if hangs else fought
        for (name, fought), short in zip(other.items(), left, strict=True)
        if not measures.is_estimated(name) and abs(short) > LENGTH_FIGHT_MM
    }


def _fights_wrist(measures: ArmMeasures, surface: ArmSurface) -> dict[str, str]:
    """Return the lengths down back and front where they do not go with where the wrist hangs."""
    if measures.stance.wrist_forward is None:
        return {}
    names = ("shoulder_to_elbow", "shoulder_to_inner_elbow")
    got = _lengths(surface, FINE_EDGE_MM)
    return {
        name: "wrist_forward"
        for name, length in zip(names, got, strict=False)
        if not measures.is_estimated(name)
        and abs(length - getattr(measures, name)) > LENGTH_FIGHT_MM
    }


def _solve_lengths(
    measures: ArmMeasures, cap: Cap, finest: float, over: Sequence[float] | None = None
) -> tuple[ArmSurface, FloatArray]:
    """Return the arm whose lengths a tape finds again, and what they are short of, (3,) mm."""
    half_width = elbow_half_width(measures)
    back, front = measures.shoulder_to_elbow, measures.shoulder_to_inner_elbow
    asked = np.array([back, front, measures.inner_elbow_to_wrist])
    elbow, bend, lower = (guessed_lengths(measures) + (0.0 if over is None else over)).tolist()
    edge, is_hung = COARSE_EDGE_MM, _is_bend_settled(measures)
    gain, before = np.ones(3), np.zeros(3)
    nearest: tuple[float, ArmSurface | None, FloatArray] = (np.inf, None, np.zeros(3))
    for done in range(LENGTH_ROUNDS):
        layout = hung(measures, cap, lay_out_limb(measures, elbow, bend, lower))
        bend = layout.bend_rad
        surface = ArmSurface(taped_limb(measures, cap, layout))
        missed = asked - _lengths(surface, edge)
        if is_hung:  # the two ways share what is left
            missed[:2] = missed[:2] @ _trusted(measures)
        worst = float(np.abs(missed).max())
        if edge == finest:
            nearest = min(nearest, (worst, surface, missed), key=lambda one: one[0])
            if worst < LENGTH_TOLERANCE_MM:
                return surface, missed
            if np.abs(missed - before).max() < STUCK_MM:  # what fights will not come nearer
                break
        # where a tape jumps from one hollow to the next, whole steps go to and fro for ever
        goes_back = missed * before < -OVERSHOT * before**2
        gain = np.where(goes_back, 0.6 * gain, np.minimum(1.25 * gain, 1.0))
        # a coarse mesh cuts corners by most of a millimetre: finish on a fine one, whose first
        # misses are its own
        finer = finest if worst < 1.5 or done > COARSE_ROUNDS else edge
        before, edge = missed if finer == edge else np.zeros(3), finer
        step = gain * missed
        elbow += 0.5 * (step[0] + step[1])
        turned = np.clip((step[0] - step[1]) / half_width, -0.5 - bend, MAX_BEND_RAD - bend)
        bend += float(turned)
        lower += step[2] + 0.5 * half_width * float(turned)  # more bent, the inside is shorter
    left, best, missed = nearest
    if best is not None and left < LENGTH_LEFT_MM:
        return best, missed  # the tapes say by how much they miss
    raise NotConverged(
        f"lengths miss by {left:.1f} mm after {done + 1} rounds; expected below "
        f"{LENGTH_LEFT_MM} mm (do shoulder_to_elbow and shoulder_to_inner_elbow go together?)",
        surface,
    )


def _lengths(surface: ArmSurface, edge: float) -> FloatArray:
    """Return back, front and lower length as a tape finds them on a mesh."""
    grids = lay_grids(surface, edge=edge, inner_share=1 / 3, darts=(), is_even=False)
    arm = close_mesh(surface, grids)
    v, f, at = arm.mesh.vertices, arm.mesh.faces, arm.landmarks
    back = taut_line(v, f, at["shoulder"], at["elbow point"], np.array([-1.0, 1.0, 0.0]))[0]
    front = taut_line(v, f, at["shoulder"], at["elbow crease"], np.array([1.0, 1.0, 0.0]))[0]
    forward = np.array([1.0, 0.0, 0.0])
    lower = taut_line(v, f, at["elbow crease"], at["wrist point"], forward, swing_rad=0.3)[0]
    return np.array([back, front, lower])


def _fights(
    measures: ArmMeasures, cap: Cap, girth: tuple[float, float] | None
) -> dict[str, str]:
    """Return, for each cap measure that is missed, the one whose absence would free it most."""
    fit = partial(fit_cap, measures, cap.plate, underarm_girth=girth)
    missed = _cap_errors(measures, cap)
    names = [*missed, "upper_arm_girth"]
    fights = {}
    for name, error in missed.items():
        if abs(error) <= FIGHT_MM:
            continue
        others = [other for other in names if other != name]
        left = [
            abs(_cap_errors(measures, fit(without={other}))[name]) for other in others
        ]
        fights[name] = others[int(np.argmin(left))]
    return fights


def _cap_errors(measures: ArmMeasures, cap: Cap) -> dict[str, float]:
    errors = {}
    for number, arc in enumerate(measures.cap_arcs, start=1):
        taped = float(cap.taped_arcs(np.array([arc.up]))[0])
        errors[f"cap_arc {number}"] = taped - arc.length
    if not measures.is_estimated("cap_height"):
        errors["cap_height"] = float(cap.height) - measures.cap_height
    return errors


USUAL_UP, USUAL_DOWN = 0.4, 0.26  # of the upper limb's and the forearm's length


def measures_of_scan(
    scan: LimbScan,
    armhole: Armhole,
    *,
    cap_height: float,
    shoulder_length: float,
    cap_arcs: tuple[CapArc, ...] = (),
    side: Side = "left",
) -> ArmMeasures:
    """Return the measures of an arm that is known level by level, ready to be lofted.

    Parameters
    ----------
    scan : LimbScan
    armhole : Armhole
    cap_height, shoulder_length : float
        As on the sheet, mm.
    cap_arcs : tuple of CapArc
        At any number of levels.
    side : {"left", "right"}

    Notes
    -----
    Girths are read where a maker would tape them; lengths are what a tape finds on the loft.

    Raises
    ------
    UnrollError
        When the levels do not run down from the underarm past the elbow to a wrist.
    """
    check_scan(scan)
    curve, wrist = monotone_girths(scan.levels), scan.levels[-1]
    ratio = wrist.ratio or 1.0
    size = wrist.girth / superellipse_perimeter(ratio, 1.0, wrist.exponent or 2.0)
    up, down = USUAL_UP * scan.elbow, USUAL_DOWN * (wrist.along - scan.elbow)
    measures = ArmMeasures(
        side=side,
        shoulder_to_elbow=armhole.height + scan.elbow,
        shoulder_to_inner_elbow=armhole.height + scan.elbow,
        inner_elbow_to_wrist=wrist.along - scan.elbow,
        upper_arm_girth=float(curve(scan.elbow - up)),
        upper_arm_up=-scan.taped(scan.elbow - up),
        elbow_girth=float(curve(scan.elbow)),
        forearm_girth=float(curve(scan.elbow + down)),
        forearm_down=scan.taped(scan.elbow + down),
        wrist_girth=wrist.girth,
        wrist_width=2.0 * ratio * size,
        wrist_depth=2.0 * size,
        cap_height=cap_height,
        cap_arcs=cap_arcs,
        armhole=armhole,
        shoulder_length=shoulder_length,
        scan=scan,
    )
    return with_own_lengths(measures)


def with_own_lengths(measures: ArmMeasures) -> ArmMeasures:
    """Return a scanned arm's measures with the lengths that a tape finds on its loft."""
    back, front, lower = _lengths(shape_arm(measures).surface, FINE_EDGE_MM).tolist()
    return replace(
        measures,
        shoulder_to_elbow=back,
        shoulder_to_inner_elbow=front,
        inner_elbow_to_wrist=lower,
    )
