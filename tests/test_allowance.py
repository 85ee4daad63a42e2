"""The cutting line at a dart that is cut out."""

from __future__ import annotations

import numpy as np
import pytest

from unroll.finish.allowance import cutting_line
from unroll.nouns import StitchingSide


def test_legs_that_touch_at_a_darts_point_are_cut_where_their_allowances_meet():
    # at the point the legs run half a degree past each other, as curved legs may
    up = np.linspace(0.0, 1.0, 61)

    def leg(way: float) -> np.ndarray:
        return np.stack([way * (30.0 * up**2 - 0.8 * up), 100.0 * up], axis=1)

    runs = (
        ("cap seam", np.array([[70.0, 100.0], [29.2, 100.0]])),
        ("dart 1", leg(1.0)[::-1]),
        ("dart 1", leg(-1.0)),
        ("cap seam", np.array([[-29.2, 100.0], [-70.0, 100.0]])),
        ("back seam", np.array([[-70.0, 100.0], [-70.0, -60.0]])),
        ("hem", np.array([[-70.0, -60.0], [70.0, -60.0]])),
        ("front seam", np.array([[70.0, -60.0], [70.0, 100.0]])),
    )

    def side(name: str, points: np.ndarray) -> StitchingSide:
        tangents = np.gradient(points, axis=0)
        tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
        return StitchingSide(name, np.zeros((1, 4, 2)), points, tangents, 10.0)

    line = cutting_line([side(name, points) for name, points in runs]).line
    # the allowances meet where the slit is 20 mm wide: 2 (30 u^2 - 0.8 u) = 20, a little higher
    # for the legs' slope; nothing of the line lies below, near the point
    inside = line[(np.abs(line[:, 0]) < 12.0) & (line[:, 1] > -50.0)]
    assert inside[:, 1].min() == pytest.approx(59.1, abs=3.0)
