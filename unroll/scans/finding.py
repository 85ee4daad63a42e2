"""Where a scan's shoulder, elbow and wrist are, which way it faces, and which arm it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import Mesh, Side
from unroll.nouns.scan import ScanHints
from unroll.scans.cutting import Cutter, hull_girth, outline
from unroll.scans.mending import areas, rims

SAMPLES, NEIGHBOURS = 20_000, 8
BAND_MM, FEWEST_BANDS = 10.0, 12
LEAST_BEND_RAD = 0.10  # a straighter arm does not tell where its elbow is, nor its front
MOST_BEND_RAD = 1.75
ELBOW_WITHIN = 0.22, 0.6  # of the middle line between the ends' own curves
ELBOW_SHARE = 0.49  # elbow to wrist over shoulder to wrist: mean of the arms in meshes/ that tell
# How far off each way of telling the elbow is, mm; house values. The kink's is over the sine.
KINK_MM, SHARE_MM, WAIST_MM = 5.0, 18.0, 12.0
OPEN_SHARE, OPEN_MM = 0.54, 30.0  # the same share of an arm that begins at the underarm
WAIST_WITHIN, WAIST_DEPTH = 0.4, 0.006  # of the forearm's length about the kink; of the girth
LEAST_AWAY_RAD = 0.14  # an arm that stands away by less does not tell where outward is
PLATE_RAD, FLAT_MM = 0.44, 8.0  # an open end is an armhole where it lies so far from square
SOCKET = 0.35  # of the armhole's height below the shoulder point: there the arm turns; house value
WRIST_SHARES = (0.45, 0.75)  # of elbow to fingertip: the narrowest there is the wrist


@dataclass(frozen=True, eq=False)
class Pose:
    """How a scanned arm lies, as a left one.

    Attributes
    ----------
    mesh : Mesh
    side : {"left", "right"}
    down, fore : (3,) float
        Ways of the upper arm and the forearm.
    frame : (3, 3) float
        Forward, outward and up of the upper arm.
    corner : (3,) float
        Where the middle lines of upper arm and forearm meet.
    top : (3,) float
        Of the upper arm's middle line, at the underarm's level.
    wrist : float
        From `corner` to the wrist, mm.
    ends : tuple of (k, 3) float
        The open edges at the shoulder's and at the wrist's end; empty where it is closed or a hand.
    edge : (k, 3) float or None
        The armhole's edge.
    shoulder, underarm : (3,) float or None
    away_deg : float
        Between the upper arm and where it hangs down.
    told : tuple of str
    """

    mesh: Mesh
    side: Side
    down: FloatArray
    fore: FloatArray
    frame: FloatArray
    corner: FloatArray
    top: FloatArray
    wrist: float
    ends: tuple[FloatArray, FloatArray]
    edge: FloatArray | None
    shoulder: FloatArray | None
    underarm: FloatArray | None
    away_deg: float
    told: tuple[str, ...]


def find_pose(mesh: Mesh, hints: ScanHints) -> Pose:
    """Return how a mended scan lies.

    Parameters
    ----------
    mesh : Mesh
        mm.
    hints : ScanHints
        With landmarks and axis in mm.

    Raises
    ------
    UnrollError
        When the surface is no arm.
    """
    pose = _pose(mesh, hints)
    if pose.side == "left":
        return pose
    flip = np.array([-1.0, 1.0, 1.0])
    mirrored = replace(
        hints, side="left",
        landmarks={name: tuple(flip * at) for name, at in hints.landmarks.items()},
        axis=tuple(tuple(flip * at) for at in hints.axis),
    )  # fmt: skip
    found = _pose(Mesh(mesh.vertices * flip, mesh.faces[:, ::-1]), mirrored)
    return replace(found, side="right", told=pose.told)


def _pose(mesh: Mesh, hints: ScanHints) -> Pose:
    told: list[str] = []
    points = sampled(mesh)
    away, from_wrist = _walked(points, hints)
    cutter = Cutter(mesh)
    lines = _lines(cutter, _middles(points, from_wrist)[::-1], hints, told)
    high, low = (mesh.vertices[end] for end in _ends(mesh, points, away, from_wrist))
    plate = _plate(high, lines.down, hints) if len(high) else None
    if not hints.axis and "elbow_point" not in hints.landmarks:
        top = _top(lines, points, plate, high)
        fore = _wrist(cutter, lines, points, low, hints, [])
        lines = _with_elbow(cutter, lines, top, plate, fore)
    frame, side = _faces(lines, plate, hints, told)
    top = _top(lines, points, plate, high)
    wrist = _wrist(cutter, lines, points, low, hints, told)
    edge, shoulder, underarm = plate or (None, None, None)
    stands = float(np.degrees(np.arccos(np.clip(-lines.down @ _upright(lines.down, plate), -1, 1))))
    ends = high, low if "wrist" not in hints.landmarks else low[:0]
    return Pose(
        mesh, side, lines.down, lines.fore, frame, lines.corner, top, wrist, ends, edge,
        shoulder, underarm, stands, tuple(told),
    )  # fmt: skip


def sampled(mesh: Mesh) -> FloatArray:
    """Return points spread evenly over a surface, the same for the same surface, (k, 3)."""
    random = np.random.default_rng(0)
    share = np.cumsum(areas(mesh))
    face = np.searchsorted(share, random.random(SAMPLES) * share[-1])
    u, v = random.random((2, SAMPLES))
    u, v = np.where(u + v > 1.0, (1.0 - u, 1.0 - v), (u, v))
    a, b, c = (mesh.vertices[mesh.faces[np.minimum(face, len(share) - 1), k]] for k in range(3))
    return np.asarray(a + u[:, None] * (b - a) + v[:, None] * (c - a))


def walk_lengths(points: FloatArray) -> Callable[[int], FloatArray]:
    """Return what tells how far points are from one of them over the surface they lie on, mm.

    Steps run from neighbour to neighbour, whatever holes and doubled faces the mesh has; -1 where
    none lead.
    """
    distance, near = cKDTree(points).query(points, k=NEIGHBOURS + 1)
    rows = np.repeat(np.arange(len(points)), NEIGHBOURS)
    link = coo_matrix((distance[:, 1:].ravel() + 1e-6, (rows, near[:, 1:].ravel())),
                      shape=(len(points),) * 2).tocsr()  # fmt: skip

    def walk(start: int) -> FloatArray:
        found = dijkstra(link, directed=False, indices=start)
        return np.asarray(np.where(np.isfinite(found), found, -1.0))

    return walk


def _walked(points: FloatArray, hints: ScanHints) -> tuple[FloatArray, FloatArray]:
    """Return how far each point is from the shoulder's end and from the other, over the surface."""
    walk = walk_lengths(points)
    one = walk(int(np.argmax(walk(0))))
    other = walk(int(np.argmax(one)))
    named = [hints.landmarks.get(name) for name in ("shoulder", "wrist")]
    ends = one, other
    if any(at is not None for at in named):
        near_to = [cKDTree(points).query(at)[1] if at is not None else None for at in named]
        at = near_to[0] if near_to[0] is not None else near_to[1]
        is_first = (one[at] < other[at]) == (near_to[0] is not None)
        return ends if is_first else ends[::-1]
    girths = [_thickness(walked) for walked in ends]
    return ends if girths[0] >= girths[1] else ends[::-1]


def _thickness(walked: FloatArray) -> float:
    """Return the share of a surface in a band near the end it is walked from."""
    reach = walked.max()
    return float(((walked > 0.15 * reach) & (walked < 0.45 * reach)).mean())


def _middles(points: FloatArray, away: FloatArray) -> FloatArray:
    """Return the middles of bands from the wrist upwards, (k, 3).

    From the wrist, which is slim: bands from a wide shoulder would lie aslant far down the arm.
    """
    count = max(FEWEST_BANDS, int(away.max() // BAND_MM))
    band = np.clip((away / away.max() * count).astype(int), 0, count - 1)
    weight = np.bincount(band[away >= 0.0], minlength=count)
    sums = [np.bincount(band[away >= 0], points[away >= 0, k], count) for k in range(3)]
    return np.asarray(np.column_stack(sums)[weight > 0] / weight[weight > 0][:, None])


@dataclass(frozen=True, eq=False)
class _Lines:
    """The middle lines of upper arm and forearm, and the arm's radius."""

    down: FloatArray
    fore: FloatArray
    corner: FloatArray
    bend: float
    reach: float


def _lines(cutter: Cutter, middles: FloatArray, hints: ScanHints, told: list[str]) -> _Lines:
    """Return the two lines that the arm's middle follows, sharpened on plane sections."""
    if hints.axis:
        middles = np.array(hints.axis)
    walked = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(middles, axis=0), axis=1)))
    inner = (walked > 0.24 * walked[-1]) & (walked < 0.96 * walked[-1]) | bool(hints.axis)
    lines = _two_lines(middles[inner], 60.0)
    if not hints.axis and lines.bend >= LEAST_BEND_RAD:
        for _ in range(3):
            lines = _sharpened(cutter, lines, middles)
    if lines.bend > MOST_BEND_RAD:
        raise UnrollError(f"bends by {np.degrees(lines.bend):.0f} degrees at the elbow; expected "
                          f"at most {np.degrees(MOST_BEND_RAD):.0f} (no arm, or too bent?)")
    if lines.bend < LEAST_BEND_RAD:
        told.append("the arm is straight, so the elbow is where girths and usual lengths put it "
                    "([scan] elbow_point overrules it)")
        lines = replace(lines, fore=lines.down)
    at = hints.landmarks.get("elbow_point")
    if at is not None:
        way = lines.down + lines.fore
        shift = (np.array(at) - lines.corner) @ way / (way @ lines.down)
        lines = replace(lines, corner=lines.corner + shift * lines.down)
    return lines


def _two_lines(middles: FloatArray, reach: float) -> _Lines:
    """Return the two lines through a row of points that miss it least."""
    best, least = (0, 0), np.inf
    low, high = (int(share * len(middles)) for share in ELBOW_WITHIN)
    for place in range(max(low, 3), min(max(high, 4), len(middles) - 2)):
        missed = sum(_line(part)[2] for part in (middles[: place + 1], middles[place:]))
        if missed < least:
            best, least = (place, place), missed
    return _met(middles[: best[0] + 1], middles[best[1] :], reach)


def _met(upper: FloatArray, lower: FloatArray, reach: float) -> _Lines:
    (a, down, _), (b, fore, _) = _line(upper), _line(lower)
    bend = float(np.arccos(np.clip(down @ fore, -1.0, 1.0)))
    if bend < 1e-3:
        return _Lines(down, down, 0.5 * (upper[-1] + lower[0]), bend, reach)
    s, t = np.linalg.lstsq(np.column_stack([down, -fore]), b - a, rcond=None)[0]
    return _Lines(down, fore, 0.5 * (a + s * down + b + t * fore), bend, reach)


def _line(points: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Return a point, the way and the squared miss of the line through points."""
    middle = points.mean(axis=0)
    _, size, ways = np.linalg.svd(points - middle, full_matrices=False)
    way = ways[0] * np.sign(ways[0] @ (points[-1] - points[0]))
    return middle, way, float(np.sum(size[1:] ** 2))


def _sharpened(cutter: Cutter, lines: _Lines, middles: FloatArray) -> _Lines:
    """Return the lines through the middles of sections square to them."""
    ends = np.array([(middles[0] - lines.corner) @ lines.down,
                     (middles[-1] - lines.corner) @ lines.fore])  # fmt: skip
    parts = []
    for way, whole in ((lines.down, ends[0]), (lines.fore, ends[1])):
        shares = np.linspace(0.22, 0.62, 12) if whole < 0 else np.linspace(0.22, 0.8, 12)
        frame = _any_frame(way)
        found = []
        for along in shares * whole:
            at = lines.corner + along * way
            for _ in range(2):
                cut = cutter.segments(at, frame, 2.0 * lines.reach)
                if len(cut) > 5:
                    at = at + outline(cut)[0] @ frame[:2]
            found.append(at)
        parts.append(np.array(found))
    return _met(parts[0][::-1], parts[1], lines.reach)


def _any_frame(way: FloatArray) -> FloatArray:
    """Return a frame whose third row runs back along a way."""
    first = np.cross(way, np.eye(3)[np.argmin(np.abs(way))])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(-way, first), -way])


def _ends(
    mesh: Mesh, points: FloatArray, away: FloatArray, from_wrist: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return the vertices of the open edges at the shoulder's and at the wrist's end."""
    tree, none = cKDTree(points), np.zeros(0, dtype=np.int64)
    found = [none, none]
    for rim in rims(mesh):
        at = mesh.vertices[rim]
        if np.linalg.norm(np.ptp(at, axis=0)) < 25.0:
            continue
        _, near = tree.query(at)
        for k, walked in enumerate((away, from_wrist)):
            if np.median(walked[near]) < 0.28 * walked.max() and len(found[k]) == 0:
                found[k] = rim
    return found[0], found[1]


_Plate = tuple[FloatArray, FloatArray, FloatArray]


def _faces(
    lines: _Lines, plate: _Plate | None, hints: ScanHints, told: list[str]
) -> tuple[FloatArray, Side]:
    """Return the upper arm's frame, and which arm it is."""
    up, ahead = -lines.down, lines.fore - (lines.fore @ lines.down) * lines.down
    bent = lines.bend >= LEAST_BEND_RAD
    upright = _upright(lines.down, plate)
    outward = lines.down - (lines.down @ upright) * upright
    if plate is not None:
        outward = _outward(plate, lines.down)
    is_known = plate is not None or np.linalg.norm(outward) > np.sin(LEAST_AWAY_RAD)
    forward = np.cross(outward, upright)
    side = hints.side
    if side is None and bent and is_known:
        side = "left" if forward @ ahead > 0.0 else "right"
        told.append(f"a {side} arm, by the way its elbow bends ([scan] side overrules it)")
    elif side is None:
        side = "left"
        told.append("whether it is a left or a right arm cannot be told from its shape; taken as "
                    "a left one ([scan] side overrules it)")
    if plate is None and bent:
        forward = ahead
    elif plate is None and not is_known:
        told.append("where its front is cannot be told from its shape; its narrow side is taken "
                    "([scan] axis with a bent elbow overrules it)")
        forward = _any_frame(lines.down)[0]
    forward = forward - (forward @ up) * up
    forward /= np.linalg.norm(forward)
    return np.stack([forward, np.cross(up, forward), up]), side


def _upright(down: FloatArray, plate: _Plate | None) -> FloatArray:
    """Return the body's upright: up the armhole, else as the file has it."""
    if plate is None:
        return file_upright(down)
    way = plate[1] - plate[2]
    return np.asarray(way / np.linalg.norm(way))


def file_upright(down: FloatArray) -> FloatArray:
    """Return the file's y or z, whichever an arm that hangs that way runs along more."""
    axis = 1 + int(abs(down[2]) > abs(down[1]))
    return np.asarray(np.eye(3)[axis] * -np.sign(down[axis]))


def _outward(plate: _Plate, down: FloatArray) -> FloatArray:
    """Return the armhole's normal, towards the arm and square to its upright."""
    edge, upright = plate[0], _upright(down, plate)
    normal = np.linalg.svd(edge - edge.mean(axis=0), full_matrices=False)[2][2]
    normal = normal - (normal @ upright) * upright
    normal /= np.linalg.norm(normal)
    return np.asarray(normal * np.sign(normal @ down))


def _plate(edge: FloatArray, down: FloatArray, hints: ScanHints) -> _Plate | None:
    """Return an open end as an armhole: its edge, shoulder point and underarm; None if square."""
    middle = edge.mean(axis=0)
    normal = np.linalg.svd(edge - middle, full_matrices=False)[2][2]
    off = float(np.abs((edge - middle) @ normal).max())
    aslant = float(np.arccos(min(1.0, abs(normal @ down))))
    if off > FLAT_MM or aslant < PLATE_RAD:
        return None
    rise = -(down - (down @ normal) * normal)
    heights = (edge - middle) @ (rise / np.linalg.norm(rise))
    found = []
    for name, sign in (("shoulder", 1.0), ("underarm", -1.0)):
        given = hints.landmarks.get(name)
        # the middle of the run that is about as high, for the very highest point is chance
        level = sign * heights > (sign * heights).max() - 0.012 * np.ptp(heights)
        found.append(np.array(given) if given is not None else edge[level].mean(axis=0))
    return edge, found[0], found[1]


def _top(lines: _Lines, points: FloatArray, plate: _Plate | None, end: FloatArray) -> FloatArray:
    """Return where the underarm's level meets the middle line."""
    down = lines.down
    if plate is None:
        depth = (points - lines.corner) @ down
        edge = end if len(end) else points[depth <= np.quantile(depth, 0.03)]
        return np.asarray(lines.corner + float(((edge - lines.corner) @ down).max()) * down)
    _, shoulder, underarm = plate
    socket = shoulder + SOCKET * (underarm - shoulder)
    height = float(np.linalg.norm(shoulder - underarm))
    return np.asarray(
        lines.corner + (float((socket - lines.corner) @ down) + (1.0 - SOCKET) * height) * down
    )


def _with_elbow(
    cutter: Cutter, lines: _Lines, top: FloatArray, plate: _Plate | None, fore: float
) -> _Lines:
    """Return the lines with the elbow where kink, girths and shares of the length put it together.

    The less an arm is bent, the less its kink says where.
    """
    share, error, start = OPEN_SHARE, OPEN_MM, top
    if plate is not None:
        share, error, start = ELBOW_SHARE, SHARE_MM, plate[1] + SOCKET * (plate[2] - plate[1])
    upper = float((lines.corner - start) @ lines.down)
    usual = fore - share * (upper + fore)
    if lines.bend < LEAST_BEND_RAD:  # one line, and any place on it as good as another
        lines = replace(lines, corner=lines.corner + usual * lines.down)
        fore, usual = fore - usual, 0.0
    guesses = [(0.0, KINK_MM / max(np.sin(lines.bend), 0.05)), (usual, error)]
    waist = _waist(cutter, lines, fore)
    guesses += [] if waist is None else [(waist, WAIST_MM)]
    weights = np.array([1.0 / error**2 for _, error in guesses])
    shift = float(weights @ np.array([place for place, _ in guesses]) / weights.sum())
    corner = lines.corner + shift * (lines.down if shift < 0.0 else lines.fore)
    way = lines.corner + 0.8 * fore * lines.fore - corner
    way /= np.linalg.norm(way)
    bend = float(np.arccos(np.clip(way @ lines.down, -1.0, 1.0)))
    if bend < LEAST_BEND_RAD:
        way, bend = lines.fore, lines.bend
    return replace(lines, corner=corner, fore=way, bend=bend)


def _waist(cutter: Cutter, lines: _Lines, fore: float) -> float | None:
    """Return how far below the kink the arm is slimmest between its two fullest girths."""
    places = np.arange(-WAIST_WITHIN * fore, WAIST_WITHIN * fore, 5.0)
    girths = []
    for place in places:
        share = np.clip(0.5 + place / 80.0, 0.0, 1.0)
        way = (1.0 - share) * lines.down + share * lines.fore
        at = lines.corner + place * (lines.down if place < 0.0 else lines.fore)
        cut = cutter.segments(at, _any_frame(way / np.linalg.norm(way)), 1.7 * lines.reach)
        girths.append(hull_girth(cut) if len(cut) > 5 else np.inf)
    if not np.isfinite(girths).all() or len(girths) < 9:
        return None
    from scipy.signal import savgol_filter  # slow to load, and only scans need it

    even = savgol_filter(girths, 9, 2)
    least = 1.0 + WAIST_DEPTH
    hollows = [k for k in range(2, len(even) - 2)
               if even[k] == even[k - 2 : k + 3].min()
               and min(even[:k].max(), even[k:].max()) > least * even[k]]  # fmt: skip
    if not hollows:
        return None
    return float(places[min(hollows, key=lambda k: abs(places[k]))])


def _wrist(
    cutter: Cutter, lines: _Lines, points: FloatArray, end: FloatArray, hints: ScanHints,
    told: list[str],
) -> float:  # fmt: skip
    """Return how far below the elbow's corner the wrist lies, mm."""
    given = hints.landmarks.get("wrist")
    if given is not None:
        return float((np.array(given) - lines.corner) @ lines.fore)
    if len(end):
        return float(((end - lines.corner) @ lines.fore).min()) - 0.2
    tip = float(((points - lines.corner) @ lines.fore).max())
    places = np.arange(WRIST_SHARES[0] * tip, WRIST_SHARES[1] * tip, 3.0)
    girths = []
    for place in places:
        cut = cutter.segments(lines.corner + place * lines.fore, _any_frame(lines.fore), 60.0)
        girths.append(hull_girth(cut) if len(cut) > 5 else np.inf)
    told.append("a hand is there; the wrist is taken where the arm is narrowest above it ([scan] "
                "wrist overrules it)")
    return float(places[int(np.argmin(girths))])
