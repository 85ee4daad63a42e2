"""Reads a traced armhole from an SVG drawing, at true scale."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from unroll.disk.svg_paths import path_loops
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray

MM_PER_PIXEL = 25.4 / 96.0  # CSS: 96 pixels to the inch
_MM: dict[str, float] = {
    "": MM_PER_PIXEL,
    "px": MM_PER_PIXEL,
    "mm": 1.0,
    "cm": 10.0,
    "in": 25.4,
    "pt": 25.4 / 72.0,
    "pc": 25.4 / 6.0,
    "q": 0.25,
}
_SIZE = re.compile(r"\s*([\d.]+(?:[eE][-+]?\d+)?)\s*([A-Za-z]*)\s*")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_TRANSFORM = re.compile(r"(\w+)\s*\(([^)]*)\)")
_SHAPES = ("path", "polygon", "polyline", "ellipse", "circle")
_HIDDEN = ("defs", "clipPath", "mask", "symbol", "marker", "pattern")
LARGEST_GAP = 0.03  # of the loop's length; a hand tracing may end a little beside its start


def load_outline(path: Path) -> FloatArray:
    """Return the one closed line of an SVG drawing, or the one whose id is "armhole".

    Parameters
    ----------
    path : Path
        An SVG file, drawn at true scale, the front of the arm to the right, the shoulder up.

    Returns
    -------
    (k, 2) float
        x forward, y up, mm; the first point not repeated.

    Raises
    ------
    UnrollError
        When the file is not there, is no SVG, has no closed line or several, or no scale. The
        text goes on after "armhole outline ".
    """
    root = _root(path)
    scale = _scale(root, path)
    loops = list(_loops(root, np.diag([scale, scale, 1.0])))
    named = [loop for name, loop in loops if name == "armhole"]
    chosen = named or [loop for _, loop in loops]
    if not chosen:
        raise UnrollError(f'"{path.name}" has no line; expected one closed path')
    if len(chosen) > 1:
        raise UnrollError(
            f'"{path.name}" has {len(chosen)} lines; expected one closed path, or '
            'one whose id is "armhole"'
        )
    loop = _closed(chosen[0], path)
    return np.column_stack([loop[:, 0], -loop[:, 1]])  # SVG's y runs down the page


def _root(path: Path) -> ElementTree.Element:
    try:
        root = ElementTree.parse(path).getroot()
    except FileNotFoundError:
        raise UnrollError(f'names "{path.name}", which is not there') from None
    except OSError as error:
        raise UnrollError(
            f'names "{path.name}", which cannot be opened: {error.strerror}'
        ) from None
    except (ElementTree.ParseError, UnicodeDecodeError, ValueError):
        raise UnrollError(f'names "{path.name}", which is no SVG drawing') from None
    if _tag(root) != "svg":
        raise UnrollError(f'names "{path.name}", which is no SVG drawing')
    return root


def _tag(element: ElementTree.Element) -> str:
    return str(element.tag).rpartition("}")[2]


def _scale(root: ElementTree.Element, path: Path) -> float:
    """Return millimetres per drawing unit, from the page's width and its viewBox."""
    box = [float(number) for number in _NUMBER.findall(root.get("viewBox", ""))]
    sizes = [_size(root.get(name)) for name in ("width", "height")]
    if len(box) != 4:
        return MM_PER_PIXEL
    ratios = [
        size / extent
        for size, extent in zip(sizes, box[2:], strict=True)
        if size is not None and extent > 0
    ]
    if not ratios:
        raise UnrollError(
            f'"{path.name}" has a viewBox but no page size in mm, cm or in; expected '
            "a drawing at true scale"
        )
    return min(ratios)  # preserveAspectRatio "meet", the default


def _size(text: str | None) -> float | None:
    found = _SIZE.fullmatch(text or "")
    if found is None or found[2].lower() not in _MM:
        return None  # absent, or a percentage
    return float(found[1]) * _MM[found[2].lower()]


def _loops(element: ElementTree.Element, placed: FloatArray) -> Iterator[tuple[str, FloatArray]]:
    """Yield the id and points, mm, of each line in the drawing."""
    tag = _tag(element)
    if tag in _HIDDEN:
        return
    placed = placed @ _transform(element.get("transform", ""))
    if tag in _SHAPES:
        for loop in path_loops(_as_path(element, tag)):
            points = loop @ placed[:2, :2].T + placed[:2, 2]
            yield element.get("id", ""), points
    for child in element:
        yield from _loops(child, placed)


def _as_path(element: ElementTree.Element, tag: str) -> str:
    if tag == "path":
        return element.get("d", "")
    if tag in ("polygon", "polyline"):
        end = " Z" if tag == "polygon" else ""
        return f"M {element.get('points', '')}{end}"
    cx, cy = (float(element.get(name, 0)) for name in ("cx", "cy"))
    rx, ry = (float(element.get(name, element.get("r", 0))) for name in ("rx", "ry"))
    return f"M {cx - rx} {cy} A {rx} {ry} 0 0 1 {cx + rx} {cy} A {rx} {ry} 0 0 1 {cx - rx} {cy} Z"


def _transform(text: str) -> FloatArray:
    """Return the (3, 3) matrix of an SVG transform list."""
    total = np.eye(3)
    for kind, inside in _TRANSFORM.findall(text):
        values = [float(number) for number in _NUMBER.findall(inside)]
        total = total @ _one_transform(kind, values)
    return total


def _one_transform(kind: str, values: list[float]) -> FloatArray:
    first = values[0] if values else 0.0
    if kind == "matrix" and len(values) == 6:
        a, b, c, d, e, f = values
        return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
    if kind == "translate":
        return _moved(first, values[1] if len(values) > 1 else 0.0)
    if kind == "scale":
        return np.diag([first, values[1] if len(values) > 1 else first, 1.0])
    angle = np.radians(first)
    if kind == "rotate":
        turn = np.array(
            [
                [np.cos(angle), -np.sin(angle), 0.0],
                [np.sin(angle), np.cos(angle), 0.0],
                [0.0, 0.0, 1.0],
            ]
        )
        if len(values) == 3:
            turn = _moved(*values[1:]) @ turn @ _moved(-values[1], -values[2])
        return turn
    if kind in ("skewX", "skewY"):
        skew = np.eye(3)
        skew[(0, 1) if kind == "skewX" else (1, 0)] = np.tan(angle)
        return skew
    return np.eye(3)


def _moved(x: float, y: float) -> FloatArray:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])


def _closed(points: FloatArray, path: Path) -> FloatArray:
    gap = float(np.linalg.norm(points[0] - points[-1]))
    length = polylines.length(points)
    if gap > LARGEST_GAP * length:
        raise UnrollError(
            f'"{path.name}" has a line that is open by {gap:.1f} mm; expected a closed path'
        )
    return points[:-1] if gap < 1e-6 else points
