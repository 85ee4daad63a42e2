"""The fitted cap: many caps at once, and the slopes that its fit follows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from tests.samples import sample_measures
from unroll.arms.cap import Cap, _central_slopes, _slopes, fit_cap
from unroll.arms.plate import plate_of
from unroll.nouns import Stance

STANCES = (Stance(), Stance(underarm_inside=18.0, underarm_behind=6.0, front_inside=9.0))


@pytest.fixture(scope="module", params=STANCES, ids=("upright", "leaning"))
def cap(request: pytest.FixtureRequest) -> Cap:
    measures = sample_measures()
    return fit_cap(measures, plate_of(measures.armhole, request.param))


def test_many_caps_at_once_are_each_as_alone(cap: Cap) -> None:
    random = np.random.default_rng(3)
    numbers = cap.coefficients + 0.03 * random.normal(size=(5, len(cap.coefficients)))
    fullness = cap.fullness + 0.03 * random.normal(size=(5, 2))
    many = replace(cap, coefficients=numbers, fullness=fullness)
    ups, angles = np.array([25.0, 60.0, 90.0]), np.linspace(0.2, 3.0, 7)
    for k, (own, full) in enumerate(zip(numbers, fullness, strict=True)):
        one = replace(cap, coefficients=own, fullness=full)
        assert many.height[k] == pytest.approx(one.height, rel=1e-12)
        assert many.underarm_girth[k] == pytest.approx(one.underarm_girth, rel=1e-12)
        assert many.taped_arcs(ups)[k] == pytest.approx(one.taped_arcs(ups), rel=1e-12)
        assert many.profile(angles)[k] == pytest.approx(one.profile(angles), rel=1e-12)
        assert many.arc(angles)[k] == pytest.approx(one.arc(angles), rel=1e-12)


def test_a_cap_height_is_the_length_of_its_middle_line_down_to_the_underarm(cap: Cap) -> None:
    """Summed here over fine steps, as far as they lie above the underarm in the room."""
    angles = np.linspace(1e-6, np.pi, 20_000)
    line = np.column_stack([cap.plate.middle(angles), cap.profile(angles)])
    line = np.vstack([line, line[-1] - cap.plate.height * cap.plate.up])  # and straight down
    heights = (line - cap.plate.underarm) @ cap.plate.up
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    shares = np.clip(heights[:-1] / (heights[:-1] - heights[1:]), 0.0, 1.0)
    assert cap.height == pytest.approx((shares * steps).sum(), abs=0.05)


def test_slopes_are_those_of_a_general_library() -> None:
    """scipy's derivative by differences, one step at a time."""
    def function(x: np.ndarray) -> np.ndarray:
        return np.stack([np.sin(x[..., 0]) * x[..., 1], x[..., 1] ** 3, x.sum(axis=-1)], axis=-1)

    at = np.array([0.7, -2.0])
    exact = np.array([[-2.0 * np.cos(0.7), np.sin(0.7)], [0.0, 12.0], [1.0, 1.0]])
    assert _slopes(function, at) == pytest.approx(approx_fprime(at, function), abs=1e-6)
    assert _central_slopes(function, at) == pytest.approx(exact, abs=1e-9)
