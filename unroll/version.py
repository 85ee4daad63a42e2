"""The tool's version, as the package's metadata gives it."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("unroll")
except PackageNotFoundError:  # run from a checkout that was never installed
    VERSION = "0"
