"""Seams: which chains of sides are sewn together, how long they are, and in which order."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import closest_along
from unroll.nouns.piece import Notch

ORDER = ("outer", "inner", "shoulder extension", "armhole base", "wrist base")
SEWN_ONTO = {"shoulder extension seam": "cap seam"}  # seams that meet a seam of another name
SEWN_FIRST = ("front seam", "back seam")  # before the seams at their ends
SEAM_END = "end of seam"
_DART = re.compile(r"dart \d+$")


class SewnSide(Protocol):
    """What seams ask of a side."""

    @property
    def seam(self) -> str:
        """Name of its seam."""

    @property
    def points(self) -> FloatArray:
        """Its polyline, (k, 2), mm."""

    @property
    def length(self) -> float:
        """Its length, mm."""


class Outlined(Protocol):
    """What seams ask of a piece, flat or finished: a name, sides and named marks on them."""

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def sides(self) -> Sequence[SewnSide]:
        """Its sides, each with the name of its seam."""

    @property
    def notches(self) -> Sequence[Any]:
        """Marks with a name, a side and a distance along it."""


def is_dart(seam: str) -> bool:
    """Tell whether a seam name is that of a dart."""
    return bool(_DART.match(seam))


@dataclass(frozen=True, eq=False)
class Chain:
    """The sides of one piece that bear one seam name, end to end, darts closed.

    Attributes
    ----------
    piece : Piece or FinishedPiece
    sides : tuple of int
        Their indices, in outline order.
    is_reversed : bool
        Whether the chain is walked against the outline.
    """

    piece: Any
    sides: tuple[int, ...]
    is_reversed: bool = False

    @property
    def seam(self) -> str:
        """Name that the sides bear."""
        return str(self.piece.sides[self.sides[0]].seam)

    @property
    def length(self) -> float:
        """Length with darts closed, mm."""
        return float(sum(self.piece.sides[i].length for i in self.sides))

    @property
    def starts(self) -> dict[int, float]:
        """How far along the outline's run each side begins, mm, by its index."""
        lengths = [self.piece.sides[i].length for i in self.sides]
        begins = np.concatenate([[0.0], np.cumsum(lengths)[:-1]]).tolist()
        return dict(zip(self.sides, begins, strict=True))

    @property
    def marks(self) -> dict[str, float]:
        """How far from the chain's start its notches lie, mm, by name; legs' own marks left out."""
        found = ((n.name, self.along(n)) for n in self.piece.notches if not is_dart(n.name))
        return {name: at for name, at in found if at is not None}

    def along(self, notch: Any) -> float | None:
        """Return how far from the chain's start a notch lies, mm; None when it is elsewhere."""
        if notch.side_index not in self.sides:
            return None
        at = self.starts[notch.side_index] + notch.along
        return float(self.length - at if self.is_reversed else at)

    def notch(self, name: str, along: float, marks: int = 1) -> Notch:
        """Return a notch at a distance from the chain's start."""
        rest = self.length - along if self.is_reversed else along
        index = next((i for i in self.sides[:-1]
                      if rest <= self.starts[i] + self.piece.sides[i].length), self.sides[-1])
        at = np.clip(rest - self.starts[index], 0.0, self.piece.sides[index].length)
        return Notch(name, index, float(at), marks)

    def nearest(self, point: FloatArray) -> tuple[float, float]:
        """Return how far along the chain its nearest place to a point lies, and how far off, mm."""
        hits = []
        for index, start in self.starts.items():
            at, off = closest_along(self.piece.sides[index].points, point)
            hits.append((off, start + at))
        off, at = min(hits)
        return (self.length - at if self.is_reversed else at), off

    def runs(self, start: float, end: float) -> tuple[tuple[int, float, float], ...]:
        """Return the parts of the sides between two distances: (side, from, to), outline order."""
        if self.is_reversed:
            start, end = self.length - end, self.length - start
        spans = ((i, max(start - at, 0.0), min(end - at, self.piece.sides[i].length))
                 for i, at in self.starts.items())  # fmt: skip
        return tuple(span for span in spans if span[2] - span[1] > 1e-6)

    def reversed(self) -> Chain:
        """Return the same chain walked from its other end."""
        return Chain(self.piece, self.sides, not self.is_reversed)


@dataclass(frozen=True, eq=False)
class Seam:
    """Two chains that are sewn together; both are walked from the same end of the seam.

    Pieces that all lie right side up run against each other there, so one chain is reversed.
    """

    name: str
    first: Chain
    second: Chain

    @property
    def is_dart(self) -> bool:
        """Whether it joins the two legs of a dart."""
        return is_dart(self.name)

    @property
    def is_whole(self) -> bool:
        """Whether it joins two whole chains of one name on two pieces."""
        return not self.is_dart and self.first.seam == self.second.seam

    @property
    def pieces(self) -> tuple[str, str]:
        """Names of the two pieces."""
        return self.first.piece.name, self.second.piece.name

    @property
    def lengths(self) -> tuple[float, float]:
        """Lengths of the two chains, mm."""
        return self.first.length, self.second.length

    @property
    def stops(self) -> tuple[tuple[str, float, float], ...]:
        """The ends, and the notches that both chains bear, in walking order: name, mm, mm."""
        first, second = self.first.marks, self.second.marks
        whole = self.lengths
        stops = [(SEAM_END, 0.0, 0.0)]
        for one, two, name in sorted((first[n], second[n], n) for n in first if n in second):
            is_inside = 1e-6 < one < whole[0] - 1e-6 and stops[-1][2] < two < whole[1] - 1e-6
            if is_inside:
                stops.append((name, one, two))
        return (*stops, (SEAM_END, *whole))


def chain_of(piece: Outlined, seam: str) -> Chain:
    """Return the sides of a piece that bear a name, from where they begin on its outline."""
    edge = [i for i, side in enumerate(piece.sides) if side.seam == seam or not is_dart(side.seam)]
    mine = [i for i in edge if piece.sides[i].seam == seam]
    begins = [i for i in mine if piece.sides[edge[edge.index(i) - 1]].seam != seam]
    first = mine.index(begins[0]) if begins else 0
    return Chain(piece, tuple(mine[first:] + mine[:first]))


def seams_of(pieces: Sequence[Outlined]) -> tuple[Seam, ...]:
    """Return every seam of one arm's pieces; a seam whose partner is missing is left out.

    Sides of one name on two pieces belong together, as do the two legs of a dart, which are walked
    from the mouth to the point. The piece that is eased onto the other comes first.
    """
    ranked = sorted(pieces, key=lambda p: ORDER.index(p.name) if p.name in ORDER else len(ORDER))
    chains: dict[str, list[Chain]] = {}
    for piece in ranked:
        for name in dict.fromkeys(side.seam for side in piece.sides):
            chains.setdefault(name, []).append(chain_of(piece, name))
    found: list[Seam] = []
    for name, mine in chains.items():
        if is_dart(name):
            found += [_legs(name, chain) for chain in mine if len(chain.sides) == 2]
        elif len(mine) == 2:
            found.append(Seam(name, mine[0], mine[1].reversed()))
        elif len(mine) == 1 and SEWN_ONTO.get(name) in chains:
            found.append(Seam(name, mine[0], chains[SEWN_ONTO[name]][-1].reversed()))
    return tuple(found)


def _legs(name: str, chain: Chain) -> Seam:
    there, back = chain.sides
    return Seam(name, Chain(chain.piece, (there,)), Chain(chain.piece, (back,), True))


def sewing_order(seams: Sequence[Seam]) -> tuple[str, ...]:
    """Return seam names in an order in which they can be sewn.

    Darts come before the seams that they open into, the long seams before those across their
    ends, and what closes the arm (the seams of the end plates) last, the wrist before the armhole.

    Examples
    --------
    >>> from tests.samples import sample_measures
    >>> from unroll.drafts.drafting import draft
    >>> from unroll.nouns import Make
    >>> pieces = draft(sample_measures(), Make(), manner="ease")
    >>> sewing_order([s for s in seams_of(pieces) if s.is_whole])[:2]
    ('front seam', 'back seam')
    """
    import networkx  # only here: it takes long to load

    graph = networkx.DiGraph()
    graph.add_nodes_from(seam.name for seam in seams)
    for one in seams:
        for two in seams:
            if _rank(one) < _rank(two) and set(one.pieces) & set(two.pieces):
                graph.add_edge(one.name, two.name)
    place = {seam.name: index for index, seam in enumerate(sorted(seams, key=_rank))}
    return tuple(networkx.lexicographical_topological_sort(graph, key=place.__getitem__))


def _rank(seam: Seam) -> int:
    if seam.is_dart:
        return 0
    if seam.name in SEWN_FIRST:
        return 1 + SEWN_FIRST.index(seam.name)
    return 3 if "wrist" in seam.name else 4
