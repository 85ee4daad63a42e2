"""Stitching lines as they are sewn: chains of a piece's sides, in pairs, darts closed."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from unroll.geometry.outlines import end_direction, walked
from unroll.types import FloatArray, Notch, Piece

ORDER = ("outer", "inner", "shoulder extension", "armhole base", "wrist base")
SEWN_ONTO = {"shoulder extension seam": "cap seam"}  # seams that meet a seam of another name
_DART = re.compile(r"dart \d+$")


@dataclass(frozen=True, eq=False)
class Chain:
    """The sides of one piece that bear one seam name, in outline order.

    Attributes
    ----------
    piece : Piece
    sides : tuple of int
        Their indices.
    is_reversed : bool
        Whether the chain is walked against the outline.
    """

    piece: Piece
    sides: tuple[int, ...]
    is_reversed: bool = False

    @property
    def length(self) -> float:
        """Length with darts closed, mm."""
        return sum(self.piece.sides[i].length for i in self.sides)

    def along(self, notch: Notch) -> float | None:
        """Return how far from the chain's start a notch lies, mm; None when it is elsewhere."""
        if notch.side_index not in self.sides:
            return None
        before = self.sides[: self.sides.index(notch.side_index)]
        at = sum(self.piece.sides[i].length for i in before) + notch.along
        return self.length - at if self.is_reversed else at

    def notch(self, name: str, along: float, marks: int = 1) -> Notch:
        """Return a notch at a distance from the chain's start."""
        rest = self.length - along if self.is_reversed else along
        for index in self.sides[:-1]:
            if rest <= self.piece.sides[index].length:
                return Notch(name, index, max(rest, 0.0), marks)
            rest -= self.piece.sides[index].length
        last = self.sides[-1]
        return Notch(name, last, float(np.clip(rest, 0.0, self.piece.sides[last].length)), marks)

    def nearest(self, point: FloatArray) -> tuple[float, float]:
        """Return how far along the chain its nearest place to a point lies, and how far off, mm."""
        best = (0.0, np.inf)
        before = 0.0
        for index in self.sides:
            points = self.piece.sides[index].points
            start, step = points[:-1], np.diff(points, axis=0)
            share = np.clip(((point - start) * step).sum(1) / (step**2).sum(1), 0.0, 1.0)
            off = np.linalg.norm(start + share[:, None] * step - point, axis=1)
            k = int(np.argmin(off))
            if off[k] < best[1]:
                at = walked(points)[k] + share[k] * np.linalg.norm(step[k])
                best = (before + float(at), float(off[k]))
            before += self.piece.sides[index].length
        return (self.length - best[0] if self.is_reversed else best[0]), best[1]

    def reversed(self) -> Chain:
        """Return the same chain walked from its other end."""
        return Chain(self.piece, self.sides, not self.is_reversed)


@dataclass(frozen=True, eq=False)
class Pair:
    """Two chains that are sewn together; both start at the same end of the seam."""

    seam: str
    first: Chain
    second: Chain


def is_dart(seam: str) -> bool:
    """Tell whether a seam name is that of a dart."""
    return bool(_DART.match(seam))


def pairs(pieces: tuple[Piece, ...]) -> tuple[Pair, ...]:
    """Return every pair of stitching lines that will be sewn.

    Sides of one name on two pieces belong together, as do the two legs of a dart; on pieces that
    all lie right side up they run against each other, so the second is walked backwards.
    """
    ranked = sorted(pieces, key=lambda p: ORDER.index(p.name) if p.name in ORDER else len(ORDER))
    chains: dict[str, list[Chain]] = {}
    for piece in ranked:
        for seam in dict.fromkeys(side.seam for side in piece.sides):
            sides = tuple(i for i, side in enumerate(piece.sides) if side.seam == seam)
            chains.setdefault(seam, []).append(Chain(piece, sides))
    found: list[Pair] = []
    for seam, mine in chains.items():
        if is_dart(seam):
            found.extend(_legs(seam, chain) for chain in mine if len(chain.sides) == 2)
        elif len(mine) == 2:
            found.append(Pair(seam, mine[0], mine[1].reversed()))
        elif len(mine) == 1 and SEWN_ONTO.get(seam) in chains:
            found.append(Pair(seam, mine[0], chains[SEWN_ONTO[seam]][-1].reversed()))
    return tuple(found)


def _legs(seam: str, chain: Chain) -> Pair:
    """Return the two legs of a dart, both from the cap seam to the point."""
    first, second = chain.sides
    return Pair(seam, Chain(chain.piece, (first,)), Chain(chain.piece, (second,), True))


def closed_cap(piece: Piece) -> FloatArray:
    """Return a piece's cap line with its darts closed, (k, 2), mm.

    Parameters
    ----------
    piece : Piece
        The outer piece.

    Notes
    -----
    Part after part is moved so that both legs of the dart between them meet at the cap seam and
    run there in one direction, as they do once sewn; for straight legs that is the turn about
    the dart point by which a maker folds the paper.
    """
    turn, shift = np.eye(2), np.zeros(2)
    line: list[FloatArray] = []
    sides = piece.sides
    for index, side in enumerate(sides):
        if side.seam == "cap seam":
            line.append((side.points @ turn.T + shift)[min(len(line), 1):])
        elif is_dart(side.seam) and index + 1 < len(sides) and sides[index + 1].seam == side.seam:
            leg, other = side.points, sides[index + 1].points[::-1]
            closing = _turn_onto(end_direction(other), end_direction(leg) @ turn.T)
            shift = leg[0] @ turn.T + shift - other[0] @ closing.T
            turn = closing
    return np.concatenate(line)


def _turn_onto(direction: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return the rotation matrix that turns one unit vector onto another."""
    cos = float(direction @ wanted)
    sin = float(direction[0] * wanted[1] - direction[1] * wanted[0])
    return np.array([[cos, -sin], [sin, cos]])
