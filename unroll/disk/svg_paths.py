"""SVG path data to polylines: lines, Bézier curves and elliptical arcs, finely sampled.

Grammar and arc formulas: W3C, Scalable Vector Graphics (SVG) 1.1 (Second Edition), 2011, section
8.3 and appendix F.6.5.
"""

from __future__ import annotations

import re
from math import comb

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray

SAMPLES = 64  # points a curve; an armhole of four curves gets 256, sagitta below 0.02 mm
_TOKEN = re.compile(r"([MmLlHhVvCcSsQqTtAaZz])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


def path_loops(data: str) -> list[FloatArray]:
    """Return the subpaths of SVG path data as polylines, (k, 2); closed ones repeat their start.

    Raises
    ------
    UnrollError
        When the data break the grammar.

    Examples
    --------
    >>> path_loops("M0 0 h3 v4 z")[0].tolist()
    [[0.0, 0.0], [3.0, 0.0], [3.0, 4.0], [0.0, 0.0]]
    """
    pen = _Pen()
    for letter, values in _commands(data):
        pen.do(letter, values)
    return [np.array(loop) for loop in pen.loops if len(loop) > 1]


def _commands(data: str) -> list[tuple[str, list[float]]]:
    """Return each command with its own numbers; a repeated M is a line (8.3.2)."""
    out: list[tuple[str, list[float]]] = []
    for letter, values in _numbers_after(data):
        takes = _TAKES[letter.upper()]
        if takes == 0:
            out.append((letter, []))
            continue
        if not values or len(values) % takes:
            raise UnrollError(f'has a path with {len(values)} numbers after "{letter}"; expected '
                              f"a multiple of {takes} (a broken drawing?)")
        again = {"M": "L", "m": "l"}.get(letter, letter)
        for start in range(0, len(values), takes):
            out.append((again if start else letter, values[start:start + takes]))
    return out


def _numbers_after(data: str) -> list[tuple[str, list[float]]]:
    found: list[tuple[str, list[float]]] = []
    for letter, number in _TOKEN.findall(_spaced_flags(data)):
        if letter:
            found.append((letter, []))
        elif found:
            found[-1][1].append(float(number))
        else:
            raise UnrollError('has a path that does not start with "M" (a broken drawing?)')
    if found and found[0][0] not in "Mm":
        raise UnrollError('has a path that does not start with "M" (a broken drawing?)')
    return found


def _spaced_flags(data: str) -> str:
    """Return the data with an arc's two flags set apart, which may be written "01" or "013"."""
    number = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
    arc = re.compile(
        rf"({number}[\s,]*{number}[\s,]*{number}[\s,]+)([01])[\s,]*([01])"
        rf"([\s,]*{number}[\s,]*{number})"
    )

    def apart(found: re.Match[str]) -> str:
        return found[1] + arc.sub(r"\1 \2 \3 \4 ", found[2])

    return re.sub(r"([Aa])([^A-DF-Za-df-z]*)", apart, data)


class _Pen:
    """Draws commands into polylines."""

    def __init__(self) -> None:
        self.loops: list[list[FloatArray]] = []
        self.at: FloatArray = np.zeros(2)
        self.start: FloatArray = np.zeros(2)
        self.handle: FloatArray | None = None  # last control point, for S and T
        self.last = ""

    def do(self, letter: str, values: list[float]) -> None:
        kind, base = letter.upper(), self.at if letter.islower() else np.zeros(2)
        if kind == "M":
            self.start = self.at = base + values
            self.loops.append([self.at])
        elif kind == "Z":
            self.line_to(self.start)
        elif kind in "LHV":
            self.line_to(self._line_end(kind, letter.islower(), values))
        elif kind == "A":
            self.arc_to(values[:3], bool(values[3]), bool(values[4]), base + values[5:])
        else:
            self.curve_to(kind, np.reshape(values, (-1, 2)) + base)
        self.last = kind

    def _line_end(self, kind: str, relative: bool, values: list[float]) -> FloatArray:
        end = self.at.copy()
        if kind == "L":
            return np.asarray(values) + (self.at if relative else 0.0)
        axis = 0 if kind == "H" else 1
        end[axis] = values[0] + (self.at[axis] if relative else 0.0)
        return end

    def line_to(self, end: FloatArray) -> None:
        self.add(end[None])

    def add(self, points: FloatArray) -> None:
        if not self.loops or self.last == "Z":  # after Z, drawing goes on from the start
            self.loops.append([self.at])
        self.loops[-1].extend(points)
        self.at = np.asarray(points[-1])

    def curve_to(self, kind: str, points: FloatArray) -> None:
        if kind in "ST":  # the first handle mirrors the last one, after a curve of the same kind
            same = self.last in ("CS" if kind == "S" else "QT") and self.handle is not None
            mirrored = 2.0 * self.at - self.handle if same and self.handle is not None else self.at
            points = np.vstack([mirrored, points])
        control = np.vstack([self.at, points])
        self.handle = control[-2]
        t = np.linspace(0.0, 1.0, SAMPLES + 1)[1:, None]
        order = len(control) - 1
        terms = [
            comb(order, k) * t**k * (1.0 - t) ** (order - k) * point
            for k, point in enumerate(control)
        ]
        self.add(np.sum(terms, axis=0))

    def arc_to(self, shape: list[float], large: bool, sweep: bool, end: FloatArray) -> None:
        radii = np.abs(shape[:2])
        if np.allclose(end, self.at):
            return
        if np.any(radii == 0.0):
            self.line_to(end)
            return
        turn = np.radians(shape[2])
        spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        half = spin @ (0.5 * (self.at - end))
        radii = radii * max(1.0, float(np.sqrt(np.sum((half / radii) ** 2))))
        unit = half / radii
        size = float(unit @ unit)
        factor = np.sqrt(max(0.0, 1.0 - size) / size) * (-1.0 if large == sweep else 1.0)
        centre = factor * np.array([unit[1], -unit[0]])
        first, last = unit - centre, -unit - centre
        begin = np.arctan2(first[1], first[0])
        swept = (np.arctan2(last[1], last[0]) - begin) % (2.0 * np.pi)
        swept -= 0.0 if sweep else 2.0 * np.pi
        angle = begin + swept * np.linspace(0.0, 1.0, SAMPLES + 1)[1:]
        circle = np.column_stack([np.cos(angle), np.sin(angle)]) + centre
        points = (circle * radii) @ spin + 0.5 * (self.at + end)
        points[-1] = end
        self.add(points)
