"""The cutting line at a dart's mouth: cut with the dart folded, then opened out again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from unroll.errors import UnrollError
from unroll.geometry.flat_lines import crossings, lengths_along, part
from unroll.piecing.darts import Closing, Dart, closing
from unroll.types import FloatArray, StitchingSide


def mouth_joint(
    sides: Sequence[StitchingSide],
    dart: Dart,
    before: FloatArray,
    after: FloatArray,
    reach: float,
) -> tuple[float, float, FloatArray]:
    """Return where the cutting line leaves `before` and enters `after`, and the points between.

    Parameters
    ----------
    sides : sequence of StitchingSide
    dart : Dart
    before, after : (k, 2) float
        Parallels of the sides beside the mouth, prolonged by `reach` mm at both ends.

    Notes
    -----
    The dart is closed and its surplus folded under the side that it is pressed to. The cutting
    line of the closed seam then runs across all layers; mirrored in the leg and turned back, it
    is the line that the opened mouth must have for the raw edges to lie true once folded.
    """
    if not dart.is_pressed_back:
        return _mirrored_joint(sides, dart, before, after, reach)
    return _joint_pressed_back(closing(sides, dart), before, after, reach)


def _joint_pressed_back(
    close: Closing, before: FloatArray, after: FloatArray, reach: float
) -> tuple[float, float, FloatArray]:
    shut = close.close(after)
    ends = lengths_along(before)[-1] - reach, reach
    cross = _nearest_crossing(before, shut, ends)
    leg = np.stack([close.near, close.near + 200 * close.near_out])
    line = np.vstack([part(before, 0.0, cross[0]), part(shut, cross[1], lengths_along(shut)[-1])])
    along = crossings(line, leg)[:, 0]
    at = along[np.argmin(np.abs(along - cross[0]))]
    wedge = _opened_wedge(close, part(line, 0.0, at))
    leave, enter = min(at, cross[0]), cross[1] + max(0.0, at - cross[0])
    lead = part(line, leave, at) if at > cross[0] + 1e-9 else np.empty((0, 2))
    tail = close.open(part(line, at, cross[0])) if at < cross[0] - 1e-9 else np.empty((0, 2))
    return float(leave), float(enter), np.vstack([lead, wedge, tail])


def _opened_wedge(close: Closing, line: FloatArray) -> FloatArray:
    """Open out the cutting line of the folded surplus; `line` ends on the near leg.

    The surplus lies twice under the near side: mirrored in the near leg up to the fold line, and
    from there turned back to the far leg.
    """
    back = line[::-1]
    fold = 0.5 * (close.near + close.far)
    out = close.near_out + close.far_out
    out = out / np.linalg.norm(out)
    near_half, far_half = close.fold(back), close.open(back)
    ray = np.stack([fold - 300 * out, fold + 300 * out])
    one = crossings(near_half, ray)
    two = crossings(far_half, ray)
    if len(one) == 0 or len(two) == 0:
        raise UnrollError(
            f"a dart's mouth is {np.linalg.norm(close.far - close.near):.0f} mm wide, wider than "
            "the cloth beside it can cover when it is folded; use two smaller darts"
        )
    one_at, two_at = one[:, 0].min(), two[:, 0].min()
    near_part, far_part = part(near_half, 0.0, one_at), part(far_half, 0.0, two_at)
    # legs of unequal shape leave a hair's step on the fold: both ends take its middle
    peak = 0.5 * (near_part[-1] + far_part[-1])
    return np.vstack([near_part[:-1], peak[None], far_part[:-1][::-1]])


def _mirrored_joint(
    sides: Sequence[StitchingSide],
    dart: Dart,
    before: FloatArray,
    after: FloatArray,
    reach: float,
) -> tuple[float, float, FloatArray]:
    """Press forwards: the same construction in the mirror, read backwards."""
    flip = np.array([-1.0, 1.0])
    forward = closing(sides, dart)
    close = Closing(
        forward.far * flip,
        forward.near * flip,
        forward.far_out * flip,
        forward.near_out * flip,
        forward.angle_rad,
    )
    ends = lengths_along(before)[-1], lengths_along(after)[-1]
    leave, enter, between = _joint_pressed_back(
        close, after[::-1] * flip, before[::-1] * flip, reach
    )
    return ends[0] - enter, ends[1] - leave, between[::-1] * flip


def _nearest_crossing(
    before: FloatArray, shut: FloatArray, ends: tuple[float, float]
) -> tuple[float, float]:
    """Return where the parallels of the closed seam meet; side by side if they run in line."""
    hits = crossings(before, shut)
    near = hits[np.abs(hits - ends).sum(axis=1) < 40.0] if len(hits) else hits
    if len(near) == 0:
        return ends
    best = near[np.argmin(np.abs(near - ends).sum(axis=1))]
    return float(best[0]), float(best[1])
