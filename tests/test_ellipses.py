"""Ellipses and superellipses against published values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from unroll.errors import UnrollError
from unroll.maths.ellipses import (
    angle_at_arc_fraction,
    ellipse_half_depth,
    ellipse_perimeter,
    superellipse_exponent,
    superellipse_loop,
    superellipse_perimeter,
    truncated_arc,
)


# Abramowitz & Stegun 17.3, P = 4aE(m); values derived from the formula with b = 1.
@pytest.mark.parametrize(
    ("half_width", "perimeter"),
    [(1.25, 7.09041697224), (1.45, 7.76195560788), (2.0, 9.68844822055), (5.0, 21.0100445397)],
)
def test_ellipse_perimeters_match_the_elliptic_integral(half_width, perimeter):
    assert ellipse_perimeter(half_width, 1.0) == pytest.approx(perimeter, rel=1e-11)
    assert ellipse_perimeter(1.0, half_width) == pytest.approx(perimeter, rel=1e-11)


# Abramowitz & Stegun table 17.1: E(0.36), E(0.5), E(0.75).
@pytest.mark.parametrize(
    ("m", "value"), [(0.36, 1.4180833944), (0.5, 1.3506438810), (0.75, 1.2110560276)]
)
def test_ellipse_perimeters_use_the_parameter_m_and_not_the_modulus(m, value):
    assert ellipse_perimeter(1.0, np.sqrt(1 - m)) / 4 == pytest.approx(value, abs=5e-11)


# Derived from P = 4aE(m): full axes of two girths.
@pytest.mark.parametrize(
    ("girth", "ratio", "width", "depth"),
    [(151.2, 1.45, 56.491, 38.959), (238.3, 1.25, 84.022, 67.217)],
)
def test_girth_and_ratio_give_the_axes(girth, ratio, width, depth):
    half_depth = float(ellipse_half_depth(girth, ratio))
    assert 2 * half_depth == pytest.approx(depth, abs=6e-4)  # tabled to three decimals
    assert 2 * half_depth * ratio == pytest.approx(width, abs=6e-4)


# Derived by quadrature of |x|^n + |y|^n = 1, five decimals.
@pytest.mark.parametrize(
    ("a", "b", "n", "perimeter"),
    [(1, 1, 2.5, 6.54670), (1, 1, 3, 6.74499), (1, 1, 4, 7.01770), (2, 1, 2.5, 10.02951)],
)
def test_superellipse_perimeters_match_tabled_values(a, b, n, perimeter):
    assert superellipse_perimeter(a, b, n) == pytest.approx(perimeter, abs=6e-6)
    assert superellipse_exponent(a, b, superellipse_perimeter(a, b, n)) == pytest.approx(n, 1e-9)


def test_a_superellipse_of_exponent_two_is_the_ellipse_and_of_one_the_rhombus():
    assert superellipse_perimeter(3, 2, 2.0) == pytest.approx(
        float(ellipse_perimeter(3, 2)), rel=1e-12
    )
    assert superellipse_perimeter(3, 2, 1.0) == pytest.approx(4 * np.hypot(3, 2), rel=1e-12)


def test_a_girth_that_no_oval_of_these_diameters_has_is_refused():
    with pytest.raises(UnrollError, match="an oval 59.0 by 41.0 mm has a girth of .* not 300.0"):
        superellipse_exponent(29.5, 20.5, 300.0)


@given(opening=st.floats(0.0, 3.0), ratio=st.floats(0.6, 1.7))
def test_truncated_arcs_match_plain_quadrature(opening, ratio):
    def speed(t):
        return np.sqrt((ratio * np.sin(t)) ** 2 + np.cos(t) ** 2)

    expected = quad(speed, opening - np.pi / 2, 1.5 * np.pi - opening, epsabs=1e-12)[0]
    assert truncated_arc(opening, ratio) == pytest.approx(expected, abs=1e-10)


@given(fraction=st.floats(0.0, 1.0), opening=st.floats(0.0, 3.0), ratio=st.floats(0.6, 1.7))
def test_the_angle_at_a_fraction_walks_that_fraction(fraction, opening, ratio):
    angle = float(angle_at_arc_fraction(fraction, opening, ratio))
    walked = quad(
        lambda t: np.sqrt((ratio * np.sin(t)) ** 2 + np.cos(t) ** 2),
        opening - np.pi / 2,
        angle,
        epsabs=1e-12,
    )[0]
    # 1e-9: rounding of the incomplete integral near a full turn
    assert walked == pytest.approx(fraction * float(truncated_arc(opening, ratio)), abs=1e-9)


@pytest.mark.parametrize("exponent", [2.0, 2.4])
def test_loops_are_evenly_spaced_and_close_to_their_girth(exponent):
    points = superellipse_loop(np.linspace(0, 1, 721), 29.5, 20.5, exponent)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    girth = superellipse_perimeter(29.5, 20.5, exponent)
    assert steps.sum() == pytest.approx(girth, rel=1e-5)  # chords of 1/720 turn lose 3e-6
    assert np.ptp(steps) < 2e-3 * steps.mean()
    assert points[0] == pytest.approx([0.0, -20.5], abs=1e-9)
