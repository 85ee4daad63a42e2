"""A scan's measures: a tape round it level by level, along it, and over its shoulder."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from unroll.arms.axis import Polyline
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.sections import taut_arc, taut_line
from unroll.nouns import CapArc, GirthLevel, Level, LimbScan, Mesh
from unroll.nouns.scan import MM_PER, ScanHints, ScannedArm, Section
from unroll.progress import Progress
from unroll.scans.cutting import AROUND, Cutter, hull_girth, outline, turned
from unroll.scans.finding import Pose, find_pose
from unroll.scans.freeing import freed
from unroll.scans.mending import Mended, mend
from unroll.sheets.armholes import traced_armhole

STEP_MM, COARSE_MM = 4.0, 12.0  # between levels; and while the axis is being found
FIRST_MM = 4.0  # below the underarm's level: the first section of the limb
CLEAR_MM = 0.3  # between an end's level and the scan's open edge
SMOOTH_MM = 90.0  # of axis over which its sideways wander is evened out
OPEN_BEND = 1.6  # the middle line's turn at the elbow over half the arm's width there
UPPER_ARM_WITHIN, FOREARM_WITHIN = (0.3, 0.62), (0.12, 0.42)  # of elbow to underarm, to wrist
USUAL_UP, USUAL_DOWN = 0.4, 0.26  # where there is no fullest girth between those
FURTHER = (-0.8, -0.2, 0.45, 0.62, 0.8)  # levels of the further girths, of the same lengths
LEAST_LENGTH = 0.7  # of its greatest girth, below the underarm: a toddler's fat arm has 0.9
CAP_AWAY_DEG = 20.0  # a scan whose arm stands away by more has no hanging arm's cap
FARTHEST_MM = 80.0  # of a landmark from the surface: a joint lies within a stout arm
MOST_INSIDE = 0.9  # of half the bend's length, by which its inner side may be short of it
ARC_SHARES = (0.3, 0.5, 0.7)  # of the armhole's height, where cap arcs are taped


def measure_scan(
    mesh: Mesh, hints: ScanHints, *, name: str = "scan", tell: Progress | None = None
) -> ScannedArm:
    """Return everything that can be found on a scan of an arm.

    Parameters
    ----------
    mesh : Mesh
        As read, in the file's own unit.
    hints : ScanHints
        What the sheet says of it.
    name : str
        Of the file.
    tell : Progress, optional

    Raises
    ------
    UnrollError
        When the scan is no arm, or cannot be measured. The text goes on after the file's name.

    Notes
    -----
    A girth is the convex hull of a plane section, as a tape bridges hollows. Sections are level
    on the upper arm, square to the forearm below, and turn from one to the other at the elbow.
    """
    tell = tell or Progress()
    tell("mending the scan")
    return measure_mended(mend(mesh, hints.unit), hints, name=name, tell=tell)


def measure_mended(
    mended: Mended, hints: ScanHints, *, name: str = "scan", tell: Progress | None = None
) -> ScannedArm:
    """Return the same of a scan that was mended before; see `measure_scan`."""
    try:
        return _measured(mended, hints, name, tell or Progress())
    except UnrollError:
        raise
    except (ArithmeticError, IndexError, ValueError, np.linalg.LinAlgError) as error:
        # whatever shape a file may hold, its maker is told that it is no arm, and no more
        raise UnrollError(f"is no arm that could be measured ({type(error).__name__}: a part "
                          "missing, or another thing?)") from error


def _measured(mended: Mended, hints: ScanHints, name: str, tell: Progress) -> ScannedArm:
    tell("finding shoulder, elbow and wrist")
    hints = _in_mm(hints, mended.unit)
    _check_places(mended, hints)
    alone, cut = freed(mended.mesh, hints)
    pose = find_pose(alone, hints)
    tell("measuring the scan level by level")
    limb = _Limb(pose)
    _check_slim(limb)
    stations = _stations(limb)
    landmarks = _landmarks(limb, pose, stations)
    lengths = _lengths(pose, landmarks)
    scan = limb.scan(_inside(limb, stations, lengths))
    armhole, told = _armhole(pose)
    tell("taping the scan")
    return ScannedArm(
        name=name,
        side=pose.side,
        mesh=pose.mesh,
        landmarks=landmarks,
        axis=limb.in_scan(limb.line.points),
        sections=limb.sections,
        values={**_girths(limb, stations, scan), **lengths},
        cap_arcs=tuple(_cap_arcs(pose)),
        girths=tuple(_further(limb, stations, scan)),
        armhole=armhole,
        limb=scan,
        bend_deg=float(np.degrees(np.arccos(np.clip(pose.down @ pose.fore, -1.0, 1.0)))),
        away_deg=pose.away_deg,
        told=(*mended.told, *cut, *pose.told, *told),
        unit=mended.unit,
        whole=mended.mesh,
    )


def _check_places(mended: Mended, hints: ScanHints) -> None:
    """Refuse landmarks that lie nowhere near the scan."""
    for name, at in hints.landmarks.items():
        off = float(np.linalg.norm(mended.mesh.vertices - np.array(at), axis=1).min())
        if off > FARTHEST_MM:
            raise UnrollError(f"has its {name}, as the sheet's table [scan] says, {off:.0f} mm off "
                              f"its surface; expected at most {FARTHEST_MM:.0f} mm (another "
                              "file's numbers, or another unit?)")  # fmt: skip


def _in_mm(hints: ScanHints, unit: str) -> ScanHints:
    """Return the hints with their points in mm; the unit is the file's."""
    scale = MM_PER[unit]

    def scaled(at: tuple[float, float, float]) -> tuple[float, float, float]:
        return (scale * at[0], scale * at[1], scale * at[2])

    return replace(
        hints, unit=unit, landmarks={name: scaled(at) for name, at in hints.landmarks.items()},
        axis=tuple(scaled(at) for at in hints.axis),
    )  # fmt: skip


def _check_slim(limb: _Limb) -> None:
    """Refuse what is no longer than it is round."""
    longest, thickest = limb.end, max(section.girth for section in limb.sections)
    if longest < LEAST_LENGTH * thickest:
        raise UnrollError(f"is {longest:.0f} mm long and {thickest:.0f} mm round; expected an arm "
                          f"at least {LEAST_LENGTH:g} times as long as round (another thing?)")


class _Limb:
    """Sections of the scan from below the underarm to the wrist.

    Its own frame has the upper arm hanging straight down from the underarm's level at the origin:
    x forward, y outward, z up.
    """

    def __init__(self, pose: Pose) -> None:
        self.pose, self.cutter = pose, Cutter(pose.mesh)
        self.reach = 1.9 * self._radius()
        self._guide()
        self.line, self.first = self._line(self.guide), FIRST_MM
        for _ in range(2):
            self._keep_whole()
            self.line = self._line(self._evened(tuple(self._sections(COARSE_MM))))
        self._keep_whole()
        self.sections = tuple(self._sections(STEP_MM))

    def _radius(self) -> float:
        """Return half the arm's width midway up the upper arm, mm."""
        pose = self.pose
        middle = 0.5 * (pose.top + pose.corner)
        cut = self.cutter.segments(middle, pose.frame, 160.0)
        near = np.linalg.norm(cut.mean(axis=1), axis=1)
        usual = np.median(near) if len(near) else 0.0  # an empty section is told by its girth
        return hull_girth(cut[near < 2.0 * usual]) / (2.0 * np.pi)

    def _guide(self) -> None:
        """Lay a line down the upper arm, round the elbow, and down the forearm."""
        pose, frame = self.pose, self.pose.frame
        fore = pose.fore @ frame.T
        bend = float(np.arccos(np.clip(-fore[2], -1.0, 1.0)))
        depth = float((pose.corner - pose.top) @ pose.down)
        if depth < 4.0 * FIRST_MM or pose.wrist < 4.0 * FIRST_MM:
            raise UnrollError(
                f"has its elbow {depth:.0f} mm below the underarm and {pose.wrist:.0f} mm above "
                "the wrist; expected an arm from the underarm to the wrist (part missing? or tell "
                "the elbow in the sheet's table [scan])"
            )
        radius = OPEN_BEND * 0.7 * self.reach / 1.9
        cut = min(radius * np.tan(0.5 * bend), 0.4 * depth, 0.4 * pose.wrist)
        radius = cut / np.tan(0.5 * bend) if bend > 1e-3 else 1e9
        turn = radius * bend if bend > 1e-3 else 0.0
        self.straight = depth - max(cut, 0.12 * depth)
        self.elbow = depth - cut + 0.5 * turn
        angle = np.linspace(0.0, bend, 13)[1:-1]
        ahead = np.array([fore[0], fore[1], 0.0]) / max(np.hypot(*fore[:2]), 1e-12)
        arc = np.array([0.0, 0.0, -(depth - cut)]) + (
            radius * (1.0 - np.cos(angle))[:, None] * ahead
            - radius * np.sin(angle)[:, None] * np.array([0.0, 0.0, 1.0])
        )
        down = -np.arange(0.0, depth - cut, STEP_MM)[:, None] * [0.0, 0.0, 1.0]
        low = np.array([0.0, 0.0, -depth]) + np.arange(cut, pose.wrist, STEP_MM)[:, None] * fore
        end = np.array([0.0, 0.0, -depth]) + pose.wrist * fore
        parts = [down, arc if bend > 1e-3 else arc[:0], low[low[:, 2] < down[-1, 2] - 1.0], [end]]
        self.guide = np.concatenate(parts)
        self.end = float(self._line(self.guide)._curve.x[-1])

    def _line(self, axis: FloatArray) -> Polyline:
        return Polyline(axis, self.straight, self.elbow - self.straight, tuple(axis[0]))

    def in_scan(self, points: FloatArray) -> FloatArray:
        """Return points of the limb's own frame where they lie on the scan, mm."""
        return np.asarray(self.pose.top + points @ self.pose.frame)

    def _places(self, step: float) -> FloatArray:
        """Return where the levels lie along the axis, mm."""
        count = max(12, round((self.end - self.first) / step))
        return np.linspace(self.first, self.end, count + 1)

    def _keep_whole(self) -> None:
        """Draw first and last level in until they run clear of the scan's open edges."""
        high, low = self.pose.ends
        for _ in range(4):
            for edge, sign in ((high, 1.0), (low, -1.0)):
                along = self.first if sign > 0.0 else self.end
                _, centre, frame = self.plane(along)
                if len(edge):
                    short = CLEAR_MM - float((sign * ((edge - centre) @ frame[2])).min())
                    along += sign * max(0.0, short)
                self.first, self.end = (along, self.end) if sign > 0.0 else (self.first, along)

    def plane(self, along: float) -> tuple[float, FloatArray, FloatArray]:
        """Return a level, its centre and its frame on the scan."""
        line = self.line
        (forward,), (up,) = line.frames(np.array([along]))
        frame = np.stack([forward, np.cross(up, forward), up]) @ self.pose.frame
        centre = self.in_scan(np.asarray(line.centre(along)))
        return along, centre, frame

    def cut(self, along: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return a level's segments, (k, 2, 2), its centre and its frame on the scan."""
        _, centre, frame = self.plane(along)
        return self.cutter.segments(centre, frame, self.reach), centre, frame

    def _sections(self, step: float) -> Iterator[Section]:
        for along in self._places(step):
            segments, centre, frame = self.cut(float(along))
            if len(segments) < 5:
                raise UnrollError(f"has nothing {along:.0f} mm below the underarm (a part "
                                  "missing, or landmarks mixed up?)")
            middle, ring = outline(segments)
            yield Section(float(along), hull_girth(segments), centre, frame, ring + middle)

    def _evened(self, sections: tuple[Section, ...]) -> FloatArray:
        """Return the axis through the sections' middles, its wander evened out."""
        from scipy.signal import savgol_filter  # slow to load, and only scans need it

        along = np.array([section.along for section in sections])
        line = self.line
        middles = np.array([
            (s.centre + s.outline.mean(axis=0) @ s.frame[:2] - self.pose.top) @ self.pose.frame.T
            for s in sections
        ])
        off = middles - line.centre(along)
        span = max(5, round(SMOOTH_MM / (along[1] - along[0])) | 1)
        even = savgol_filter(off, min(span, len(off) - 1 | 1), 2, axis=0, mode="interp")
        knots = np.asarray(line._curve.x)
        moved = np.column_stack([
            np.interp(knots, along, even[:, k]) for k in range(3)
        ])
        moved[:, 2] = np.where(knots <= self.straight, 0.0, moved[:, 2])
        axis = line.points + moved
        falls = np.concatenate([[True], np.diff(axis[:, 2]) < -1e-3])
        return np.asarray(axis[falls | (knots > self.straight)])

    def girth(self, along: float) -> float:
        """Return the girth at a level, taped on the scan itself, mm."""
        return hull_girth(self.cut(along)[0])

    def scan(self, inside: float) -> LimbScan:
        """Return the levels as the loft takes them."""
        levels = [
            Level(s.along, s.girth, _ratio(s.outline), None, s.outline) for s in self.sections
        ]
        return LimbScan(tuple(levels), self.line.points, self.elbow, self.straight, inside)


def _ratio(ring: FloatArray) -> float:
    wide, deep = np.ptp(ring, axis=0)
    return float(np.clip(wide / deep, 0.5, 2.0))


@dataclass(frozen=True)
class _Stations:
    """Where the sheet's girths lie along the axis, mm."""

    upper_arm: float
    elbow: float
    forearm: float
    wrist: float


def _stations(limb: _Limb) -> _Stations:
    along = np.array([section.along for section in limb.sections])
    curve = PchipInterpolator(along, [section.girth for section in limb.sections])
    upper, lower = limb.elbow, along[-1] - limb.elbow

    def fullest(low: float, high: float, usual: float) -> float:
        places = np.linspace(low, high, 121)
        best = int(np.argmax(curve(places)))
        return float(places[best]) if 0 < best < 120 else usual

    within, below = UPPER_ARM_WITHIN, FOREARM_WITHIN
    return _Stations(
        min(fullest(limb.elbow - within[1] * upper, limb.elbow - within[0] * upper,
                    limb.elbow - USUAL_UP * upper), limb.straight - 2.0),
        limb.elbow,
        fullest(limb.elbow + below[0] * lower, limb.elbow + below[1] * lower,
                limb.elbow + USUAL_DOWN * lower),
        float(along[-1]),
    )  # fmt: skip


def _inside(limb: _Limb, at: _Stations, lengths: Mapping[str, float]) -> float:
    """Return by how much the inner elbow's tape to the wrist is short of the axis, mm."""
    short = at.wrist - at.elbow - lengths["inner_elbow_to_wrist"]
    return float(np.clip(short, 0.0, MOST_INSIDE * (limb.elbow - limb.straight)))


def _girths(limb: _Limb, at: _Stations, scan: LimbScan) -> dict[str, float]:
    wide, deep = two_books(limb.sections[-1].outline)
    values = {f"{name}_girth": limb.girth(getattr(at, name))
              for name in ("upper_arm", "elbow", "forearm", "wrist")}  # fmt: skip
    ratios = {
        f"{name}_ratio": _ratio(outline(limb.cut(getattr(at, name))[0])[1])
        for name in ("upper_arm", "elbow", "forearm")
    }
    return {
        **values, **ratios, "upper_arm_up": -scan.taped(at.upper_arm),
        "forearm_down": scan.taped(at.forearm), "wrist_width": wide, "wrist_depth": deep,
    }  # fmt: skip


def two_books(ring: FloatArray) -> tuple[float, float]:
    """Return a section's width and, least of all ways, its depth between two books that touch it.

    Examples
    --------
    >>> turn = np.linspace(0.0, 2.0 * np.pi, 721)
    >>> two_books(np.column_stack([30.0 * np.cos(turn), 20.0 * np.sin(turn)]))
    (60.0, 40.0)
    """
    angle = np.radians(np.arange(0.0, 180.0))
    sizes = np.ptp(ring @ np.stack([np.cos(angle), np.sin(angle)]), axis=0)
    least = int(np.argmin(sizes))
    return float(sizes[(least + 90) % 180].round(6)), float(sizes[least].round(6))


def _further(limb: _Limb, at: _Stations, scan: LimbScan) -> Iterator[GirthLevel]:
    taken = [at.upper_arm, at.elbow, at.forearm, at.wrist]
    for share in FURTHER:
        along = at.elbow + share * (at.elbow if share < 0.0 else at.wrist - at.elbow)
        along = max(along, limb.sections[0].along + 2.0)
        if min(abs(along - other) for other in taken) > 12.0:
            taken.append(along)
            girth = limb.girth(along)
            yield GirthLevel(scan.taped(along), girth, _ratio(outline(limb.cut(along)[0])[1]))


def _landmarks(limb: _Limb, pose: Pose, at: _Stations) -> dict[str, FloatArray]:
    found: dict[str, FloatArray] = {}
    if pose.shoulder is not None and pose.underarm is not None:
        found |= {"shoulder": pose.shoulder, "underarm": pose.underarm}
    for name, along, sign in (("elbow_point", at.elbow, -1.0), ("elbow_crease", at.elbow, 1.0),
                              ("wrist", at.wrist, 1.0)):  # fmt: skip
        segments, centre, frame = limb.cut(along)
        points = segments.reshape(-1, 2)
        found[name] = centre + points[np.argmax(sign * points[:, 0])] @ frame[:2]
    return found


def _lengths(pose: Pose, at: dict[str, FloatArray]) -> dict[str, float]:
    """Return the lengths by taut tape over the scan; those from the shoulder where it is there."""
    v, f = pose.mesh.vertices, pose.mesh.faces
    forward, outward, _ = pose.frame
    lower = taut_line(v, f, at["elbow_crease"], at["wrist"], forward, swing_rad=0.3)[0]
    found = {"inner_elbow_to_wrist": lower}
    if "shoulder" in at:
        for name, end, way in (("shoulder_to_elbow", "elbow_point", outward - forward),
                               ("shoulder_to_inner_elbow", "elbow_crease", outward + forward)):
            found[name] = taut_line(v, f, at["shoulder"], at[end], way)[0]
    return found


def _plate_frame(pose: Pose, shoulder: FloatArray, underarm: FloatArray) -> FloatArray:
    """Return forward, outward and up of the armhole, the rows of (3, 3)."""
    up = (shoulder - underarm) / np.linalg.norm(shoulder - underarm)
    outward = pose.down - (pose.down @ up) * up
    if pose.edge is not None:
        normal = np.linalg.svd(pose.edge - pose.edge.mean(axis=0), full_matrices=False)[2][2]
        outward = normal * np.sign(normal @ pose.down)
        outward -= (outward @ up) * up
    outward /= np.linalg.norm(outward)
    return np.stack([np.cross(outward, up), outward, up])


def _armhole(pose: Pose) -> tuple[FloatArray | None, list[str]]:
    """Return the outline of the scan's armhole; None where the scan does not reach so far."""
    if pose.edge is None or pose.shoulder is None or pose.underarm is None:
        return None, ["it begins at the underarm, so the armhole and where the shoulder point "
                      "lies above it are the sheet's, or estimated"]  # fmt: skip
    frame = _plate_frame(pose, pose.shoulder, pose.underarm)
    flat = (pose.edge - pose.edge.mean(axis=0)) @ frame[[0, 2]].T
    ring = turned(flat)
    try:
        traced_armhole(ring[:: AROUND // 64])
    except UnrollError as error:
        return None, [f"the edge of its armhole {error}; the armhole is the sheet's, or estimated"]
    return ring[:: AROUND // 64], []


def _cap_arcs(pose: Pose) -> Iterator[CapArc]:
    """Yield tapes over the shoulder from edge to edge, where the arm hangs as it shall be made."""
    if pose.edge is None or pose.shoulder is None or pose.underarm is None:
        return
    if pose.away_deg > CAP_AWAY_DEG:
        return
    frame = _plate_frame(pose, pose.shoulder, pose.underarm)
    edge = (pose.edge - pose.underarm) @ frame.T
    height = float((pose.shoulder - pose.underarm) @ frame[2])
    for share in ARC_SHARES:
        level = share * height
        near = edge[np.abs(edge[:, 2] - level) < 0.12 * height]
        origin = pose.underarm + level * frame[2]
        ends = [pose.underarm + np.array([x, 0.0, level]) @ frame
                for x in (near[:, 0].min(), near[:, 0].max())]  # fmt: skip
        arc = taut_arc(pose.mesh.vertices, pose.mesh.faces, origin, frame[2], *ends)
        yield CapArc(level, polylines.length(arc))
