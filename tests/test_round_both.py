"""The tape round the double and both arms."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from tests.samples import sample_measures
from unroll.errors import UnrollError
from unroll.nouns import Double, Mesh
from unroll.sewn.round_both import taped_round_both
from unroll.sheets.reading import read_sheet

RADIUS, BETWEEN = 45.0, 350.0
MEASURES = sample_measures()


def cylinder(side: float = 1.0, top: float = 20.0) -> Mesh:
    """An upright arm, round, touching the armhole's plane y = 0."""
    solid = trimesh.creation.cylinder(RADIUS, 400.0, sections=360)
    solid.apply_translation([0.0, side * RADIUS, top - 200.0])
    return Mesh(solid.vertices, solid.faces)


def taped(mesh: Mesh, **double: float) -> float:
    return taped_round_both({"it": mesh}, MEASURES, Double(BETWEEN, **double))["it"]


def test_round_two_cylinders_the_tape_reads_what_geometry_says() -> None:
    """Two straights and two half circles."""
    expected = 2.0 * (BETWEEN + 2.0 * RADIUS) + 2.0 * np.pi * RADIUS
    assert taped(cylinder()) == pytest.approx(expected, rel=1e-4)  # a polygon of 360 corners
    assert taped(cylinder(), depth=2.0 * RADIUS) == pytest.approx(expected, rel=1e-4)


def test_a_deep_double_lengthens_the_tape_and_a_right_arm_reads_as_a_left() -> None:
    assert taped(cylinder(), depth=240.0) > taped(cylinder()) + 20.0
    right = replace(MEASURES, side="right")
    got = taped_round_both({"it": cylinder(-1.0)}, right, Double(BETWEEN))["it"]
    assert got == pytest.approx(taped(cylinder()), rel=1e-9)


def test_an_arm_that_ends_above_the_tape_is_refused() -> None:
    with pytest.raises(UnrollError, match="does not reach .* mm below the shoulder point"):
        taped(cylinder(top=420.0))


def test_the_sheet_tells_the_double_and_its_faults() -> None:
    text = Path("meshes/few_measures.toml").read_text("utf8")
    sheet = read_sheet(f'{text}\n[double]\nbetween_armholes = "350 mm"\ndepth = "210 mm"\n')
    assert sheet.double == Double(350.0, 210.0)
    assert read_sheet(text).double is None
    with pytest.raises(UnrollError, match="depth stands without between_armholes"):
        read_sheet(f'{text}\n[double]\ndepth = "210 mm"\n')
