"""What the maker is promised: each figure of the sewn arm, its limit, and what is said of it."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from unroll.nouns.fit import FIGURES, shortfall, verdicts_of, worst_share

# The promise, written here by hand: limit and finest part of each.
PROMISED = {
    "worst_girth_percent": (0.3, 0.1), "swing_deg": (0.5, 0.1), "elbow_mm": (4.0, 1.0),
    "wrist_mm": (3.0, 1.0), "cap_mean_mm": (1.5, 0.5), "cap_p95_mm": (4.0, 0.5),
}  # fmt: skip


def seen(share: float, **other: float) -> SimpleNamespace:
    """What is judged, each figure at a share of its limit."""
    values = {figure.attribute: share * PROMISED[figure.key][0] for figure in FIGURES}
    return SimpleNamespace(**(values | other))


def test_the_limits_are_those_promised() -> None:
    assert {figure.key: (figure.limit, figure.finest) for figure in FIGURES} == PROMISED
    assert len({figure.name for figure in FIGURES} | {figure.heading for figure in FIGURES}) == 12


def test_a_figure_at_its_limit_is_within_it_and_needs_no_help() -> None:
    for verdict in verdicts_of(seen(1.0), "more darts"):
        assert verdict.is_met and verdict.help == ""
        assert verdict.limit == PROMISED[verdict.figure.key][0] == verdict.value


def test_what_is_beyond_its_limit_alone_is_helped() -> None:
    found = verdicts_of(seen(0.5, wrist_mm=3.01), "more darts")
    told = {verdict.figure.key: (verdict.is_met, verdict.help) for verdict in found}
    assert told.pop("wrist_mm") == (False, "more darts")
    assert set(told.values()) == {(True, "")}


def test_the_worst_counts_by_its_share_of_its_limit() -> None:
    assert [figure.share(seen(0.7)) for figure in FIGURES] == pytest.approx([0.7] * len(FIGURES))
    assert worst_share(seen(0.5)) == pytest.approx(0.5)
    assert worst_share(seen(0.5, swing_deg=0.6)) == pytest.approx(1.2)
    assert worst_share(seen(0.5, elbow_mm=8.4)) == pytest.approx(2.1)
    assert shortfall(seen(0.5, elbow_mm=8.4)) > shortfall(seen(0.5, swing_deg=0.6))
    assert shortfall(seen(0.9)) > shortfall(seen(0.5))
