"""An open sheet with its page's answers, no browser and no work behind it, for tests."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from unroll.page import live
from unroll.page.session import Session
from unroll.page.web import Desk, app_of
from unroll.workers import Alone

KEY, PORT = "open-sesame", 8123
HERE = f"http://127.0.0.1:{PORT}"


@contextmanager
def idle_desk(sheet: Path) -> Iterator[Desk]:
    """Give an open sheet whose arm is not worked out."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("sketched_arm", "sketched_pieces"):
            patch.setattr(live, name, lambda *_, **__: ({"side": "left", "models": []}, None))
        patch.setattr(live, "REST_S", 1000.0)
        made = Desk(Session(sheet), Alone(), Alone())
        yield made
        made.live.end()


def client_of(desk: Desk) -> TestClient:
    """Return what asks a desk's page."""
    return TestClient(app_of(desk, key=KEY, port=PORT), base_url=HERE)
