"""The measuring guide's arm as a drawing whose tapes light up; one drawing for paper and page."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np
from markupsafe import Markup

from unroll.maths.arrays import FloatArray
from unroll.paper import guide_drawing as drawn
from unroll.paper import measuring_guide as guide

LETTER = 20.0
Points = Sequence[tuple[float, float]] | FloatArray


class PageView(drawn.View):
    """A drawing as SVG; what belongs to a field of the sheet stands in a group of its own.

    Parameters
    ----------
    origin : (float, float)
        Where the drawing's origin lies, from the upper left.
    scale : float
    """

    def __init__(self, origin: tuple[float, float], scale: float) -> None:
        self.origin, self.scale = np.asarray(origin, dtype=float), scale
        self.fields: tuple[str, ...] = ()
        self.parts: list[str] = []

    def page(self, points: Points) -> FloatArray:
        """Return drawn points on the page, whose y runs down."""
        flip = np.array([1.0, -1.0])
        return np.asarray(self.origin + self.scale * flip * np.asarray(points, dtype=float))

    def about(self, *fields: str) -> None:
        """Say which fields what is drawn next belongs to."""
        self.fields = fields

    def fill(self, points: FloatArray) -> None:
        """Tint an area."""
        self._path("skin", points, end="Z")

    def contour(self, points: FloatArray, *, pale: bool = False) -> None:
        """Draw an edge of the body."""
        self._path("edge pale" if pale else "edge", points)

    def level(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a helping line."""
        self._path("level", [start, end])

    def tape(self, points: FloatArray, *, arrows: bool = True) -> None:
        """Draw a tape that lies on the near side."""
        self._path("tape ends" if arrows else "tape", points)

    def hidden(self, points: FloatArray) -> None:
        """Draw a tape, or an edge, that lies on the far side."""
        self._path("far", points)

    def curve(self, points: FloatArray) -> None:
        """Draw a thin curve."""
        self._path("thin", points)

    def distance(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a straight distance."""
        self._path("tape straight ends", [start, end])

    def leader(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a thin line from a tape to its number."""
        self._path("thin", [start, end])

    def badge(self, at: tuple[float, float], number: int) -> None:
        """Write a tape's number in a ring."""
        x, y = self.page([at])[0]
        self._add(f'<circle class="ring" cx="{x:.1f}" cy="{y:.1f}" r="13"/>'
                  f'<text class="number" x="{x:.1f}" y="{y + 5.0:.1f}">{number}</text>')

    def dot(self, at: tuple[float, float]) -> None:
        """Mark a point on the skin."""
        x, y = self.page([at])[0]
        self._add(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>')

    def note(
        self, at: tuple[float, float], text: str, *, align: str = "left", size: float = 6.6
    ) -> None:
        """Write beside the drawing."""
        x, y = self.page([at])[0]
        anchor = {"left": "start", "center": "middle", "right": "end"}[align]
        rows = text.split("\n")
        top = y - 0.5 * LETTER * (len(rows) - 1) + 6.5
        spans = "".join(
            f'<tspan x="{x:.1f}" y="{top + k * LETTER:.1f}">{escape(row)}</tspan>'
            for k, row in enumerate(rows)
        )
        kind = "head" if size > 8 else "note"
        self._add(f'<text class="{kind}" text-anchor="{anchor}">{spans}</text>')

    def _path(self, kind: str, points: Points, *, end: str = "") -> None:
        steps = "L".join(f"{x:.1f} {y:.1f}" for x, y in self.page(points))
        self._add(f'<path class="{kind}" d="M{steps}{end}"/>')

    def _add(self, part: str) -> None:
        if self.fields:
            part = f'<g data-fields="{" ".join(self.fields)}">{part}</g>'
        self.parts.append(part)


def arm_drawing() -> Markup:
    """Return the arm from the front and from outside, and armhole and wrist, with every tape."""
    front, outside = PageView((150.0, 128.0), 0.98), PageView((432.0, 128.0), 0.98)
    guide.front_view(front)
    guide.outside_view(outside)
    plumb_front(front)
    plumb_outside(outside)
    armhole, wrist = PageView((130.0, 150.0), 1.3), PageView((390.0, 190.0), 1.8)
    guide.plate(armhole)
    guide.wrist(wrist)
    armhole.about("front_inside")
    armhole.distance((-0.5 * drawn.PLATE[0], -70.0), (-0.5 * drawn.PLATE[0] - 26.0, -70.0))
    armhole.about()
    arms = _drawing("arms", (-35, 0, 640, 805), (front, outside),
                    "An arm from the front and from outside, with the tape of every measure")
    details = _drawing("details", (-35, 0, 640, 350), (armhole, wrist),
                       "The double's armhole, and the wrist cut across, with their measures")
    return arms + details


def _drawing(
    name: str, box: tuple[int, ...], views: Sequence[PageView], told: str
) -> Markup:
    sides = " ".join(map(str, box))
    parts = "".join(part for view in views for part in view.parts)
    return Markup(
        f'<svg class="measured {name}" viewBox="{sides}" role="img" aria-label="{escape(told)}">'
        f'<defs><marker id="tip-{name}" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="4.2" '
        'markerHeight="4.2" orient="auto-start-reverse"><path class="tip" d="M0 0.8L8 4L0 7.2Z"/>'
        f'</marker></defs>{parts}<g class="said" hidden=""><rect rx="6" height="34"/>'
        '<text text-anchor="middle"></text></g></svg>'
    )


def plumb_front(view: PageView) -> None:
    """Draw the plumb line from the shoulder point, and what is measured from it, from the front."""
    _plumb(view, {
        "underarm_inside": (drawn.UNDERARM + 6.0, 4.0, "to the body"),
        "elbow_outward": (drawn.CREASE + 12.0, 46.0, "elbow"),
        "wrist_outward": (drawn.WRIST + 12.0, 46.0, "wrist"),
    })  # fmt: skip


def plumb_outside(view: PageView) -> None:
    """Draw the same from outside, where the front lies on the left."""
    elbow, wrist = drawn.along_forearm([(0.0, 0.0), (236.0, 0.0)])
    _plumb(view, {
        "underarm_behind": (drawn.UNDERARM + 6.0, 12.0, "behind"),
        "elbow_forward": (float(elbow[1]), -14.0, "elbow"),
        "wrist_forward": (float(wrist[1]), float(wrist[0]), "wrist"),
    })  # fmt: skip


def _plumb(view: PageView, found: dict[str, tuple[float, float, str]]) -> None:
    view.about(*found)
    view.curve(np.array([(0.0, 0.0), (0.0, drawn.WRIST - 30.0)]))
    for field, (level, across, _) in found.items():
        view.about(field)
        view.distance((0.0, level), (across, level))
    view.about()
