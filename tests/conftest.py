"""Settings that every test shares: repeatable examples, a fixed drawing backend."""

from __future__ import annotations

import os

# before numpy is loaded: the systems solved here are small, and one thread is quickest
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


import matplotlib
import pytest
from hypothesis import HealthCheck, settings

from tests.samples import sample_measures
from unroll.arms.lofting import shape_arm
from unroll.correct.loop import close_loop
from unroll.nouns import Cloth, DartLine, Make
from unroll.nouns.corrected import Closing

matplotlib.use("Agg")
settings.register_profile(
    "ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("ci")


@pytest.fixture(scope="session")
def quick_closing() -> Closing:
    """The sample arm's corrected pieces with two darts, on a coarse mesh."""
    darts = (DartLine(25.2, 123.0), DartLine(-25.2, 123.0))
    shape = shape_arm(sample_measures())
    return close_loop(shape, Make(), Cloth(), darts, edge=13.0, spacing=13.0)
