"""An arm that is still joined to a body is cut off at its armhole."""

from __future__ import annotations

import numpy as np
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from unroll.errors import UnrollError
from unroll.maths.arrays import BoolArray, FloatArray
from unroll.nouns import Mesh
from unroll.nouns.scan import ScanHints, place_in_words
from unroll.scans.finding import file_upright, sampled, walk_lengths
from unroll.scans.mending import links, packed
from unroll.scans.middles import BAND_MM

JOINED = 2.6  # widest over usual band from the hand: an arm alone swells by less
WIDENS = 1.7  # where bands from the hand grow by that over the arm's own, the body begins
ARM_FROM, LASTING = 0.35, 3  # of the longest way before that; and for so many bands
REACH = 1.8  # of the upper arm's radius: so far from its line its armhole's edge may lie
BEHIND_MM = 15.0  # behind the armhole's plane that is told: less than this is the arm's own edge
HAND_MM = 250.0  # a fingertip lies no farther from the wrist
LEAST_OUTWARD = 0.3  # sine of the angle to upright: a steeper arm does not tell where outward is


def freed(mesh: Mesh, hints: ScanHints) -> tuple[Mesh, tuple[str, ...]]:
    """Return the arm alone, cut from the body along the plane of its armhole, and what was done.

    Parameters
    ----------
    mesh : Mesh
        mm.
    hints : ScanHints
        With landmarks in mm: shoulder and underarm tell the plane.

    Raises
    ------
    UnrollError
        When a body is there but no arm stands out from it.
    """
    told = {"shoulder", "underarm"} <= set(hints.landmarks)
    points = sampled(mesh)
    away = _from_hand(points, hints)
    if not told and not _is_joined(away):
        return mesh, ()
    if told:
        underarm = int(cKDTree(points).query(np.array(hints.landmarks["underarm"]))[1])
        tip = int(np.argmin(np.where(away >= 0, away, np.inf)))
    else:
        underarm, tip = _pit(points, away)
    upper = (away > 0.72 * away[underarm]) & (away < 0.97 * away[underarm])
    middle = points[upper].mean(axis=0)
    if told:
        shoulder, low = (np.array(hints.landmarks[name]) for name in ("shoulder", "underarm"))
        upright = (shoulder - low) / np.linalg.norm(shoulder - low)
    else:
        low = points[underarm]
        upright = file_upright(middle - low)
    outward = (middle - low) - ((middle - low) @ upright) * upright
    if np.linalg.norm(outward) < LEAST_OUTWARD * np.linalg.norm(middle - low):
        outward = (low - points.mean(axis=0)) - ((low - points.mean(axis=0)) @ upright) * upright
    outward /= np.linalg.norm(outward)
    if told and float(((points - low) @ outward).min()) > -BEHIND_MM:
        return mesh, ()  # it is alone: its own edge is its armhole
    near = _along_arm(mesh, points, away, upper, away[underarm], (low, upright))
    how = "as [scan] says" if told else "[scan] shoulder and underarm overrule it"
    return _beyond(near, low, outward, points[tip]), (
        "the arm is joined to a body; it is cut off upright through its underarm at "
        f"{place_in_words(low, hints.unit or 'mm')} of the file ({how})",
    )


def _is_joined(away: FloatArray) -> bool:
    """Tell whether what hangs on the hand's half is far wider than an arm."""
    count = np.bincount((away[away >= 0.0] // BAND_MM).astype(int))
    hand = count[int(0.15 * len(count)) : int(0.5 * len(count))]
    return bool(len(hand) and np.quantile(count, 0.95) > JOINED * np.median(hand))


def _from_hand(points: FloatArray, hints: ScanHints) -> FloatArray:
    """Return how far each point is from the hand's tip over the surface."""
    walk = walk_lengths(points)
    from_middle = walk(int(np.argmin(np.linalg.norm(points - points.mean(axis=0), axis=1))))
    wrist = hints.landmarks.get("wrist")
    if wrist is not None:
        near = np.linalg.norm(points - np.array(wrist), axis=1) < HAND_MM
        from_middle = np.where(near, from_middle, -1.0)
    return walk(int(np.argmax(from_middle)))


def _pit(points: FloatArray, away: FloatArray) -> tuple[int, int]:
    """Return the underarm's point, the lowest before the bands widen into the body, and the tip."""
    band = np.clip(away // BAND_MM, -1, None).astype(int)
    count = np.bincount(band[band >= 0])
    first = int(ARM_FROM * len(count))
    usual = [float(np.median(count[first // 2 : k])) for k in range(first, len(count))]
    wide = [count[k] > WIDENS * usual[k - first] for k in range(first, len(count))]
    for k in range(len(wide) - LASTING):
        if all(wide[k : k + LASTING]):
            ring = np.flatnonzero((band >= first + k - 3) & (band < first + k))
            upright = file_upright(points[away >= 0][np.argmin(away[away >= 0])] - points[ring[0]])
            return int(ring[np.argmin(points[ring] @ upright)]), int(
                np.argmin(np.where(away >= 0, away, np.inf))
            )
    raise UnrollError("is no arm, and no arm stands out from it (no arm in the file, or tell "
                      "shoulder, underarm and wrist in the sheet's table [scan])")


def _along_arm(
    mesh: Mesh, points: FloatArray, away: FloatArray, upper: BoolArray, whole: float,
    level: tuple[FloatArray, FloatArray],
) -> Mesh:  # fmt: skip
    """Return a body without what lies below the underarm and far from the line of the upper arm."""
    middle = points[upper].mean(axis=0)
    way = np.linalg.svd(points[upper] - middle, full_matrices=False)[2][0]

    def off(at: FloatArray) -> FloatArray:
        return np.asarray(np.linalg.norm(np.cross(at - middle, way), axis=1))

    centres = mesh.vertices[mesh.faces].mean(axis=1)
    is_arm = away[cKDTree(points).query(centres)[1]] < 0.9 * whole
    is_above = (centres - level[0]) @ level[1] > 0.0
    is_near = off(centres) < REACH * np.median(off(points[upper]))
    return packed(mesh.vertices, mesh.faces[is_arm | is_above | is_near])


def _beyond(mesh: Mesh, origin: FloatArray, normal: FloatArray, tip: FloatArray) -> Mesh:
    """Return what lies beyond a plane and hangs together with the hand's tip."""
    import trimesh

    cut = trimesh.intersections.slice_mesh_plane(
        trimesh.Trimesh(mesh.vertices, mesh.faces, process=False), normal, origin, cap=False
    )
    cut.merge_vertices()
    vertices, faces = np.array(cut.vertices), np.array(cut.faces)
    if len(faces) == 0:
        raise UnrollError("has nothing beyond its armhole (are shoulder and underarm right?)")
    _, label = connected_components(links(faces, len(vertices)), directed=False)
    own = label[int(np.argmin(np.linalg.norm(vertices - tip, axis=1)))]
    return packed(vertices, faces[label[faces[:, 0]] == own])
