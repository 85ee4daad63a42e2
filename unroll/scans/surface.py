"""The scan's own surface as panels, cut along smooth lines that lie on it."""

from __future__ import annotations

import numpy as np
import shapely

from unroll.arms.closed_mesh import grid_faces
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import Mesh, Panel, PanelSide
from unroll.nouns.scan import ScannedArm
from unroll.scans.cutting import Cutter

ROW_MM, COLUMN_MM = 7.0, 7.0
REACH = 2.2  # of the first section's radius: as far as the cap lies from its middle
SHORTEST = 0.3  # of the widest row over the cap: above it hardly anything is left
FEWEST_ROWS = 4


def surface_panels(scan: ScannedArm, inner_share: float) -> tuple[Panel, ...]:
    """Return the panels of a scan, not lofted: outer and inner below the underarm, and the cap.

    There is no cap where the scan has no armhole.

    Parameters
    ----------
    scan : ScannedArm
    inner_share : float
        Share of each girth that the inner panel takes.

    Notes
    -----
    The seams run where each section is divided in these shares of its length from its innermost
    point. Every vertex lies on a plane section of the scan, so on its surface; between them lie
    new triangles of like size, for a scan's own are too many or too slim to be laid flat well.
    """
    step = (scan.sections[-1].along - scan.sections[0].along) / (len(scan.sections) - 1)
    rows = scan.sections[:: max(1, round(ROW_MM / step))]
    if rows[-1] is not scan.sections[-1]:
        rows = (*rows, scan.sections[-1])
    girth, half = max(section.girth for section in rows), 0.5 * inner_share
    outer, inner = (2 * max(4, round(share * girth / COLUMN_MM / 2.0))
                    for share in (1.0 - inner_share, inner_share))  # fmt: skip
    fractions = {
        "outer": np.linspace(half, 1.0 - half, outer + 1),
        "inner": np.linspace(-half, half, inner + 1),
    }
    grids = {
        name: np.array([s.placed(_at(np.vstack([s.outline, s.outline[:1]]), at % 1.0))
                        for s in rows])
        for name, at in fractions.items()
    }
    left, right = "front seam", "back seam"
    return (
        _panel("outer", grids["outer"], ("upper edge", left, "outer wrist", right)),
        _panel("inner", grids["inner"], ("upper edge", right, "inner wrist", left)),
        *_cap(scan),
    )


def _cap(scan: ScannedArm) -> tuple[Panel, ...]:
    """Return what lies above the first level, from the armhole's front edge to its back edge.

    Where the arm is still whole all round it is slit on its inside.
    """
    if scan.armhole is None:
        return ()
    first, cutter = scan.sections[0], Cutter(scan.mesh)
    reach, up = REACH * first.girth / (2.0 * np.pi), first.frame[2]
    arcs: list[FloatArray] = []
    for step in range(round(2.0 * reach / ROW_MM)):
        centre = first.centre + step * ROW_MM * up
        arc = _arc(cutter.segments(centre, first.frame, reach))
        if arc is not None:
            arcs.append(centre + arc @ first.frame[:2])
        elif arcs:
            break
    longest = max(map(polylines.length, arcs), default=0.0)
    kept = [arc for arc in arcs if polylines.length(arc) > SHORTEST * longest]
    if len(kept) < FEWEST_ROWS:
        return ()
    columns = 2 * max(4, round(longest / COLUMN_MM / 2.0)) + 1
    grid = np.array([_at(arc, np.linspace(0.0, 1.0, columns)) for arc in reversed(kept)])
    sides = ("upper edge", "armhole in front", "first level", "armhole at the back")
    return (_panel("cap", grid, sides),)


def _arc(segments: FloatArray) -> FloatArray | None:
    """Return the longest line of a section, front end first, (k, 2); None where none is.

    A closed one begins and ends at its innermost point.
    """
    ends = np.round(segments, 6)  # as neighbours share them
    lines = shapely.line_merge(shapely.MultiLineString(list(ends)))
    if lines.is_empty:
        return None
    longest = max(shapely.get_parts(lines), key=lambda line: line.length)
    points: FloatArray = shapely.get_coordinates(longest)
    if longest.is_closed:
        points = np.roll(points[:-1], -int(np.argmin(points[:-1, 1])), axis=0)
        points = np.vstack([points, points[:1]])
    quarter = len(points) // 4  # of the way: in front on the way out, behind on the way back
    return points if points[quarter, 0] > points[-1 - quarter, 0] else points[::-1]


def _at(line: FloatArray, fraction: FloatArray) -> FloatArray:
    """Return points at fractions of a line's length, (k, d)."""
    walked = polylines.lengths_along(line)
    at = fraction * walked[-1]
    return np.column_stack([np.interp(at, walked, column) for column in line.T])


def _panel(name: str, grid: FloatArray, sides: tuple[str, str, str, str]) -> Panel:
    """Return a grid as a panel: rows down the arm, columns to the right seen from outside.

    Its sides are named from the upper one on, over the first column.
    """
    rows, columns = grid.shape[:2]
    number: IntArray = np.arange(rows * columns).reshape(rows, columns)
    vertices = grid.reshape(-1, 3)
    paths = number[0, ::-1], number[:, 0], number[-1], number[::-1, -1]
    around = tuple(PanelSide(side, path) for side, path in zip(sides, paths, strict=True))
    mesh = Mesh(vertices, grid_faces(number, vertices))
    return Panel(name, mesh, np.arange(len(vertices)), around)
