"""Hold random bodies to what tests/test_many_arms.py asks: python tests/study_many_arms.py [n].

Bodies of fixed seeds; those that fail are named, and the exit code counts them.
"""

from __future__ import annotations

import sys
from pathlib import Path

import unroll  # noqa: F401  (first: it settles how many threads numpy may use)

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.strategies import random_measures
from tests.test_many_arms import check_arm
from unroll.errors import UnrollError


def main(count: int) -> int:
    """Check so many bodies; return how many failed."""
    failed = 0
    for seed in range(count):
        try:
            check_arm(random_measures(seed))
        except (AssertionError, UnrollError) as fault:
            failed += 1
            print(f"body {seed}: {fault}", flush=True)
    print(f"{count - failed} of {count} bodies are closed, lie flat and keep their measures")
    return failed


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
