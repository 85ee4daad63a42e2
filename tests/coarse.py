"""Jobs on coarse meshes, their steps counted: the same steps, a few seconds each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest

from unroll import arm_job
from unroll.job import Job
from unroll.nouns import MakeResult

EDGE_MM = 13.0
SIZES: dict[str, dict[str, float]] = {
    "lay_on_bench": {"edge": EDGE_MM, "spacing": EDGE_MM},
    "resewings": {"spacing": EDGE_MM},
}
STEPS = ("shape_arm", "layout_steps", "lay_on_bench", "correct", "resewings", "drafted", "_sewn")


@dataclass(frozen=True, eq=False)
class CoarseRun:
    """A job with all that it found, and how often each step was worked out for it."""

    job: Job
    result: MakeResult
    calls: Counter[str]


@contextmanager
def coarsely() -> Iterator[Counter[str]]:
    """Have jobs of this process work on meshes of 13 mm meanwhile; count their steps."""
    calls: Counter[str] = Counter()

    def counted(name: str, step: Callable[..., Any]) -> Callable[..., Any]:
        def run(*args: Any, **kwargs: Any) -> Any:
            calls[name] += 1
            return step(*args, **{**kwargs, **SIZES.get(name, {})})

        return run

    with pytest.MonkeyPatch.context() as patch:
        for name in STEPS:
            patch.setattr(arm_job, name, counted(name, getattr(arm_job, name)))
        for name in ("SPACING_MM", "HURRIED_MM"):
            patch.setattr(arm_job, name, EDGE_MM)
        yield calls
