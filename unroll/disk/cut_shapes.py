"""Finished pieces as JSON and back: true to the last bit, for what lays many of them together."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from unroll.maths.cubic_fitting import sample_cubics
from unroll.nouns import DartMark, FinishedPiece, NotchMark, StitchingSide

CUT_SHAPES = "cut_shapes.json"


def shapes_json(finished: Sequence[FinishedPiece]) -> str:
    """Return finished pieces as JSON text, a piece a line; the words on them are left out.

    Keys are those of `FinishedPiece`; a side has its cubics alone, since its points follow.
    """
    rows = ",\n".join(json.dumps(_row(piece), ensure_ascii=False) for piece in finished)
    return f"[\n{rows}\n]\n"


def shapes_of(text: str) -> tuple[FinishedPiece, ...]:
    """Return the pieces of `shapes_json`'s text."""
    return tuple(_piece(row) for row in json.loads(text))


def _row(piece: FinishedPiece) -> dict[str, Any]:
    return {
        "name": piece.name, "source": piece.source, "arm": piece.arm, "material": piece.material,
        "cut_as_drawn": piece.cut_as_drawn, "cut_turned_over": piece.cut_turned_over,
        "unit": piece.unit, "cutting": piece.cutting.tolist(),
        "lines": {name: line.tolist() for name, line in piece.lines.items()},
        "sides": [
            {"seam": s.seam, "allowance": s.allowance, "cubics": s.cubics.tolist()}
            for s in piece.sides
        ],
        "notches": [
            {"name": n.name, "side_index": n.side_index, "along": n.along, "at": n.at.tolist(),
             "slits": n.slits.tolist()}
            for n in piece.notches
        ],
        "darts": [
            {"name": d.name, "side_indices": d.side_indices, "point": d.point.tolist(),
             "mouth": d.mouth.tolist(), "fold": None if d.fold is None else d.fold.tolist(),
             "pressed": d.pressed}
            for d in piece.darts
        ],
    }  # fmt: skip


def _piece(row: dict[str, Any]) -> FinishedPiece:
    sides = tuple(_side(**side) for side in row["sides"])
    notches = tuple(
        NotchMark(**{**n, "slits": np.reshape(n["slits"], (-1, 2, 2))}) for n in row["notches"]
    )
    darts = tuple(
        DartMark(**{**dart, "side_indices": tuple(dart["side_indices"])}) for dart in row["darts"]
    )
    return FinishedPiece(**{**row, "sides": sides, "notches": notches, "darts": darts})


def _side(seam: str, allowance: float, cubics: list[Any]) -> StitchingSide:
    curve = np.array(cubics, dtype=float)
    return StitchingSide(seam, curve, *sample_cubics(curve), allowance)
