"""The middle lines of a scan's upper arm and forearm, and the elbow where they meet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.nouns.scan import ScanHints
from unroll.scans.cutting import Cutter, hull_girth, outline

BAND_MM, FEWEST_BANDS = 10.0, 12
REACH_MM = 60.0  # an arm's radius, before it is known
LEAST_BEND_RAD = 0.10  # a straighter arm does not tell where its elbow is, nor its front
MOST_BEND_RAD = 1.75
ELBOW_WITHIN = 0.22, 0.6  # of the middle line between the ends' own curves
# Sections that tell how upper arm and forearm run, of each one's length from the elbow; and those
# near it that tell where it is: farther off, muscles lead the middle aside by more than a bend.
WHOLE, NEAR = ((0.22, 0.62), (0.22, 0.8)), ((0.15, 0.45), (0.15, 0.5))
# How far off each way of telling the elbow is, mm. The kink's is over the squared sine of the
# bend: it divides a sideways wander by the sine, and of a small bend most is muscle.
KINK_MM, WAIST_MM = 1.2, 8.0
WAIST_WITHIN, WAIST_DEPTH = 0.4, 0.006  # of the forearm's length about the elbow; of the girth
WAIST_BELOW = 0.066  # of the forearm's length: so far below the joint its arms are slimmest
WAIST_FARTHEST_MM = 28.0  # a hollow farther from where kink and length put it is none of the elbow


@dataclass(frozen=True, eq=False)
class MiddleLines:
    """Two straight lines down an arm.

    Attributes
    ----------
    down, fore : (3,) float
        Ways of the upper arm and the forearm.
    corner : (3,) float
        Where they meet, mm.
    bend : float
        Angle between them, radians.
    kink : float
        How far below the corner sections near the elbow put it, mm.
    """

    down: FloatArray
    fore: FloatArray
    corner: FloatArray
    bend: float
    kink: float = 0.0

    def below(self, at: FloatArray) -> float:
        """Return how far below the corner a place is, square to both lines alike, mm."""
        way = self.down + self.fore
        return float((at - self.corner) @ way / (way @ self.down))


def middle_lines(
    cutter: Cutter, points: FloatArray, from_wrist: FloatArray, hints: ScanHints, told: list[str]
) -> MiddleLines:
    """Return the two lines that the arm's middle follows, sharpened on plane sections.

    Parameters
    ----------
    cutter : Cutter
    points : (k, 3) float
        Spread evenly over the surface, mm.
    from_wrist : (k,) float
        How far each is from the wrist's end over the surface, mm.
    hints : ScanHints
    told : list of str
        Guesses are added to it.
    """
    middles = np.array(hints.axis) if hints.axis else _middles(points, from_wrist)[::-1]
    walked = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(middles, axis=0), axis=1)))
    inner = (walked > 0.24 * walked[-1]) & (walked < 0.96 * walked[-1]) | bool(hints.axis)
    lines = _two_lines(middles[inner])
    if not hints.axis and lines.bend >= LEAST_BEND_RAD:
        for _ in range(3):
            lines = _sharpened(cutter, lines, middles, WHOLE)
        near = lines
        for _ in range(3):
            near = _sharpened(cutter, near, middles, NEAR)
        lines = replace(lines, kink=lines.below(near.corner))
    if lines.bend > MOST_BEND_RAD:
        raise UnrollError(f"bends by {np.degrees(lines.bend):.0f} degrees at the elbow; expected "
                          f"at most {np.degrees(MOST_BEND_RAD):.0f} (no arm, or too bent?)")
    if lines.bend < LEAST_BEND_RAD:
        told.append("the arm is straight, so the elbow is where girths and usual lengths put it "
                    "([scan] elbow_point overrules it)")
        lines = replace(lines, fore=lines.down)
    told_at = elbow_places(hints)
    if told_at:
        below = np.mean([lines.below(at) for at in told_at])
        lines = replace(lines, corner=lines.corner + below * lines.down)
    return lines


def elbow_places(hints: ScanHints) -> list[FloatArray]:
    """Return what the sheet says of the elbow: its point, its crease or both."""
    found = (hints.landmarks.get(name) for name in ("elbow_point", "elbow_crease"))
    return [np.array(at) for at in found if at is not None]


def _middles(points: FloatArray, away: FloatArray) -> FloatArray:
    """Return the middles of bands from the wrist upwards, (k, 3).

    From the wrist, which is slim: bands from a wide shoulder would lie aslant far down the arm.
    """
    count = max(FEWEST_BANDS, int(away.max() // BAND_MM))
    band = np.clip((away / away.max() * count).astype(int), 0, count - 1)
    weight = np.bincount(band[away >= 0.0], minlength=count)
    sums = [np.bincount(band[away >= 0], points[away >= 0, k], count) for k in range(3)]
    return np.asarray(np.column_stack(sums)[weight > 0] / weight[weight > 0][:, None])


def _two_lines(middles: FloatArray) -> MiddleLines:
    """Return the two lines through a row of points that miss it least."""
    best, least = (0, 0), np.inf
    low, high = (int(share * len(middles)) for share in ELBOW_WITHIN)
    for place in range(max(low, 3), min(max(high, 4), len(middles) - 2)):
        missed = sum(_line(part)[2] for part in (middles[: place + 1], middles[place:]))
        if missed < least:
            best, least = (place, place), missed
    return _met(middles[: best[0] + 1], middles[best[1] :])


def _met(upper: FloatArray, lower: FloatArray) -> MiddleLines:
    (a, down, _), (b, fore, _) = _line(upper), _line(lower)
    bend = float(np.arccos(np.clip(down @ fore, -1.0, 1.0)))
    if bend < 1e-3:
        return MiddleLines(down, down, 0.5 * (upper[-1] + lower[0]), bend)
    s, t = np.linalg.lstsq(np.column_stack([down, -fore]), b - a, rcond=None)[0]
    return MiddleLines(down, fore, 0.5 * (a + s * down + b + t * fore), bend)


def _line(points: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Return a point, the way and the squared miss of the line through points."""
    middle = points.mean(axis=0)
    _, size, ways = np.linalg.svd(points - middle, full_matrices=False)
    way = ways[0] * np.sign(ways[0] @ (points[-1] - points[0]))
    return middle, way, float(np.sum(size[1:] ** 2))


_Shares = tuple[tuple[float, float], tuple[float, float]]


def _sharpened(
    cutter: Cutter, lines: MiddleLines, middles: FloatArray, shares: _Shares
) -> MiddleLines:
    """Return the lines through the middles of sections square to them."""
    ends = np.array([(middles[0] - lines.corner) @ lines.down,
                     (middles[-1] - lines.corner) @ lines.fore])  # fmt: skip
    parts = []
    for way, whole, within in zip((lines.down, lines.fore), ends, shares, strict=True):
        frame = frame_along(way)
        found = []
        for along in np.linspace(*within, 12) * whole:
            at = lines.corner + along * way
            for _ in range(2):
                cut = cutter.segments(at, frame, 2.0 * REACH_MM)
                if len(cut) > 5:
                    at = at + outline(cut)[0] @ frame[:2]
            found.append(at)
        parts.append(np.array(found))
    return _met(parts[0][::-1], parts[1])


def frame_along(way: FloatArray) -> FloatArray:
    """Return some frame whose third row runs back along a way, (3, 3)."""
    first = np.cross(way, np.eye(3)[np.argmin(np.abs(way))])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(-way, first), -way])


def with_elbow(
    cutter: Cutter, lines: MiddleLines, start: FloatArray, fore: float, usual: tuple[float, float]
) -> MiddleLines:
    """Return the lines with the elbow where kink, girths and shares of the length put it together.

    Parameters
    ----------
    cutter : Cutter
    lines : MiddleLines
    start : (3,) float
        Where the upper arm begins, mm.
    fore : float
        From the kink to the wrist, mm.
    usual : tuple of float
        Share of the forearm in the whole from `start`, and how far off an elbow that it tells is,
        mm.

    Notes
    -----
    Three witnesses, weighed by the square of how far off each is: where the lines meet, which says
    the less the less the arm bends; the usual share; and the slimmest place, which lies a little
    below the joint.
    """
    upper = float((lines.corner - start) @ lines.down)
    place = fore - usual[0] * (upper + fore)
    if lines.bend < LEAST_BEND_RAD:  # one line, and any place on it as good as another
        lines = replace(lines, corner=lines.corner + place * lines.down)
        fore, place = fore - place, 0.0
    guesses = [(lines.kink, KINK_MM / max(np.sin(lines.bend), 0.05) ** 2), (place, usual[1])]
    shift = _weighed(guesses)
    waist = _waist(cutter, lines, fore, shift + WAIST_BELOW * fore)
    if waist is not None and abs(waist - WAIST_BELOW * fore - shift) < WAIST_FARTHEST_MM:
        shift = _weighed([*guesses, (waist - WAIST_BELOW * fore, WAIST_MM)])
    corner = lines.corner + shift * (lines.down if shift < 0.0 else lines.fore)
    way = lines.corner + 0.8 * fore * lines.fore - corner
    way /= np.linalg.norm(way)
    bend = float(np.arccos(np.clip(way @ lines.down, -1.0, 1.0)))
    if bend < LEAST_BEND_RAD:
        way, bend = lines.fore, lines.bend
    return replace(lines, corner=corner, fore=way, bend=bend)


def _weighed(guesses: list[tuple[float, float]]) -> float:
    """Return the place that several guesses tell together, each with how far off it may be."""
    place, error = np.array(guesses).T
    return float(np.average(place, weights=error**-2))


def _waist(cutter: Cutter, lines: MiddleLines, fore: float, about: float) -> float | None:
    """Return how far below the kink the arm is slimmest between its two fullest girths, mm."""
    places = np.arange(-WAIST_WITHIN * fore, WAIST_WITHIN * fore, 5.0)
    girths = []
    for place in places:
        share = np.clip(0.5 + place / 80.0, 0.0, 1.0)
        way = (1.0 - share) * lines.down + share * lines.fore
        at = lines.corner + place * (lines.down if place < 0.0 else lines.fore)
        cut = cutter.segments(at, frame_along(way / np.linalg.norm(way)), 1.7 * REACH_MM)
        girths.append(hull_girth(cut) if len(cut) > 5 else np.inf)
    if not np.isfinite(girths).all() or len(girths) < 9:
        return None
    from scipy.signal import savgol_filter  # slow to load, and only scans need it

    even = savgol_filter(girths, 9, 2)
    least = 1.0 + WAIST_DEPTH
    hollows = [k for k in range(2, len(even) - 2)
               if even[k] == even[k - 2 : k + 3].min()
               and min(even[:k].max(), even[k:].max()) > least * even[k]]  # fmt: skip
    if not hollows:
        return None
    return float(places[min(hollows, key=lambda k: abs(places[k] - about))])
