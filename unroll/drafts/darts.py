"""Cap darts: what they take in, where they lie, how their legs curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from unroll.drafts.bases import STEP
from unroll.maths.arrays import FloatArray


@dataclass(frozen=True, eq=False)
class DartLegs:
    """A dart drawn on one half of the cap; x runs outward from the middle of the arm.

    Attributes
    ----------
    point : (2,) float
        The dart point.
    near, far : (k, 2) float
        Legs from the point to the cap seam, the near one towards the middle; mirror images.
    near_turn, far_turn : float
        Direction of each leg at the cap seam, going up, radians from +x.
    """

    point: FloatArray
    near: FloatArray
    far: FloatArray
    near_turn: float
    far_turn: float

    def width_at(self, level: float) -> float:
        """Return the width of the dart along a horizontal level, mm; 0 clear of it."""
        low, high = self.point[1], min(self.near[-1, 1], self.far[-1, 1])
        if not low < level < high:
            return 0.0
        near, far = (np.interp(level, leg[:, 1], leg[:, 0]) for leg in (self.near, self.far))
        return float(far - near)


def dart_intakes(surplus: float, count: int = 2) -> tuple[float, ...]:
    """Return what each of `count` darts takes in when a surplus is shared equally, mm.

    Examples
    --------
    >>> dart_intakes(3 / 4), dart_intakes(2 * 6.5 - 4.5 - 4.25)
    ((0.375, 0.375), (2.125, 2.125))
    """
    return (surplus / count,) * count if surplus > 0 else (0.0,) * count


def dart_angle_rad(intake: float, length: float) -> float:
    """Return the angle that a straight dart takes out of the surface, radians.

    Examples
    --------
    >>> round(float(np.degrees(dart_angle_rad(12.7, 63.5))), 2)
    11.48
    """
    return 2.0 * float(np.arcsin(intake / (2.0 * length)))


def draw_legs(
    point: FloatArray, mouth: FloatArray, half_intake: float,
    *, widths: tuple[tuple[float, float], ...] = (),
) -> DartLegs:
    """Draw the two legs of a dart.

    Parameters
    ----------
    point, mouth : (2,) float
        The dart point, and the middle of the dart's opening at the cap seam.
    half_intake : float
        Half the opening, mm.
    widths : tuple of (share, half width)
        Half widths wanted at shares of the way from the point to the mouth; without them the
        legs bow gently inwards (40 % of the opening half way).

    Notes
    -----
    The half width follows the monotone cubic of F. N. Fritsch and R. E. Carlson (SIAM J. Numer.
    Anal. 17, 1980), so that the legs never cross.
    """
    axis = mouth - point
    reach = float(np.linalg.norm(axis))
    axis = axis / reach
    nodes = [(0.0, 0.0), *(widths or ((0.5, 0.4 * half_intake),)), (1.0, half_intake)]
    share, half = np.array(nodes).T
    profile = PchipInterpolator(share * reach, half)
    along = np.linspace(0.0, reach, max(int(np.ceil(reach / STEP)), 8) + 1)
    square = np.array([axis[1], -axis[0]])
    middle = point + along[:, None] * axis
    offset = profile(along)[:, None] * square
    flare = float(np.arctan(profile.derivative()(reach)))
    turn = float(np.arctan2(axis[1], axis[0]))
    return DartLegs(point, middle - offset, middle + offset, turn + flare, turn - flare)
