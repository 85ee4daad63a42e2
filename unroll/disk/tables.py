"""Reads a table from the disk: a CSV file, or the first page of a spreadsheet."""

from __future__ import annotations

import csv
import io
import itertools
import zipfile
from collections.abc import Iterator
from pathlib import Path

from unroll.disk.reading import bounded_bytes
from unroll.errors import UnrollError, one_line
from unroll.sheets.tables import MOST_COLUMNS, MOST_ROWS, Cells

LARGEST_TABLE = 5_000_000  # bytes; a thousand sheets of sixty keys have a tenth
LARGEST_UNPACKED = 100_000_000  # bytes; a spreadsheet is packed
ENDINGS = (".csv", ".tsv", ".xlsx")


def load_table(path: Path) -> list[Cells]:
    """Return the rows of a table: line, and cells.

    Parameters
    ----------
    path : Path
        A CSV file with commas, semicolons or tabs, or a spreadsheet (.xlsx), whose first page is
        read.

    Raises
    ------
    UnrollError
        When there is no such file, it is too large, or it is no table.
    """
    name = one_line(path)
    try:
        raw = bounded_bytes(path, most=LARGEST_TABLE)
    except UnrollError as error:
        raise UnrollError(f"{name} {error}") from None
    rows = _spreadsheet(raw, name) if path.suffix.lower() == ".xlsx" else _separated(raw, name)
    return list(itertools.islice(rows, MOST_ROWS + 1000))


def _separated(raw: bytes, name: str) -> Iterator[Cells]:
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnrollError(
            f"{name} is not UTF-8 text; save it as CSV UTF-8 (another kind of file?)"
        ) from None
    first = next((line for line in text.splitlines() if line.strip()), "")
    between = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=between)
    before = 0
    try:
        for row in reader:
            yield before + 1, row
            before = reader.line_num
    except csv.Error as error:
        raise UnrollError(f"{name}, line {before + 1} cannot be read: {error}") from None


def _spreadsheet(raw: bytes, name: str) -> Iterator[Cells]:
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise UnrollError(
            f"{name} needs the package openpyxl (pip install 'unroll[tables]'); or save it as CSV"
        ) from None
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            size = sum(part.file_size for part in packed.infolist())
        if size > LARGEST_UNPACKED:
            raise UnrollError(f"{name} unpacks to {size / 1e6:.0f} MB; expected at most "
                              f"{LARGEST_UNPACKED / 1e6:.0f} MB")  # fmt: skip
        page = load_workbook(io.BytesIO(raw), read_only=True, data_only=True).worksheets[0]
        rows = page.iter_rows(max_col=MOST_COLUMNS + 1, max_row=MOST_ROWS + 1000, values_only=True)
        yield from ((line, _to_its_end(row)) for line, row in enumerate(rows, start=1))
    except UnrollError:
        raise
    except Exception as error:  # a damaged file raises whatever its part happens to raise
        raise UnrollError(
            f"{name} is no spreadsheet that can be read ({one_line(error)[:80]}); save it anew, or "
            "as CSV"
        ) from None


def _to_its_end(row: tuple[object, ...]) -> tuple[object, ...]:
    """Return a row without the empty cells at its end."""
    last = max((place for place, cell in enumerate(row, 1) if cell not in (None, "")), default=0)
    return row[:last]
