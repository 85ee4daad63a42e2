"""Reads a maker's sheet, and the traced armholes that it names, from the disk."""

from __future__ import annotations

from pathlib import Path

from unroll.disk.outlines import load_outline
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns import Sheet
from unroll.sheets.reading import outline_names, read_sheet

LARGEST_SHEET = 1_000_000  # bytes; a sheet is a page of text


def load_sheet(path: str | Path) -> Sheet:
    """Return the sheet in the file at `path`.

    Parameters
    ----------
    path : str or Path
        A TOML file; the traced armholes that it names are looked for beside it.

    Raises
    ------
    UnrollError
        When there is no such file, it cannot be opened, or it is not text.
    SheetFaults
        When the sheet has faults: all at once.
    """
    path = Path(path)
    text = read_text(path)
    outlines: dict[str, FloatArray] = {}
    faults: dict[str, str] = {}
    for name in outline_names(text):
        try:
            outlines[name] = load_outline(path.parent / name)
        except UnrollError as error:
            faults[name] = str(error)
    return read_sheet(text, outlines=outlines, outline_faults=faults)


def read_text(path: Path) -> str:
    """Return the text of a file.

    Raises
    ------
    UnrollError
        When there is no such file, it cannot be opened, or it is not UTF-8 text.
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise UnrollError(f"{path} is not there; expected a sheet (mistyped?)") from None
    except IsADirectoryError:
        raise UnrollError(f"{path} is a folder; expected a sheet, a file ending in .toml") from None
    except OSError as error:
        raise UnrollError(f"{path} cannot be opened: {error.strerror or error}") from None
    if len(raw) > LARGEST_SHEET:
        raise UnrollError(
            f"{path} holds {len(raw) / 1e6:.1f} MB; expected a sheet of at most "
            f"{LARGEST_SHEET / 1e6:.0f} MB (another kind of file?)"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnrollError(
            f"{path} is not UTF-8 text; save it as UTF-8 (a spreadsheet or a word-processor file?)"
        ) from None
    if "\0" in text:
        raise UnrollError(f"{path} is not a text file; expected a sheet (another kind of file?)")
    return text
