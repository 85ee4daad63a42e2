"""Armholes as makers might give them: taped, traced as points, drawn as SVG."""

from __future__ import annotations

import random
from math import cos, hypot, pi, sin, sqrt
from typing import Protocol

Points = list[tuple[float, float]]
PAGE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="{box}">{body}</svg>'
)
SHAPES = ("oval", "egg", "skewed egg", "flat back")


class Types(Protocol):
    """A hand that types lengths."""

    unit: str

    def types(self, mm: float) -> str:
        """Return one length as it is typed."""

    def entry(self, mm: float) -> str:
        """Return a reading, or three."""


def plate_points(shape: str, width: float, height: float, count: int, start: float) -> Points:
    """Return points along a plate's edge, x forward and y up, mm."""
    found = []
    for k in range(count):
        angle = start + 2 * pi * k / count
        x, y = cos(angle), sin(angle)
        if shape == "egg":
            x *= 1 - 0.16 * y
        elif shape == "skewed egg":
            x, y = x * (1 - 0.14 * y) + 0.12 * y, y
        elif shape == "flat back" and x < 0:
            x = -(abs(x) ** 1.0) * (0.82 + 0.1 * y * y)
        found.append((0.5 * width * x, 0.5 * height * y))
    return found


def armhole_entry(
    chance: random.Random,
    hole: tuple[float, float],
    hand: Types,
    files: dict[str, bytes],
    traits: set[str],
    which: str,
) -> dict[str, str]:
    """Return the armhole's line, or none."""
    width, height = hole
    around = pi * (width + height) / 2 * (1 + ((width - height) / (width + height)) ** 2 / 4)
    kind = chance.choice(["none", "size", "size", "girth", "one", "all", "points", "points", "svg"])
    traits.add(f"armhole {kind}")
    sizes = {"width": width, "height": height, "girth": around * chance.uniform(0.99, 1.03)}
    kept = {
        "size": ["width", "height"],
        "girth": ["girth"],
        "all": ["height", "girth", "width"],
        "one": [chance.choice(["width", "height"])],
    }.get(kind, [])
    if kind == "none":
        return {}
    if kept:
        inner = ", ".join(f"{name} = {hand.entry(sizes[name])}" for name in kept)
        return {"armhole": f"{{ {inner} }}"}
    shape = chance.choice(SHAPES)
    traits.add(shape)
    if kind == "points":
        return {"armhole": f"{{ outline = {_as_points(chance, shape, hole, hand)} }}"}
    name = f"{which}.svg"
    files[name] = _as_svg(chance, shape, hole).encode()
    return {"armhole": f'{{ outline = "{name}" }}'}


def _as_points(chance: random.Random, shape: str, hole: tuple[float, float], hand: Types) -> str:
    """Return a list of points, read off squared paper, in the sheet's unit."""
    count = chance.choice([8, 10, 12, 16, 24, 24, 36, 60, 120, 200])
    points = plate_points(shape, *hole, count, chance.uniform(0, 6))
    tremble = chance.choice([0, 0.1, 0.3]) if count <= 60 else 0.05
    points = [(x + chance.gauss(0, tremble), y + chance.gauss(0, tremble)) for x, y in points]
    if chance.random() < 0.5:
        points.reverse()
    if chance.random() < 0.4:
        points.append(points[0])
    dx, dy = chance.choice([(0, 0), (hole[0] / 2, hole[1] / 2), (50, -300)])
    unit, digits = {"in": (25.4, 3), "cm": (10.0, 2), "mm": (1.0, 1)}[hand.unit]
    if count <= 24 and chance.random() < 0.4:
        digits -= 1
    rows = ", ".join(
        f"[{(x + dx) / unit:.{digits}f}, {(y + dy) / unit:.{digits}f}]" for x, y in points
    )
    return f"[{rows}]"


def _as_svg(chance: random.Random, shape: str, hole: tuple[float, float]) -> str:
    """Return a drawing at true scale, the shoulder up the page."""
    width, height = hole
    w, h = width + 60, height + 80
    unit, per = chance.choice([("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("px", 25.4 / 96)])
    scale = chance.choice([1.0, 2.0, 96 / 25.4]) if unit != "px" else 96 / 25.4
    middle = (scale * w / 2, scale * h / 2)
    how = chance.choice(["ellipse", "polygon", "curves", "turned"])
    if how == "ellipse":
        line = (
            f'<ellipse id="armhole" cx="{middle[0]:.2f}" cy="{middle[1]:.2f}" '
            f'rx="{scale * width / 2:.2f}" ry="{scale * height / 2:.2f}" fill="none"/>'
        )
    else:
        count = 8 if how == "curves" else chance.choice([24, 40, 90, 180])
        points = plate_points(shape, width, height, count, chance.uniform(0, 6))
        drawn = [(middle[0] + scale * x, middle[1] - scale * y) for x, y in points]
        line = f'<path id="armhole" fill="none" stroke="black" d="{path_data(drawn, how)}"/>'
        if how == "turned":
            line = f'<g transform="translate(0,0) rotate({chance.uniform(-3, 3):.1f})">{line}</g>'
    beside = chance.choice(
        ["", '<text x="3" y="9">left armhole, June</text>', '<line x1="0" y1="0" x2="9" y2="0"/>']
    )
    return PAGE.format(
        w=f"{w / per:.3f}{unit}",
        h=f"{h / per:.3f}{unit}",
        box=f"0 0 {scale * w:.3f} {scale * h:.3f}",
        body=beside + line,
    )


def path_data(points: Points, how: str) -> str:
    """Return a path's data: straight from point to point, or smooth curves through them."""
    if how != "curves":
        return "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in points) + " Z"
    count, text = len(points), f"M{points[0][0]:.2f},{points[0][1]:.2f}"
    for k in range(count):
        p, a, b, q = (points[(k + j) % count] for j in (-1, 0, 1, 2))
        text += " C" + " ".join(
            f"{x:.2f},{y:.2f}" for x, y in (_towards(a, b, p), _towards(b, a, q), b)
        )
    return text + " Z"


def _towards(
    at: tuple[float, float], other: tuple[float, float], beyond: tuple[float, float]
) -> tuple[float, float]:
    """Return the handle at a point, along the chord of its neighbours."""
    dx, dy = other[0] - beyond[0], other[1] - beyond[1]
    size = hypot(other[0] - at[0], other[1] - at[1]) * 0.345 / max(sqrt(dx * dx + dy * dy), 1e-9)
    return at[0] + dx * size, at[1] + dy * size
