"""The page's answers: who may ask, what is asked, what is sent."""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import AsyncIterator, Awaitable, Callable
from importlib import resources
from typing import Any

from jinja2 import Environment
from markupsafe import Markup
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from unroll.disk.sheets import LARGEST_TRACING
from unroll.errors import UnrollError
from unroll.page.drawn_arm import arm_drawing
from unroll.page.form import described
from unroll.page.live import Live
from unroll.page.outputs import KINDS, made
from unroll.page.scan_view import ScanView
from unroll.page.session import Session
from unroll.page.showing import Told
from unroll.workers import Alone

LARGEST_BODY = 100_000  # bytes of what the page sends
LARGEST_SCAN = 150_000_000  # of a scan that is handed over; a million triangles are some 90 MB
MOST_SENT = {"armhole": LARGEST_TRACING, "scan": LARGEST_SCAN, "draft": LARGEST_TRACING}
MOST_WINDOWS = 12
LONGEST_MM = 2000.0
LOOK_S = 1.0  # between looks at the file
AT_ONCE = ("cancel", "close")
STATIC = {
    "page.css": "text/css", "page.js": "text/javascript", "page_form.js": "text/javascript",
    "page_pieces.js": "text/javascript", "page_scan.js": "text/javascript",
    "page_own.js": "text/javascript",
    "viewer.js": "text/javascript", "viewer_camera.js": "text/javascript",
    "viewer_tapes.js": "text/javascript",
}  # fmt: skip
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """Lets in only the page itself: this machine's name, its own origin, the key in the address.

    Parameters
    ----------
    app : ASGI application
    key : str
    port : int
    """

    def __init__(self, app: ASGIApp, *, key: str, port: int) -> None:
        self.app, self.key = app, key
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # there are no web sockets here

        async def send_with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        refused = self._refused(scope)
        answer = Response(refused, 403) if refused else self.app
        await answer(scope, receive, send_with_policy)

    def _refused(self, scope: Scope) -> str:
        request = Request(scope)
        if request.headers.get("host", "") not in self.hosts:
            return "this page answers to its own machine's name only"
        origin = request.headers.get("origin")
        if origin is not None and origin not in self.origins:
            return "this page answers to itself only"
        if request.headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return "this page answers to itself only"
        key = request.url.path.split("/")[1]
        if not secrets.compare_digest(key.encode(), self.key.encode()):
            return "the address lacks its key; use the one that unroll open prints"
        size, most = request.headers.get("content-length", "0"), _most(request)
        if not size.isdecimal() or int(size) > most:
            return f"what was sent is too large; expected at most {most} bytes"
        return ""


def _most(request: Request) -> int:
    """Return how many bytes may be sent: a file is more than what is typed."""
    what = request.url.path.split("/")[2:3]
    return MOST_SENT.get(what[0], LARGEST_BODY) if what else LARGEST_BODY


class Windows:
    """The open windows: each is told everything, and one that opens later what was told last."""

    def __init__(self) -> None:
        self._queues: set[asyncio.Queue[Told | None]] = set()
        self._last: dict[tuple[str, str], Told] = {}
        self._loop: asyncio.AbstractEventLoop | None = None

    def begin(self) -> None:
        """Remember the loop that they are served in."""
        self._loop = asyncio.get_running_loop()

    def tell(self, told: Told) -> None:
        """Tell every window; from any thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._pass_on, told)

    def _pass_on(self, told: Told) -> None:
        if told["kind"] in ("corrected", "pieces", "waiting"):
            for kind in ("corrected", "pieces", "ready"):
                self._last.pop((kind, told.get("side", "")), None)
        place = told["kind"], told.get("side", "")
        self._last.pop(place, None)  # what was told last stands last
        self._last[place] = told
        for queue in self._queues:
            queue.put_nowait(told)

    def end(self) -> None:
        """Let every window go."""
        for queue in self._queues:
            queue.put_nowait(None)

    async def events(self) -> AsyncIterator[str]:
        """Yield what a new window is told, as server-sent events."""
        queue: asyncio.Queue[Told | None] = asyncio.Queue()
        for told in self._last.values():
            queue.put_nowait(told)
        self._queues.add(queue)
        try:
            yield ": here\n\n"
            while (found := await queue.get()) is not None:
                yield f"data: {json.dumps(found, separators=(',', ':'))}\n\n"
        finally:
            self._queues.discard(queue)

    @property
    def is_full(self) -> bool:
        """Whether no more windows are let in."""
        return len(self._queues) >= MOST_WINDOWS


class Desk:
    """One open sheet with its windows; every change goes through here."""

    def __init__(self, session: Session, quick: Alone, others: Alone) -> None:
        self.session, self.windows = session, Windows()
        self.close: Callable[[], None] = lambda: None
        self.live = Live(self.windows.tell, quick, others)
        self.turn = asyncio.Lock()  # of whoever reads or changes the sheet: a scan takes seconds
        self._scan = ScanView()
        self._shown = -1

    async def watch(self) -> None:
        """Look at the file now and then, as long as the page is open."""
        self.windows.begin()
        self.changed()
        while True:
            await asyncio.sleep(LOOK_S)
            async with self.turn:
                if self.session.look_outside():
                    self.changed()

    def changed(self, window: str = "") -> None:
        """Tell the windows of the sheet, and have its arm worked out where it is another."""
        self.windows.tell({"kind": "sheet", "window": window, **self.session.told()})
        if self._shown != self.session.revision:
            self._shown = self.session.revision
            self.live.show(self.session.sheet, self.session.revision)
            if scan := self._scan.told(self.session.sheet, self.session.entries):
                self.windows.tell(scan)

    async def keep(self, keep: Callable[[], Any], take: Callable[[Any], None]) -> None:
        """Keep a file, and have the sheet name what it is kept as.

        Raises
        ------
        UnrollError
            When it cannot be used.
        """
        async with self.turn:  # one at a time, for each chooses a name that no other has
            name = await run_in_threadpool(keep)
            await run_in_threadpool(take, name)
            self.changed()

    # ---- what a window may ask

    async def answer(self, what: str, given: dict[str, Any]) -> None:
        """Do one thing after the other; what ends work does not wait for it."""
        if what in AT_ONCE:
            self.do(what, given)
            return
        async with self.turn:
            await run_in_threadpool(self.do, what, given)

    def do(self, what: str, given: dict[str, Any]) -> None:
        """Do one thing.

        Raises
        ------
        UnrollError
            When it cannot be done, or there is no such thing.
        """
        session, live = self.session, self.live
        deeds: dict[str, Callable[[], None]] = {
            "edit": lambda: session.edit(_path(given), _text(given, "value")),
            "darts": lambda: session.fix_darts(_darts(given)),
            "part": session.part_arms, "join": session.join_arms,
            "undo": session.undo, "redo": session.redo, "unscan": lambda: session.take_scan(""),
            "take": session.take_outside, "keep": session.keep_mine,
            "correct": lambda: live.ask("correct"), "trial": lambda: live.ask("trial"),
            "own": lambda: live.ask("own", files=session.draft),
            "print": lambda: live.ask("print", _text(given, "paper")),
            "cancel": live.cancel, "close": lambda: self.close(),
        }  # fmt: skip
        if what not in deeds:
            raise UnrollError("the page asked for something that there is not")
        deeds[what]()
        self.changed(str(given.get("window", ""))[:40])


def _path(given: dict[str, Any]) -> tuple[str | int, ...]:
    path = given.get("path")
    if not isinstance(path, list) or not 1 <= len(path) <= 4:
        raise UnrollError("the page sent no entry")
    if not all(isinstance(part, str | int) for part in path):
        raise UnrollError("the page sent no entry")
    return tuple(path)


def _text(given: dict[str, Any], name: str) -> str:
    value = given.get(name, "")
    if not isinstance(value, str):
        raise UnrollError(f"the page sent no text as {name}")
    return value


def _darts(given: dict[str, Any]) -> list[tuple[float, float]]:
    """Return place and length of each dart, mm."""
    rows = given.get("darts")
    if not isinstance(rows, list) or len(rows) > 4:
        raise UnrollError("the page sent no darts; expected at most four")
    pairs = [row if isinstance(row, list) else [] for row in rows]
    if not all(len(pair) == 2 and all(_is_length(part) for part in pair) for pair in pairs):
        raise UnrollError("the page sent a dart that is none; expected its place and length, mm")
    return [(float(at), float(length)) for at, length in pairs]


def _is_length(value: object) -> bool:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return is_number and -LONGEST_MM < value < LONGEST_MM  # type: ignore[operator]


def app_of(desk: Desk, *, key: str, port: int) -> ASGIApp:
    """Return the page as an application.

    Parameters
    ----------
    desk : Desk
    key : str
        What every address begins with.
    port : int
        Where it is served.
    """
    page, drawing, session = _page(desk), asyncio.Lock(), desk.session

    async def home(_: Request) -> Response:
        return HTMLResponse(page)

    async def static(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in STATIC:
            return Response("there is no such file", 404)
        return Response(_data(name), media_type=STATIC[name])

    async def state(_: Request) -> Response:
        return JSONResponse(desk.session.told())

    async def events(_: Request) -> Response:
        if desk.windows.is_full:
            return Response("too many windows", 429)
        return StreamingResponse(desk.windows.events(), media_type="text/event-stream")

    async def do(request: Request) -> Response:
        if request.headers.get("content-type", "").split(";")[0] != "application/json":
            return Response("expected application/json", 415)
        try:
            given = json.loads(await _body(request))
            if not isinstance(given, dict):
                raise UnrollError("the page sent something else than was expected")
            await desk.answer(request.path_params["what"], given)
        except UnrollError as error:
            return JSONResponse({"trouble": str(error)}, 422)
        except (ValueError, RecursionError):
            return JSONResponse({"trouble": "what was sent cannot be read"}, 400)
        return JSONResponse(desk.session.told())

    def taken(
        keep: Callable[[str, bytes], Any], take: Callable[[str, Any], None]
    ) -> Callable[[Request], Awaitable[Response]]:
        async def file(request: Request) -> Response:
            if request.headers.get("content-type", "") != "application/octet-stream":
                return Response("expected application/octet-stream", 415)
            which = request.path_params["which"]
            try:
                raw = await _body(request)
                await desk.keep(lambda: keep(which, raw), lambda name: take(which, name))
            except UnrollError as error:
                return JSONResponse({"trouble": str(error)}, 422)
            return JSONResponse(session.told())

        return file

    async def out(request: Request) -> Response:
        name, found, own = request.path_params["name"], desk.live.found, desk.live.own
        try:
            async with drawing:  # one at a time: what draws them is not made for more
                content, kind = await run_in_threadpool(made, name, session, found, own)
        except UnrollError as error:
            return Response(str(error), 404)
        shown = {} if name in KINDS and kind.startswith("image") else {
            "Content-Disposition": f'attachment; filename="{name}"'
        }  # fmt: skip
        return Response(content, headers=shown, media_type=kind)

    inner = Starlette(routes=[Mount("/{key}", routes=[
        Route("/", home), Route("/file/{name}", static), Route("/state", state),
        Route("/events", events), Route("/do/{what}", do, methods=["POST"]),
        Route("/armhole/{which}", taken(session.keep_tracing, session.take_tracing),
              methods=["POST"]),
        Route("/scan/{which}", taken(session.keep_scan, lambda _, name: session.take_scan(name)),
              methods=["POST"]),
        Route("/draft/{which}", taken(session.keep_draft, lambda *_: None), methods=["POST"]),
        Route("/out/{name}", out),
    ])])  # fmt: skip
    return Guard(inner, key=key, port=port)


async def _body(request: Request) -> bytes:
    """Return what was sent, and no more than is let in."""
    got, size, most = [], 0, _most(request)
    async for part in request.stream():
        got.append(part)
        size += len(part)
        if size > most:
            raise UnrollError(f"what was sent is too large; expected at most {most} bytes")
    return b"".join(got)


def _data(name: str) -> str:
    return resources.files("unroll").joinpath("data").joinpath(name).read_text(encoding="utf-8")


def _page(desk: Desk) -> str:
    """Return the page itself; what changes is sent to it afterwards."""
    template = Environment(autoescape=True).from_string(_data("open.html.j2"))
    form = json.dumps(described(desk.session.unit)).replace("<", "\\u003c")
    return template.render(
        form=Markup(form), file=desk.session.file.path.name, drawing=arm_drawing(),
        most=LARGEST_TRACING, most_scan=LARGEST_SCAN,
    )
