"""Reads a scanned arm from the disk: OBJ, PLY, STL, GLB or OFF, bounded before it is parsed."""

from __future__ import annotations

import io
import json
import logging
import re
import struct
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from unroll.disk.reading import bounded_bytes
from unroll.disk.sheets import complete_sheet, read_text, stamp
from unroll.errors import UnrollError, one_line
from unroll.nouns import Mesh, Sheet
from unroll.nouns.scan import ScanHints, ScannedArm
from unroll.progress import Progress
from unroll.scans.measuring import measure_mended
from unroll.scans.mending import Mended, mend
from unroll.sheets.toml_text import parse_text

LARGEST_SCAN = 400_000_000  # bytes; a million triangles as OBJ text are about 90 MB
MOST_FACES = 4_000_000
KINDS = ("obj", "ply", "stl", "glb", "off")
MOST_FOUND = 4  # that are kept: an open sheet is read at every keystroke

_FOUND: dict[tuple[Path, tuple[int, int] | None, ScanHints], ScannedArm] = {}


def load_scanned_sheet(
    sheet: str | Path, scan: str | Path, *, tell: Progress | None = None
) -> Sheet:
    """Return a sheet whose arm is a scanned one.

    Parameters
    ----------
    sheet : str or Path
        A TOML file; what it says of the arm overrules the scan.
    scan : str or Path
        OBJ, PLY, STL, GLB or OFF.
    tell : Progress, optional

    Raises
    ------
    UnrollError
        When a file cannot be read or holds no arm.
    SheetFaults
        When the sheet has faults.
    """
    parsed = parse_text(read_text(Path(sheet)))
    return complete_sheet(parsed, Path(sheet).parent, scan=Path(scan), tell=tell)


def measured_scan(path: Path, hints: ScanHints, *, tell: Progress | None = None) -> ScannedArm:
    """Return what is found on a scan in a file; the last ones are kept, and what was mended.

    Raises
    ------
    UnrollError
        When the file cannot be read or holds no arm.
    """
    tell = tell or Progress()
    when, hints = stamp(path), replace(hints, bend_deg=None)  # which is of the arm that is made
    key = path, when, hints
    if key not in _FOUND:
        tell("reading and mending the scan")
        mended = _mended_as_of(path, when, hints.unit)
        try:
            found = measure_mended(mended, hints, name=path.name, tell=tell)
        except UnrollError as error:
            raise UnrollError(f"{one_line(path)} {error}") from None
        while len(_FOUND) >= MOST_FOUND:
            del _FOUND[next(iter(_FOUND))]
        _FOUND[key] = found
    return _FOUND[key]


@lru_cache(maxsize=1)  # a landmark is moved often, and mending is what takes longest
def _mended_as_of(path: Path, _when: tuple[int, int] | None, unit: str | None) -> Mended:
    mesh = read_scan(path)
    try:
        return mend(mesh, unit)
    except UnrollError as error:
        raise UnrollError(f"{one_line(path)} {error}") from None


def read_scan(path: Path) -> Mesh:
    """Return a file's triangles as they are written, in the file's own unit.

    Raises
    ------
    UnrollError
        When it is none of the kinds, too large, damaged, or holds no surface.
    """
    name, kind = one_line(path), path.suffix.lower().lstrip(".")
    if kind not in KINDS:
        raise UnrollError(f"{name} is no scan; expected a file that ends in "
                          f"{', '.join(KINDS[:-1])} or {KINDS[-1]}")
    try:
        raw = bounded_bytes(path, most=LARGEST_SCAN)
        if not raw.strip():
            raise UnrollError("is empty; expected a scan (an export that was broken off?)")
        _check_counts(raw, kind)
        return _sound(_parsed(raw, kind))
    except UnrollError as error:
        raise UnrollError(f"{name} {error}") from None


def _parsed(raw: bytes, kind: str) -> Mesh:
    """Return what the reader makes of the bytes; whatever it stumbles over is one plain fault."""
    import trimesh

    log = logging.getLogger("trimesh")
    was, log.disabled = log.disabled, True
    try:
        with np.errstate(all="ignore"):
            more: dict[str, Any] = {"skip_materials": True} if kind in ("obj", "glb") else {}
            scene = trimesh.load_scene(io.BytesIO(raw), file_type=kind, process=False, **more)
            mesh = scene.to_mesh()
            return Mesh(np.array(mesh.vertices), np.array(mesh.faces))
    except Exception as error:  # its parsers raise whatever their libraries do
        why = one_line(str(error))[:80] or type(error).__name__
        raise UnrollError(
            f"cannot be read as {kind.upper()}: {why} (damaged, cut off, or another kind of file?)"
        ) from None
    finally:
        log.disabled = was


def _sound(mesh: Mesh) -> Mesh:
    count = len(mesh.faces)
    if count < 20:
        raise UnrollError(f"holds {count} triangles; expected a surface of at least 20 (points "
                          "alone, or cut off?)")
    if count > MOST_FACES:
        raise UnrollError(f"holds {count} triangles; expected at most {MOST_FACES} (thin it out "
                          "first)")
    faces = mesh.faces
    if faces.min() < 0 or faces.max() >= len(mesh.vertices):
        raise UnrollError("names corners that are not there (damaged?)")
    sound = np.asarray(np.all(np.abs(mesh.vertices) < 1e9, axis=1))  # which no NaN is
    good = np.asarray(sound[faces].all(axis=1))
    if good.sum() < 0.9 * count:
        raise UnrollError(f"has {count - int(good.sum())} of {count} triangles without a place; "
                          "expected numbers (damaged?)")
    return Mesh(np.where(sound[:, None], mesh.vertices, 0.0), faces[good])


def _check_counts(raw: bytes, kind: str) -> None:
    """Refuse a file whose head promises more than the file can hold, before room is made for it."""
    promised, least = 0, 1
    if kind == "stl" and raw.lstrip()[:5].lower() != b"solid" and len(raw) >= 84:
        promised, least = struct.unpack_from("<I", raw, 80)[0], 50
    elif kind == "ply":
        head = raw[:20_000].split(b"end_header")[0]
        promised = sum(int(n[:18]) for n in re.findall(rb"element +\w+ +(\d+)", head))
        least = 3 if b"binary" in head else 2
    elif kind == "off":
        counts = re.findall(rb"\d+", re.sub(rb"#[^\n]*", b"", raw[:2000]))[:2]
        promised, least = sum(int(n[:18]) for n in counts), 2
    elif kind == "glb":
        promised = _glb_counts(raw)
    if promised * least > len(raw):
        raise UnrollError(f"promises {promised} points and triangles in {len(raw)} bytes "
                          "(cut off, or damaged?)")


def _glb_counts(raw: bytes) -> int:
    """Return how many values the largest accessor of a GLB promises."""
    try:
        size = struct.unpack_from("<I", raw, 12)[0]
        tree = json.loads(raw[20 : 20 + min(size, 20_000_000)])
        counts = [int(one.get("count", 0)) for one in tree.get("accessors", [])]
        sizes = [int(one.get("byteLength", 0)) for one in tree.get("bufferViews", [])]
    except (struct.error, ValueError, AttributeError, TypeError, RecursionError):
        raise UnrollError("cannot be read as GLB: its head is damaged (cut off, or another kind "
                          "of file?)") from None
    return max([0, *counts, *sizes])
