"""A synthetic camera: pictures of paper pieces and corner cards on a floor, as a test instrument.

A pinhole with a forward radial distortion of its own form (the reader solves the inverse one),
tilt, defocus in linear light, uneven light, noise and JPEG. No real photograph stands behind it.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.path import Path
from matplotlib.transforms import IdentityTransform
from PIL import Image

from unroll.photos.cards import CARD_MM, RIM_MM, card_cells


@dataclass(frozen=True)
class Camera:
    """Where it stands and what it does to a picture; lengths mm, angles degrees."""

    size: tuple[int, int] = (4000, 3000)
    height: float = 640.0
    tilt_deg: float = 12.0
    turn_deg: float = 96.0
    radial: tuple[float, float] = (-0.05, 0.01)
    focal: float = 1.25  # over half the width
    blur: float = 0.8
    noise: float = 0.01
    shade: float = 0.35
    quality: int = 92
    paper: float = 0.8
    floor: float = 0.08
    seed: int = 1

    def seen(self, points: np.ndarray, middle: np.ndarray) -> np.ndarray:
        """Return where points of the floor (n, 2) lie in the picture, pixels."""
        # the camera stands so that the long side of the picture holds the long side of the floor
        t, a = np.radians(self.tilt_deg), np.radians(self.turn_deg)
        spin = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        flat = (points - middle) @ spin.T
        x, y = flat[:, 0], flat[:, 1]
        depth = self.height + np.sin(t) * y
        u, v = x / depth, np.cos(t) * y / depth
        far = (u * u + v * v) * self.focal**2
        bend = 1.0 + self.radial[0] * far + self.radial[1] * far**2
        reach = 0.5 * self.size[0] * self.focal
        return np.stack([0.5 * self.size[0] + reach * u * bend,
                         0.5 * self.size[1] - reach * v * bend], axis=1)

    def picture(
        self, pieces, cards, *, marks=(), card_paper=None, squeezed=None, curled=None,
        middle_of=None, numbers=(0, 1, 2, 3), on_top=(),
    ) -> np.ndarray:
        """Return the grey picture (h, w) uint8 of outlines (k, 2) and of cards (x, y, degrees).

        `squeezed` names a card that is printed, or folded, narrower than the rest, `curled` one
        whose upper edge stands up, nearer to the camera; pieces `on_top` lie over the cards.
        """
        whole = np.vstack([*(pieces if middle_of is None else middle_of),
                           *(card_corners(c) for c in cards)])
        middle = 0.5 * (whole.min(axis=0) + whole.max(axis=0))
        canvas = Canvas(self.size, self.floor)

        def there(points):
            return self.seen(dense(points), middle)

        for piece in pieces:
            canvas.fill([there(piece)], self.paper)
        for line in marks:
            canvas.line(self.seen(line, middle), 0.4)
        for number, card in zip(numbers, cards):
            thin = 0.94 if number == squeezed else 1.0
            canvas.fill([there(card_corners(card))], card_paper or self.paper)
            black = shapely.union_all(
                [shapely.Polygon(c) for c in card_squares(
                    number, card, thin, 0.1 if number == curled else 0.0)])
            for part in shapely.get_parts(black):
                rings = [part.exterior, *part.interiors]
                canvas.fill([there(shapely.get_coordinates(r)[:-1]) for r in rings], 0.03)
        for piece in on_top:
            canvas.fill([there(piece)], self.paper)
        return self._developed(cv2.GaussianBlur(canvas.light, (0, 0), self.blur))

    def _developed(self, light):
        rng = np.random.default_rng(self.seed)
        y, x = np.mgrid[-1 : 1 : self.size[1] * 1j, -1 : 1 : self.size[0] * 1j]
        light = light * (1 - self.shade * (0.5 + 0.3 * x + 0.2 * y * y))
        light = light + rng.normal(0, self.noise, light.shape) * np.sqrt(np.maximum(light, 0.02))
        light = np.clip(light, 0, 1)
        coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        return np.round(255 * coded).astype(np.uint8)


class Canvas:
    """Light on the picture's pixels; each pixel takes the share of it that an area covers."""

    def __init__(self, size, level):
        self.size, self.agg = size, RendererAgg(*size, 100.0)
        self.fill([np.array([[-9, -9], [size[0] + 9, -9], [size[0] + 9, size[1] + 9],
                             [-9, size[1] + 9]])], level)

    def _drawn(self, rings, face, width):
        pen = self.agg.new_gc()
        pen.set_linewidth(width)
        pen.set_snap(False)
        pen.set_foreground((face,) * 3)
        points = [self._turned(np.vstack([ring, ring[:1]])) for ring in rings]
        codes = [[Path.MOVETO] + [Path.LINETO] * (len(p) - 1) for p in points]
        path = Path(np.concatenate(points), np.concatenate(codes))
        path.should_simplify = False
        self.agg.draw_path(pen, path, IdentityTransform(), None if width else (face,) * 3)

    def _turned(self, points):
        return np.stack([points[:, 0] + 0.5, self.size[1] - 0.5 - points[:, 1]], axis=1)

    def fill(self, rings, level):
        self._drawn(rings, level, 0.0)

    def line(self, points, level):
        self._drawn([points], level, 1.5)

    @property
    def light(self):
        return np.asarray(self.agg.buffer_rgba())[:, :, 0].astype(np.float32) / 255


def jpeg(grey: np.ndarray, *, quality: int = 92, turn: int | None = None) -> bytes:
    """Return a picture as a JPEG, with an EXIF turn where one is asked for."""
    stream, exif = io.BytesIO(), Image.Exif()
    if turn is not None:
        exif[0x0112] = turn
    Image.fromarray(grey).convert("RGB").save(stream, "JPEG", quality=quality, exif=exif)
    return stream.getvalue()


def dense(points: np.ndarray, step: float = 2.0) -> np.ndarray:
    closed = np.vstack([points, points[:1]])
    runs = []
    for a, b in zip(closed[:-1], closed[1:]):
        count = max(int(np.ceil(np.linalg.norm(b - a) / step)), 1)
        runs.append(a + np.linspace(0, 1, count, endpoint=False)[:, None] * (b - a))
    return np.concatenate(runs)


def on_floor(points: np.ndarray, card) -> np.ndarray:
    x, y, deg = card
    a = np.radians(deg)
    return points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + [x, y]


def card_corners(card) -> np.ndarray:
    """Return the corners of a card's paper on the floor."""
    low, high = -RIM_MM, CARD_MM + RIM_MM
    return on_floor(np.array([[low, low], [high, low], [high, high], [low, high]]), card)


def card_squares(number: int, card, thin: float = 1.0, curl: float = 0.0):
    """Yield the black cells of a card on the floor."""
    cells, side = card_cells(number), CARD_MM / 6
    for row, column in zip(*np.nonzero(cells == 0)):
        x, y = column * side, CARD_MM - (row + 1) * side
        box = np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])
        box[:, 0] += curl * (box[:, 0] - 0.5 * CARD_MM) * box[:, 1] / CARD_MM
        yield on_floor(box * [thin, 1.0], card)


def around(pieces, gap: float = 25.0):
    """Return places for four cards at the corners round some outlines, each turned otherwise."""
    whole = np.vstack(pieces)
    low, high = whole.min(axis=0), whole.max(axis=0)
    out, middle = 100.0 + gap, 0.5 * (low[1] + high[1])
    top, bottom = max(high[1] - 70, middle + 25), min(low[1] + 10, middle - 95)
    return [(low[0] - out, top, 4.0), (high[0] + gap + 20, top, -7.0),
            (high[0] + gap + 20, bottom, 12.0), (low[0] - out, bottom, -3.0)]
