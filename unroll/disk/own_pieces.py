"""Reads a maker's own draft: drawings and photographs in, pieces out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from unroll.disk.own_drawings import LARGEST, dxf_lines, svg_lines
from unroll.disk.reading import PHOTOGRAPHS, bounded_bytes
from unroll.drafts.own_outlines import counted, outlines_of
from unroll.drafts.own_scale import scale_of, unit_of
from unroll.drafts.recognising import recognised
from unroll.errors import UnrollError, one_line
from unroll.maths.arrays import FloatArray
from unroll.nouns import Sheet
from unroll.nouns.own import DraftTable, DrawnLine, OwnDraft, OwnOutline, Shot
from unroll.units import inches_first

DRAWINGS = (".svg", ".dxf")
MOST_FILES = 20


def read_pieces(sheet: Sheet, files: Sequence[str | Path]) -> OwnDraft:
    """Return the pieces of a maker's own draft.

    Parameters
    ----------
    sheet : Sheet
        Sizes tell the pieces apart; its table [draft] has the last word.
    files : sequence of str or Path
        Drawings (SVG, DXF) and photographs (JPEG, PNG) of the pieces of one arm.

    Raises
    ------
    UnrollError
        When a file cannot be read, or the pieces cannot be told. One plain line.
    """
    try:
        return _read(sheet, files)
    except UnrollError as error:
        raise UnrollError(inches_first(str(error), sheet.unit)) from None


def _read(sheet: Sheet, files: Sequence[str | Path]) -> OwnDraft:
    if not 1 <= len(files) <= MOST_FILES:
        raise UnrollError(f"the draft is {len(files)} files; expected 1 to {MOST_FILES}")
    outlines: list[OwnOutline] = []
    told: list[str] = []
    shots: list[Shot] = []
    for path in map(Path, files):
        try:
            found, lines, taken = outlines_in(path, sheet.draft)
        except UnrollError as error:
            raise UnrollError(one_line(f"{path.name} {error}")) from None
        outlines += found
        told += lines
        shots += taken
    arms = {arm.side: arm for arm in sheet.arms}
    measures = arms.get(sheet.draft.arm, sheet.arms[0])
    draft = recognised(outlines, measures, sheet.make, sheet.draft, shots=tuple(shots))
    all_told = tuple(inches_first(line, sheet.unit) for line in (*told, *draft.found))
    return replace(draft, found=all_told)


def read_sent(sheet: Sheet, files: Sequence[tuple[str, bytes]]) -> OwnDraft:
    """Return the same of files that were handed over, each with its name; see `read_pieces`."""
    with TemporaryDirectory(prefix="unroll-") as folder:
        paths = [Path(folder) / name for name, _ in files]
        for path, (_, raw) in zip(paths, files, strict=True):
            path.write_bytes(raw)
        return read_pieces(sheet, paths)


def outlines_in(
    path: Path, table: DraftTable
) -> tuple[tuple[OwnOutline, ...], tuple[str, ...], tuple[Shot, ...]]:
    """Return the outlines of one file, what is to be told of them, and its picture.

    Raises
    ------
    UnrollError
        As `read_pieces`; the text goes on after the file's name.
    """
    kind = path.suffix.lower()
    if kind not in (*DRAWINGS, *PHOTOGRAPHS):
        raise UnrollError("is neither a drawing nor a photograph; expected a name that ends in "
                          f"{', '.join((*DRAWINGS, *PHOTOGRAPHS))}")
    if kind in PHOTOGRAPHS:
        from unroll.disk.photographs import photographed  # brings pictures in, rarely needed

        return photographed(path, table)
    raw = bounded_bytes(path, most=LARGEST)
    lines, has_unit = (svg_lines(raw), True) if kind == ".svg" else dxf_lines(raw)
    if not lines:
        raise UnrollError("has no line; expected the outlines of the pieces")
    return *_of_drawing(path.name, lines, table, has_unit), ()


def _of_drawing(
    name: str, lines: Sequence[DrawnLine], table: DraftTable, has_unit: bool
) -> tuple[tuple[OwnOutline, ...], tuple[str, ...]]:
    within = table.closes_within
    if not has_unit:
        unit = unit_of(lines, said=table.square, closes_within=within)
        lines = [DrawnLine(unit * line.points, line.style) for line in lines]
    found = outlines_of(lines, file=name, closes_within=within)
    factor, how = scale_of(found.squares, said=table.square)
    told = [f"{name}: {counted(found.outlines)}; scale: {how}"]
    if factor != 1.0:
        scaled = [DrawnLine(factor * line.points, line.style) for line in lines]
        found = outlines_of(scaled, file=name, closes_within=within)
    if found.gap > 0.05:
        told.append(f"{name}: gaps of up to {found.gap:.1f} mm between lines were closed")
    return found.outlines, tuple(told)


def traced_outline(path: Path) -> FloatArray:
    """Return the one outline of a drawing or a photograph: a traced armhole, (k, 2) mm.

    Raises
    ------
    UnrollError
        When it cannot be read, or there is more than one. The text goes on after "armhole
        outline ".
    """
    try:
        outlines, _, _ = outlines_in(path, DraftTable())
        if len(outlines) != 1:
            raise UnrollError(f"has {len(outlines)} outlines; expected the armhole's alone")
    except UnrollError as error:
        raise UnrollError(one_line(f'"{path.name}" {error}')) from None
    return outlines[0].points
