"""Reads a traced armhole from an SVG drawing, at true scale."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import svgelements
from svgelements import PathSegment

from unroll.disk.reading import bounded_bytes
from unroll.disk.svg_shapes import (
    SvgDrawing,
    SvgShape,
    article,
    length_of,
    numbers_of,
    read_drawing,
)
from unroll.errors import UnrollError, one_line
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray

LARGEST_DRAWING = 20_000_000  # bytes; the scan that was traced may lie in it as a picture
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
_KINDS = {
    "path": svgelements.Path,
    "polygon": svgelements.Polygon,
    "polyline": svgelements.Polyline,
    "line": svgelements.SimpleLine,
    "rect": svgelements.Rect,
    "circle": svgelements.Circle,
    "ellipse": svgelements.Ellipse,
}
SAMPLES = 64  # points a curve; an armhole of four curves gets 256, sagitta below 0.02 mm
_CURVED = 64  # curves of a shape that get as many points; where there are more, each is short
LARGEST_GAP = 0.03  # of the loop's length; a hand tracing may end a little beside its start
FARTHEST = 1e6  # mm from the page's corner; beyond it no digits are left for the armhole


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
        When the file is not there, is no SVG, is too large or too involved, has no closed line or
        several, or no scale. The text goes on after "armhole outline ".
    """
    try:
        raw = bounded_bytes(path, most=LARGEST_DRAWING)
        drawing = read_drawing(raw)
        chosen = _one_line(drawing)
    except UnrollError as error:
        raise UnrollError(one_line(f'"{path.name}" {error}')) from None
    return np.column_stack([chosen[:, 0], -chosen[:, 1]])  # SVG's y runs down the page


def _one_line(drawing: SvgDrawing) -> FloatArray:
    box = view_box(drawing.page)
    scale = drawing_scale(drawing.page, box)
    shapes = drawing.shapes
    named = [shape for shape in shapes if shape.name == "armhole"]
    loops: list[FloatArray] = []
    for shape in named or shapes:
        loops += [scale * loop for loop in shape_loops(shape, box)]
        if len(loops) > 1:
            raise UnrollError(f"has {max(len(loops), len(named or shapes))} lines; expected one "
                              'closed path, or one whose id is "armhole"')
    if not loops:
        raise UnrollError("has no line; expected one closed path")
    if not float(np.abs(loops[0]).max()) <= FARTHEST:  # or no number at all
        raise UnrollError(f"has a line more than {FARTHEST:.0f} mm from the page's corner (a "
                          "broken drawing?)")
    return _closed(loops[0])


def view_box(page: dict[str, str]) -> list[float]:
    """Return the viewBox; without one, a page's size in pixels, as far as it has one."""
    if "viewBox" not in page:
        sizes = [_size(page, name) for name in ("width", "height")]
        return [0.0, 0.0, *(size / MM_PER_PIXEL if size else np.nan for size in sizes)]
    box = numbers_of(page["viewBox"], "a viewBox")
    if len(box) != 4 or min(box[2:]) <= 0:
        raise UnrollError(f'has a viewBox of "{page["viewBox"][:40]}"; expected four numbers, the '
                          "last two above 0")
    return box


def drawing_scale(page: dict[str, str], box: list[float]) -> float:
    """Return millimetres per drawing unit, from the page's width and its viewBox."""
    if "viewBox" not in page:
        return MM_PER_PIXEL
    sizes = [_size(page, name) for name in ("width", "height")]
    ratios = [size / extent for size, extent in zip(sizes, box[2:], strict=True) if size]
    if not ratios:
        raise UnrollError("has a viewBox but no page size in mm, cm or in; expected a drawing at "
                          "true scale")
    return min(ratios)  # preserveAspectRatio "meet", the default


def _size(page: dict[str, str], name: str) -> float | None:
    """Return a page's width or height, mm; None where it has none or takes what room there is."""
    if name not in page:
        return None
    number, unit = length_of(page[name], f"a page {name}")
    if unit == "%":
        return None
    if number <= 0:
        raise UnrollError(f'has a page {name} of "{page[name][:30]}"; expected more than 0')
    return number * _MM[unit]


def shape_loops(
    shape: SvgShape, box: list[float], *, samples: int = SAMPLES
) -> list[FloatArray]:
    """Return a shape's lines as polylines in the drawing's units; closed ones repeat their start.

    Parameters
    ----------
    shape : SvgShape
    box : list of 4 float
        The viewBox: what percentages are of; nan where the page has no size.
    samples : int
        Points a curve.

    Raises
    ------
    UnrollError
        When it has a length in percent of a page without a size, or its numbers cannot be worked
        with.
    """
    percent = next((v for v in shape.values.values() if v.endswith("%")), "")
    if percent and np.isnan(box[2:]).any():
        raise UnrollError(f"has {article(shape.tag)} at {percent} of a page without a size; give "
                          "the page a width and a height in mm")
    try:
        with np.errstate(all="ignore"):  # what overflows is told by its distance
            found = _KINDS[shape.tag](dict(shape.values))
            found.render(ppi=96.0, width=box[2], height=box[3])
            loops = _sampled(found.segments(transformed=False), samples)
            return [_moved(loop, shape) for loop in loops if len(loop) > 1]
    except (ArithmeticError, ValueError, TypeError, AttributeError):
        raise UnrollError(f"has {article(shape.tag)} that cannot be drawn (a broken "
                          "drawing?)") from None


def _sampled(segments: list[PathSegment], most: int) -> list[FloatArray]:
    """Return the points along a path, a list for each of its lines."""
    is_curve = [isinstance(segment, svgelements.Curve) for segment in segments]
    samples = int(np.clip(_CURVED * most // max(1, sum(is_curve)), 4, most))
    steps = np.linspace(0.0, 1.0, samples + 1)[1:]
    loops: list[list[FloatArray]] = []
    fresh = True
    for segment, curved in zip(segments, is_curve, strict=True):
        if isinstance(segment, svgelements.Move):
            fresh = True
            continue
        if fresh:  # after a move or a close, the pen sets down anew
            loops.append([np.array([[segment.start.x, segment.start.y]])])
        end = [[segment.end.x, segment.end.y]]
        if curved and not _is_straight(segment):
            loops[-1].append(np.asarray(segment.npoint(steps[:-1]), dtype=float))
        loops[-1].append(np.array(end))
        fresh = isinstance(segment, svgelements.Close)
    return [np.vstack(loop) for loop in loops]


def _is_straight(segment: PathSegment) -> bool:
    """Tell an arc without a radius, which is a line (SVG 1.1, F.6.2), or one that goes nowhere."""
    is_flat = isinstance(segment, svgelements.Arc) and 0.0 in (segment.rx, segment.ry)
    return is_flat or bool(segment.start == segment.end)


def _moved(loop: FloatArray, shape: SvgShape) -> FloatArray:
    at = shape.placed
    return np.asarray(loop @ [[at.a, at.b], [at.c, at.d]] + [at.e, at.f])


def _closed(points: FloatArray) -> FloatArray:
    gap = float(np.linalg.norm(points[0] - points[-1]))
    length = polylines.length(points)
    if gap > LARGEST_GAP * length:
        raise UnrollError(f"has a line that is open by {gap:.1f} mm; expected a closed path")
    return points[:-1] if gap < 1e-6 else points
