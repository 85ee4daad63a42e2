"""Flat pieces meshed and sewn: one closed set of faces, each with its flat shape."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.flat_meshing import crossing_of_outline, locate, mesh_outline, split_edges
from unroll.maths.polylines import sharp_corners
from unroll.nouns import Piece, Run, Seam, Trace
from unroll.sewn.shells import Shell

Marks = tuple[FloatArray, FloatArray]
SAME_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Match:
    """Stitches of one seam: distances along each chain, paired.

    Attributes
    ----------
    first, second : (k,) float
        mm along the chain of that name; `first` rises, `second` falls, because two pieces that lie
        right sides up run past each other.
    """

    first: FloatArray
    second: FloatArray


def match_seam(seam: Seam, by_name: Mapping[str, Piece], spacing: float) -> Match:
    """Pair stitches along a seam, at most about `spacing` mm apart on the longer side.

    Both sides get the same number of stitches between marks, at equal fractions of length, so that
    ease spreads. Marks are the ends, notches of the same name, corners between sides, and sharp
    corners within a side: a corner between two stitches would be cut off, or not, as their number
    happens to fall.
    """
    one, two = _Chain(seam.first, by_name), _Chain(seam.second, by_name)
    first, second = _shared_marks(one, two, 0.25 * spacing)
    second = two.length - second
    stops_one, stops_two = [first[0]], [second[0]]
    for a, b, c, d in zip(first[:-1], first[1:], second[:-1], second[1:], strict=True):
        count = max(int(np.ceil(max(b - a, c - d) / spacing - 1e-9)), 1)
        part = np.arange(1, count + 1) / count
        stops_one.extend(a + (b - a) * part)
        stops_two.extend(c + (d - c) * part)
    return Match(np.array(stops_one), np.array(stops_two))


def _shared_marks(one: _Chain, two: _Chain, near: float) -> Marks:
    """Return the marks of both chains, paired; of the second, measured from its far end."""
    first, second = [0.0, one.length], [0.0, two.length]
    for name, at in one.notches.items():
        if name in two.notches:
            first.append(at)
            second.append(two.length - two.notches[name])
    marks = _rising(first, second)
    partners = one.partners, two.length - two.partners
    for at, is_first, apart in _corners_in_turn(one, two, near):
        if is_first:
            marks = _with_mark(marks, at, partners[1], near, apart)
        else:
            marks = _with_mark(marks[::-1], at, partners[0], near, apart)[::-1]
    return marks


def _corners_in_turn(one: _Chain, two: _Chain, near: float) -> list[tuple[float, bool, float]]:
    """Return where corners want a mark, whether on the first chain, and how clear of other marks.

    Joints between sides come first: they need one. Of sharp corners nearer to each other than the
    mesh can follow, the sharpest has it.
    """
    joints = [(at, True, SAME_MM) for at in one.joints]
    joints += [(two.length - at, False, SAME_MM) for at in two.joints]
    sharp = [(turn, at, True) for at, turn in one.sharp]
    sharp += [(turn, two.length - at, False) for at, turn in two.sharp]
    sharp.sort(key=lambda corner: -corner[0])
    return joints + [(at, is_first, near) for _, at, is_first in sharp]


def _with_mark(marks: Marks, at: float, partners: FloatArray, near: float, apart: float) -> Marks:
    """Return the marks and one more, at `at` of the first chain, unless one is within `apart`.

    On the other chain it lies at the same share of length between marks, or at a corner that is
    `near`: two corners that almost meet are stitched corner to corner.
    """
    here, there = marks
    place = float(np.interp(at, here, there))
    index = int(np.searchsorted(here, at))
    is_near = np.abs(partners - place) < near
    is_between = (partners > there[index - 1] + SAME_MM) & (partners < there[index] - SAME_MM)
    corners = partners[is_near & is_between]
    if len(corners):
        place = float(corners[np.abs(corners - place).argmin()])
    if min(np.abs(here - at).min(), np.abs(there - place).min()) < apart:
        return marks
    return np.insert(here, index, at), np.insert(there, index, place)


def _rising(first: Sequence[float], second: Sequence[float]) -> Marks:
    """Return the pairs in rising order; a pair that would run backwards is left out."""
    order = np.argsort(first, kind="stable")
    one, two = np.array(first)[order], np.array(second)[order]
    keep = [0]
    for k in range(1, len(one) - 1):
        rises = one[k] > one[keep[-1]] + 1e-6 and two[k] > two[keep[-1]] + 1e-6
        if rises and one[k] < one[-1] - 1e-6 and two[k] < two[-1] - 1e-6:
            keep.append(k)
    keep.append(len(one) - 1)
    return one[keep], two[keep]


class _Chain:
    """A chain of sides as one line, with its joints, sharp corners and notches."""

    def __init__(self, runs: Sequence[Run], by_name: Mapping[str, Piece]) -> None:
        sides = [by_name[run.piece].sides[run.side_index] for run in runs]
        starts = np.concatenate([[0.0], np.cumsum([side.length for side in sides])])
        self.length = float(starts[-1])
        self.joints = [float(at) for at in starts[1:-1]]
        self.sharp = [
            (float(start + at), float(turn))
            for side, start in zip(sides, starts[:-1], strict=True)
            for at, turn in zip(*sharp_corners(side.points), strict=True)
        ]
        self.partners = np.array(self.joints + [at for at, _ in self.sharp])
        found: list[tuple[str, float]] = []
        for run, start in zip(runs, starts[:-1], strict=True):
            for notch in by_name[run.piece].notches:
                if notch.side_index == run.side_index:
                    found.append((notch.name, float(start + notch.along)))
        uses = Counter(name for name, _ in found)
        self.notches = {name: at for name, at in found if uses[name] == 1}


def run_stops(
    runs: Sequence[Run], by_name: Mapping[str, Piece], stops: FloatArray
) -> list[tuple[Run, FloatArray, IntArray]]:
    """Split the stops of a chain among its runs.

    Returns
    -------
    list of (run, along, index)
        Stops within the run, mm from its start, both ends included, and which stops they are.
    """
    order = np.argsort(stops, kind="stable")
    rising = stops[order]
    out, start = [], 0.0
    for run in runs:
        length = by_name[run.piece].sides[run.side_index].length
        is_in = (rising > start - 1e-6) & (rising < start + length + 1e-6)
        along = np.clip(rising[is_in] - start, 0.0, length)
        out.append((run, along, order[is_in]))
        start += length
    return out


LINE_STEP_MM = 1.0
MOST_SPLITS = 3


@dataclass(frozen=True, eq=False)
class Joined:
    """A shell made of pieces, and where each piece's flat vertices went.

    Attributes
    ----------
    shell : Shell
    pieces : tuple of Piece
    flat : tuple of (n, 2) float
        Each piece's flat vertices, mm.
    sewn : tuple of (n,) int
        The sewn vertex that each of them became.
    """

    shell: Shell
    pieces: tuple[Piece, ...]
    flat: tuple[FloatArray, ...]
    sewn: tuple[IntArray, ...]


def join(
    pieces: Sequence[Piece], seams: Sequence[Seam], *, spacing: float, card: Sequence[str]
) -> Joined:
    """Mesh the pieces at about `spacing` mm and merge the vertices along their seams.

    Raises
    ------
    UnrollError
        When the sewn faces do not close.
    """
    by_name = {piece.name: piece for piece in pieces}
    matches = [match_seam(seam, by_name, spacing) for seam in seams]
    stops = _stops_of_runs(seams, matches, by_name)
    local = [_mesh_piece(piece, stops, spacing, piece.name in card) for piece in pieces]
    for _ in range(MOST_SPLITS):
        offsets = np.concatenate([[0], np.cumsum([len(points) for points, _ in local])])
        corner = _corner_index(pieces, stops, offsets)
        stitches = [_stitches(s, m, by_name, corner) for s, m in zip(seams, matches, strict=True)]
        label = _merged(stitches, int(offsets[-1]))
        doubled = [_doubled_edges(f, label[o:]) for (_, f), o in zip(local, offsets, strict=False)]
        if not any(len(edges) for edges in doubled):
            break
        local = [split_edges(p, f, edges) for (p, f), edges in zip(local, doubled, strict=True)]
    faces = np.concatenate([f + o for (_, f), o in zip(local, offsets[:-1], strict=True)])
    check_closed(label[faces])
    counts = [len(f) for _, f in local]
    rest = np.concatenate([points for points, _ in local])[faces]
    face_pieces = np.repeat(np.arange(len(pieces)), counts)
    shell = Shell(
        source=pieces[0].source,
        arm=pieces[0].arm,
        faces=label[faces],
        rest=rest,
        piece_names=tuple(piece.name for piece in pieces),
        face_pieces=face_pieces,
        is_card=np.repeat([piece.name in card for piece in pieces], counts),
        seam_paths={
            seam.name: _once(label[pair[0]]) for seam, pair in zip(seams, stitches, strict=True)
        },
        lines=_traced_lines(pieces, rest, face_pieces),
    )
    return Joined(
        shell=shell,
        pieces=tuple(pieces),
        flat=tuple(points for points, _ in local),
        sewn=tuple(label[a:b] for a, b in zip(offsets[:-1], offsets[1:], strict=True)),
    )


def _doubled_edges(faces: IntArray, label: IntArray) -> IntArray:
    """Return a piece's inner edges (k, 2) that sewing lays onto another of its edges.

    Where a piece is folded and sewn to itself, as at the tip of a cone, one inner vertex can be
    joined to both of two that become one.
    """
    ends = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    edges, uses = np.unique(ends, axis=0, return_counts=True)
    sewn = np.sort(label[edges], axis=1)
    _, which, shared = np.unique(sewn, axis=0, return_inverse=True, return_counts=True)
    # An edge of the outline lies on its partner by right; two inner ones must not meet.
    is_inner = uses == 2
    inner_count = np.bincount(which.ravel(), weights=is_inner, minlength=len(shared))
    return np.asarray(edges[is_inner & (inner_count[which.ravel()] > 1)])


def _merged(stitches: Sequence[tuple[IntArray, IntArray]], total: int) -> IntArray:
    """Return the sewn vertex of each of `total` flat ones."""
    left, right = (np.concatenate([pair[side] for pair in stitches]) for side in (0, 1))
    link = coo_matrix((np.ones(len(left)), (left, right)), shape=(total, total))
    return np.asarray(connected_components(link, directed=False)[1], dtype=np.int64)


def _traced_lines(
    pieces: Sequence[Piece], rest: FloatArray, face_pieces: IntArray
) -> dict[str, tuple[Trace, ...]]:
    """Return the pieces' reference lines as traces on the sewn faces."""
    out: dict[str, tuple[Trace, ...]] = {}
    for index, piece in enumerate(pieces):
        faces = np.flatnonzero(face_pieces == index)
        for name, line in piece.lines.items():
            at, weights = locate(_spaced(line), rest[faces])
            out[name] = (*out.get(name, ()), Trace(faces[at], weights))
    return out


def _spaced(line: FloatArray) -> FloatArray:
    """Return the line with points no further apart than LINE_STEP_MM."""
    lengths = polylines.chords(line)
    at = np.concatenate([[0.0], np.cumsum(lengths)])
    count = max(int(np.ceil(at[-1] / LINE_STEP_MM)), 1)
    along = np.unique(np.concatenate([at, np.linspace(0, at[-1], count + 1)]))
    return np.stack([np.interp(along, at, line[:, k]) for k in range(2)], axis=1)


def _once(path: IntArray) -> IntArray:
    """Return the path with a vertex that follows itself left out."""
    return np.asarray(path[np.concatenate([[True], path[1:] != path[:-1]])])


def _stops_of_runs(
    seams: Sequence[Seam], matches: Sequence[Match], by_name: Mapping[str, Piece]
) -> dict[Run, FloatArray]:
    """Return the stitches of every side, mm from its start."""
    out: dict[Run, FloatArray] = {}
    for seam, match in zip(seams, matches, strict=True):
        for chain, stops in ((seam.first, match.first), (seam.second, match.second)):
            for run, along, _ in run_stops(chain, by_name, stops):
                out[run] = along
    return out


def _mesh_piece(
    piece: Piece, stops: Mapping[Run, FloatArray], spacing: float, is_card: bool
) -> tuple[FloatArray, IntArray]:
    """Return the piece's flat vertices, its stitches first, and faces."""
    outline = np.concatenate(
        [
            _at_length(side.points, stops[Run(piece.name, index)][:-1])
            for index, side in enumerate(piece.sides)
        ]
    )
    if len(outline) < 3 or crossing_of_outline(outline) is not None:
        raise UnrollError(
            f"{piece.name} is too small or too thin for a mesh of {spacing:g} mm; "
            "expected room for triangles of that size (choose a smaller spacing)"
        )
    if not is_card:
        return mesh_outline(outline, spacing=spacing)
    middle = outline.mean(axis=0)
    chords = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1).sum()
    # Chords cut the curve's corners; card keeps its girth, so it is drawn a little larger.
    outline = middle + (outline - middle) * (sum(side.length for side in piece.sides) / chords)
    around = np.arange(len(outline))
    fan = np.stack([around, np.roll(around, -1), np.full(len(outline), len(outline))], axis=1)
    return np.concatenate([outline, middle[None]]), fan


def _at_length(points: FloatArray, along: FloatArray) -> FloatArray:
    """Return the places `along` mm from the start of a polyline, (k, 2)."""
    steps = polylines.chords(points)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    return np.stack([np.interp(along, at, points[:, k]) for k in range(2)], axis=1)


def _corner_index(
    pieces: Sequence[Piece], stops: Mapping[Run, FloatArray], offsets: IntArray
) -> dict[Run, IntArray]:
    """Return the vertex of every stitch of every side, both ends included."""
    out: dict[Run, IntArray] = {}
    for piece, offset in zip(pieces, offsets[:-1], strict=True):
        runs = [Run(piece.name, index) for index in range(len(piece.sides))]
        total = sum(len(stops[run]) - 1 for run in runs)
        start = 0
        for run in runs:
            out[run] = offset + (start + np.arange(len(stops[run]))) % total
            start += len(stops[run]) - 1
    return out


def _stitches(
    seam: Seam, match: Match, by_name: Mapping[str, Piece], corner: Mapping[Run, IntArray]
) -> tuple[IntArray, IntArray]:
    """Return the pairs of vertices that a seam merges; where two sides meet, all of them."""
    one = _vertices(seam.first, match.first, by_name, corner)
    two = _vertices(seam.second, match.second, by_name, corner)
    left, right = [], []
    for here, there in zip(one, two, strict=True):
        left.extend([here[0]] * len(there) + list(here[1:]))
        right.extend([*there, *[there[0]] * (len(here) - 1)])
    return np.array(left), np.array(right)


def _vertices(
    chain: Sequence[Run],
    stops: FloatArray,
    by_name: Mapping[str, Piece],
    corner: Mapping[Run, IntArray],
) -> list[list[int]]:
    """Return the vertices at each stop of a chain: two where one side ends and the next begins."""
    out: list[list[int]] = [[] for _ in stops]
    for run, _, index in run_stops(chain, by_name, stops):
        for vertex, stop in zip(corner[run], index, strict=True):
            out[int(stop)].append(int(vertex))
    return out


def check_closed(faces: IntArray) -> None:
    """Refuse faces that leave a hole, or that meet three to an edge."""
    ends = np.stack([faces.ravel(), np.roll(faces, -1, axis=1).ravel()], axis=1)
    size = int(faces.max()) + 1
    forward, backward = ends[:, 0] * size + ends[:, 1], ends[:, 1] * size + ends[:, 0]
    is_doubled = len(np.unique(forward)) < len(forward)
    if is_doubled or not np.isin(forward, backward).all():
        raise UnrollError(
            "the sewn pieces do not close to one surface; expected two faces at every edge "
            "(is a seam shorter than the mesh is fine?)"
        )
