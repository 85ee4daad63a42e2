"""What the windows of a page are told: the newest change, faults, the policy of every answer."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from tests.page_desk import KEY
from unroll.errors import UnrollError
from unroll.page import live
from unroll.page.live import Latest
from unroll.page.serving import serve
from unroll.page.session import Session
from unroll.page.web import HEADERS
from unroll.progress import Cancelled, Progress
from unroll.workers import Alone, Workers

DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"


def test_every_window_is_told_and_a_late_one_what_was_told_last(desk) -> None:
    async def talk() -> tuple[list[dict], list[dict]]:
        desk.windows.begin()
        early = desk.windows.events()
        await early.__anext__()
        desk.do("edit", {"path": ["owner"], "value": "Ann", "window": "one"})
        await asyncio.sleep(0.2)
        late = desk.windows.events()
        await late.__anext__()
        desk.windows.end()
        return [read(e) async for e in early], [read(e) async for e in late]

    def read(event: str) -> dict:
        return json.loads(event.removeprefix("data: "))

    early, late = asyncio.run(talk())
    for told in (early, late):
        sheets = [one for one in told if one["kind"] == "sheet"]
        assert sheets[-1]["entries"]["owner"] == "Ann" and sheets[-1]["window"] == "one"
    assert {"arm", "pieces"} <= {one["kind"] for one in early}


def test_only_the_newest_change_is_worked_on() -> None:
    done: list[int] = []

    def work(number: int) -> None:
        time.sleep(0.1)
        done.append(number)

    latest = Latest(work)
    for number in range(6):
        latest.give(number)
        time.sleep(0.01)
    time.sleep(0.5)
    latest.end()
    assert done[-1] == 5 and len(done) <= 3


def test_a_change_ends_the_slower_work_on_the_one_before(desk, monkeypatch) -> None:
    told: list[dict] = []
    desk.live._tell = told.append
    monkeypatch.setattr(live, "REST_S", 0.05)

    def endless(_live, _task, progress) -> None:
        while True:
            time.sleep(0.01)
            progress("correcting")

    monkeypatch.setattr(live.Live, "_rest", lambda *_: None)
    monkeypatch.setattr(live.Live, "_correct", endless)
    sheet = desk.session.sheet
    desk.live.show(sheet, 1)
    desk.live.ask("correct")
    time.sleep(0.3)
    desk.live.show(sheet, 2)
    time.sleep(0.6)
    ended = [one["task"] for one in told if one["kind"] == "done"]
    assert "correct" in ended and ended[-1] == "rest"
    desk.live.show(None, 3)
    assert {"kind": "waiting", "revision": 3} in told
    with pytest.raises(UnrollError, match="mend what is marked"):
        desk.live.ask("correct")


def test_work_on_other_cores_is_waited_for_only_until_it_is_given_up() -> None:
    progress, never = Progress(), Future()

    class Slow(Alone):
        def beside(self, function, *given):
            return never if given == (2,) else super().beside(function, *given)

    others = live.Givable(Slow(), progress)
    assert others.each(abs, [-1, -3]) == [1, 3]
    threading.Timer(0.1, progress.cancel).start()
    with pytest.raises(Cancelled, match="while it waited"):
        others.each(abs, [1, 2])
    assert never.cancelled()


def test_where_a_worker_is_killed_the_page_does_the_work_itself() -> None:
    class Broken:
        def submit(self, *_):
            promise = Future()
            promise.set_exception(BrokenProcessPool())
            return promise

    others = live.Givable(Workers(Broken()), Progress())
    assert others.each(abs, [-1, 2]) == [1, 2]
    assert others.kept(others.beside(abs, -3)) == 3


def test_what_cannot_be_worked_out_is_told_in_its_words(desk, monkeypatch) -> None:
    def refuse(*_: object) -> None:
        raise UnrollError("the cap is too small")

    told: list[dict] = []
    desk.live._tell = told.append
    monkeypatch.setattr(live, "sketched_arm", refuse)
    desk.live.show(desk.session.sheet, 1)
    time.sleep(0.3)
    assert [one["trouble"] for one in told if one["kind"] == "arm"] == ["the cap is too small"]


def test_a_port_that_is_taken_is_told(sheet) -> None:
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(UnrollError, match=f"port {port} cannot be used"):
            serve(Session(sheet), port=port, say=print, browse=False)


def test_every_answer_carries_the_policy(page) -> None:
    names = ("", "state", "file/page.js", "out/sheet.toml", "nowhere")
    for path in (*(f"/{KEY}/{name}" for name in names), "/"):
        answer = page.get(path)
        assert all(answer.headers[name.lower()] == value for name, value in HEADERS.items()), path
    sheet = page.get(f"/{KEY}/out/sheet.toml")
    assert sheet.text == DEMO.read_text("utf8")
    assert 'filename="sheet.toml"' in sheet.headers["content-disposition"]
