"""The corner cards in a photograph: found, and the way from its pixels to millimetres on the floor.

Square markers: S. Garrido-Jurado et al. 2014, "Automatic generation and detection of highly
reliable fiducial markers under occlusion", doi 10.1016/j.patcog.2014.01.005; the set 4x4_50.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.photos.edges import linear, sharpened

CARDS = (0, 1, 2, 3)
CARD_MM, RIM_MM = 60.0, 15.0  # side of the black square, and the white around it
WORST_MM = 0.5  # a card that lies so far off what the others say is folded or lifted
SMALLEST_PX = 40.0  # side of a card's square
# upper left, upper right, lower right, lower left, as markers are told; y up
CORNERS = np.array([[0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]])


def card_cells(number: int) -> IntArray:
    """Return a card's square as cells, (6, 6), 0 black and 255 white, the first row on top."""
    import cv2

    return np.asarray(cv2.aruco.generateImageMarker(_markers(), number, 6), dtype=np.int64)


def _markers() -> Any:
    import cv2

    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def find_cards(grey: IntArray) -> FloatArray:
    """Return the corners of the four cards in a picture, (4, 4, 2) pixels, y down.

    Parameters
    ----------
    grey : (h, w) uint8

    Raises
    ------
    UnrollError
        When a card is missing or there twice, or too small. The text goes on after the file's
        name.
    """
    import cv2

    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    found, numbers, _ = cv2.aruco.ArucoDetector(_markers(), settings).detectMarkers(grey)
    seen = [] if numbers is None else [int(n) for n in np.ravel(numbers)]
    there = {n: np.asarray(quad).reshape(4, 2) for n, quad in zip(seen, found, strict=True)}
    missing = [str(n) for n in CARDS if n not in there]
    if missing:
        shown = len(CARDS) - len(missing)
        raise UnrollError(
            f"shows {shown} of the 4 corner cards (missing: {', '.join(missing)}); expected all of "
            "them, whole, lit and in focus (outside the picture, covered, in shadow, "
            "curled or folded? unroll cards prints them)"
        )
    if len([n for n in seen if n in CARDS]) > len(CARDS):
        raise UnrollError("shows a corner card twice; expected the cards 0, 1, 2 and 3 once each")
    quads = np.array([there[n] for n in CARDS], dtype=float)
    side = float(np.linalg.norm(quads - np.roll(quads, 1, axis=1), axis=2).mean(axis=1).min())
    if side < SMALLEST_PX:
        raise UnrollError(f"shows a corner card {side:.0f} pixels wide; expected at least "
                          f"{SMALLEST_PX:.0f} (taken from too far, or made smaller?)")
    light = linear(grey)
    return np.array([sharpened(light, quad) for quad in quads])


@dataclass(frozen=True, eq=False)
class Floor:
    """The way from a picture's pixels to millimetres on the floor.

    Attributes
    ----------
    middle : (2,) float
        Of the picture, pixels.
    reach : float
        Pixels that count as 1.
    radial : (2,) float
        Radial distortion about the middle.
    turn : (3, 3) float
        Homography from there to the floor, mm.
    off_mm : float
        How well the cards fit each other, root mean square.
    """

    middle: FloatArray
    reach: float
    radial: FloatArray
    turn: FloatArray
    off_mm: float = 0.0

    def on_floor(self, pixels: FloatArray) -> FloatArray:
        """Return where pixels (n, 2), y down, lie on the floor, mm, y up."""
        flat = (pixels - self.middle) / self.reach
        far = np.sum(flat * flat, axis=-1, keepdims=True)
        flat = flat * (1.0 + self.radial[0] * far + self.radial[1] * far**2)
        out = flat @ self.turn[:, :2].T + self.turn[:, 2]
        return np.asarray(out[..., :2] / out[..., 2:])


def floor_of(quads: FloatArray, size: tuple[int, int], *, card: float = CARD_MM) -> Floor:
    """Return the way to the floor that four cards tell.

    Parameters
    ----------
    quads : (4, 4, 2) float
        Corners of the cards, pixels; see `find_cards`.
    size : (int, int)
        Width and height of the picture, pixels.
    card : float
        Measured side of the cards' black square, mm.

    Raises
    ------
    UnrollError
        When the cards do not fit each other. The text goes on after the file's name.

    Notes
    -----
    Nothing is known of the camera or of where the cards lie: the homography, two terms of radial
    distortion, and place and turn of three cards against the first are found together by least
    squares, 19 unknowns from 32 readings.
    """
    middle, reach = 0.5 * np.array(size, dtype=float), 0.5 * float(max(size))
    pixels, square = quads.reshape(-1, 2), card * CORNERS

    def floor(values: FloatArray) -> Floor:
        return Floor(middle, reach, values[8:10], np.append(values[:8], 1.0).reshape(3, 3))

    def off(values: FloatArray) -> FloatArray:
        there = floor(values).on_floor(pixels).reshape(4, 4, 2)
        return np.asarray((there - _laid(square, values[10:])).ravel())

    start = _start(quads, square, middle, reach)
    found = least_squares(off, start, x_scale="jac", method="trf", max_nfev=400)
    apart = np.sqrt(np.mean(off(found.x).reshape(4, 8) ** 2, axis=1) * 2.0)
    worst = int(np.argmax(apart))
    if not float(apart[worst]) < WORST_MM:
        raise UnrollError(
            f"shows corner cards that do not fit each other: card {worst} is off by "
            f"{apart[worst]:.1f} mm; expected under {WORST_MM:g} (folded, curled, not on the "
            "floor, or printed at another size than the rest?)"
        )
    known = floor(found.x)
    turn = _upright(known) @ known.turn
    return Floor(middle, reach, known.radial, turn, float(np.sqrt(np.mean(apart**2))))


def _upright(known: Floor) -> FloatArray:
    """Return the turn, (3, 3), that has what is up in the picture's middle up on the floor."""
    here, above = known.on_floor(np.stack([known.middle, known.middle - [0.0, 1.0]]))
    x, y = (above - here) / np.linalg.norm(above - here)
    return np.array([[y, -x, 0.0], [x, y, 0.0], [0.0, 0.0, 1.0]])


def _laid(square: FloatArray, places: FloatArray) -> FloatArray:
    """Return the corners of the cards on the floor, (4, 4, 2): the first where it is by choice."""
    out = [square]
    for x, y, angle in places.reshape(3, 3):
        cos, sin = np.cos(angle), np.sin(angle)
        out.append(square @ np.array([[cos, sin], [-sin, cos]]) + [x, y])
    return np.array(out)


def _start(
    quads: FloatArray, square: FloatArray, middle: FloatArray, reach: float
) -> FloatArray:
    """Return a first guess: the homography of the first card, and the others seen through it."""
    flat = (quads - middle) / reach
    rows = []
    for (u, v), (x, y) in zip(flat[0], square, strict=True):
        rows.append([u, v, 1.0, 0.0, 0.0, 0.0, -u * x, -v * x])
        rows.append([0.0, 0.0, 0.0, u, v, 1.0, -u * y, -v * y])
    turn = np.linalg.lstsq(np.array(rows), square.ravel(), rcond=None)[0]
    seen = Floor(middle, reach, np.zeros(2), np.append(turn, 1.0).reshape(3, 3)).on_floor(quads)
    places = []
    for corners in seen[1:]:
        along = corners[1] - corners[0]
        angle = float(np.arctan2(along[1], along[0]))
        places += [*corners[3], angle]
    return np.concatenate([turn, [0.0, 0.0], places])
