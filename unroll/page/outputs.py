"""What can be taken away from the page, made when it is asked for."""

from __future__ import annotations

import re

from unroll.disk.drawings import pieces_svg
from unroll.disk.outputs import check_files, job_files
from unroll.disk.pattern_svg import svg_text
from unroll.disk.print_files import pdf_bytes, png_bytes
from unroll.errors import UnrollError
from unroll.nouns import Ready
from unroll.page.live import Found
from unroll.page.session import Session
from unroll.show.colours import png_bytes as figure_bytes
from unroll.show.own import outlines_figure

KINDS = {
    "sheet.toml": "application/toml",
    "pattern.pdf": "application/pdf",
    "sewing_guide.pdf": "application/pdf",
    "cut_pieces.svg": "image/svg+xml",
    "cut_pieces.dxf": "image/vnd.dxf",
    "pieces.svg": "image/svg+xml",
    "report.html": "text/html",
    "report.json": "application/json",
    "arm.obj": "model/obj",
    "arm.glb": "model/gltf-binary",
}
OF_OWN = {
    "check.html": "text/html",
    "own_outlines.png": "image/png",
    "changed.pdf": "application/pdf",
    "changed.svg": "image/svg+xml",
}
_PAGE = re.compile(r"page-(\d{1,4})\.png")
_SIDED = ("arm.obj", "arm.glb")
SEEN_DPI = 60.0  # of a page that is looked at


def made(
    name: str, session: Session, found: Found | None, own: Found | None = None
) -> tuple[bytes | str, str]:
    """Return a file's content and its kind.

    Parameters
    ----------
    name : str
    session : Session
    found, own : Found or None
        The corrected pieces; her own draft, judged.

    Raises
    ------
    UnrollError
        When there is no such file, or its pages are not made yet.
    """
    if name == "sheet.toml":
        return session.text, KINDS[name]
    if name in OF_OWN:
        return _of_own(name, own), OF_OWN[name]
    page = _PAGE.fullmatch(name)
    if page is None and name not in KINDS:
        raise UnrollError("there is no such file")
    if found is None or found.ready is None or found.revision != session.revision:
        raise UnrollError("the pages are not made yet; press Make the pages first")
    if page is not None:
        return _page(found.ready, int(page[1])), "image/png"
    return _file(name, found, found.ready), KINDS[name]


def _of_own(name: str, own: Found | None) -> bytes | str:
    if own is None:
        raise UnrollError("your draft is not judged yet; press Judge my draft first")
    check = next(arm.own for arm in own.result.arms)
    if name == "own_outlines.png" and check is not None:
        return figure_bytes(outlines_figure(check))
    files = check_files(own.result, own.ready, own.withheld)
    if name not in files:
        raise UnrollError("the draft could not be changed, so there is no such file")
    return files[name]


def _page(ready: Ready, number: int) -> bytes:
    if number >= len(ready.pattern):
        raise UnrollError("there is no such page")
    return png_bytes(ready.pattern[number], dots_per_inch=SEEN_DPI)


def _file(name: str, found: Found, ready: Ready) -> bytes | str:
    if name == "pattern.pdf":
        return pdf_bytes(ready.pattern)
    if name == "sewing_guide.pdf":
        return pdf_bytes(ready.guide, title="Order of sewing")
    if name == "cut_pieces.svg":
        return svg_text(ready.finished)
    if name == "cut_pieces.dxf":
        from unroll.disk.pattern_dxf import dxf_text  # only here: it takes long to load

        return dxf_text(ready.finished)
    if name == "pieces.svg":
        return pieces_svg([piece for arm in found.result.arms for piece in arm.to_cut])
    files = job_files(found.result, ready=ready)
    if name in _SIDED and name not in files:  # two unlike arms: the left one's
        return files[f"{found.result.arms[0].measures.side}_{name}"]
    return files[name]
