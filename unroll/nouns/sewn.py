"""Sewn things: seams between pieces, the filled shape, and how far it stands off the arm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from unroll.maths.arrays import BoolArray, FloatArray, IntArray, own
from unroll.nouns.arm import Mesh, Trace
from unroll.nouns.sheet import Cloth


@dataclass(frozen=True)
class Run:
    """One side of one piece.

    Attributes
    ----------
    piece : str
        The piece's name.
    side_index : int
        Which of its sides.
    """

    piece: str
    side_index: int


@dataclass(frozen=True)
class Seam:
    """Two chains of sides that are sewn together, right sides facing.

    Attributes
    ----------
    name : str
    first, second : tuple of Run
        Each in the order in which its piece's outline runs; sewn, the second runs backwards.
    most_ease_percent : float
        Difference in length above which the two are held not to belong together, percent of the
        shorter.
    """

    name: str
    first: tuple[Run, ...]
    second: tuple[Run, ...]
    most_ease_percent: float = 15.0


@dataclass(frozen=True)
class SeamTake:
    """What a seam asks of the cloth, and what it does in the filled shape.

    Attributes
    ----------
    name : str
    lengths_mm : tuple of float
        The two lengths, flat.
    ease_percent : float
        Surplus of the longer over the shorter, percent of the shorter.
    gathered_percent : float
        Most that either side lies shortened in the filled shape, over 40 mm of its run, percent.
    puckers : bool
        Whether that is more than the cloth eases in.
    """

    name: str
    lengths_mm: tuple[float, float]
    ease_percent: float
    gathered_percent: float
    puckers: bool


@dataclass(frozen=True, eq=False)
class Sewn:
    """Pieces sewn together and filled.

    Attributes
    ----------
    source, arm : str
        As the pieces say.
    mesh : Mesh
        Closed surface, mm; the armhole plate lies at y = 0, its shoulder point at the origin.
    rest : (m, 3, 2) float
        Flat place of each face's corners on its piece, mm.
    piece_names : tuple of str
    face_pieces : (m,) int
        Which piece each face is of.
    is_card : (m,) bool
        Faces of card-backed ends, which do not stretch or bend.
    stretch_high, stretch_low : (m,) float
        Principal stretches, flat to filled; 1 on card. Below 1 the cloth is slack that way.
    tension : (m,) float
        Principal tension, N/mm.
    lines : mapping of str to tuple of Trace
        The pieces' reference lines on the filled shape, one trace a piece.
    seam_paths : mapping of str to (k,) int
        Vertices along each seam, in the order of its first chain.
    seams : tuple of SeamTake
    volume : float
        mm³.
    slack_share : float
        Share of the cloth's area that is slack in at least one direction.
    tension_p99 : float
        99th percentile by area of the principal tension, N/mm.
    crossings : int or None
        Pairs of faces that run through each other; None while it was not looked for.
    residual : float
        Largest out-of-balance force on a vertex, as a share of the pressure's force on a mean one.
    steps : int
        Newton systems solved, coarse and fine.
    converged : bool
        Whether the residual fell below its limit.
    cloth : Cloth
    is_weighed : bool
        Whether cloth and filling weigh what the cloth says.
    limits : tuple of str
        What the figures do not say, one plain line each.
    """

    source: str
    arm: str
    mesh: Mesh
    rest: FloatArray
    piece_names: tuple[str, ...]
    face_pieces: IntArray
    is_card: BoolArray
    stretch_high: FloatArray
    stretch_low: FloatArray
    tension: FloatArray
    lines: Mapping[str, tuple[Trace, ...]]
    seam_paths: Mapping[str, IntArray]
    seams: tuple[SeamTake, ...]
    volume: float
    slack_share: float
    tension_p99: float
    crossings: int | None
    residual: float
    steps: int
    converged: bool
    cloth: Cloth
    is_weighed: bool = False
    limits: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Copy, check and seal the arrays."""
        count = len(self.mesh.faces)
        object.__setattr__(self, "rest", own(self.rest, float, count, 3, 2))
        object.__setattr__(self, "face_pieces", own(self.face_pieces, int, count))
        object.__setattr__(self, "is_card", own(self.is_card, bool, count))
        for name in ("stretch_high", "stretch_low", "tension"):
            object.__setattr__(self, name, own(getattr(self, name), float, count))
        paths = {name: own(path, int, None) for name, path in self.seam_paths.items()}
        object.__setattr__(self, "seam_paths", paths)

    def faces_of(self, piece: str) -> IntArray:
        """Return the indices of the faces that are of `piece`."""
        is_of = self.face_pieces == self.piece_names.index(piece)
        return own(is_of.nonzero()[0], int, None)  # type: ignore[no-any-return]
