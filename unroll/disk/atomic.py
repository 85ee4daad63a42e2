"""Writes folders and files whole or not at all, never over what someone else wrote."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import secrets
import shutil
import stat
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from unroll.disk.reading import bounded_bytes
from unroll.errors import UnrollError, one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MARKER = ".unroll-written"
LARGEST_LIST = 1_000_000  # bytes of the list of files
LARGEST_FILE = 300_000_000  # bytes; a file that this program wrote has a hundredth
LEAST_ROOM = 50_000_000  # bytes; a job with two arms and its pages at full size takes some 20 MB


def check_out(path: Path, *, overwrite: bool = False) -> None:
    """Refuse, before any work, a folder that could not be written afterwards.

    Parameters
    ----------
    path : Path
        The folder to make.
    overwrite : bool
        As for `write_folder`.

    Raises
    ------
    UnrollError
        When the folder exists and `overwrite` is off; when it holds what the program did not
        write; when the folder around it is missing, takes no files, or has no room left.
    """
    path = Path(path).absolute()
    _refuse_what_is_there(path, overwrite)
    try:
        trial = _beside(path, "part")
        trial.mkdir()
        trial.rmdir()
        room = shutil.disk_usage(path.parent).free
    except OSError as error:
        raise _unwritable(path, error) from error
    if room < LEAST_ROOM:
        raise UnrollError(f"{one_line(path)} has {room / 1e6:.0f} MB of room; expected at least "
                          f"{LEAST_ROOM / 1e6:.0f} MB (a full disk?)")


def write_folder(path: Path, files: Mapping[str, bytes | str], *, overwrite: bool = False) -> str:
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

    Returns
    -------
    str
        One line where the folder that was replaced could not be removed; else "".

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
    part = _beside(path, "part")
    try:
        part.mkdir()
        _fill(part, contents)
        return _swap_in(part, path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        # After success the part folder has become `path`, and there is nothing to remove.
        shutil.rmtree(part, ignore_errors=True)


def is_whole(path: Path) -> bool:
    """Tell whether a folder holds every file that the program wrote there, unchanged."""
    sums = _sums_listed(path / MARKER)
    return bool(sums) and all(_has_sum(path / name, one) for name, one in (sums or {}).items())


def check_beside(path: Path, names: Collection[str]) -> None:
    """Refuse files that could not be written into a folder because others lie there.

    Raises
    ------
    UnrollError
        When a file of one of the names is there that the program did not write, or that was
        changed since.
    """
    sums = _sums_listed(path / MARKER) or {}
    for name in names:
        file = path / name
        if os.path.lexists(file) and (name not in sums or not _has_sum(file, sums[name])):
            raise UnrollError(f"{one_line(file)} is not replaced: this program did not write it "
                              "so; choose another folder, or take the file away")


def write_beside(path: Path, files: Mapping[str, bytes | str]) -> None:
    """Write files into a folder that may hold other things, each whole or not at all.

    Raises
    ------
    UnrollError
        As for `check_beside`; when the disk refuses.

    """
    check_beside(path, files)
    contents = {_checked_name(name): _as_bytes(content) for name, content in files.items()}
    sums = {**(_sums_listed(path / MARKER) or {}), **{n: _sum(c) for n, c in contents.items()}}
    for name in contents:
        with contextlib.suppress(OSError):  # what refuses here refuses below, and is told there
            (path / name).unlink(missing_ok=True)
    # stopped between the two, nothing is left that a later run takes for a stranger's
    write_file(path / MARKER, "".join(f"{one}  {name}\n" for name, one in sums.items()))
    for name, content in contents.items():
        write_file(path / name, content)


def check_file(path: Path, *, overwrite: bool = False) -> None:
    """Refuse a file that is there already, unless it is to be replaced.

    Raises
    ------
    UnrollError
        When it is there and `overwrite` is off, or it is a folder.
    """
    if os.path.isdir(path):
        raise UnrollError(f"{one_line(path)} is a folder; expected a file to write")
    if os.path.lexists(path) and not overwrite:
        raise UnrollError(f"{one_line(path)} is there already; choose another name, or replace it "
                          "with --overwrite")


def write_file(path: Path, content: bytes | str) -> None:
    """Write one file whole or not at all, replacing what was there.

    Raises
    ------
    UnrollError
        When the disk refuses.
    """
    path = Path(path).absolute()
    part = _beside(path, "part")
    try:
        part.write_bytes(_as_bytes(content))
        os.replace(part, path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _beside(path: Path, ending: str) -> Path:
    """Return a hidden name in the same folder, so that a rename stays on one disk."""
    return path.with_name(f".{path.name}.{secrets.token_hex(6)}.{ending}")


def _unwritable(path: Path, error: OSError) -> UnrollError:
    return UnrollError(
        f"{one_line(path)} cannot be written: {error.strerror or error} "
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
    name = one_line(path)
    if not os.path.lexists(path):
        return
    if not path.is_dir() or path.is_symlink():
        raise UnrollError(f"{name} exists and is not a folder; choose another name")
    if not overwrite:
        raise UnrollError(
            f"{name} exists already; choose another folder, or replace it with --overwrite"
        )
    reason = _stranger_in(path)
    if reason:
        raise UnrollError(f"{name} is not replaced: {one_line(reason)}; choose another folder")


def _stranger_in(folder: Path) -> str:
    """Say what in `folder` the program did not write, or wrote differently; "" if nothing."""
    sums = _sums_listed(folder / MARKER)
    if sums is None:
        return "it was not written by this program"
    try:
        for found in _files_within(folder):
            name = found.relative_to(folder).as_posix()
            if name == MARKER:
                continue
            if name not in sums:
                return f"it holds {name}, which this program did not write"
            if found.is_symlink() or not _has_sum(found, sums[name]):
                return f"{name} was changed since it was written"
    except OSError as error:
        return f"{error.filename or folder} cannot be read: {error.strerror}"
    return ""


def _sums_listed(marker: Path) -> dict[str, str] | None:
    """Return the sums by name that a folder's list gives; None where it is no list."""
    if marker.is_symlink():
        return None
    try:
        text = bounded_bytes(marker, most=LARGEST_LIST).decode("utf-8")
    except ValueError:  # no UTF-8, or refused by kind or size
        return None
    pairs = [line.split("  ", 1) for line in text.splitlines()]
    return {pair[1]: pair[0] for pair in pairs if len(pair) == 2}


def _files_within(folder: Path) -> Iterator[Path]:
    """Yield all that lies in a folder but folders; a folder that cannot be read is an error."""

    def refuse(error: OSError) -> None:
        raise error

    for place, folders, files in os.walk(folder, onerror=refuse):
        folders.sort()
        links = [name for name in folders if os.path.islink(os.path.join(place, name))]
        yield from (Path(place) / name for name in sorted(files + links))


def _has_sum(file: Path, listed: str) -> bool:
    try:
        return _sum(bounded_bytes(file, most=LARGEST_FILE)) == listed
    except UnrollError:  # a pipe in its place, too large, or not to be opened
        return False


def _swap_in(part: Path, path: Path) -> str:
    """Rename `part` to `path`; an older folder steps aside first and comes back on failure."""
    if not path.exists():
        os.rename(part, path)
        return ""
    aside = _beside(path, "old")
    os.rename(path, aside)
    try:
        os.rename(part, path)
    except BaseException:
        os.rename(aside, path)
        raise
    return _remove(aside)


def _remove(folder: Path) -> str:
    """Remove a folder, write-protected or not; return one line where it stays."""
    with contextlib.suppress(OSError):
        os.chmod(folder, stat.S_IRWXU)
        for place, folders, _ in os.walk(folder):  # goes into a folder after its turn here
            for inner in (Path(place) / name for name in folders):
                if not inner.is_symlink():
                    inner.chmod(stat.S_IRWXU)
    shutil.rmtree(folder, ignore_errors=True)
    if not folder.exists():
        return ""
    return (f"the folder that was replaced could not be removed; it lies at {one_line(folder)} "
            "(write-protected, or open in another program?)")


def write_blank(path: Path, sheet: str, guide: Figure | Sequence[Figure]) -> tuple[Path, Path]:
    """Write a blank sheet to `path`, and the guide as a PDF beside it.

    Parameters
    ----------
    path : Path
        The sheet's file; ".toml" is added where it has no ending.
    sheet : str
        The sheet's text.
    guide : Figure or sequence of Figure
        The guide's pages.

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
            raise UnrollError(f"{one_line(file)} is there already; choose another name, so that "
                              "no measures are lost")
    write_file(beside, guide_pdf(guide))
    write_file(path, sheet)
    return path, beside


def guide_pdf(guide: Figure | Sequence[Figure]) -> bytes:
    """Return the guide's pages as a PDF with their fonts embedded.

    With SOURCE_DATE_EPOCH set, the same page gives the same bytes.
    """
    import matplotlib
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    stream = io.BytesIO()
    facts = {"Title": "Where each tape goes", "Creator": "unroll", "Producer": "matplotlib"}
    with (
        matplotlib.rc_context({"pdf.fonttype": 3, "path.simplify": False}),
        PdfPages(stream, metadata=facts) as book,
    ):
        for page in [guide] if isinstance(guide, Figure) else guide:
            book.savefig(page)
    return stream.getvalue()
