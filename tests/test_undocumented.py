"""Libraries loaded without their documentation work as ever."""

from __future__ import annotations

import inspect
import os
import subprocess
import sys
from pathlib import Path

import pytest

from unroll.undocumented import undocumented

ROOT = Path(__file__).parent.parent
LOADED = """
from contextlib import nullcontext
from unroll.undocumented import undocumented

with {how}():
    from scipy.optimize import brentq
    from scipy.special import ellipe

print(brentq(lambda x: x * x - 2.0, 0.0, 2.0), ellipe(0.5))
"""


def test_nobody_is_told_of_documentation_for_the_while() -> None:
    asked = inspect.getdoc
    with undocumented():
        assert inspect.getdoc(undocumented) is None
        with undocumented():
            assert inspect.getdoc(undocumented) is None
        assert inspect.getdoc(undocumented) is None
    assert inspect.getdoc is asked and "meanwhile" in str(inspect.getdoc(undocumented))
    with pytest.raises(ValueError, match="on the way"), undocumented():
        raise ValueError("on the way")
    assert inspect.getdoc is asked


def test_what_is_loaded_so_computes_the_same() -> None:
    told = [
        subprocess.run(
            [sys.executable, "-c", LOADED.format(how=how)], capture_output=True, text=True,
            timeout=60, check=True, env=os.environ | {"PYTHONPATH": str(ROOT)},
        ).stdout
        for how in ("nullcontext", "undocumented")
    ]  # fmt: skip
    assert told[0] == told[1]
    root, quarter = map(float, told[1].split())
    assert root == pytest.approx(2**0.5)
    # Abramowitz and Stegun, table 17.1, complete elliptic integral E(m = 0.5); from memory
    assert quarter == pytest.approx(1.350643881, abs=1e-9)
