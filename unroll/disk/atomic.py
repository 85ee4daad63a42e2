"""Writes the blank sheet and the measuring guide, never over a sheet that is there."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

import matplotlib
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from unroll.errors import UnrollError

MARKER = ".unroll-written"


def write_folder(path: Path, files: Mapping[str, bytes | str], *, overwrite: bool = False) -> None:
    """Write `files` as the folder `path`: all of them, or nothing.

    Parameters
    ----------
    path : Path
        The folder to make; its parent must exist.
    files : mapping of str to bytes or str
        Content by name; a name may hold "/" for a sub-folder. Text is written as UTF-8 with
        plain line ends.
    overwrite : bool
        Replace a folder that an earlier run wrote and that nobody has touched since.

    Raises
    ------
    UnrollError
        When the folder exists and `overwrite` is off; when it holds a file that the program did
        not write, or one that was changed since; when the disk refuses.

    Notes
    -----
    Everything goes into a hidden folder beside `path`, which is then renamed in one step. A list
    of the files and their SHA-256 sums lies in the folder, in the form that `sha256sum --check`
    reads, and tells a later run what it may replace.
    """
    path = Path(path).absolute()
    contents = {_checked_name(name): _as_bytes(content) for name, content in files.items()}
    _refuse_what_is_there(path, overwrite)
    part = path.with_name(f".{path.name}.{secrets.token_hex(6)}.part")
    try:
        part.mkdir()
        _fill(part, contents)
        _swap_in(part, path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        # After success the part folder has become `path`, and there is nothing to remove.
        shutil.rmtree(part, ignore_errors=True)


def write_file(path: Path, content: bytes | str) -> None:
    """Write one file whole or not at all, replacing what was there.

    Raises
    ------
    UnrollError
        When the disk refuses.
    """
    path = Path(path).absolute()
    part = path.with_name(f".{path.name}.{secrets.token_hex(6)}.part")
    try:
        part.write_bytes(_as_bytes(content))
        os.replace(part, path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _unwritable(path: Path, error: OSError) -> UnrollError:
    return UnrollError(
        f"{path} cannot be written: {error.strerror or error} "
        "(full disk, no permission, or the folder around it is missing?)"
    )


def _as_bytes(content: bytes | str) -> bytes:
    return content.encode("utf-8") if isinstance(content, str) else content


def _checked_name(name: str) -> str:
    parts = PurePosixPath(name)
    if not name or parts.is_absolute() or ".." in parts.parts or "\\" in name or name == MARKER:
        raise UnrollError(f"file name {name!r} would leave the folder; expected a plain name")
    return str(parts)


def _fill(folder: Path, contents: Mapping[str, bytes]) -> None:
    for name, content in contents.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    sums = "".join(f"{_sum(content)}  {name}\n" for name, content in contents.items())
    (folder / MARKER).write_text(sums, encoding="utf-8", newline="\n")


def _sum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _refuse_what_is_there(path: Path, overwrite: bool) -> None:
    if not os.path.lexists(path):
        return
    if not path.is_dir() or path.is_symlink():
        raise UnrollError(f"{path} exists and is not a folder; choose another name")
    if not overwrite:
        raise UnrollError(
            f"{path} exists already; choose another folder, or replace it with --overwrite"
        )
    reason = _stranger_in(path)
    if reason:
        raise UnrollError(f"{path} is not replaced: {reason}; choose another folder")


def _stranger_in(folder: Path) -> str:
    """Say what in `folder` the program did not write, or wrote differently; "" if nothing."""
    marker = folder / MARKER
    if not marker.is_file():
        return "it was not written by this program"
    pairs = [line.split("  ", 1) for line in marker.read_text(encoding="utf-8").splitlines()]
    sums = {pair[1]: pair[0] for pair in pairs if len(pair) == 2}
    for found in sorted(folder.rglob("*")):
        name = found.relative_to(folder).as_posix()
        if name == MARKER or (found.is_dir() and not found.is_symlink()):
            continue
        if name not in sums:
            return f"it holds {name}, which this program did not write"
        if found.is_symlink() or _sum(found.read_bytes()) != sums[name]:
            return f"{name} was changed since it was written"
    return ""


def _swap_in(part: Path, path: Path) -> None:
    """Rename `part` to `path`; an older folder steps aside first and comes back on failure."""
    if not path.exists():
        os.rename(part, path)
        return
    aside = path.with_name(f".{path.name}.{secrets.token_hex(6)}.old")
    os.rename(path, aside)
    try:
        os.rename(part, path)
    except BaseException:
        os.rename(aside, path)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def write_blank(path: Path, sheet: str, guide: Figure) -> tuple[Path, Path]:
    """Write a blank sheet to `path`, and the guide as a PDF beside it.

    Parameters
    ----------
    path : Path
        The sheet's file; ".toml" is added where it has no ending.
    sheet : str
        The sheet's text.
    guide : Figure
        The guide's page.

    Returns
    -------
    (Path, Path)
        The sheet's file and the guide's.

    Raises
    ------
    UnrollError
        When either file is there already, for it may hold measures, or the disk refuses.
    """
    path = Path(path)
    path = path if path.suffix else path.with_suffix(".toml")
    beside = path.with_name(f"{path.stem}-guide.pdf")
    for file in (path, beside):
        if os.path.lexists(file):
            raise UnrollError(f"{file} is there already; choose another name, so that no measures "
                              "are lost")
    write_file(beside, guide_pdf(guide))
    write_file(path, sheet)
    return path, beside


def guide_pdf(guide: Figure) -> bytes:
    """Return the guide's page as a PDF with its fonts embedded.

    With SOURCE_DATE_EPOCH set, the same page gives the same bytes.
    """
    stream = io.BytesIO()
    facts = {"Title": "Where each tape goes", "Creator": "unroll", "Producer": "matplotlib"}
    with (
        matplotlib.rc_context({"pdf.fonttype": 42, "path.simplify": False}),
        PdfPages(stream, metadata=facts) as book,
    ):
        book.savefig(guide)
    return stream.getvalue()
