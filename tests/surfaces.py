"""Analytic surfaces as panels with named sides, for tests, benchmarks and pictures."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from unroll.nouns import Mesh, Panel, PanelSide, Trace

Array = NDArray[np.float64]
Surface = Callable[[Array, Array], tuple[Array, Array, Array]]


def grid_faces(rows: int, columns: int) -> NDArray[np.int64]:
    """Return the triangles of a (rows + 1) x (columns + 1) grid of points, numbered row by row.

    Rows run down (-y of the flat piece), columns run to the right (+x); diagonals alternate.
    """
    index = np.arange((rows + 1) * (columns + 1)).reshape(rows + 1, columns + 1)
    top_left, top_right = index[:-1, :-1], index[:-1, 1:]
    low_left, low_right = index[1:, :-1], index[1:, 1:]
    even = (np.add.outer(np.arange(rows), np.arange(columns)) % 2 == 0)[..., None]
    first = np.where(
        even,
        np.stack([top_left, low_left, low_right], -1),
        np.stack([top_left, low_left, top_right], -1),
    )
    second = np.where(
        even,
        np.stack([top_left, low_right, top_right], -1),
        np.stack([top_right, low_left, low_right], -1),
    )
    return np.concatenate([first.reshape(-1, 3), second.reshape(-1, 3)])


def grid_panel(
    surface: Surface,
    rows: int,
    columns: int,
    *,
    slits: Mapping[int, int] | None = None,
    name: str = "outer",
) -> Panel:
    """Return the panel of a surface over the unit square, seen from outside.

    `surface(across, down)` takes values in [0, 1]: across runs to the right, down from the
    shoulder end to the wrist. `slits` maps a column to the number of rows that a dart is cut down.
    Sides as on the outer piece of a left arm: "cap seam" on top, run from right to left
    (anticlockwise), "front seam" left, "outer wrist" below, "back seam" right; darts count from
    the front.
    """
    down, across = np.meshgrid(
        np.linspace(0, 1, rows + 1), np.linspace(0, 1, columns + 1), indexing="ij"
    )
    points = np.stack([np.ravel(c) for c in surface(across, down)], axis=-1)
    faces = grid_faces(rows, columns)
    cell_column = np.concatenate([np.tile(np.arange(columns), rows)] * 2)
    index = np.arange((rows + 1) * (columns + 1)).reshape(rows + 1, columns + 1)
    arm_vertices = np.arange(len(points))
    sides: list[tuple[str, list[int]]] = []
    at = columns
    ordered = sorted((slits or {}).items(), reverse=True)
    for number, (column, depth) in enumerate(ordered):
        old, new = index[:depth, column], len(points) + np.arange(depth)
        points = np.concatenate([points, points[old]])
        arm_vertices = np.concatenate([arm_vertices, old])
        swap = np.arange(len(points))
        swap[old] = new
        right = cell_column >= column
        faces[right] = swap[faces[right]]
        dart = f"dart {len(ordered) - number}"
        sides.append(("cap seam", [*index[0, at:column:-1], new[0]]))
        sides.append((dart, [*new, index[depth, column]]))
        sides.append((dart, [*index[depth::-1, column]]))
        at = column
    sides += [
        ("cap seam", [*index[0, at::-1]]),
        ("front seam", [*index[:, 0]]),
        ("outer wrist", [*index[-1, :]]),
        ("back seam", [*index[::-1, -1]]),
    ]
    mesh = Mesh(points, faces)
    return Panel(
        name,
        mesh,
        arm_vertices,
        tuple(PanelSide(seam, np.array(path)) for seam, path in sides),
        {"grain": grain_down(mesh, rows, columns)},
    )


def grain_down(mesh: Mesh, rows: int, columns: int) -> Trace:
    """Return the line down the middle of a grid panel as a trace (start and end are enough)."""
    middle = columns // 2
    ends = [middle - 1, (rows - 1) * columns + middle - 1]  # the cell left of the middle column
    cells = rows * columns
    corner = []
    for row, cell in zip((0, rows), ends, strict=True):
        want = row * (columns + 1) + middle
        for half in (cell, cell + cells):
            hit = np.flatnonzero(mesh.faces[half] == want)
            if len(hit):
                corner.append((half, np.eye(3)[hit[0]]))
                break
    return Trace(np.array([c[0] for c in corner]), np.array([c[1] for c in corner]))


def cylinder(radius: float = 40.0, length: float = 300.0, turn_rad: float = 4.0) -> Surface:
    """Part of a round tube."""

    def surface(across: Array, down: Array) -> tuple[Array, Array, Array]:
        angle = turn_rad * (across - 0.5)
        return radius * np.sin(angle), radius * np.cos(angle), -length * down

    return surface


def elliptic_cylinder(width: float = 60.0, depth: float = 40.0, length: float = 300.0) -> Surface:
    """Part of an elliptic tube."""

    def surface(across: Array, down: Array) -> tuple[Array, Array, Array]:
        angle = 4.0 * (across - 0.5)
        return width * np.sin(angle), depth * np.cos(angle), -length * down

    return surface


def frustum(
    top: float = 46.0, bottom: float = 38.0, height: float = 200.0, turn_rad: float = 4.0
) -> Surface:
    """Part of a round cone between two girths."""

    def surface(across: Array, down: Array) -> tuple[Array, Array, Array]:
        angle, radius = turn_rad * (across - 0.5), top + (bottom - top) * down
        return radius * np.sin(angle), radius * np.cos(angle), -height * down

    return surface


def oblique_cone(
    radius: float = 3.0,
    offset: float = 2.0,
    height: float = 4.0,
    cut: float = 0.3,
    turn_rad: float = 5.5,
) -> Surface:
    """Part of a cone whose apex is off centre, the tip cut off at share `cut` of the generators."""

    def surface(across: Array, down: Array) -> tuple[Array, Array, Array]:
        angle = turn_rad * (across - 0.5)
        share = cut + (1 - cut) * down
        x = share * radius * np.sin(angle)
        y = offset + share * (radius * np.cos(angle) - offset)
        return x, y, -height * share

    return surface


def arm_like(
    radius: float = 46.0,
    wrist: float = 25.0,
    dome: float = 130.0,
    length: float = 480.0,
    turn_rad: float = 4.2,
    bend_rad: float = 0.27,
) -> Surface:
    """A tapering, bent tube, its upper end closing in like a shoulder: an arm's outer panel."""
    along = np.linspace(0, length, 2001)
    ramp = np.clip((along / length - 0.45) / 0.2, 0, 1)
    lean = bend_rad * ramp**2 * (3 - 2 * ramp)
    step = along[1]
    middle_x = np.concatenate([[0], np.cumsum(0.5 * step * (np.sin(lean)[1:] + np.sin(lean)[:-1]))])
    middle_z = np.concatenate([[0], np.cumsum(0.5 * step * (np.cos(lean)[1:] + np.cos(lean)[:-1]))])

    def surface(across: Array, down: Array) -> tuple[Array, Array, Array]:
        at = down * length
        tilt = np.interp(at, along, lean)
        rise = np.clip(1 - at / dome, 0, 1)
        inwards = 0.9 * radius * (1 - np.sqrt(1 - 0.9 * rise**2))
        girth = radius + (wrist - radius) * down**1.5
        girth = girth * (1 + 0.06 * np.exp(-(((down - 0.65) / 0.12) ** 2)))
        angle = turn_rad * (1 - 0.2 * rise**2) * (across - 0.5)
        x, y = girth * np.sin(angle), (girth - inwards) * np.cos(angle)
        return (
            np.interp(at, along, middle_x) + x * np.cos(tilt),
            y,
            x * np.sin(tilt) - np.interp(at, along, middle_z),
        )

    return surface


def gaussian_bump(height: float = 40.0, width: float = 80.0, size: float = 300.0) -> Surface:
    """A bell over a square sheet."""

    def surface(across: Array, down: Array) -> tuple[Array, Array, Array]:
        x, z = size * (across - 0.5), size * (0.5 - down)
        return x, height * np.exp(-(x**2 + z**2) / (2 * (width / 2) ** 2)), z

    return surface


def disk_panel(points: Array, faces: NDArray[np.int64], rim: NDArray[np.int64]) -> Panel:
    """Return a panel with one side called "rim" around it (no grain line)."""
    side = PanelSide("rim", np.append(rim, rim[0]))
    return Panel("outer", Mesh(points, faces), np.arange(len(points)), (side,))


def ring_disk(rings: int) -> tuple[Array, Array, NDArray[np.int64], NDArray[np.int64]]:
    """Return radius in [0, 1], angle, faces and rim of a disk of six sectors, `rings` deep."""
    radius, angle, start = [0.0], [0.0], [0]
    for ring in range(1, rings + 1):
        start.append(len(radius))
        radius += [ring / rings] * (6 * ring)
        angle += list(2 * np.pi * np.arange(6 * ring) / (6 * ring))
    faces = []
    for ring in range(1, rings + 1):
        inner, outer = 6 * (ring - 1), 6 * ring
        for sector in range(6):
            for step in range(ring):
                o0 = start[ring] + (sector * ring + step) % outer
                o1 = start[ring] + (sector * ring + step + 1) % outer
                i0 = start[ring - 1] + ((sector * (ring - 1) + step) % inner if inner else 0)
                faces.append([i0, o0, o1])
                if step < ring - 1:
                    i1 = start[ring - 1] + (sector * (ring - 1) + step + 1) % inner
                    faces.append([i0, o1, i1])
    rim = start[rings] + np.arange(6 * rings)
    return np.array(radius), np.array(angle), np.array(faces), rim


def spherical_cap(rings: int, colatitude_rad: float, sphere_radius: float = 1.0) -> Panel:
    """A cap of a sphere, meshed in rings of equal step in colatitude."""
    radius, angle, faces, rim = ring_disk(rings)
    theta = colatitude_rad * radius
    points = sphere_radius * np.stack(
        [np.sin(theta) * np.cos(angle), np.sin(theta) * np.sin(angle), np.cos(theta)], -1
    )
    return disk_panel(points, faces, rim)


def full_cone(rings: int, total_rad: float) -> Panel:
    """A whole cone of slant 1 around its apex, whose flat sector would be `total_rad` wide."""
    radius, angle, faces, rim = ring_disk(rings)
    lean = total_rad / (2 * np.pi)
    points = np.stack(
        [
            lean * radius * np.cos(angle),
            lean * radius * np.sin(angle),
            -radius * np.sqrt(1 - lean**2),
        ],
        -1,
    )
    return disk_panel(points, faces, rim)
