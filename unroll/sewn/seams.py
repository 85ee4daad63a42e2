"""Which sides are sewn to which, and whether they can be."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.flat_meshing import crossing_of_outline
from unroll.nouns import Piece, Run, Seam

# Ease is raised over the cap on purpose; a dart's legs and the other seams are cut alike. A card
# end cannot give, so the wrist has to fit its base. Limits are wide: they catch pieces that do not
# belong together, not poor drafting.
MOST_EASE_PERCENT = {"cap seam": 100.0, "outer wrist": 10.0, "inner wrist": 10.0}


def usual_seams(pieces: Sequence[Piece]) -> tuple[Seam, ...]:
    """Pair the sides of equal seam name: between two pieces, or within one.

    A chain of sides that darts break up ("cap seam") is sewn as one. Within one piece exactly two
    sides of a name are sewn together (dart legs).

    Raises
    ------
    UnrollError
        When a name occurs once only, or on more than two pieces: the seam stays open.
    """
    found: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for piece in pieces:
        for index, side in enumerate(piece.sides):
            found[side.seam][piece.name].append(index)
    by_name = {piece.name: piece for piece in pieces}
    return tuple(_paired(name, chains, by_name) for name, chains in found.items())


def check_seams(pieces: Sequence[Piece], seams: Sequence[Seam]) -> None:
    """Refuse pieces and seams that cannot be sewn to a closed shape.

    Raises
    ------
    UnrollError
        When two pieces share a name, an outline crosses itself or runs clockwise, a seam names a
        side that there is not, a side is sewn twice or not at all, or two lengths do not fit.
    """
    doubled = [name for name, count in Counter(p.name for p in pieces).items() if count > 1]
    if doubled:
        raise UnrollError(f"{doubled[0]!r} names more than one piece; expected a name for each")
    for piece in pieces:
        _check_outline(piece)
    by_name = {piece.name: piece for piece in pieces}
    uses: Counter[Run] = Counter()
    for seam in seams:
        for run in (*seam.first, *seam.second):
            _check_run(seam, run, by_name)
            uses[run] += 1
    for piece in pieces:
        for index, side in enumerate(piece.sides):
            _check_use(piece.name, index, side.seam, side.length, uses[Run(piece.name, index)])
    for seam in seams:
        _check_lengths(seam, by_name)


def chain_length(chain: Sequence[Run], by_name: Mapping[str, Piece]) -> float:
    """Return the length of a chain of sides, mm."""
    return sum(by_name[run.piece].sides[run.side_index].length for run in chain)


def _paired(name: str, chains: dict[str, list[int]], by_name: Mapping[str, Piece]) -> Seam:
    """Return the seam that joins the chains of one name."""
    ease = MOST_EASE_PERCENT.get(name, 15.0)
    if len(chains) == 2:
        one, two = (_in_order(by_name[piece], indices) for piece, indices in chains.items())
        return Seam(name, one, two, ease)
    if len(chains) > 2:
        raise UnrollError(
            f"seam {name!r} is on {len(chains)} pieces ({', '.join(chains)}); expected 2 "
            "(give each pair of sides a name of its own)"
        )
    ((piece, indices),) = chains.items()
    if len(indices) == 1:
        raise UnrollError(
            f"seam {name!r} of {piece} is open: no other side has that name "
            "(is a piece missing, or is a name misspelt?)"
        )
    if len(indices) > 2:
        raise UnrollError(f"seam {name!r} is {len(indices)} sides of {piece}; expected 2")
    return Seam(name, (Run(piece, indices[0]),), (Run(piece, indices[1]),), ease)


def _in_order(piece: Piece, indices: list[int]) -> tuple[Run, ...]:
    """Return the runs in outline order, beginning after the sides that are sewn elsewhere."""
    count, names = len(piece.sides), [side.seam for side in piece.sides]
    wanted = set(indices)
    # Sides that are sewn within the piece (dart legs) do not end the chain.
    closed = {name for name, uses in Counter(names).items() if uses == 2} - {names[indices[0]]}
    for first in indices:
        before = (first - 1) % count
        while before not in wanted and names[before] in closed:
            before = (before - 1) % count
        if before not in wanted:
            return tuple(
                Run(piece.name, (first + k) % count)
                for k in range(count)
                if (first + k) % count in wanted
            )
    return tuple(Run(piece.name, index) for index in indices)


def _check_outline(piece: Piece) -> None:
    outline = piece.outline
    crossing = crossing_of_outline(outline) if len(outline) > 2 else None
    if crossing is not None:
        raise UnrollError(
            f"{piece.name}: the outline crosses itself near "
            f"{crossing[0]:.0f} mm across, {crossing[1]:.0f} mm up; expected an outline that does "
            "not (do dart legs or flattened parts overlap?)"
        )
    if len(outline) < 3 or piece.area <= 0:
        raise UnrollError(
            f"{piece.name}: the outline's area is {piece.area / 100:.1f} cm²; expected more than 0 "
            "(does the outline run clockwise?)"
        )
    ends = [side.points[-1] for side in piece.sides]
    starts = [side.points[0] for side in piece.sides]
    gaps = np.linalg.norm(np.array(ends) - np.array(starts[1:] + starts[:1]), axis=1)
    if gaps.max() > 0.1:
        raise UnrollError(
            f"{piece.name}: the outline is open by {gaps.max():.1f} mm after "
            f"{piece.sides[int(gaps.argmax())].seam!r}; "
            "expected each side to begin where the last one ends"
        )


def _check_run(seam: Seam, run: Run, by_name: Mapping[str, Piece]) -> None:
    if run.piece not in by_name:
        raise UnrollError(
            f"seam {seam.name!r} names the piece {run.piece!r}; there are {', '.join(by_name)}"
        )
    count = len(by_name[run.piece].sides)
    if not 0 <= run.side_index < count:
        raise UnrollError(
            f"seam {seam.name!r} names side {run.side_index} of {run.piece}; "
            f"its sides are 0 to {count - 1}"
        )


def _check_use(piece: str, index: int, name: str, length: float, uses: int) -> None:
    if uses == 0:
        raise UnrollError(
            f"side {index} ({name!r}, {length:.0f} mm) of {piece} is sewn to nothing; every side "
            "has to be sewn for the shape to hold its filling (is a seam missing?)"
        )
    if uses > 1:
        raise UnrollError(f"side {index} ({name!r}) of {piece} is in {uses} seams; expected 1")


def _check_lengths(seam: Seam, by_name: Mapping[str, Piece]) -> None:
    one, two = chain_length(seam.first, by_name), chain_length(seam.second, by_name)
    ease = 100 * (max(one, two) / min(one, two) - 1)
    if ease > seam.most_ease_percent:
        raise UnrollError(
            f"seam {seam.name!r}: {seam.first[0].piece} is {one:.0f} mm long and "
            f"{seam.second[0].piece} {two:.0f} mm, {ease:.0f} % apart; expected at most "
            f"{seam.most_ease_percent:.0f} % (do these pieces belong together?)"
        )
