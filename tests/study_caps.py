"""How near lofted caps come to modelled ones: python -m tests.study_caps.

Four arms of meshes/ are cut from their bodies by an upright plane through acromion and axilla. The
armhole is that cut, as an oval of its three measures or traced; arcs, cap height and the girth at
the underarm's level with its width over depth are planes cut by trimesh, joined by networkx. Each
cap is fitted to them and its points from underarm to shoulder are held against the mesh by trimesh.
The arms stand away from the body, so near the underarm their levels are no ellipses.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import networkx as nx
import numpy as np
import trimesh
from shapely import LinearRing, points

from unroll.arms.cap import Cap, fit_cap
from unroll.arms.plate import plate_of
from unroll.disk.sheets import load_sheet
from unroll.maths.arrays import FloatArray
from unroll.nouns import Armhole, ArmMeasures, CapArc

MESHES = Path(__file__).resolve().parent.parent / "meshes"
ARMS = ("arm_p50", "arm_p05", "arm_man", "arm_rest")
THREE, FIVE = (0.4, 0.55, 0.7), (0.25, 0.4, 0.55, 0.7, 0.85)  # shares of the armhole's height
SIDEWAYS, UP = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
ANGLES = np.linspace(0.0, np.pi, 400)


@dataclass(frozen=True, eq=False)
class OpenArm:
    """An arm in its armhole's frame: x forward, y out of the armhole, z up from its top, mm."""

    mesh: trimesh.Trimesh
    edge: FloatArray  # (k, 2), anticlockwise from outside


def read(name: str) -> OpenArm:
    mesh = trimesh.load(MESHES / f"{name}.obj", process=False)
    corners = mesh.vertices[:, [2, 0, 1]]
    sides, times = np.unique(np.sort(mesh.edges, axis=1), axis=0, return_counts=True)
    open_sides = nx.Graph(sides[times == 1].tolist())
    loops = (nx.find_cycle(open_sides.subgraph(n)) for n in nx.connected_components(open_sides))
    rings = [[corner for corner, _ in loop] for loop in loops]
    ring = min(rings, key=lambda ring: float(corners[ring][:, 1].mean()))  # nearest the body
    edge = corners[ring]
    out = np.linalg.svd(edge - edge.mean(axis=0))[2][2]
    out = out * np.sign(out[1])
    top, bottom = edge[np.argmax(edge[:, 2])], edge[np.argmin(edge[:, 2])]
    up = top - bottom - ((top - bottom) @ out) * out
    up = up / np.linalg.norm(up)
    placed = (corners - top) @ np.stack([np.cross(out, up), out, up], axis=1)
    flat = placed[ring][:, [0, 2]]
    edge = flat if LinearRing(flat).is_ccw else flat[::-1]
    return OpenArm(trimesh.Trimesh(placed, mesh.faces, process=False), edge)


def measured(arm: OpenArm, shares: tuple[float, ...]) -> tuple[ArmMeasures, float]:
    """Return the measures of its cap with the armhole traced, and the girth at the underarm."""
    wide, high = np.ptp(arm.edge, axis=0)
    armhole = Armhole(wide, high, LinearRing(arm.edge).length, outline=arm.edge)
    arcs = tuple(CapArc(up * high, _cut(arm, UP, (up - 1.0) * high)[1]) for up in shares)
    below, girth = _cut(arm, UP, -high - 1.0)
    spread = np.ptp(below.reshape(-1, 3), axis=0)
    base = load_sheet(MESHES / "demo.toml").arms[0]
    made = replace(
        base, armhole=armhole, cap_arcs=arcs, cap_height=_down_the_outside(arm, high),
        upper_arm_ratio=float(spread[0] / spread[1]), estimated=(),
    )  # fmt: skip
    return made, girth


def _cut(arm: OpenArm, normal: FloatArray, at: float) -> tuple[FloatArray, float]:
    """Return the pieces of a plane's cut, (k, 2, 3), and their length, mm."""
    found = trimesh.intersections.mesh_plane(arm.mesh, normal, at * normal)
    return found, float(np.linalg.norm(found[:, 0] - found[:, 1], axis=1).sum())


def _down_the_outside(arm: OpenArm, high: float) -> float:
    """Return the length from the shoulder point over the outside to the underarm's level, mm."""
    found, _ = _cut(arm, SIDEWAYS, 0.0)
    line = nx.Graph()
    for one, other in np.round(found[(found[..., 2] > -high).all(axis=1)], 4):
        line.add_edge(tuple(one), tuple(other), length=np.linalg.norm(one - other))
    start = min(line, key=np.linalg.norm)
    return float(max(nx.single_source_dijkstra_path_length(line, start, weight="length").values()))


def fitted(measures: ArmMeasures, girth: float) -> Cap:
    return fit_cap(measures, plate_of(measures.armhole), underarm_girth=(girth, 2.0))


def off(arm: OpenArm, cap: Cap) -> FloatArray:
    """Return how far its points lie from the arm, mm."""
    rows, _ = cap._rows
    return np.asarray(trimesh.proximity.closest_point(arm.mesh, rows[:-1].reshape(-1, 3))[1])


def off_edge(arm: OpenArm, cap: Cap) -> float:
    """Return how far the plate's edge leaves the armhole's, mm."""
    plate, half = cap.plate, cap.plate.half_width(ANGLES)
    sides = [plate.middle(ANGLES) + side * half for side in (1.0, -1.0)]
    edge = np.column_stack([np.concatenate(sides), np.tile(plate.level(ANGLES), 2)])
    return float(LinearRing(arm.edge).distance(points(edge)).max())


def main() -> None:
    """Print a line a sheet: each arm, then all of them."""
    arms = {name: read(name) for name in ARMS}
    print("| the sheet has |", " | ".join(ARMS), "| all | edge off |")
    for words, shares, traced in (
        ("armhole's width, height and girth, three arcs", THREE, False),
        ("armhole traced, three arcs", THREE, True),
        ("armhole traced, five arcs", FIVE, True),
    ):
        found, edges = [], []
        for arm in arms.values():
            measures, girth = measured(arm, shares)
            if not traced:
                measures = replace(measures, armhole=replace(measures.armhole, outline=None))
            cap = fitted(measures, girth)
            found.append(off(arm, cap))
            edges.append(off_edge(arm, cap))
        told = (f"{one.mean():.1f} / {np.quantile(one, 0.95):.1f}"
                for one in [*found, np.concatenate(found)])  # fmt: skip
        print(f"| {words} |", " | ".join(told), f"| {max(edges):.1f} |", flush=True)


if __name__ == "__main__":
    main()
