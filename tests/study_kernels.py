"""All tests under each kernel of OpenBLAS that this processor runs: python -m tests.study_kernels.

Prints a row each: the kernel, what pytest said last, and the minutes it took. Names of kernels may
be given; words after `--` go to pytest.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time

from tests.test_kernels import ROOT, kernels


def main() -> int:
    """Run the tests under each kernel; the exit code counts those under which one failed."""
    words = sys.argv[1:]
    names, more = (words, [])
    if "--" in words:
        names, more = words[: words.index("--")], words[words.index("--") + 1 :]
    failed = 0
    print("| kernel | tests | minutes |\n|---|---|---|", flush=True)
    for kernel in names or kernels():
        start = time.monotonic()
        done = subprocess.run(
            [sys.executable, "-m", "pytest", *more],
            cwd=ROOT, capture_output=True, text=True, check=False,
            env=os.environ | {"OPENBLAS_CORETYPE": kernel, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        lines = done.stdout.splitlines()
        failed += done.returncode != 0
        said = lines[-1].split(" in ")[0] if lines else done.stderr[-200:]
        print(f"| {kernel} | {said} | {(time.monotonic() - start) / 60:.1f} |", flush=True)
        for line in lines:
            if line.startswith("FAILED"):
                print(line, file=sys.stderr, flush=True)
    return failed


if __name__ == "__main__":
    sys.exit(main())
