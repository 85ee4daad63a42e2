"""Mirror images: what was worked out on a left arm, for the right one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns.arm import ArmMesh, Distortion, Flattening, Mesh, Panel, PanelSide, Station, Trace
from unroll.nouns.fit import Fit
from unroll.nouns.piece import mirrored as mirrored_piece
from unroll.nouns.results import TapeRow
from unroll.nouns.sewn import Sewn

__all__ = [
    "mirrored_arm",
    "mirrored_distortion",
    "mirrored_fit",
    "mirrored_flattening",
    "mirrored_piece",
    "mirrored_sewn",
    "mirrored_tape",
]

ACROSS = np.array([1.0, -1.0, 1.0])  # left and right lie at opposite y
FLAT = np.array([-1.0, 1.0])


def mirrored_arm(arm: ArmMesh) -> ArmMesh:
    """Return the right arm that mirrors a left one."""
    return replace(
        arm,
        side="right",
        mesh=_mesh(arm.mesh),
        stations={name: _station(station) for name, station in arm.stations.items()},
        landmarks={name: place * ACROSS for name, place in arm.landmarks.items()},
        up=arm.up * ACROSS,
    )


def mirrored_flattening(flattening: Flattening) -> Flattening:
    """Return the mirror image of a panel and of its flat points."""
    panel = _panel(flattening.panel)
    return replace(flattening, panel=panel, points=flattening.points * FLAT)


def mirrored_distortion(distortion: Distortion) -> Distortion:
    """Return the distortion of the mirror image; only the shear changes its sign."""
    flattening = mirrored_flattening(distortion.flattening)
    return replace(distortion, flattening=flattening, shear_rad=-distortion.shear_rad)


def mirrored_sewn(sewn: Sewn) -> Sewn:
    """Return the mirror image of a sewn and filled shape."""
    lines = {name: tuple(map(_trace, traces)) for name, traces in sewn.lines.items()}
    rest = sewn.rest[:, ::-1] * FLAT
    return replace(sewn, arm="right", mesh=_mesh(sewn.mesh), rest=rest, lines=lines)


def mirrored_fit(fit: Fit) -> Fit:
    """Return the fit of the mirror image: the same figures, points on the other side."""
    girths = tuple(replace(girth, line=_across_or_none(girth.line)) for girth in fit.girths)
    return replace(fit, arm="right", girths=girths, turned=fit.turned * ACROSS)


def mirrored_tape(rows: tuple[TapeRow, ...]) -> tuple[TapeRow, ...]:
    """Return what a tape finds on the mirror image: the same, lying on the other side."""
    return tuple(replace(row, line=_across_or_none(row.line)) for row in rows)


def _across_or_none(line: FloatArray | None) -> FloatArray | None:
    return None if line is None else _across(line)


def _mesh(mesh: Mesh) -> Mesh:
    return Mesh(_across(mesh.vertices), mesh.faces[:, ::-1])


def _across(points: FloatArray) -> FloatArray:
    return np.asarray(points * ACROSS)


def _trace(trace: Trace) -> Trace:
    return Trace(trace.faces, trace.weights[:, ::-1])


def _station(station: Station) -> Station:
    return replace(station, origin=station.origin * ACROSS, normal=station.normal * ACROSS)


def _panel(panel: Panel) -> Panel:
    sides = tuple(PanelSide(side.seam, side.path[::-1]) for side in reversed(panel.sides))
    traces = {name: _trace(trace) for name, trace in panel.traces.items()}
    return replace(panel, mesh=_mesh(panel.mesh), sides=sides, traces=traces)
