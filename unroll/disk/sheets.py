"""Reads a maker's sheet, and the traced armholes that it names, from the disk."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from unroll.disk.outlines import load_outline
from unroll.disk.reading import PHOTOGRAPHS, bounded_bytes
from unroll.errors import SheetFaults, UnrollError, one_line
from unroll.maths.arrays import FloatArray
from unroll.nouns import Notice, Sheet
from unroll.nouns.scan import ScanHints, ScannedArm
from unroll.progress import Progress
from unroll.sheets.faults import Fault, line_of, refusal
from unroll.sheets.reading import (
    hints_of,
    outline_names,
    read_parsed,
    scan_faults,
    scan_name,
)
from unroll.sheets.toml_text import ParsedText, parse_text
from unroll.units import UNITS, inches_first, unit_named

LARGEST_SHEET = 100_000  # bytes; a blank sheet has 6000, a traced armhole 20 a point
LARGEST_TRACING = 20_000_000  # bytes of a file that is handed over; what is read here may be more
MOST_BESIDE = 50  # files of one kind that are put beside one sheet
# How files begin that an armhole can be read from, and the ending that says so.
_BEGIN = {b"\xff\xd8\xff": ".jpg", b"\x89PNG\r\n\x1a\n": ".png", b"<": ".svg", b"0": ".dxf",
          b"999": ".dxf"}  # a drawing in DXF may begin with a remark


def load_sheet(path: str | Path, *, tell: Progress | None = None) -> Sheet:
    """Return the sheet in the file at `path`.

    Parameters
    ----------
    path : str or Path
        A TOML file; the traced armholes and the scan that it names are looked for beside it.
    tell : Progress, optional
        Is told each step of reading a scan.

    Raises
    ------
    UnrollError
        When there is no such file, it is no ordinary file, it cannot be opened, or is no text.
    SheetFaults
        When the sheet has faults: all at once.
    """
    path = Path(path)
    return complete_sheet(parse_text(read_text(path)), path.parent, tell=tell)


def sheet_of(text: str, folder: Path) -> Sheet:
    """Return the sheet that a text writes out; the files that it names lie in `folder`.

    Raises
    ------
    SheetFaults
        When the sheet has faults: all at once.
    """
    return complete_sheet(parse_text(text), folder)


def complete_sheet(
    parsed: ParsedText, folder: Path, *, scan: Path | None = None, tell: Progress | None = None
) -> Sheet:
    """Return the sheet of values that were read already, with the files that it names.

    Parameters
    ----------
    parsed : ParsedText
    folder : Path
        Where traced armholes and the scan are looked for.
    scan : Path, optional
        A scan of the arm, in place of the one that the sheet names.
    tell : Progress, optional

    Raises
    ------
    UnrollError
        When `scan` cannot be read or holds no arm.
    SheetFaults
        When the sheet has faults: all at once. What is wrong with the scan that it names stands
        alone, for whatever else is missing follows from it.
    """
    found, hints = None, hints_of(parsed)
    if scan is not None or scan_name(parsed):
        found = _scanned(parsed, scan, folder, hints, tell or Progress())
    outlines: dict[str, FloatArray] = {}
    faults: dict[str, str] = {}
    for name in outline_names(parsed):
        try:
            outlines[name] = _outline(folder / name)
        except UnrollError as error:
            faults[name] = str(error)
    sheet = read_parsed(parsed, outlines=outlines, outline_faults=faults, scanned=found)
    sheet = replace(sheet, notices=(*sheet.notices, *_spelt(sheet)))
    if found is None:
        return sheet
    from unroll.scans.filling import with_scan  # the loft, which a taped sheet need not read

    return with_scan(sheet, found, hints, parsed.data or {})


def _scanned(
    parsed: ParsedText, scan: Path | None, folder: Path, hints: ScanHints, tell: Progress
) -> ScannedArm:
    """Return what is found on a scan; the fault of one that the sheet names is the sheet's."""
    from unroll.disk.scans import measured_scan

    named = scan_name(parsed)
    try:
        return measured_scan(scan or folder / named, hints, tell=tell)
    except UnrollError as error:
        unit = str((parsed.data or {}).get("unit"))
        said = inches_first(str(error), unit_named(unit)) if unit in UNITS else str(error)
        if scan is not None:
            raise UnrollError(said) from None
        text = f'scan file "{named}"{said.removeprefix(one_line(folder / named))}'
        path = "scan", next((name for name in hints.landmarks if f"its {name}," in text), "file")
        about = Fault(line_of(path, parsed.lines), text, path)
        raise refusal([*scan_faults(parsed), about]) from None


def _outline(path: Path) -> FloatArray:
    """Return a traced armhole from a drawing or a photograph."""
    return _outline_as_of(path, stamp(path))


@lru_cache(maxsize=8)  # an open sheet is read at every keystroke, and a photograph takes seconds
def _outline_as_of(path: Path, _when: tuple[int, int] | None) -> FloatArray:
    if path.suffix.lower() in (".dxf", *PHOTOGRAPHS):
        from unroll.disk.own_pieces import traced_outline  # what reads drafts, slow to load

        return traced_outline(path)
    return load_outline(path)


def stamp(path: Path) -> tuple[int, int] | None:
    """Return what changes when a file does; None where there is none."""
    try:
        found = path.stat()
    except (OSError, ValueError):  # no such file, or a name that no file can have
        return None
    return found.st_mtime_ns, found.st_size


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
        seen = stamp(self.path)
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
        self._seen = stamp(self.path)

    @property
    def is_there(self) -> bool:
        """Whether there is such a file."""
        return stamp(self.path) is not None

    @property
    def was_changed(self) -> bool:
        """Whether somebody else wrote or removed it since it was last read or written here."""
        return stamp(self.path) != self._seen

    def put_beside(
        self, raw: bytes, what: str, ending: str, entry: tuple[str | int, ...],
        named: Callable[[str], str],
    ) -> str:  # fmt: skip
        """Put a file beside the sheet, under a name of its own, and return the name.

        Parameters
        ----------
        raw : bytes
        what, ending : str
            Of the name: "armhole" and ".svg".
        entry : tuple of str or int
            Of the sheet, that will name it.
        named : callable
            The sheet's text once it names the file.

        Raises
        ------
        UnrollError
            When the sheet's reader cannot use it: then nothing stays beside the sheet. When the
            disk refuses.
        """
        from unroll.disk.atomic import write_file

        path = self._free_name(what, ending)
        write_file(path, raw)
        try:
            sheet_of(named(path.name), path.parent)
        except SheetFaults as refused:
            about = [text for place, text in refused.places if tuple(place) == entry]
            if about:
                path.unlink(missing_ok=True)
                raise UnrollError(about[0]) from None
        return path.name

    def _free_name(self, what: str, ending: str) -> Path:
        """Return a name beside the sheet that no file has."""
        for number in range(1, MOST_BESIDE + 1):
            path = self.path.with_name(f"{what}{f'-{number}' if number > 1 else ''}{ending}")
            if not os.path.lexists(path):
                return path
        raise UnrollError(f"there are {MOST_BESIDE} files called {what} beside the sheet; expected "
                          "room for one more (take some away)")


def drawing_ending(raw: bytes) -> str:
    """Return the ending of a drawing's or a photograph's name, told by how the file begins.

    Raises
    ------
    UnrollError
        When it is too large, or of another kind.

    Examples
    --------
    >>> drawing_ending(b"<svg></svg>")
    '.svg'
    """
    if len(raw) > LARGEST_TRACING:
        raise UnrollError(f"the file holds {len(raw) / 1e6:.1f} MB; expected at most "
                          f"{LARGEST_TRACING / 1e6:g} MB")
    start = raw.removeprefix(b"\xef\xbb\xbf").lstrip()
    ending = next((end for begin, end in _BEGIN.items() if start.startswith(begin)), "")
    if not ending:
        raise UnrollError("the file is neither a drawing nor a photograph; expected SVG, DXF, "
                          "JPEG or PNG")
    return ending
