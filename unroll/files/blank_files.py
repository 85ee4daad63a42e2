"""Writes the blank sheet and the measuring guide, never over a sheet that is there."""

from __future__ import annotations

import io
import os
from pathlib import Path

import matplotlib
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from unroll.errors import UnrollError
from unroll.files.atomic import write_file


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
