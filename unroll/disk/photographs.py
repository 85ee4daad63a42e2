"""Reads photographs of paper pieces: a picture in, outlines in millimetres out."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

import numpy as np

from unroll.disk.reading import bounded_bytes
from unroll.drafts.own_nicks import without_nicks
from unroll.drafts.own_outlines import counted
from unroll.errors import UnrollError
from unroll.maths.arrays import IntArray
from unroll.nouns.own import DraftTable, OwnOutline, Shot
from unroll.photos.cards import CARD_MM, find_cards, floor_of
from unroll.photos.outlining import outlined

LARGEST_PICTURE = 60_000_000  # bytes
MOST_PIXELS = 120_000_000
FORMATS = ("JPEG", "PNG")


def photographed(
    path: Path, table: DraftTable
) -> tuple[tuple[OwnOutline, ...], tuple[str, ...], tuple[Shot, ...]]:
    """Return the outlines in a photograph, what is to be told of them, and the picture.

    Raises
    ------
    UnrollError
        When it is no picture, or the cards or the paper cannot be made out. The text goes on after
        the file's name.
    """
    grey = grey_picture(bounded_bytes(path, most=LARGEST_PICTURE))
    quads = find_cards(grey)
    floor = floor_of(quads, (grey.shape[1], grey.shape[0]), card=table.card or CARD_MM)
    found = outlined(grey, floor, quads)
    none = np.zeros(0, dtype=int)
    outlines = tuple(
        OwnOutline(path.name, points, none, is_photo=True, notches=nicks)
        for points, _, nicks in (without_nicks(points, none) for points in found.floor)
    )
    told = (
        f"{path.name}: {counted(outlines)}; scale: the corner cards, which fit each other "
        f"within {floor.off_mm:.2f} mm",
    )
    return outlines, told, (Shot(path.name, grey, found.pixels, tuple(quads), floor.off_mm),)


def grey_picture(raw: bytes) -> IntArray:
    """Return a picture's brightness, (h, w) uint8, turned as its EXIF tag says.

    Raises
    ------
    UnrollError
        When it is no JPEG or PNG, is too large, or is cut short.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(raw), formats=FORMATS)
            count = picture.width * picture.height
            if count > MOST_PIXELS:
                raise UnrollError(f"has {count / 1e6:.0f} million pixels; expected at most "
                                  f"{MOST_PIXELS / 1e6:.0f}")
            grey = ImageOps.exif_transpose(picture).convert("L")
            return np.asarray(grey, dtype=np.uint8)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise UnrollError(f"has more pixels than {MOST_PIXELS / 1e6:.0f} million (not a "
                          "photograph?)") from None
    except UnidentifiedImageError:
        raise UnrollError("is no JPEG or PNG picture") from None
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError):
        raise UnrollError("is a picture that cannot be read to its end (cut short?)") from None
