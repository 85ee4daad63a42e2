"""Where the cap of a maker's own outer piece ends when no corner is drawn there."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from unroll.disk.sheets import load_sheet
from unroll.drafts import own_ends
from unroll.drafts.drafting import draft
from unroll.drafts.own_corners import corners_of, darts_of, wrist_corners
from unroll.drafts.own_ends import OuterOutline, apart_from_mirrored, with_cap_ends

MESHES = Path(__file__).parents[1] / "meshes"
REACH_MM = 8.0  # that corners of photographed pieces are told over


def off_and_told(name: str, manner: str) -> tuple[list[float], tuple[str, ...]]:
    """Return how far off both ends of a flat draft's cap are found, mm, and what is told."""
    sheet = load_sheet(MESHES / f"{name}.toml")
    pieces = {p.name: p for p in draft(sheet.arms[0], sheet.make, manner=manner)}
    outer, points = pieces["outer"], pieces["outer"].outline
    corners = corners_of(points, reach=REACH_MM)
    wrist = np.array(wrist_corners(points, corners, what="the outer"))
    none = np.array([], dtype=int)
    outline = OuterOutline(points, corners, none, darts_of(points, corners), wrist)
    found, told = with_cap_ends(outline, pieces["inner"], pieces["armhole base"])
    starts = {side.seam: side.points for side in reversed(outer.sides)}
    wanted = [starts["front seam"][0], starts["back seam"][-1]]
    return list(np.linalg.norm(found.points[found.ends] - wanted, axis=1)), told


@pytest.mark.parametrize("name", ["few_measures", "two_arms"])
@pytest.mark.parametrize("manner", ["ease", "darts"])
def test_a_cap_ends_where_its_curve_turns_straight(name: str, manner: str) -> None:
    off, told = off_and_told(name, manner)
    assert max(off) < 1.5
    assert told == (
        "outer: its front seam ends where the cap's curve passes into a straight line",
        "outer: its back seam ends where the cap's curve passes into a straight line",
    )


def test_a_cap_that_runs_on_into_curved_sides_ends_where_it_mirrors_itself(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    off, told = off_and_told("demo", "darts")
    assert max(off) < 1.0  # measured 0.3
    assert [line.split(" ends ", 1)[1] for line in told] == [own_ends.MIRRORED] * 2
    monkeypatch.setattr(own_ends, "ALIKE_WITHIN_DEG", 0.0)
    off, told = off_and_told("demo", "darts")
    assert max(off) > 2.0
    assert [line.split(" ends ", 1)[1] for line in told] == [own_ends.AS_INNER, own_ends.BY_ARMHOLE]


def cap(turns: np.ndarray) -> np.ndarray:
    """Return a closed outline: a line that turns so at every mm, degrees, and a way back below."""
    heading = np.radians(np.cumsum(turns))
    steps = np.stack([np.cos(heading), np.sin(heading)], axis=1)
    line = np.concatenate([[[0.0, 0.0]], np.cumsum(steps, axis=0)[:-1]])
    low = line[:, 1].min() - 400.0
    return np.concatenate([line, [[line[-1, 0], low], [line[0, 0], low]]])[::-1]


@pytest.mark.parametrize(("front", "back"), [(0.0, 0.0), (4.0, 0.0), (-3.0, 5.0)])
def test_mirrored_ends_tell_how_far_apart_two_places_are_from_them(
    front: float, back: float
) -> None:
    x = np.arange(-200, 201)
    bend = np.exp(-(((np.abs(x) - 140) / 14.0) ** 2)) - 0.8 * np.exp(
        -(((np.abs(x) - 60) / 30.0) ** 2)
    )
    outline = cap(bend)
    whole = np.linalg.norm(np.diff(outline, axis=0, append=outline[:1]), axis=1)
    start = float(whole[:2].sum())  # the outline's first two points lie below
    # anticlockwise the cap runs from back to front: its ends lie 60 mm inside both ends
    ends = start + 400.0 - 60.0 + front, start + 60.0 + back
    found = apart_from_mirrored(outline, *ends)
    assert found == pytest.approx(front + back, abs=0.75)


def test_ends_that_are_not_alike_tell_nothing() -> None:
    x = np.arange(-200, 201)
    bend = np.where(x < 0, np.exp(-(((x + 140) / 14.0) ** 2)), 0.4 * np.sin(x / 9.0) ** 2)
    outline = cap(bend)
    start = float(np.linalg.norm(np.diff(outline[:3], axis=0), axis=1).sum())
    assert apart_from_mirrored(outline, start + 340.0, start + 60.0) is None
