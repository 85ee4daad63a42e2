"""Serves the page on this machine alone, and opens it in the maker's browser."""

from __future__ import annotations

import asyncio
import secrets
import socket
import sys
import webbrowser
from collections.abc import Callable
from contextlib import suppress

import uvicorn

from unroll.errors import UnrollError
from unroll.page.session import Session
from unroll.page.web import Desk, app_of
from unroll.workers import workers

HERE = "127.0.0.1"  # this machine; nobody else's packets reach it
CORES = 2
BEHIND = 4  # niceness of the slower work, which steps back while she types
HAND_OVER_S = 0.001  # until busy threads let the page's answers through; usually five times that
LOADED = ("unroll.page.sketching",)  # what other cores are asked for first


def serve(session: Session, *, port: int, say: Callable[[str], None], browse: bool) -> None:
    """Serve a sheet's page until it is closed, or Ctrl-C is pressed.

    Parameters
    ----------
    session : Session
    port : int
        0 for any that is free.
    say : callable
        Is given the address, once the page can be opened.
    browse : bool
        Whether it is opened in the browser.

    Raises
    ------
    UnrollError
        When the port is taken.
    """
    sys.setswitchinterval(HAND_OVER_S)
    with (
        suppress(_Ended, KeyboardInterrupt), _listener(port) as listener,
        workers(CORES, loads=LOADED) as quick,
        workers(CORES, niceness=BEHIND, loads=LOADED) as others,
    ):  # fmt: skip
        _serve(Desk(session, quick, others), listener, say, browse)
        raise _Ended  # nobody waits for what the other cores still do: they are ended


class _Ended(Exception):
    """The page was closed."""


def _serve(
    desk: Desk, listener: socket.socket, say: Callable[[str], None], browse: bool
) -> None:
    port, key = listener.getsockname()[1], secrets.token_urlsafe(24)
    server = uvicorn.Server(uvicorn.Config(
        app_of(desk, key=key, port=port), log_level="warning", lifespan="off", access_log=False,
        ws="none", timeout_graceful_shutdown=2, server_header=False,
        h11_max_incomplete_event_size=16384,
    ))  # fmt: skip
    desk.close = lambda: setattr(server, "should_exit", True)
    address = f"http://{HERE}:{port}/{key}/"
    say(address)
    if browse:
        webbrowser.open(address)
    try:
        asyncio.run(_run(server, desk, listener))
    finally:
        desk.live.end()


async def _run(server: uvicorn.Server, desk: Desk, listener: socket.socket) -> None:
    watching = asyncio.create_task(desk.watch())
    leaving = asyncio.create_task(_let_go(server, desk))
    try:
        await server.serve(sockets=[listener])
    finally:
        watching.cancel()
        leaving.cancel()


async def _let_go(server: uvicorn.Server, desk: Desk) -> None:
    """Let the windows go as soon as the server is asked to stop: it would wait for them."""
    while not server.should_exit:
        await asyncio.sleep(0.1)
    desk.windows.end()


def _listener(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would let two programs share a port
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HERE, port))
        listener.listen(64)  # whoever comes at once waits until the page is there
    except OSError as error:
        listener.close()
        raise UnrollError(
            f"port {port} cannot be used: {error.strerror}; choose another with --port, or leave "
            "it out (is the page open already?)"
        ) from None
    return listener
