"""A panel's rim: which seam each boundary edge belongs to, and how long it is to be."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from unroll.errors import UnrollError
from unroll.flat.task import HeldEdges, SeamBends
from unroll.maths.arrays import BoolArray, FloatArray, IntArray
from unroll.maths.mesh_checks import boundary_loop
from unroll.maths.triangles import Triangles, angle_defects
from unroll.nouns import Panel

SEAM_BEND = 0.01
"""A held seam line resists bending like a strip of cloth this wide, times the root of the area."""


@dataclass(frozen=True, eq=False)
class Rim:
    """The boundary of a panel, edge k running from vertex k of the loop to the next.

    Attributes
    ----------
    loop : (k,) int
        Boundary vertices, anticlockwise.
    sides : (k,) int
        Side of the panel that each edge belongs to.
    curved, wanted : (k,) float
        Length of each edge on the body, and wanted on the piece, mm.
    is_held : (k,) bool
        Whether the edge must have its wanted length.
    mouths : (d, 2) int
        Both ends of each dart's mouth whose width is fixed.
    widths : (d,) float
        Their widths, mm.
    """

    loop: IntArray
    sides: IntArray
    curved: FloatArray
    wanted: FloatArray
    is_held: BoolArray
    mouths: IntArray
    widths: FloatArray

    @property
    def following(self) -> IntArray:
        """End of each edge, (k,)."""
        return np.roll(self.loop, -1)

    def held_edges(self) -> HeldEdges:
        """Return the edges, and the mouths of darts, that must have their length."""
        kept = self.is_held
        return HeldEdges(
            np.concatenate([self.loop[kept], self.mouths[:, 0]]),
            np.concatenate([self.following[kept], self.mouths[:, 1]]),
            np.concatenate([self.wanted[kept], self.widths]),
        )

    def bends(self, triangles: Triangles, stiffness: float) -> SeamBends:
        """Return the stiffness of the held seam lines, corners between sides left free."""
        before = np.roll(self.loop, 1)
        inner = self.is_held & np.roll(self.is_held, 1) & (self.sides == np.roll(self.sides, 1))
        corners = np.stack([before, self.loop, self.following])[:, inner]
        turns = angle_defects(triangles, self.loop)[corners[1]]
        spacing = 0.5 * (self.wanted + np.roll(self.wanted, 1))[inner]
        width = SEAM_BEND * np.sqrt(np.sum(triangles.areas))
        return SeamBends(corners, turns, stiffness * width**3 / spacing)


def rim_of(
    panel: Panel,
    held: Collection[str] | None = None,
    lengths: Mapping[str, float] | None = None,
    mouths: Mapping[str, float] | None = None,
) -> Rim:
    """Return a panel's rim, with what is to be held and how long.

    Parameters
    ----------
    panel : Panel
    held : collection of str, optional
        Seams whose edges keep their length; all when left out.
    lengths : mapping of str to float, optional
        Total length wanted for a seam, mm (of one leg, for a dart).
    mouths : mapping of str to float, optional
        Width wanted for a dart's open mouth, mm.

    Raises
    ------
    UnrollError
        When a side leaves the boundary, an edge has no side, a seam is unknown, or a length or
        width is not positive.
    """
    vertices = panel.mesh.vertices
    loop = boundary_loop(panel.mesh.faces, len(vertices))
    curved = np.linalg.norm(vertices[np.roll(loop, -1)] - vertices[loop], axis=1)
    sides = _side_of_edges(panel, loop)
    known = {side.seam for side in panel.sides}
    kept = known if held is None else set(held)
    for seam in sorted((kept | set(lengths or {})) - known):
        raise UnrollError(
            f'{panel.name}: there is no seam "{seam}"; it has {", ".join(sorted(known))}'
        )
    wanted = curved.copy()
    for seam, length in (lengths or {}).items():
        if not (np.isfinite(length) and length > 0):
            raise UnrollError(
                f"{panel.name}: {seam} is to be {length} mm long; expected a length above 0"
            )
        run = np.isin(sides, [k for k, side in enumerate(panel.sides) if side.seam == seam])
        share = 0.5 if seam.startswith("dart ") else 1.0
        wanted[run] *= length / (share * np.sum(curved[run]))
    is_held = np.isin(sides, [k for k, side in enumerate(panel.sides) if side.seam in kept])
    ends = [_mouth(panel, dart, width) for dart, width in (mouths or {}).items()]
    widths = np.array([float(width) for width in (mouths or {}).values()])
    pairs = np.array(ends, dtype=np.int64).reshape(-1, 2)
    return Rim(loop, sides, curved, wanted, is_held, pairs, widths)


def _mouth(panel: Panel, dart: str, width: float) -> tuple[int, int]:
    """Return the vertices at both ends of a dart's mouth."""
    legs = [side.path for side in panel.sides if side.seam == dart]
    if len(legs) != 2:
        raise UnrollError(f'{panel.name}: there is no dart "{dart}" whose intake could be fixed')
    if not (np.isfinite(width) and width > 0):
        raise UnrollError(
            f"{panel.name}: {dart} is to take in {width} mm; expected a width above 0"
        )
    return int(legs[0][0]), int(legs[1][-1])


def _side_of_edges(panel: Panel, loop: IntArray) -> IntArray:
    """Return the side that each boundary edge belongs to, (k,)."""
    place = np.full(len(panel.mesh.vertices), -1)
    place[loop] = np.arange(len(loop))
    out = np.full(len(loop), -1)
    for number, side in enumerate(panel.sides):
        at = place[side.path]
        off = (at[:-1] < 0) | (at[1:] != (at[:-1] + 1) % len(loop))
        if off.any():
            raise UnrollError(
                f"{panel.name}: {side.seam} leaves the boundary at vertex "
                f"{side.path[int(np.argmax(off))]}; sides run along it, anticlockwise"
            )
        out[at[:-1]] = number
    if (out < 0).any():
        raise UnrollError(
            f"{panel.name}: the boundary edge at vertex {loop[int(np.argmin(out))]} "
            "belongs to no side; every edge needs its seam"
        )
    return out
