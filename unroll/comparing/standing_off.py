"""How far cloth that is too long stands off what it spans."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq


def chord_stand_off(chord: float, extra: float) -> float:
    """Return the height of the arc by which cloth spans a fixed chord, mm; 0 for cloth too short.

    Parameters
    ----------
    chord : float
        Distance between the two ends, mm.
    extra : float
        Length of cloth beyond the chord, mm.

    Notes
    -----
    A circular arc of length c + e over a chord c: sin x / x = c / (c + e) for half its angle x;
    height (c + e)(1 − cos x) / 2x.

    Examples
    --------
    >>> [round(chord_stand_off(200.0, e), 1) for e in (25.4, 12.7, 6.35)]
    [44.5, 31.2, 21.9]
    """
    if extra <= 0 or chord <= 0:
        return 0.0
    cloth = chord + extra
    half = brentq(lambda x: np.sinc(x / np.pi) - chord / cloth, 1e-9, np.pi, xtol=1e-14)
    return float(cloth * (1.0 - np.cos(half)) / (2.0 * half))


def chord_stand_off_about(chord: float, extra: float) -> float:
    """Return the same height by the rule of thumb √(3ec/8), which holds for little extra, mm.

    Examples
    --------
    >>> round(chord_stand_off_about(200.0, 6.35), 1)
    21.8
    """
    return float(np.sqrt(3.0 * extra * chord / 8.0)) if extra > 0 and chord > 0 else 0.0
