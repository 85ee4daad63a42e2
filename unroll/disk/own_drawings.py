"""Reads the lines of a drawing, SVG or DXF, in millimetres."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import numpy as np

from unroll.disk.outlines import FARTHEST, drawing_scale, shape_loops, view_box
from unroll.disk.svg_shapes import PIECES, read_drawing
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns.own import DrawnLine

LARGEST = 20_000_000  # bytes
SAMPLES = 200  # points a curve: of a seam of 500 mm in one curve a chord strays 0.003 mm
FINE_MM = 0.003  # by which a chord may stray from a curve of a DXF
MOST_POINTS = 400_000
MOST_ENTITIES = 40_000
DEEPEST = 8  # blocks within blocks
MOST_DXF_LINES = 2_000_000  # lines of text
# $INSUNITS; 0 says nothing (DXF reference, header section)
DXF_UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 14: 100.0}
_DRAWN = ("LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE")


def svg_lines(raw: bytes) -> tuple[DrawnLine, ...]:
    """Return the lines of an SVG drawing.

    Raises
    ------
    UnrollError
        When it is no SVG, is too involved, or has no scale. The text goes on after its name.
    """
    drawing = read_drawing(raw, PIECES)
    box = view_box(drawing.page)
    scale = drawing_scale(drawing.page, box) * np.array([1.0, -1.0])  # SVG's y runs down the page
    lines = [
        DrawnLine(_sound(scale * loop), shape.style)
        for shape in drawing.shapes
        for loop in shape_loops(shape, box, samples=SAMPLES)
    ]
    if not lines and drawing.copies:
        raise UnrollError("has nothing but copies by reference (<use>) of what is not in it; "
                          "unlink the clones")
    return _not_too_many(lines)


def dxf_lines(raw: bytes) -> tuple[tuple[DrawnLine, ...], bool]:
    """Return the lines of a DXF drawing, and whether it says its unit; else millimetres.

    Raises
    ------
    UnrollError
        When it is no DXF or is too involved. The text goes on after its name.
    """
    document = _document(raw)
    code = int(document.header.get("$INSUNITS", 0))
    if code and code not in DXF_UNITS:
        raise UnrollError(f"has a unit ($INSUNITS) of {code}; expected 1 (in), 4 (mm), 5 (cm) or "
                          "6 (m)")
    scale = DXF_UNITS.get(code, 1.0)
    hidden = {layer.dxf.name for layer in document.layers if layer.is_off() or layer.is_frozen()}
    lines = []
    for entity in _entities(document):
        if entity.dxf.layer not in hidden:
            lines += list(_entity_lines(entity, scale))
    return _not_too_many(lines), bool(code)


def _document(raw: bytes) -> Any:
    from ezdxf.filemanagement import read
    from ezdxf.lldxf.const import DXFError

    if raw.startswith(b"AutoCAD Binary DXF"):
        raise UnrollError("is a binary DXF; save it as a text DXF")
    count = raw.count(b"\n")
    if count > MOST_DXF_LINES:
        raise UnrollError(f"has {count} lines of text; expected at most {MOST_DXF_LINES} (more "
                          "than the pieces' lines? keep these alone)")
    try:
        document = read(io.StringIO(raw.decode("utf-8", errors="replace").replace("\r\n", "\n")))
    except (DXFError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
            RecursionError):
        raise UnrollError("is no DXF drawing") from None
    return document


def _entities(document: Any) -> Iterator[Any]:
    """Yield what is drawn, blocks taken apart; a block within itself ends at the deepest level."""
    waiting = [(entity, 0) for entity in document.modelspace()][::-1]
    met = 0
    too_many = _comes_to(document.modelspace(), 0, {}) > MOST_ENTITIES
    while waiting:
        met += 1
        if too_many or met > MOST_ENTITIES:
            raise UnrollError(f"has more than {MOST_ENTITIES} lines (blocks within blocks? keep "
                              "the pieces' lines alone)")
        entity, depth = waiting.pop()
        if entity.dxftype() == "INSERT":
            if depth >= DEEPEST:
                raise UnrollError(f"has blocks nested more than {DEEPEST} deep; explode them")
            if entity.mcount > MOST_ENTITIES:
                raise UnrollError(f"inserts a block {entity.mcount} times; expected it once")
            waiting += [(inner, depth + 1) for inner in _inserted(entity)]
        elif entity.dxftype() in _DRAWN:
            yield entity


def _comes_to(layout: Any, depth: int, known: dict[str, int]) -> int:
    """Return how many entities a layout comes to, blocks taken apart, without doing so.

    What is nested too deep, or inserted too often at once, is left to be told where it is met; so a
    drawing that hides one in the other may come to more than is said here.
    """
    count = 0
    for entity in layout:
        count += 1
        if entity.dxftype() != "INSERT" or depth > DEEPEST or entity.mcount > MOST_ENTITIES:
            continue
        block = entity.block()
        if block is not None and len(block) <= MOST_ENTITIES:
            if block.name not in known:
                known[block.name] = _comes_to(block, depth + 1, known)
            count += entity.mcount * known[block.name]
    return count


def _inserted(entity: Any) -> Iterator[Any]:
    block = entity.block()
    if block is None or len(block) > MOST_ENTITIES:
        return
    for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
        yield from one.virtual_entities()


def _entity_lines(entity: Any, scale: float) -> Iterator[DrawnLine]:
    from ezdxf.lldxf.const import DXFError
    from ezdxf.path import make_path

    try:
        with np.errstate(all="ignore"):
            path = make_path(entity)
            corners = np.array([(p.x, p.y) for p in path.control_vertices()], dtype=float)
            if len(corners) < 2:
                return
            _sound(scale * corners)
            points = _flattened(entity, FINE_MM / scale)
    except UnrollError:
        raise
    except (DXFError, ArithmeticError, ValueError, TypeError, AttributeError, IndexError):
        raise UnrollError(f"has a {entity.dxftype()} that cannot be drawn (a broken "
                          "drawing?)") from None
    yield DrawnLine(_sound(scale * points), str(entity.dxf.layer))


def _flattened(entity: Any, within: float) -> FloatArray:
    """Return an entity's points, (k, 2), within a distance of it.

    Arcs are exact: as cubic curves, which paths are made of, they stray 0.03 % of their radius.
    """
    from ezdxf.path import make_path

    if entity.dxftype() in ("ARC", "CIRCLE", "ELLIPSE"):
        found = entity.flattening(within)
    elif entity.dxftype() in ("LWPOLYLINE", "POLYLINE") and entity.has_arc:
        runs = [_flattened(part, within) for part in entity.virtual_entities()]
        return _end_to_end(runs)
    else:
        found = make_path(entity).flattening(within)
    return np.array([(point.x, point.y) for point in found], dtype=float)


def _end_to_end(runs: list[FloatArray]) -> FloatArray:
    """Return runs joined, each turned so that it begins where the last one ended."""
    if len(runs) > 1:
        ends = runs[1][[0, -1]]
        is_back = [np.linalg.norm(ends - end, axis=1).min() for end in runs[0][[0, -1]]]
        runs[0] = runs[0][::-1] if is_back[0] < is_back[1] else runs[0]
    line = runs[0]
    for run in runs[1:]:
        away = np.linalg.norm(run[[0, -1]] - line[-1], axis=1)
        line = np.vstack([line, (run if away[0] <= away[1] else run[::-1])[1:]])
    return line


def _sound(points: FloatArray) -> FloatArray:
    if not float(np.abs(points).max(initial=0.0)) <= FARTHEST:  # or no number at all
        raise UnrollError(f"has a line more than {FARTHEST:.0f} mm from the page's corner (a "
                          "broken drawing?)")
    return np.asarray(points)


def _not_too_many(lines: list[DrawnLine]) -> tuple[DrawnLine, ...]:
    count = sum(len(line.points) for line in lines)
    if count > MOST_POINTS:
        raise UnrollError(f"has {count} points; expected at most {MOST_POINTS} (more than the "
                          "pieces' lines? keep these alone)")
    return tuple(lines)
