"""What `import unroll` offers: every name leads to its function, whatever else was imported."""

from __future__ import annotations

import importlib
import pkgutil
from types import ModuleType

import pytest

import unroll


def test_no_public_name_is_that_of_a_room() -> None:
    # importing a room would put it in the function's place
    rooms = {room.name for room in pkgutil.iter_modules(unroll.__path__)}
    assert set(unroll.__all__) & rooms == {"nouns"}


@pytest.mark.parametrize("name", [name for name in unroll.__all__ if name != "__version__"])
def test_every_public_name_leads_somewhere(name: str) -> None:
    importlib.import_module("unroll.job")  # which imports most rooms
    assert isinstance(getattr(unroll, name), ModuleType) is (name == "nouns")


def test_an_unknown_name_is_told_with_those_there_are() -> None:
    with pytest.raises(AttributeError, match="unroll has no 'unrol'; it has Job, "):
        unroll.unrol  # noqa: B018
