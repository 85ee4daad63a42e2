"""What a heat map shows: what the threads must give, and the scale that all pieces share."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from unroll.geometry.averages import area_percentile, corner_means
from unroll.picturing.colours import GIVE_RAMP, hex_of
from unroll.types import Distortion, FloatArray
from unroll.types.shown import Legend

_NICE_TOPS = (2, 4, 6, 8, 10, 12, 16, 20, 30, 40, 60, 80, 100)
HEAT_TITLE = "Percent that the threads must give"


def give_percent(distortion: Distortion) -> FloatArray:
    """Return how much each face asks its threads to give, the worse of warp and weft, (m,).

    Notes
    -----
    |ln| of a thread's stretch, written as a percentage, so that too long and too short weigh the
    same. It is the number that the advice goes by. Woven cloth skews freely, so shear is left out
    here and told apart in the report's table.
    """
    warp, weft = np.abs(np.log(distortion.warp)), np.abs(np.log(distortion.weft))
    out: FloatArray = 100.0 * np.expm1(np.maximum(warp, weft))
    return out


def give_at_vertices(distortion: Distortion) -> FloatArray:
    """Return `give_percent` carried to the panel's vertices by area, (n,)."""
    mesh = distortion.flattening.panel.mesh
    return corner_means(
        give_percent(distortion), distortion.weights, mesh.faces, len(mesh.vertices)
    )


def heat_top(distortions: Iterable[Distortion], gives_percent: float) -> float:
    """Return the top of the scale that the given pieces share, percent.

    It holds 99 % of every piece's area and at least twice what the cloth gives, so that a calm
    piece looks calm.
    """
    worst = [area_percentile(give_percent(d), d.weights, 99.0) for d in distortions]
    wanted = max([2.0 * gives_percent, *worst])
    return float(next((top for top in _NICE_TOPS if top >= wanted), _NICE_TOPS[-1]))


def heat_legend(top: float, gives_percent: float) -> Legend:
    """Return the legend of a scale from 0 to `top` percent that names the cloth's own limit."""
    ticks = (
        (0.0, "0"),
        (0.25, f"{top / 4:g}"),
        (0.5, f"{top / 2:g}"),
        (0.75, f"{0.75 * top:g}"),
        (1.0, f"{top:g} or more"),
    )
    stops = tuple(hex_of(GIVE_RAMP[round(k * 255 / 16)]) for k in range(17))
    return Legend(f"{HEAT_TITLE}; this cloth gives {gives_percent:g} %", stops, ticks)
