"""Settings that every test shares: repeatable examples, a fixed drawing backend."""

from __future__ import annotations

import os

# before numpy is loaded: the systems solved here are small, and one thread is quickest
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


import matplotlib
from hypothesis import HealthCheck, settings

matplotlib.use("Agg")
settings.register_profile(
    "ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("ci")
