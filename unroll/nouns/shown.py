"""Things made to be looked at: a coloured model that turns, its legend, a picture of the report."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray, own

CLOSED_MM = 1e-6  # a line whose ends lie no further apart


@dataclass(frozen=True)
class Legend:
    """What the colours of a heat map mean.

    Attributes
    ----------
    title : str
        Plain words, with the unit.
    stops : tuple of str
        Evenly spaced colours from the low end to the high end, "#rrggbb".
    ticks : tuple of (float, str)
        Place along the bar, 0 to 1, and its label.
    is_signed : bool
        Whether the low half, in blue, lies below nought: it is striped where a view can do so, and
        then told apart from the high half without colour.
    """

    title: str
    stops: tuple[str, ...]
    ticks: tuple[tuple[float, str], ...]
    is_signed: bool = False


@dataclass(frozen=True, eq=False)
class Look:
    """One way of colouring a model.

    Attributes
    ----------
    name : str
        Words on its button: "seams", "heat map".
    colours : (n, 3) float
        sRGB of each vertex, 0 to 1.
    legend : Legend or None
    """

    name: str
    colours: FloatArray
    legend: Legend | None = None

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "colours", own(self.colours, float, None, 3))


@dataclass(frozen=True, eq=False)
class ModelLine:
    """A line drawn on a model.

    Attributes
    ----------
    name : str
        "front seam", "dart 1", "elbow line", ...
    kind : {"seam", "dart", "reference"}
    points, normals : (k, 3) float
        Its points, mm, and the surface's outward normal there.
    other_normals : (k, 3) float or None
        The other outward normal, where the line is a sharp edge such as the armhole's.
    """

    name: str
    kind: str
    points: FloatArray
    normals: FloatArray
    other_normals: FloatArray | None = None

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "points", own(self.points, float, None, 3))
        object.__setattr__(self, "normals", own(self.normals, float, len(self.points), 3))
        if self.other_normals is not None:
            other = own(self.other_normals, float, len(self.points), 3)
            object.__setattr__(self, "other_normals", other)


@dataclass(frozen=True, eq=False)
class ModelTape:
    """A tape that lies on a model, with what it was asked to find and what it finds.

    Attributes
    ----------
    name : str
        Field of the sheet, "upper_arm_girth"; or the row of its tape, "girth_100_below_elbow".
    label : str
        The same in words.
    asked, got : str
        In the maker's unit.
    points : (k, 3) float
        mm; a girth's end where they begin.
    """

    name: str
    label: str
    asked: str
    got: str
    points: FloatArray

    def __post_init__(self) -> None:
        """Seal the points."""
        object.__setattr__(self, "points", own(self.points, float, None, 3))

    @property
    def is_girth(self) -> bool:
        """Whether it goes all round."""
        return bool(np.abs(self.points[0] - self.points[-1]).max() < CLOSED_MM)


@dataclass(frozen=True, eq=False)
class Model:
    """A coloured surface with lines on it, ready for a picture, a 3D file or a page.

    Attributes
    ----------
    name : str
        Words on its button: "left arm".
    side : {"left", "right"}
        Which arm it shows; tells where its outside is.
    vertices, normals : (n, 3) float
        Positions, mm, and outward normals. Vertices are doubled wherever colour or normal jumps.
    faces : (m, 3) int
        Anticlockwise from outside.
    groups : mapping of str to (k,) int
        Faces of "outer", "inner", "armhole plate", "wrist plate".
    looks : tuple of Look
        The first one is shown first.
    lines : tuple of ModelLine
    tapes : tuple of ModelTape
    """

    name: str
    side: str
    vertices: FloatArray
    normals: FloatArray
    faces: IntArray
    groups: Mapping[str, IntArray]
    looks: tuple[Look, ...]
    lines: tuple[ModelLine, ...] = ()
    tapes: tuple[ModelTape, ...] = ()

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "vertices", own(self.vertices, float, None, 3))
        object.__setattr__(self, "normals", own(self.normals, float, len(self.vertices), 3))
        object.__setattr__(self, "faces", own(self.faces, int, None, 3))
        object.__setattr__(self, "groups", {k: own(v, int, None) for k, v in self.groups.items()})

    def turned(self, turn: FloatArray) -> Model:
        """Return the model turned about the origin by a rotation (3, 3)."""
        back = turn.T
        lines = tuple(
            replace(line, points=line.points @ back, normals=line.normals @ back,
                    other_normals=None if line.other_normals is None else line.other_normals @ back)
            for line in self.lines
        )  # fmt: skip
        return replace(
            self, vertices=self.vertices @ back, normals=self.normals @ back, lines=lines,
            tapes=tuple(replace(tape, points=tape.points @ back) for tape in self.tapes),
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Figure:
    """A picture for the report.

    Attributes
    ----------
    title : str
        Caption, plain text; also read out in place of the picture.
    content : bytes
        A PNG, or an SVG in UTF-8.
    """

    title: str
    content: bytes = field(repr=False)
