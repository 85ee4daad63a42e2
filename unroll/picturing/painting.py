"""Draw a model on flat axes: faces from far to near, lit softly, with the lines that show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection

from unroll.picturing.colours import DART, INK
from unroll.types import FloatArray
from unroll.types.shown import Look, Model, ModelLine

VIEWS = ("outside", "front", "inside", "back", "cap")
_LINE_STYLES = {"seam": (INK, 1.3), "dart": (DART, 1.5), "reference": (INK, 0.5)}


@dataclass(frozen=True, eq=False)
class View:
    """Where the eye stands.

    Attributes
    ----------
    right, up, toward : (3,) float
        Unit vectors: screen right, screen up, and from the arm to the eye.
    """

    right: FloatArray
    up: FloatArray
    toward: FloatArray

    def project(self, points: FloatArray) -> FloatArray:
        """Return screen positions (n, 2), mm, of points (n, 3), without perspective."""
        return np.stack([points @ self.right, points @ self.up], axis=1)


def named_view(name: str, side: str) -> View:
    """Return the view called `name` of the left or right arm.

    "outside" and "inside" look across the body, "front" and "back" along it; "cap" looks down on
    the shoulder from outside and in front.

    Raises
    ------
    KeyError
        When there is no such view.
    """
    outward = 1.0 if side == "left" else -1.0
    toward = np.array(
        {
            "outside": (0.0, outward, 0.0),
            "inside": (0.0, -outward, 0.0),
            "front": (1.0, 0.0, 0.0),
            "back": (-1.0, 0.0, 0.0),
            "cap": (0.45, 0.75 * outward, 0.5),
        }[name]
    )
    toward = toward / np.linalg.norm(toward)
    right = np.cross([0.0, 0.0, 1.0], toward)
    right = right / np.linalg.norm(right)
    return View(right, np.cross(toward, right), toward)


def paint(axes: Axes, model: Model, look: Look, view: View, *, shift: FloatArray) -> None:
    """Draw `model` in one of its looks on `axes`, in mm of the screen plane, moved by `shift`."""
    corners = (view.project(model.vertices) + shift)[model.faces]
    edge1, edge2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    is_front = edge1[:, 0] * edge2[:, 1] - edge1[:, 1] * edge2[:, 0] > 0
    faces = model.faces[is_front]
    depth = (model.vertices @ view.toward)[faces].mean(axis=1)
    order = np.argsort(depth, kind="stable")
    faces, corners = faces[order], corners[is_front][order]
    colours = look.colours[faces].mean(axis=1) * _shade(model.normals[faces].mean(axis=1), view)
    # Edges in the face's own colour close the hairlines between neighbours.
    # An array, not a list: matplotlib then builds all paths from one template, six times faster.
    polygons = PolyCollection(
        cast(Any, corners), facecolors=colours, edgecolors=colours, linewidths=0.8
    )
    axes.add_collection(polygons, autolim=False)
    for line in model.lines:
        ink, width = _LINE_STYLES[line.kind]
        runs = [run + shift for run in _seen(line, view)]
        drawn = LineCollection(runs, colors=ink, linewidths=width, capstyle="round")
        axes.add_collection(drawn, autolim=False)


def _shade(normals: FloatArray, view: View) -> FloatArray:
    """Brightness (m, 1) under a soft lamp above the eye's left shoulder."""
    lamp = view.toward + 0.45 * view.up - 0.35 * view.right
    lamp = lamp / np.linalg.norm(lamp)
    out: FloatArray = (0.66 + 0.34 * np.clip(normals @ lamp, 0.0, 1.0))[:, None]
    return out


def _seen(line: ModelLine, view: View) -> list[FloatArray]:
    """Cut a line into the runs that face the eye, as screen points."""
    facing = line.normals @ view.toward
    if line.other_normals is not None:
        facing = np.maximum(facing, line.other_normals @ view.toward)
    # A line on the rim of what is seen would pass for an outline; a sharp edge is one.
    shows = facing[:-1] + facing[1:] > (0.08 if line.other_normals is None else -0.02)
    flat = view.project(line.points)
    breaks = np.flatnonzero(np.diff(np.concatenate([[0], shows.astype(int), [0]])))
    return [flat[a : b + 1] for a, b in zip(breaks[::2], breaks[1::2], strict=True)]
