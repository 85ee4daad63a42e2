"""Where a cap that no corner ends does: where it turns straight, fits, or mirrors itself."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from unroll.drafts.own_corners import NEAR_SHARE, Corners, Dart, run_length, with_point
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.polylines import lengths_along
from unroll.nouns import Piece

REACH_MM, STEP_MM = 45.0, 1.0  # looked at to either side of the place walked to
CHORD_MM = 8.0  # that a direction is read from
CORNER_DEG = 22.0  # a turn by more over a chord ends the stretch that is looked at
BESIDE_MM, LEAST_MM = 12.0, 40.0  # needed on either side of the end, and in all
CURVED, STRAIGHT = 0.3, 0.15  # degrees a mm: at least on the cap's side, at most on the seam's
ALIKE_WITHIN_DEG = 1.0  # root mean square; mirrored ends of one drawing differ by less
TURNED_DEG = 20.0  # needed over the stretch that is compared: a straight one lies alike anywhere
MOST_APART_MM = 24.0  # that the one end may be carried too far and the other as much too short

# The seams beside the cap, and which way along an anticlockwise outline the cap lies.
WAYS = (("front seam", -1.0), ("back seam", 1.0))
AS_INNER = "where the inner's, walked from the wrist, does: no corner is drawn there"
TURNS_STRAIGHT = "where the cap's curve passes into a straight line"
BY_ARMHOLE = (
    "where the cap, its darts closed, is as long as the armhole's upper half: nothing drawn tells"
)
MIRRORED = "where the cap's two ends mirror each other: no corner is drawn there"


@dataclass(frozen=True, eq=False)
class OuterOutline:
    """An outer's outline while the ends of its cap are looked for; all but its points are rows.

    Attributes
    ----------
    points : (k, 2) float
    corners : Corners
    joints : (j,) int
    darts : tuple of Dart
    wrist : (2,) int
        Front and back corner.
    ends : (0 to 2,) int
        Front and back end of the cap, as far as they are known.
    """

    points: FloatArray
    corners: Corners
    joints: IntArray
    darts: tuple[Dart, ...]
    wrist: IntArray
    ends: IntArray = field(default_factory=lambda: np.array([], dtype=int))

    def with_point(self, start: int, along: float) -> tuple[OuterOutline, int]:
        """Return the outline with a point so many mm on from one of its points, and its row."""
        points, at, moved = with_point(self.points, start, along)
        darts = tuple(Dart(*(int(moved[k]) for k in (d.start, d.tip, d.end))) for d in self.darts)
        corners = Corners(moved[self.corners.at], self.corners.turn_deg)
        return OuterOutline(
            points, corners, moved[self.joints], darts, moved[self.wrist], moved[self.ends]
        ), at

    def with_end(self, which: int, into_cap: float) -> OuterOutline:
        """Return the outline with the front (0) or back (1) end so many mm farther up the cap."""
        out, at = self.with_point(int(self.ends[which]), WAYS[which][1] * into_cap)
        ends = out.ends.copy()
        ends[which] = at
        return replace(out, ends=ends)


def with_cap_ends(
    outline: OuterOutline, inner: Piece, hole: Piece
) -> tuple[OuterOutline, tuple[str, ...]]:
    """Return an outer's outline with its cap's ends, and how those without a corner were found.

    Parameters
    ----------
    outline : OuterOutline
        Without its ends.
    inner, hole : Piece
        The inner piece, whose seams are walked from the wrist, and the armhole base.

    Notes
    -----
    An end is the corner or the joint nearest to where the inner's seam walks to; without one, where
    the curve turns straight. Where nothing tells, the cap, its darts closed, is as long as the
    armhole's upper half, and its two ends mirror each other, if they are drawn so.
    """
    how: dict[str, str] = {}
    untold: list[int] = []
    for index, (seam, sign) in enumerate(WAYS):
        start, place = int(outline.wrist[index]), sign * inner.seam_length(seam)
        at = _near_corner(outline.points, start, place, outline.corners, outline.joints)
        if at is None:
            points = outline.points
            beyond = smooth_end(points, run_length(points, 0, start) + place, sign)
            outline, at = outline.with_point(start, place + sign * (beyond or 0.0))
            untold += [index] if beyond is None else []
            how[seam] = AS_INNER if beyond is None else TURNS_STRAIGHT
        outline = replace(outline, ends=np.append(outline.ends, at))
    if outline.darts and untold:
        outline = _by_armhole(outline, untold[-1], hole)
        how[WAYS[untold[-1]][0]] = BY_ARMHOLE
    if len(untold) == 2:
        mirrored = _mirrored(outline)
        how = how if mirrored is outline else dict.fromkeys(how, MIRRORED)
        outline = mirrored
    return outline, tuple(f"outer: its {seam} ends {where}" for seam, where in how.items())


def _by_armhole(outline: OuterOutline, which: int, hole: Piece) -> OuterOutline:
    """Return an outline one of whose seams ends so that the cap, darts closed, fits the armhole.

    Darts take in what a cap has too much, while the back seam may be longer than the inner's by
    what is eased in at the elbow. A cap that is off by more than a seam's end may lie off stays.
    """
    points, (front, back) = outline.points, outline.ends.tolist()
    taken_in = sum(run_length(points, d.start, d.end) for d in outline.darts)
    surplus = run_length(points, back, front) - taken_in - hole.seam_length("cap seam")
    seam = run_length(points, int(outline.wrist[1]), back)
    return outline if abs(surplus) > NEAR_SHARE * seam else outline.with_end(which, surplus)


def _mirrored(outline: OuterOutline) -> OuterOutline:
    """Return an outline whose cap is as long, its ends where they mirror each other.

    As it is where they do not.
    """
    front, back = (run_length(outline.points, 0, int(end)) for end in outline.ends)
    apart = apart_from_mirrored(outline.points, front, back)
    if apart is None:
        return outline
    return outline.with_end(0, 0.5 * apart).with_end(1, -0.5 * apart)


def _near_corner(
    points: FloatArray, start: int, walked: float, corners: Corners, joints: IntArray
) -> int | None:
    """Return the corner, else the joint, nearest to where a seam walks to; None without one."""
    most = NEAR_SHARE * abs(walked)
    for candidates in (corners.at[corners.turn_deg > 0], joints):
        offs = [
            (abs(abs(walked) - (run_length(points, int(k), start) if walked < 0
                                else run_length(points, start, int(k)))), int(k))
            for k in candidates if k != start
        ]  # fmt: skip
        if offs and min(offs)[0] < most:
            return min(offs)[1]
    return None


def smooth_end(points: FloatArray, at: float, way: float) -> float | None:
    """Return how far beyond a place a curved cap ends and a straight side begins, mm.

    None where the one runs on into the other, and nothing tells.

    Parameters
    ----------
    points : (k, 2) float
        Anticlockwise outline, the first point not repeated.
    at : float
        mm along it from its first point, where the side is thought to end.
    way : {1.0, -1.0}
        Which way along the outline the cap lies; the answer is positive that way.

    Notes
    -----
    The direction of a straight side is constant and that of a cap's curve changes with its length:
    a line with one bend is fitted to it for every place of the bend. It is taken where it fits
    better than a smooth curve with as many numbers.
    """
    along, heading = _heading(points, at, way)
    if along.size == 0 or np.ptp(along) < LEAST_MM:
        return None
    bends = along[(along > along[0] + BESIDE_MM) & (along < along[-1] - BESIDE_MM)]
    fits = [_fit(_bent(along - bend), heading) for bend in bends]
    off, (_, side, cap, _) = min(fits, key=lambda fit: fit[0])
    smooth, _ = _fit(np.vander((along - along.mean()) / REACH_MM, 5), heading)
    if off > smooth or abs(side) > STRAIGHT or cap - side < CURVED:
        return None
    return float(bends[int(np.argmin([fit[0] for fit in fits]))])


def apart_from_mirrored(points: FloatArray, front: float, back: float) -> float | None:
    """Return how much farther up the cap the front end is to go than the back one, mm.

    Caps are usually drawn with both ends alike: then the two places mirror each other. None where
    the ends are not alike.

    Parameters
    ----------
    points : (k, 2) float
        Anticlockwise outline, the first point not repeated.
    front, back : float
        mm along it from its first point, where the cap is thought to end; it runs from back to
        front.
    """
    one, its_heading = _heading(points, front, -1.0)
    two, other_heading = _heading(points, back, 1.0)
    if one.size == 0 or two.size == 0 or np.ptp(its_heading) < TURNED_DEG:
        return None
    best, found = ALIKE_WITHIN_DEG, None
    for apart in np.arange(-MOST_APART_MM, MOST_APART_MM + 0.25, 0.5):
        there = two + apart  # where on the front side the back's places would lie
        shared = one[(one >= there[0]) & (one <= there[-1])]
        if shared.size == 0 or np.ptp(shared) < LEAST_MM:
            continue
        unlike = np.interp(shared, one, its_heading) - np.interp(shared, there, other_heading)
        off = float(unlike.std())
        if off < best:
            best, found = off, float(apart)
    return found


def _heading(points: FloatArray, at: float, way: float) -> tuple[FloatArray, FloatArray]:
    """Return places along the outline and its direction there, degrees, up to the next corner."""
    closed = np.vstack([points, points[:1]])
    lengths = lengths_along(closed)

    def place(there: FloatArray) -> FloatArray:
        there = there % lengths[-1]
        return np.stack([np.interp(there, lengths, closed[:, k]) for k in range(2)], axis=1)

    along = np.arange(-REACH_MM, REACH_MM + 0.5 * STEP_MM, STEP_MM)
    half = 0.5 * CHORD_MM
    chord = place(at + way * (along + half)) - place(at + way * (along - half))
    heading = way * np.degrees(np.unwrap(np.arctan2(chord[:, 1], chord[:, 0])))
    turn = np.interp(along + half, along, heading) - np.interp(along - half, along, heading)
    corners = along[np.abs(turn) > CORNER_DEG]
    low = corners[corners < 0.0].max(initial=-np.inf) + CHORD_MM
    high = corners[corners >= 0.0].min(initial=np.inf) - CHORD_MM
    kept = (along >= low) & (along <= high)
    return along[kept], heading[kept]


def _bent(beyond: FloatArray) -> FloatArray:
    """Return the columns of a line that bends at 0, and curves beyond."""
    cap = np.maximum(beyond, 0.0)
    return np.column_stack([np.ones_like(beyond), np.minimum(beyond, 0.0), cap, cap**2])


def _fit(columns: FloatArray, values: FloatArray) -> tuple[float, FloatArray]:
    """Return how far off the best combination of columns is, and its numbers."""
    best = np.linalg.lstsq(columns, values, rcond=None)[0]
    return float(np.linalg.norm(columns @ best - values)), np.asarray(best, dtype=float)
