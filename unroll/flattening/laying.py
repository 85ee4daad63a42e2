"""How a piece lies on the table: grain up the page, right side up, grain's start at the origin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from unroll.flattening.held_seams import Chord
from unroll.geometry.triangles import ComplexArray, IntArray
from unroll.types import Flattening, FloatArray, Panel

END = 0.1
"""Share of a panel's length that counts as its end."""


def grain_chord(panel: Panel, loop: IntArray) -> Chord:
    """Return the two ends of the panel's grain line as weighted vertices.

    Without a grain line it is the longest way across the panel, from the middle of the rim at one
    end to the middle at the other; the end that is higher on the body up.
    """
    trace = panel.traces.get("grain")
    if trace is not None and len(trace.faces) > 1:
        ends = trace.on(panel.mesh.vertices, panel.mesh.faces)[[0, -1]]
        if np.linalg.norm(ends[0] - ends[1]) > 0:
            corners = panel.mesh.faces[trace.faces[[0, -1]]]
            weights = np.concatenate([trace.weights[0], -trace.weights[-1]])
            return Chord(corners.ravel(), weights)
    rim = panel.mesh.vertices[loop]
    spread = rim - rim.mean(axis=0)
    axis = np.linalg.svd(spread, full_matrices=False)[2][0]
    at = spread @ axis
    tips = [loop[at >= at.max() - END * np.ptp(at)], loop[at <= at.min() + END * np.ptp(at)]]
    upper, lower = sorted(tips, key=lambda end: -panel.mesh.vertices[end, 2].mean())
    shares = [np.full(len(upper), 1 / len(upper)), np.full(len(lower), -1 / len(lower))]
    return Chord(np.concatenate([upper, lower]), np.concatenate(shares))


def relaid(flattening: Flattening) -> Flattening:
    """Return a flattening whose points have moved, laid grain upright again."""
    panel = flattening.panel
    loop = np.concatenate([side.path[:-1] for side in panel.sides])
    points: ComplexArray = flattening.points @ np.array([1, 1j])
    return replace(flattening, points=lay(points, grain_chord(panel, loop)))


def lay(points: ComplexArray, chord: Chord) -> FloatArray:
    """Return the points, (n, 2), chord upright and its upper end at the origin."""
    turned = chord.upright(points)
    upper = np.maximum(chord.weights, 0)
    placed = turned - np.sum(upper * turned[chord.vertices])
    return np.stack([placed.real, placed.imag], axis=1)
