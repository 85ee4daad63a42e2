"""A tape on the finished mesh: what was asked, and what a tape finds, bridging hollows."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from unroll.arms.plate import plate_of
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.sections import (
    hull_arc,
    in_plane,
    nearest_part,
    section_segments,
    taut_arc,
    taut_girth,
    taut_line,
    taut_ring,
)
from unroll.nouns import ArmMeasures, ArmMesh, TapeRow
from unroll.units import Unit, format_small

USUAL = ("upper_arm", "elbow", "forearm")  # stations of the usual girths, beside the wrist
OUTWARD = np.array([0.0, 1.0, 0.0])


def tape(
    arm: ArmMesh,
    measures: ArmMeasures,
    *,
    fights: Mapping[str, str] | None = None,
    unit: Unit = "mm",
) -> tuple[TapeRow, ...]:
    """Return every measure of the sheet as a tape finds it on the arm.

    Parameters
    ----------
    arm : ArmMesh
        Any mesh with the stations and landmarks of an arm; nothing is taken from how it was made.
    measures : ArmMeasures
        What was asked.
    fights : mapping of str to str, optional
        For a measure that could not be met, the measure it fights.
    unit : {"in", "cm", "mm"}
        Of the notes.

    Notes
    -----
    A girth is the perimeter of the convex hull of the section; a length is the shortest plane
    path over the hull between two landmarks; a cap arc is the hull's perimeter less the chord
    across the armhole.
    """
    room = _room(arm, measures)
    arcs = _cap_arc_lines(arm, measures, room[2])
    lines = {**girth_lines(arm, measures), **_length_lines(arm), **arcs}
    got = {
        **{name: polylines.length(line) for name, line in lines.items()},
        **_wrist(arm, room),
        "cap_height": _cap_height(arm, room[2]),
        **_armhole(arm),
    }
    asked = _asked(measures)
    fights = fights or {}
    return tuple(
        TapeRow(
            name, asked[name], got[name], _note(name, asked[name], got[name], fights, unit),
            lines.get(name),
        )
        for name in asked
    )


def girth_at(arm: ArmMesh, origin: FloatArray, normal: FloatArray) -> float:
    """Return the girth of the arm at a plane, mm.

    Raises
    ------
    UnrollError
        When the plane misses the arm.
    """
    return taut_girth(arm.mesh.vertices, arm.mesh.faces, origin, normal)


def _asked(measures: ArmMeasures) -> dict[str, float]:
    names = (
        "shoulder_to_elbow",
        "shoulder_to_inner_elbow",
        "inner_elbow_to_wrist",
        "upper_arm_girth",
        "elbow_girth",
        "forearm_girth",
        "wrist_girth",
        "wrist_width",
        "wrist_depth",
        "cap_height",
    )
    asked = {name: float(getattr(measures, name)) for name in names}
    asked |= {level.name: level.girth for level in measures.girths}
    for number, arc in enumerate(measures.cap_arcs, start=1):
        asked[f"cap_arc {number}"] = arc.length
    hole = measures.armhole
    return asked | {
        "armhole width": hole.width,
        "armhole height": hole.height,
        "armhole girth": hole.girth,
    }


AS_TAPED = 0.005  # of a measure: two tapes of it differ by as much; common practice, no source


def _note(name: str, asked: float, got: float, fights: Mapping[str, str], unit: Unit) -> str:
    if name not in fights:
        return ""
    more = "more" if got > asked else "less"
    again = "; measure both again" if abs(got - asked) > AS_TAPED * asked else ""
    return (
        f"comes to {format_small(abs(got - asked), unit)} {more} than measured: it cannot be met "
        f"together with {fights[name].replace('_', ' ')}{again}"
    )


def _room(arm: ArmMesh, measures: ArmMeasures) -> FloatArray:
    """Return forward, outward and up of the room, the rows of (3, 3), in the arm's frame."""
    mirror = np.diag([1.0, 1.0 if arm.side == "left" else -1.0, 1.0])
    return np.asarray(plate_of(measures.armhole, measures.stance).stands @ mirror)


def girth_lines(arm: ArmMesh, measures: ArmMeasures) -> dict[str, FloatArray]:
    """Return where the tape lies at each girth's level, (k, 3), its start repeated, mm."""
    v, f = arm.mesh.vertices, arm.mesh.faces
    # the wrist's plane holds the end plate itself; the tape lies just above it; and at the
    # underarm's level a plane would hold a point of the armhole
    off = {"wrist": 0.02, **{level.name: -0.02 for level in measures.girths}}
    lines = {}
    for name in (*USUAL, *off):
        station = arm.stations[name]
        origin = station.origin + off.get(name, 0.0) * station.normal
        key = f"{name}_girth" if name in (*USUAL, "wrist") else name
        lines[key] = taut_ring(v, f, origin, station.normal)
    return lines


def _wrist(arm: ArmMesh, room: FloatArray) -> dict[str, float]:
    wrist = arm.stations["wrist"]
    origin = wrist.origin + 0.02 * wrist.normal
    segments = section_segments(arm.mesh.vertices, arm.mesh.faces, origin, wrist.normal)
    points = nearest_part(segments, origin).reshape(-1, 3)
    across = np.cross(wrist.normal, room[1])
    across = across / np.linalg.norm(across)
    return {
        "wrist_width": float(np.ptp(points @ across)),
        "wrist_depth": float(np.ptp(points @ np.cross(across, wrist.normal))),
    }


def _length_lines(arm: ArmMesh) -> dict[str, FloatArray]:
    v, f, at = arm.mesh.vertices, arm.mesh.faces, arm.landmarks
    out = OUTWARD * (1.0 if arm.side == "left" else -1.0)
    forward = np.array([1.0, 0.0, 0.0])
    lower = taut_line(v, f, at["elbow crease"], at["wrist point"], forward, swing_rad=0.3)
    return {
        "shoulder_to_elbow": taut_line(v, f, at["shoulder"], at["elbow point"], out - forward)[1],
        "shoulder_to_inner_elbow": taut_line(
            v, f, at["shoulder"], at["elbow crease"], out + forward
        )[1],
        "inner_elbow_to_wrist": lower[1],
    }


def _cap_arc_lines(
    arm: ArmMesh, measures: ArmMeasures, up: FloatArray
) -> dict[str, FloatArray]:
    v, hole = arm.mesh.vertices, arm.landmarks
    faces = np.vstack([arm.mesh.faces[arm.panel_faces[name]] for name in ("outer", "inner")])
    underarm = hole["underarm"]
    return {
        f"cap_arc {number}": tape_over_cap(v, faces, underarm + arc.up * up, up)
        for number, arc in enumerate(measures.cap_arcs, start=1)
    }


def tape_over_cap(
    vertices: FloatArray, faces: IntArray, origin: FloatArray, up: FloatArray
) -> FloatArray:
    """Return a level tape over a cap, from one edge of its armhole to the other.

    Parameters
    ----------
    vertices : (n, 3) float
        Of an arm whose armhole lies in the plane y = 0, mm.
    faces : (m, 3) int
        Of its outer and inner.
    origin, up : (3,) float
        A point of the tape's level, mm, and the way up from the ground, of length 1.

    Returns
    -------
    (k, 3) float
        mm.
    """
    points = section_segments(vertices, faces, origin, up).reshape(-1, 3)
    rim = points[np.abs(points[:, 1]) < 1e-6]
    ends = rim[np.argmin(rim[:, 0])], rim[np.argmax(rim[:, 0])]
    return taut_arc(vertices, faces, origin, up, *ends)


def _cap_height(arm: ArmMesh, up: FloatArray) -> float:
    shoulder, underarm = arm.landmarks["shoulder"], arm.landmarks["underarm"]
    forward = np.array([1.0, 0.0, 0.0])
    outer = arm.mesh.faces[arm.panel_faces["outer"]]
    # a hair off the middle, where mesh lines run that would be cut twice
    segments = section_segments(arm.mesh.vertices, outer, shoulder + 1e-6 * forward, forward)
    level = float(underarm @ up)
    crossing = _cross_level(segments, up, level)
    foot = crossing[np.argmax(np.abs(crossing[:, 1]))]
    points = segments.reshape(-1, 3)
    above = points[points @ up >= level]
    flat = in_plane(np.vstack([above, shoulder, foot]), shoulder, forward)
    return hull_arc(flat)


def _cross_level(segments: FloatArray, up: FloatArray, level: float) -> FloatArray:
    """Return the points where segments cross a level, (k, 3)."""
    heights = segments @ up - level
    crosses = heights[:, 0] * heights[:, 1] <= 0.0
    low, high = segments[crosses, 0], segments[crosses, 1]
    span = heights[crosses, 1] - heights[crosses, 0]
    t = np.where(np.abs(span) > 1e-12, -heights[crosses, 0] / np.where(span == 0, 1, span), 0.0)
    return np.asarray(low + t[:, None] * (high - low))


def _armhole(arm: ArmMesh) -> dict[str, float]:
    loop = np.concatenate([arm.paths["cap seam"], arm.paths["underarm seam"][-2:0:-1]])
    points = arm.mesh.vertices[loop]
    girth = np.linalg.norm(np.diff(points, axis=0, append=points[:1]), axis=1).sum()
    return {
        "armhole width": float(np.ptp(points[:, 0])),
        "armhole height": float(np.ptp(points[:, 2])),
        "armhole girth": float(girth),
    }
