"""Reads a file whole, if it is an ordinary file and not too large."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from unroll.errors import UnrollError

PHOTOGRAPHS = (".jpg", ".jpeg", ".png")  # endings, as they are taken everywhere
# A pipe put in the file's place after the check must not block either; Windows has no such flag
# but needs to be told that the bytes are to come as they are.
_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def bounded_bytes(path: Path, *, most: int) -> bytes:
    """Return the content of an ordinary file.

    Parameters
    ----------
    path : Path
    most : int
        Bytes; no more than one beyond it is read, whatever the file calls its size.

    Raises
    ------
    UnrollError
        When there is no such file, it is a folder, a pipe or a device, it is too large, or the
        system refuses. The text goes on after the file's name: "is not there (mistyped?)".

    Examples
    --------
    >>> bounded_bytes(Path("nowhere"), most=10)
    Traceback (most recent call last):
    ...
    unroll.errors.UnrollError: is not there (mistyped?)
    """
    if "\0" in str(path):
        raise UnrollError("has a name that no file can have (a broken sheet?)")
    try:
        _refuse_by_kind(os.stat(path).st_mode)
        with open(os.open(path, _FLAGS), "rb") as file:
            raw = file.read(most + 1)
            size = max(len(raw), os.fstat(file.fileno()).st_size)
    except FileNotFoundError:
        raise UnrollError("is not there (mistyped?)") from None
    except OSError as error:
        raise UnrollError(f"cannot be opened: {error.strerror or error}") from None
    if len(raw) > most:
        raise UnrollError(f"holds {size / 1e6:.1f} MB; expected at most {most / 1e6:g} MB "
                          "(another kind of file?)")
    return raw


def _refuse_by_kind(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise UnrollError("is a folder; expected a file")
    if not stat.S_ISREG(mode):
        raise UnrollError("is a pipe, a socket or a device; expected an ordinary file")
