"""Arms that unroll exactly: tubes of straight lines, cut aslant by a level armhole plate.

Vertices lie on straight lines that run down the surface, so that not only the surface but its mesh
unrolls without stretch: between two neighbouring lines it is plane. The arm leans away from the
body, so that the plate's plane y = 0 cuts it in an ellipse, its highest point the shoulder point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.flat.cutting import cut
from unroll.maths.arrays import IntArray
from unroll.nouns import ArmMesh, Mesh, Panel, PanelSide, Station, Trace

AROUND, OUTER = 24, 16  # lines down the arm; the outer part takes two thirds
CAP_ROWS, ROW_MM = 9, 20.0
LEAN_RAD = np.radians(30.0)
UPPER_ARM, ELBOW = 60.0, 150.0  # below the underarm's level
FOREARM, WRIST = 60.0, 200.0  # below the elbow
DOWN = np.array([0.0, np.sin(LEAN_RAD), -np.cos(LEAN_RAD)])
OUT = np.array([0.0, np.cos(LEAN_RAD), np.sin(LEAN_RAD)])
FORWARD = np.array([1.0, 0.0, 0.0])
# from the front seam over the outside to the back seam, and back under the arm
ANGLES = np.radians(120.0 - 360.0 / AROUND * np.arange(AROUND))
BACK, FRONT = 14, 2  # the lines at the very back and front, where a bent elbow is longest, shortest


@dataclass(frozen=True, eq=False)
class ExactArm:
    """An arm, its panels, and the row of its mesh at the elbow."""

    arm: ArmMesh
    panels: tuple[Panel, ...]
    elbow_row: int


def straight_arm(radius: float = 45.0, taper: float = 0.0) -> ExactArm:
    """A cylinder, or a cone's frustum that loses `taper` mm of radius a mm; two panels."""
    rows, stations, elbow_row = _rows(radius, taper, 0.0)
    arm = _closed(rows, stations, elbow_row)
    return ExactArm(arm, cut(arm), elbow_row)


def mitred_arm(radius: float = 45.0, bend_deg: float = 15.5) -> ExactArm:
    """Two cylinders that meet in the plane that halves the elbow's bend; four panels."""
    rows, stations, elbow_row = _rows(radius, 0.0, np.radians(bend_deg))
    arm = _closed(rows, stations, elbow_row)
    last = len(rows) - 1
    panels = (
        _panel(arm, "outer upper", (0, elbow_row), ("cap seam", "outer mitre")),
        _panel(arm, "outer lower", (elbow_row, last), ("outer mitre", "outer wrist")),
        _panel(arm, "inner upper", (0, elbow_row), ("underarm seam", "inner mitre")),
        _panel(arm, "inner lower", (elbow_row, last), ("inner mitre", "inner wrist")),
    )
    return ExactArm(arm, panels, elbow_row)


def sides_at_the_wrist(arm: ArmMesh) -> tuple[np.ndarray, np.ndarray]:
    """Return the two halves of the wrist's edge, flat, seen from outside, front to back."""
    station = arm.stations["wrist"]
    across = np.cross(station.normal, [0.0, 1.0, 0.0])
    across = across / np.linalg.norm(across)
    frame = np.stack([across, np.cross(-station.normal, across)], axis=1)
    outer, inner = (
        (arm.mesh.vertices[arm.paths[name]] - station.origin) @ frame
        for name in ("outer wrist", "inner wrist")
    )
    return outer, inner


def _rows(
    radius: float, taper: float, bend_rad: float
) -> tuple[list[np.ndarray], list[Station], int]:
    """Return the mesh's points row by row, (AROUND, 3) each, its stations, and the elbow's row."""
    round_it = np.cos(ANGLES)[:, None] * OUT + np.sin(ANGLES)[:, None] * FORWARD
    centre, ways = radius * np.cos(LEAN_RAD) * np.array([0.0, 1.0, 0.0]), DOWN - taper * round_it
    hole = _meet(centre + radius * round_it, ways, np.zeros(3), np.array([0.0, 1.0, 0.0]))
    top = hole[np.argmin(np.abs(ANGLES))]
    hole, centre = hole - top, centre - top
    bent = np.cos(bend_rad) * DOWN + np.sin(bend_rad) * FORWARD
    mitre = (DOWN + bent) / np.linalg.norm(DOWN + bent)
    elbow = centre + ELBOW * DOWN
    levels = [  # name, centre, way down, girth
        ("underarm", centre, DOWN, 0.0),
        ("upper_arm", centre + UPPER_ARM * DOWN, DOWN, UPPER_ARM),
        ("elbow", elbow, mitre, ELBOW),
        ("forearm", elbow + FOREARM * bent, bent, ELBOW + FOREARM),
        ("wrist", elbow + WRIST * bent, bent, ELBOW + WRIST),
    ]
    rows, elbow_row = [hole], 0
    for (name, origin, normal, _), count in zip(levels[1:], _counts(), strict=True):
        if name == "forearm" and bend_rad:
            ways = np.tile(bent, (AROUND, 1))
        low = _meet(rows[-1], ways, origin, normal)
        high = rows[-1]
        rows += [high + share * (low - high) for share in _shares(count)]
        elbow_row = len(rows) - 1 if name == "elbow" else elbow_row
    stations = [
        Station(name, origin, -normal, 2.0 * np.pi * (radius - taper * along))
        for name, origin, normal, along in levels
    ]
    return rows, stations, elbow_row


def _shares(count: int) -> np.ndarray:
    """Return where rows lie between two levels, a little closer towards the upper one.

    Were they even, the flattening's Newton matrix would be singular to the last bit under some
    corrections; on no lofted arm are they.
    """
    return np.linspace(0.0, 1.0, count + 1)[1:] ** 1.1


def _counts() -> tuple[int, ...]:
    lengths = (ELBOW - UPPER_ARM, FOREARM, WRIST - FOREARM)
    return CAP_ROWS, *(max(2, round(length / ROW_MM)) for length in lengths)


def _meet(points: np.ndarray, ways: np.ndarray, origin: np.ndarray, normal: np.ndarray):
    """Return where lines from `points` along `ways` meet a plane."""
    share = (origin - points) @ normal / (ways @ normal)
    return points + share[:, None] * ways


def _closed(rows: list[np.ndarray], stations: list[Station], elbow_row: int) -> ArmMesh:
    """Return the closed mesh with its parts, lines and landmarks named."""
    at = np.arange(len(rows) * AROUND).reshape(len(rows), AROUND)
    outer, inner = np.arange(OUTER + 1), np.r_[0, np.arange(AROUND - 1, OUTER - 1, -1)]
    points = np.concatenate([*rows, [rows[0].mean(axis=0), rows[-1].mean(axis=0)]])
    count = at.size
    faces = {
        "outer upper": _faces(at[: elbow_row + 1], range(OUTER)),
        "outer lower": _faces(at[elbow_row:], range(OUTER)),
        "inner upper": _faces(at[: elbow_row + 1], range(OUTER, AROUND)),
        "inner lower": _faces(at[elbow_row:], range(OUTER, AROUND)),
        "armhole plate": _fan(at[0], count),
        "wrist plate": _fan(at[-1, ::-1], count + 1),
    }
    starts = np.cumsum([0, *(len(part) for part in faces.values())])
    parts = {name: np.arange(a, b) for name, a, b in zip(faces, starts, starts[1:], strict=False)}
    for name in ("outer", "inner"):
        parts[name] = np.r_[parts[f"{name} upper"], parts[f"{name} lower"]]
    paths = {
        "front seam": at[:, 0],
        "back seam": at[:, OUTER],
        "cap seam": at[0, outer],
        "underarm seam": at[0, inner],
        "outer wrist": at[-1, outer],
        "inner wrist": at[-1, inner],
        "outer middle": at[:, OUTER // 2],
        "inner middle": at[:, (OUTER + AROUND) // 2],
    }
    marks = {"shoulder": np.zeros(3), "underarm": rows[0][np.argmin(rows[0][:, 2])]}
    mesh = Mesh(points, np.concatenate(list(faces.values())))
    return ArmMesh("left", mesh, parts, paths, {s.name: s for s in stations}, marks)


def _faces(at: IntArray, columns: range) -> IntArray:
    """Return two triangles a cell, their diagonals in turn one way and the other."""
    out = []
    for row, (here, below) in enumerate(zip(at[:-1], at[1:], strict=True)):
        for j in columns:
            a, b, c, d = here[j], below[j], below[(j + 1) % AROUND], here[(j + 1) % AROUND]
            out += [(a, b, c), (a, c, d)] if (row + j) % 2 else [(a, b, d), (b, c, d)]
    return np.array(out)


def _fan(loop: IntArray, middle: int) -> IntArray:
    return np.column_stack([loop, np.roll(loop, -1), np.full(len(loop), middle)])


def _panel(arm: ArmMesh, name: str, rows: tuple[int, int], ends: tuple[str, str]) -> Panel:
    """Return one of four panels: between two rows, with the seams at its upper and lower end."""
    is_outer = name.startswith("outer")
    columns = np.arange(OUTER + 1) if is_outer else np.r_[OUTER:AROUND, 0]
    first, last = ("front seam", "back seam") if is_outer else ("back seam", "front seam")
    own = (np.arange(rows[0], rows[1] + 1)[:, None] * AROUND + columns).ravel()
    number = np.full(len(arm.mesh.vertices), -1)
    number[own] = np.arange(len(own))
    at = np.arange(len(own)).reshape(-1, len(columns))
    sides = (
        PanelSide(ends[0], at[0, ::-1]),
        PanelSide(first, at[:, 0]),
        PanelSide(ends[1], at[-1]),
        PanelSide(last, at[::-1, -1]),
    )
    mesh = Mesh(arm.mesh.vertices[own], number[arm.mesh.faces[arm.panel_faces[name]]])
    return Panel(name, mesh, own, sides, {"grain": _down(mesh, at[:, len(columns) // 2])})


def _down(mesh: Mesh, path: IntArray) -> Trace:
    """Return a line of the mesh as a trace."""
    corners = [int(np.argmax(mesh.faces.ravel() == vertex)) for vertex in path]
    return Trace(np.array(corners) // 3, np.eye(3)[np.array(corners) % 3])
