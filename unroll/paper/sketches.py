"""Small drawings for the steps of sewing, drawn from an arm's own pieces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import crossings, point_at
from unroll.nouns import FinishedPiece
from unroll.paper.drawing import grain_mark

FAR = 1e5  # mm; beyond any piece
APART = 25.0  # mm between pieces of a sketch, at full size


@dataclass(eq=False)
class Sketch:
    """A small drawing in the pieces' own millimetres, fitted to its place later.

    Attributes
    ----------
    strokes : list of ((k, 2) float, str)
        Lines and their styles.
    patches : list of ((k, 2) float, float)
        Filled outlines and their greys.
    words : list of (str, (2,) float)
        Words, and what they would best stand beside.
    """

    strokes: list[tuple[FloatArray, str]] = field(default_factory=list)
    patches: list[tuple[FloatArray, float]] = field(default_factory=list)
    words: list[tuple[str, FloatArray]] = field(default_factory=list)

    def piece(self, piece: FinishedPiece, move: FloatArray, *, bold: Sequence[str] = ()) -> None:
        """Draw a piece's stitching line, some seams bold."""
        self.patches.append((piece.stitching + move, 0.95))
        for side in piece.sides:
            self.strokes.append((side.points + move, "bold" if side.seam in bold else "thin"))

    def arrow(self, start: FloatArray, end: FloatArray, size: float = 14.0) -> None:
        """Draw an arrow."""
        ahead = (end - start) / np.linalg.norm(end - start)
        aside = np.array([-ahead[1], ahead[0]])
        head = [
            end - size * ahead + 0.4 * size * aside,
            end,
            end - size * ahead - 0.4 * size * aside,
        ]
        self.strokes += [(np.stack([start, end]), "medium"), (np.stack(head), "medium")]


Pieces = dict[str, FinishedPiece]


def sketch_of(drawing: str, pieces: Pieces) -> Sketch:
    """Return the sketch called `drawing` for the cloth pieces of one arm, by name."""
    return _SKETCHES[drawing](pieces)


def _cut(pieces: Pieces) -> Sketch:
    sketch, x = Sketch(), 0.0
    for piece in pieces.values():
        low, high = piece.cutting.min(axis=0), piece.cutting.max(axis=0)
        move = np.array([x - low[0], -low[1]])
        loop = np.vstack([piece.cutting, piece.cutting[:1]]) + move
        sketch.patches.append((piece.cutting + move, 0.95))
        sketch.strokes += [(loop, "medium"), (piece.stitching + move, "faint")]
        grain = grain_mark(piece) + move
        sketch.arrow(grain[0], grain[1], 22.0)
        x += float(high[0] - low[0]) + APART
    return sketch


def _darts(pieces: Pieces) -> Sketch:
    outer, sketch = pieces["outer"], Sketch()
    names = [dart.name for dart in outer.darts]
    sketch.piece(outer, np.zeros(2), bold=names)
    for dart in outer.darts:
        legs = [outer.sides[i] for i in dart.side_indices]
        one, two = (point_at(leg.points, share * leg.length)
                    for leg, share in zip(legs, (0.3, 0.7), strict=True))  # fmt: skip
        sketch.arrow(one + 0.12 * (two - one), one + 0.42 * (two - one), 8.0)
        sketch.arrow(two + 0.12 * (one - two), two + 0.42 * (one - two), 8.0)
    return _upper(sketch, outer, 0.5)


def _upper(sketch: Sketch, piece: FinishedPiece, share: float) -> Sketch:
    """Keep the upper share of a sketch of a long piece."""
    top, low = piece.stitching[:, 1].max(), piece.stitching[:, 1].min()
    return _within(sketch, top - share * (top - low), np.inf)


def _within(sketch: Sketch, low: float, high: float) -> Sketch:
    """Cut a sketch off below and above two levels."""
    band = shapely.box(-FAR, max(low, -FAR), FAR, min(high, FAR))
    strokes = [
        (shapely.get_coordinates(run), style)
        for points, style in sketch.strokes
        for run in shapely.get_parts(shapely.intersection(shapely.LineString(points), band))
        if run.geom_type == "LineString" and run.length > 0
    ]
    patches = [
        (np.column_stack([p[:, 0], np.clip(p[:, 1], low, high)]), grey)
        for p, grey in sketch.patches
    ]
    words = [(text, at) for text, at in sketch.words if low <= at[1] <= high]
    return Sketch(strokes, patches, words)


def _side_by_side(pieces: Pieces, seam: str) -> Sketch:
    """Lay inner and outer beside each other so that one seam of both faces the other."""
    outer, inner, sketch = pieces["outer"], pieces["inner"], Sketch()
    a = _middle(outer, seam)
    b = _middle(inner, seam)
    is_left = a[0] < outer.stitching[:, 0].mean()
    low_a, low_b = outer.stitching.min(axis=0), inner.stitching.min(axis=0)
    high_a, high_b = outer.stitching.max(axis=0), inner.stitching.max(axis=0)
    x = low_a[0] - high_b[0] - 2 * APART if is_left else high_a[0] - low_b[0] + 2 * APART
    move = np.array([x, low_a[1] - low_b[1]])
    sketch.piece(outer, np.zeros(2), bold=(seam,))
    sketch.piece(inner, move, bold=(seam,))
    ahead = np.sign(a[0] - b[0] - x) * np.array([1.0, 0.0])
    sketch.arrow(b + move + 8 * ahead, b + move + 2 * APART * ahead, 12.0)
    sketch.words.append(("outer", outer.stitching.mean(axis=0)))
    sketch.words.append(("inner", inner.stitching.mean(axis=0) + move))
    for piece, shift in ((outer, np.zeros(2)), (inner, move)):
        _notches(sketch, piece, shift, seam)
    return sketch


def _notches(sketch: Sketch, piece: FinishedPiece, move: FloatArray, *seams: str) -> None:
    """Draw a piece's notches on some seams as ticks across the stitching line."""
    for mark in piece.notches:
        if piece.sides[mark.side_index].seam in seams:
            for slit in mark.slits:
                out = (slit[0] - slit[1]) / np.linalg.norm(slit[0] - slit[1])
                foot = slit[0] - out * ((slit[0] - mark.at) @ out)
                sketch.strokes.append((np.stack([foot, foot + 9 * out]) + move, "medium"))


def _middle(piece: FinishedPiece, seam: str) -> FloatArray:
    side = next(s for s in piece.sides if s.seam == seam)
    return point_at(side.points, side.length / 2)


def _wrist(pieces: Pieces) -> Sketch:
    sketch = _side_by_side(pieces, "front seam")
    strokes = [(p, "thin" if style == "bold" else style) for p, style in sketch.strokes]
    sketch = Sketch(strokes, sketch.patches, [])
    for name in ("outer wrist", "inner wrist"):
        for piece in (pieces["outer"], pieces["inner"]):
            shift = np.zeros(2) if piece.name == "outer" else _shift_of_inner(pieces)
            for side in piece.sides:
                if side.seam == name:
                    sketch.strokes.append((side.points + shift, "bold"))
    low = pieces["outer"].stitching[:, 1].min()
    sketch = _within(sketch, -np.inf, low + 130)
    base = pieces["wrist base"]
    middle = np.concatenate([p for p, _ in sketch.strokes])
    x = 0.5 * (middle[:, 0].min() + middle[:, 0].max())
    top = middle[:, 1].min() - 2 * APART
    move = np.array([x, top]) - [base.stitching[:, 0].mean(), base.stitching[:, 1].max()]
    sketch.piece(base, move, bold=("outer wrist", "inner wrist"))
    _notches(sketch, base, move, "outer wrist", "inner wrist")
    sketch.words.append(("wrist base", base.stitching.mean(axis=0) + move))
    return sketch


def _shift_of_inner(pieces: Pieces) -> FloatArray:
    outer, inner = pieces["outer"].stitching, pieces["inner"].stitching
    is_left = _middle(pieces["outer"], "front seam")[0] < outer[:, 0].mean()
    x = (
        outer[:, 0].min() - inner[:, 0].max() - 2 * APART
        if is_left
        else outer[:, 0].max() - inner[:, 0].min() + 2 * APART
    )
    return np.array([x, outer[:, 1].min() - inner[:, 1].min()])


def _ease(pieces: Pieces) -> Sketch:
    outer, sketch = pieces["outer"], Sketch()
    sketch.piece(outer, np.zeros(2))
    for ease in outer.eases:
        if ease.seam == "cap seam":
            for index, _, _ in ease.runs:
                sketch.strokes.append((outer.sides[index].points, "bold"))
    _notches(sketch, outer, np.zeros(2), "cap seam")
    return _upper(sketch, outer, 0.45)


def _extension(pieces: Pieces) -> Sketch:
    outer, piece, sketch = pieces["outer"], pieces["shoulder extension"], Sketch()
    sketch.piece(outer, np.zeros(2), bold=("cap seam",))
    sketch = _upper(sketch, outer, 0.4)
    top = outer.stitching[:, 1].max()
    x = outer.stitching[outer.stitching[:, 1] > top - 80, 0].mean()
    low = piece.stitching.min(axis=0)
    move = np.array([x - piece.stitching[:, 0].mean(), top - low[1] + 1.6 * APART])
    sketch.piece(piece, move, bold=("shoulder extension seam",))
    start = _middle(piece, "shoulder extension seam") + move
    sketch.arrow(start - [0, 6], start - [0, 6 + 1.5 * APART], 10.0)
    sketch.words += [
        ("shoulder extension", piece.stitching.mean(axis=0) + move),
        ("outer", np.array([x, top - 110])),
    ]
    return sketch


def _armhole(pieces: Pieces) -> Sketch:
    return _plate(pieces, "cap seam", "sew", "leave open")


def _closing(pieces: Pieces) -> Sketch:
    return _plate(pieces, "underarm seam", "by hand", "sewn")


def _plate(pieces: Pieces, seam: str, here: str, there: str) -> Sketch:
    """Draw the armhole base with one of its two seams bold."""
    base, sketch = pieces["armhole base"], Sketch()
    sketch.piece(base, np.zeros(2), bold=(seam,))
    _notches(sketch, base, np.zeros(2), "cap seam", "underarm seam")
    for side in base.sides:
        word = here if side.seam == seam else there
        middle = point_at(side.points, side.length / 2)
        sketch.words.append((word, middle + 0.3 * (base.stitching.mean(axis=0) - middle)))
    for mark in base.notches:
        out = mark.at - base.stitching.mean(axis=0)
        sketch.words.append((mark.name, mark.at + 16 * out / np.linalg.norm(out)))
    return sketch


def silhouette(pieces: Pieces) -> FloatArray:
    """Return the outline of the filled arm, hanging straight: girths made round, (k, 2), mm.

    At each level below the underarm the two pieces' widths make up a girth, and the filled arm is
    that girth over pi wide; above, a quarter ellipse stands for the cap.
    """
    outer, inner = pieces["outer"].stitching, pieces["inner"].stitching
    low_a, low_b = outer[:, 1].min(), inner[:, 1].min()
    reach = min(np.ptp(inner[:, 1]), np.ptp(outer[:, 1])) * 0.78
    levels = np.linspace(12.0, reach, 40)
    half = np.array(
        [(_width(outer, low_a + up) + _width(inner, low_b + up)) / (2 * np.pi) for up in levels]
    )
    left = np.column_stack([-half, levels])
    top = np.ptp(outer[:, 1])
    angle = np.linspace(0, np.pi, 40)[1:-1]
    dome = np.column_stack([half[-1] * -np.cos(angle), reach + (top - reach) * np.sin(angle)])
    return np.vstack([left, dome, left[::-1] * [-1, 1]])


def _width(loop: FloatArray, level: float) -> float:
    line = np.array([[loop[:, 0].min() - 10, level], [loop[:, 0].max() + 10, level]])
    at = crossings(line, np.vstack([loop, loop[:1]]))[:, 0]
    return float(np.ptp(at)) if len(at) else 0.0


def _filling(pieces: Pieces) -> Sketch:
    # the arm lies on the table, wrist to the right
    outline, sketch = silhouette(pieces)[:, ::-1] * [-1.0, 1.0], Sketch()
    sketch.patches.append((outline, 0.92))
    sketch.strokes.append((np.vstack([outline, outline[:1]]), "medium"))
    low, high = outline[:, 0].min(), outline[:, 0].max()
    wide = outline[:, 1].max()
    sketch.arrow(np.array([low + 60.0, 0.0]), np.array([high - 40.0, 0.0]), 18.0)
    for text, share in (("1 wrist", 0.06), ("2 elbow", 0.42), ("3 upper arm and cap", 0.78)):
        sketch.words.append((text, np.array([high - share * (high - low), wide + 35])))
    return sketch


def _attach(pieces: Pieces) -> Sketch:
    outline, piece, sketch = silhouette(pieces), pieces["shoulder extension"], Sketch()
    sketch.patches.append((outline, 0.92))
    sketch.strokes.append((np.vstack([outline, outline[:1]]), "medium"))
    top = outline[:, 1].max()
    low = piece.stitching.min(axis=0)
    move = np.array([-piece.stitching[:, 0].mean(), top - low[1] - 20.0])
    sketch.piece(piece, move, bold=("shoulder extension edge",))
    sketch.words.append(("extension, over the shoulder", piece.stitching.mean(axis=0) + move))
    sketch.words.append(("arm", np.array([0.0, 0.6 * top])))
    return _within(sketch, 0.35 * top, np.inf)


_SKETCHES: dict[str, Callable[[Pieces], Sketch]] = {
    "cut": _cut,
    "darts": _darts,
    "front seam": lambda pieces: _side_by_side(pieces, "front seam"),
    "back seam": lambda pieces: _side_by_side(pieces, "back seam"),
    "wrist": _wrist,
    "ease": _ease,
    "extension": _extension,
    "armhole": _armhole,
    "filling": _filling,
    "closing": _closing,
    "attach": _attach,
}
