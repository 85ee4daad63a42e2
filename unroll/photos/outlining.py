"""The outlines of paper on a plain floor, to parts of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.photos.cards import CARD_MM, RIM_MM, Floor
from unroll.photos.edges import beside, linear, moved_to_edge

WIDEST_EDGE_MM = 1.6  # from 10 to 90 %; a sharp picture has a third of it
SMALLEST_MM2 = 700.0
STEP_MM = 0.5  # between the points of an outline
BLUR_PX = 1.5
SHADOW_MM = 30.0  # of an outline along which what lies beside it is no floor
SHADOW_SHARES = (2.0, 0.75)  # of the usual contrast; above the last, both sides are paper


@dataclass(frozen=True, eq=False)
class Outlined:
    """Outlines in a picture.

    Attributes
    ----------
    pixels : tuple of (k, 2) float
        Outlines, y down.
    floor : tuple of (k, 2) float
        The same on the floor, mm, anticlockwise.
    edge_mm : float
        How wide the paper's edge is in the picture, from 10 to 90 %.
    """

    pixels: tuple[FloatArray, ...]
    floor: tuple[FloatArray, ...]
    edge_mm: float


def outlined(grey: IntArray, floor: Floor, quads: FloatArray) -> Outlined:
    """Return the outlines of the pieces of paper in a picture.

    Parameters
    ----------
    grey : (h, w) uint8
    floor : Floor
    quads : (4, 4, 2) float
        Corners of the cards, which are paper too but no pieces.

    Raises
    ------
    UnrollError
        When the picture is blurred, a piece is cut off by its edge, or none stands out from the
        floor. The text goes on after the file's name.

    Notes
    -----
    A threshold (N. Otsu 1979, doi 10.1109/TSMC.1979.4310076) finds the pieces to a pixel. Then
    each point moves across the edge to where the brightness is half-way between the paper and the
    floor beside it, in linear light: uneven light does not shift it, and blur takes no area off.
    """
    import cv2

    light = linear(grey)
    soft = cv2.GaussianBlur(grey, (0, 0), BLUR_PX)
    _, bright = cv2.threshold(soft, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    mask = np.asarray(bright, dtype=np.uint8)
    if _is_floor_light(mask):
        mask = 255 - mask
    loops, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cards = floor.on_floor(quads).mean(axis=1)
    pixels, places, edges = [], [], []
    for loop in loops:
        points = np.asarray(loop, dtype=float).reshape(-1, 2)
        there = floor.on_floor(points) if len(points) > 20 else points[:0]
        if abs(_area(there)) < SMALLEST_MM2 or _is_card(there, cards):
            continue
        _check_whole(points, grey.shape)
        thin = _thinned(points, there)
        ahead = np.roll(thin, -2, axis=0) - np.roll(thin, 2, axis=0)
        fine, width = moved_to_edge(light, thin, ahead)
        _check_lit(beside(light, fine, ahead))
        on_floor = floor.on_floor(fine)
        way = 1 if _area(on_floor) > 0 else -1
        pixels.append(fine[::way])
        places.append(on_floor[::way])
        edges.append(width * _scale_at(floor, fine))
    if not pixels:
        raise UnrollError("shows no piece of paper beside the cards; expected one on a plain floor "
                          "that is darker or lighter (paper and floor too alike, or too dark?)")
    widest = max(edges)
    if widest > WIDEST_EDGE_MM:
        raise UnrollError(f"is blurred: the paper's edge is {widest:.1f} mm wide; expected under "
                          f"{WIDEST_EDGE_MM:g} (shaken, out of focus, or taken from too far?)")
    return Outlined(tuple(pixels), tuple(places), widest)


def _is_floor_light(mask: Any) -> bool:
    rim = np.concatenate([mask[0], mask[-1], mask[:, 0], mask[:, -1]])
    return bool(rim.mean() > 127)


def _is_card(points: FloatArray, cards: FloatArray) -> bool:
    """Tell the paper of a card: a small thing with a card's middle within it."""
    middle = points.mean(axis=0)
    reach = np.linalg.norm(points - middle, axis=1).max()
    largest = 0.75 * (CARD_MM + 2.0 * RIM_MM)
    near = float(np.linalg.norm(cards - middle, axis=1).min())
    return bool(reach < largest and near < 0.5 * CARD_MM)


def _check_whole(points: FloatArray, shape: tuple[int, ...]) -> None:
    low, high = points.min(axis=0), points.max(axis=0)
    if low.min() < 2 or high[0] > shape[1] - 3 or high[1] > shape[0] - 3:
        raise UnrollError("shows a piece that is cut off by the picture's edge; expected floor all "
                          "round it")


def _check_lit(contrast: FloatArray) -> None:
    """Refuse an outline that runs along a shadow's edge: there the floor is as bright as paper."""
    low, high = max(SHADOW_SHARES[0] * float(np.median(contrast)), 0.15), SHADOW_SHARES[1]
    is_odd = (contrast > low) & (contrast < high)
    ends = np.flatnonzero(~np.append(np.tile(is_odd, 2), False))  # it may run over the start
    longest = int(np.diff(np.append(-1, ends)).max()) - 1
    if longest * STEP_MM > SHADOW_MM:
        raise UnrollError("shows a piece whose outline runs along the edge of a shadow; expected "
                          "even light (your own shadow? turn away from the lamp)")


def _area(points: FloatArray) -> float:
    if len(points) < 3:
        return 0.0
    x, y = points.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _thinned(points: FloatArray, there: FloatArray) -> FloatArray:
    """Return a contour smoothed along itself by a pixel or two, in steps on the floor."""
    smooth = points.copy()
    for _ in range(2):
        smooth = 0.25 * np.roll(smooth, 1, axis=0) + 0.5 * smooth + 0.25 * np.roll(smooth, -1, 0)
    closed = np.vstack([there, there[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    count = max(int(along[-1] / STEP_MM), 8)
    at = along[-1] * np.arange(count) / count
    ends = np.vstack([smooth, smooth[:1]])
    return np.stack([np.interp(at, along, ends[:, k]) for k in range(2)], axis=1)


def _scale_at(floor: Floor, pixels: FloatArray) -> float:
    """Return millimetres a pixel about some pixels."""
    step = floor.on_floor(pixels + [1.0, 0.0]) - floor.on_floor(pixels)
    return float(np.linalg.norm(step, axis=1).mean())
