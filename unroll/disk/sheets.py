"""Reads a maker's sheet, and the traced armholes that it names, from the disk."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from unroll.disk.outlines import load_outline
from unroll.disk.reading import PHOTOGRAPHS, bounded_bytes
from unroll.errors import UnrollError, one_line
from unroll.maths.arrays import FloatArray
from unroll.nouns import Notice, Sheet
from unroll.nouns.scan import ScannedArm
from unroll.sheets.reading import outline_names, read_parsed
from unroll.sheets.toml_text import ParsedText, parse_text

LARGEST_SHEET = 100_000  # bytes; a blank sheet has 6000, a traced armhole 20 a point


def load_sheet(path: str | Path) -> Sheet:
    """Return the sheet in the file at `path`.

    Parameters
    ----------
    path : str or Path
        A TOML file; the traced armholes that it names are looked for beside it.

    Raises
    ------
    UnrollError
        When there is no such file, it is no ordinary file, it cannot be opened, or is no text.
    SheetFaults
        When the sheet has faults: all at once.
    """
    path = Path(path)
    return complete_sheet(parse_text(read_text(path)), path.parent)


def sheet_of(text: str, folder: Path) -> Sheet:
    """Return the sheet that a text writes out; traced armholes that it names lie in `folder`.

    Raises
    ------
    SheetFaults
        When the sheet has faults: all at once.
    """
    return complete_sheet(parse_text(text), folder)


def complete_sheet(
    parsed: ParsedText, folder: Path, *, scanned: ScannedArm | None = None
) -> Sheet:
    """Return the sheet of values that were read already, with the files that it names.

    Parameters
    ----------
    parsed : ParsedText
    folder : Path
        Where traced armholes are looked for.
    scanned : ScannedArm, optional
        A scan of the arm.

    Raises
    ------
    SheetFaults
        When the sheet has faults: all at once.
    """
    outlines: dict[str, FloatArray] = {}
    faults: dict[str, str] = {}
    for name in outline_names(parsed):
        try:
            outlines[name] = _outline(folder / name)
        except UnrollError as error:
            faults[name] = str(error)
    sheet = read_parsed(parsed, outlines=outlines, outline_faults=faults, scanned=scanned)
    return replace(sheet, notices=(*sheet.notices, *_spelt(sheet)))


def _outline(path: Path) -> FloatArray:
    """Return a traced armhole from a drawing or a photograph."""
    if path.suffix.lower() in (".dxf", *PHOTOGRAPHS):
        from unroll.disk.own_pieces import traced_outline  # what reads drafts, slow to load

        return traced_outline(path)
    return load_outline(path)


def _spelt(sheet: Sheet) -> Iterator[Notice]:
    """Yield a notice for each text that this machine has no letters for."""
    given = {"owner": sheet.owner, "date": sheet.date, "cloth": sheet.cloth.name}
    for name, text in given.items():
        if text.isascii():
            continue
        from unroll.paper.board import written  # brings fonts in, which most sheets need not

        spelt, _ = written(text)
        if spelt != text:
            yield Notice(name, f"{name} is printed as {spelt}, for no font of this computer has "
                               f'the letters of "{text}"')


def read_text(path: Path) -> str:
    """Return the text of a file.

    Raises
    ------
    UnrollError
        When there is no such file, it is no ordinary file, it is too large, it cannot be opened,
        or it is not UTF-8 text.
    """
    name = one_line(path)
    try:
        raw = bounded_bytes(path, most=LARGEST_SHEET)
    except UnrollError as error:
        raise UnrollError(f"{name} {error}") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnrollError(
            f"{name} is not UTF-8 text; save it as UTF-8 (a spreadsheet or a word-processor file?)"
        ) from None
    if "\0" in text:
        raise UnrollError(f"{name} is not a text file; expected a sheet (another kind of file?)")
    return text


class SheetFile:
    """A sheet's file that is written again and again, and that others may write too.

    Parameters
    ----------
    path : Path
        Need not be there yet.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self._seen: tuple[int, int] | None = None

    def read(self) -> str:
        """Return its text, and take it as seen.

        Raises
        ------
        UnrollError
            As `read_text`.
        """
        seen = self._stamp()
        text = read_text(self.path)
        self._seen = seen
        return text

    def write(self, text: str) -> None:
        """Write it whole or not at all.

        Raises
        ------
        UnrollError
            When the disk refuses.
        """
        from unroll.disk.atomic import write_file  # brings pages in, which reading need not

        write_file(self.path, text)
        self._seen = self._stamp()

    @property
    def is_there(self) -> bool:
        """Whether there is such a file."""
        return self._stamp() is not None

    @property
    def was_changed(self) -> bool:
        """Whether somebody else wrote or removed it since it was last read or written here."""
        return self._stamp() != self._seen

    def _stamp(self) -> tuple[int, int] | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size
