"""The scan's own surface as two panels, cut along smooth lines that lie on it."""

from __future__ import annotations

import numpy as np

from unroll.arms.lofting import grid_faces
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import Mesh, Panel, PanelSide
from unroll.nouns.scan import ScannedArm

ROW_MM, COLUMN_MM = 7.0, 7.0


def surface_panels(scan: ScannedArm, inner_share: float) -> tuple[Panel, Panel]:
    """Return the outer and the inner panel of a scan below the underarm, not lofted.

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
        name: np.array([section.placed(_at(section.outline, at)) for section in rows])
        for name, at in fractions.items()
    }
    return _panel("outer", grids["outer"]), _panel("inner", grids["inner"])


def _at(ring: FloatArray, fraction: FloatArray) -> FloatArray:
    """Return points at fractions of a closed outline's length, (k, 2)."""
    closed = np.vstack([ring, ring[:1]])
    walked = polylines.lengths_along(closed)
    at = (fraction % 1.0) * walked[-1]
    return np.column_stack([np.interp(at, walked, closed[:, k]) for k in (0, 1)])


def _panel(name: str, grid: FloatArray) -> Panel:
    """Return a grid as a panel: rows down the arm, columns to the right seen from outside."""
    rows, columns = grid.shape[:2]
    number: IntArray = np.arange(rows * columns).reshape(rows, columns)
    vertices = grid.reshape(-1, 3)
    left, right = ("front seam", "back seam") if name == "outer" else ("back seam", "front seam")
    sides = (
        PanelSide("upper edge", number[0, ::-1]), PanelSide(left, number[:, 0]),
        PanelSide(f"{name} wrist", number[-1]), PanelSide(right, number[::-1, -1]),
    )  # fmt: skip
    mesh = Mesh(vertices, grid_faces(number, vertices))
    return Panel(name, mesh, np.arange(len(vertices)), sides)
