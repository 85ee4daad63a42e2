"""Where a scan's shoulder, elbow and wrist are, which way it faces, and which arm it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import Mesh, Side
from unroll.nouns.scan import ScanHints
from unroll.scans.cutting import Cutter, hull_girth
from unroll.scans.mending import areas, rims
from unroll.scans.middles import (
    LEAST_BEND_RAD,
    MiddleLines,
    elbow_places,
    frame_along,
    middle_lines,
    with_elbow,
)

SAMPLES, NEIGHBOURS = 20_000, 8
# Elbow to wrist over shoulder to wrist, means of the women's and the men's arms in meshes/, and how
# far off an elbow that it tells is, mm; the same for an arm that begins at the underarm.
ELBOW_SHARE, OPEN_SHARE = (0.475, 14.0), (0.555, 16.0)
LEAST_AWAY_RAD = 0.14  # an arm that stands away by less does not tell where outward is
PLATE_RAD, FLAT_MM = 0.44, 12.0  # an open end is an armhole where it lies so far from square
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
    lines = middle_lines(cutter, points, from_wrist, hints, told)
    high, low = (mesh.vertices[end] for end in _ends(mesh, points, away, from_wrist))
    plate = _plate(high, lines.down, hints) if len(high) else None
    if not hints.axis and not elbow_places(hints):
        top = _top(lines, points, plate, high)
        fore = _wrist(cutter, lines, points, low, hints, [])
        start, usual = (top, OPEN_SHARE) if plate is None else (_socket(plate), ELBOW_SHARE)
        lines = with_elbow(cutter, lines, start, fore, usual)
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
    lines: MiddleLines, plate: _Plate | None, hints: ScanHints, told: list[str]
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
        forward = frame_along(lines.down)[0]
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


def _top(
    lines: MiddleLines, points: FloatArray, plate: _Plate | None, end: FloatArray
) -> FloatArray:
    """Return where the underarm's level meets the middle line."""
    down = lines.down
    if plate is None:
        depth = (points - lines.corner) @ down
        edge = end if len(end) else points[depth <= np.quantile(depth, 0.03)]
        return np.asarray(lines.corner + float(((edge - lines.corner) @ down).max()) * down)
    height = float(np.linalg.norm(plate[1] - plate[2]))
    return np.asarray(lines.corner + (
        float((_socket(plate) - lines.corner) @ down) + (1.0 - SOCKET) * height
    ) * down)  # fmt: skip


def _socket(plate: _Plate) -> FloatArray:
    """Return where an arm turns at the shoulder."""
    return np.asarray(plate[1] + SOCKET * (plate[2] - plate[1]))


def _wrist(
    cutter: Cutter, lines: MiddleLines, points: FloatArray, end: FloatArray, hints: ScanHints,
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
        cut = cutter.segments(lines.corner + place * lines.fore, frame_along(lines.fore), 60.0)
        girths.append(hull_girth(cut) if len(cut) > 5 else np.inf)
    told.append("a hand is there; the wrist is taken where the arm is narrowest above it ([scan] "
                "wrist overrules it)")
    return float(places[int(np.argmin(girths))])
