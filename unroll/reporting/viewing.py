"""The turnable view: models packed small for the page, and the controls around them."""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from html import escape
from typing import Any

import numpy as np

from unroll.reporting.html import data_uri
from unroll.types.shown import Figure, Legend, Look, Model, ModelLine

# Seam lines float this far above the surface, so that the page's depth test does not swallow them.
_LIFT = 0.4


def turner(models: Sequence[Model], stills: Sequence[Figure]) -> str:
    """Return the view of `models`, which shows `stills` where the page cannot draw in 3D.

    Parameters
    ----------
    models : sequence of Model
        The first is shown first, in its first look, from outside, upright.
    stills : sequence of Figure
        Also printed, since paper does not turn.
    """
    packed = json.dumps([_packed(model) for model in models], separators=(",", ":"))
    safe = packed.replace("<", "\\u003c")
    images = "".join(f'<img src="{data_uri(s.content)}" alt="{escape(s.title)}">' for s in stills)
    return (
        '<div class="turner">'
        f'<div class="still">{images}</div>'
        '<div class="live" hidden>'
        '<canvas tabindex="0" role="img" aria-label="The arm in 3D. Arrow keys turn it, plus and '
        "minus change the size, Page Up and Page Down look higher and lower, Home brings back the "
        'first view."></canvas>'
        '<div class="controls"></div><div class="legend" aria-live="polite"></div>'
        '<p class="hint">Drag sideways to turn, or use the buttons; with the keyboard: arrow keys, '
        "plus, minus, Page Up, Page Down, Home.</p></div>"
        f'<script type="application/json" class="models">{safe}</script></div>'
    )


def _packed(model: Model) -> dict[str, Any]:
    low, high = model.vertices.min(axis=0), model.vertices.max(axis=0)
    place = (model.vertices - low) / np.maximum(high - low, 1e-9)
    wide = len(model.vertices) > 65535
    return {
        "name": model.name,
        "side": model.side,
        "low": low.tolist(),
        "high": high.tolist(),
        "positions": _base64(np.rint(place * 65535).astype("<u2")),
        "normals": _base64(np.rint(model.normals * 127).astype("i1")),
        "faces": _base64(model.faces.astype("<u4" if wide else "<u2")),
        "wide": wide,
        "looks": [_packed_look(look) for look in model.looks],
        "lines": [_packed_line(line) for line in model.lines],
    }


def _packed_look(look: Look) -> dict[str, Any]:
    colours = np.rint(np.clip(look.colours, 0.0, 1.0) * 255).astype("u1")
    return {"name": look.name, "colours": _base64(colours), "legend": _packed_legend(look.legend)}


def _packed_legend(legend: Legend | None) -> dict[str, Any] | None:
    if legend is None:
        return None
    return {"title": legend.title, "stops": legend.stops, "ticks": legend.ticks}


def _packed_line(line: ModelLine) -> dict[str, Any]:
    lifted = (line.points + _LIFT * line.normals).astype("<f4")
    return {"kind": line.kind, "points": _base64(lifted)}


def _base64(array: Any) -> str:
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode()
