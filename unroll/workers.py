"""Work on other cores: the same functions, the same answers in the same order."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import wait
from typing import Any

# What workers are asked for: to search, sew and draw. Loaded once, while the first process lofts.
PRELOADED = ["unroll.job", "unroll.disk.outputs", "unroll.disk.print_files"]


class Alone:
    """No other core: everything is done here and now."""

    def each(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """Return the function's answer to each item, in order."""
        return [function(item) for item in items]

    def beside(self, function: Callable[..., Any], *given: Any) -> Future[Any]:
        """Return the promise of an answer; here it is kept at once.

        Examples
        --------
        >>> Alone().beside(max, 3, 5).result()
        5
        """
        return _kept(function, given)


class Workers(Alone):
    """Processes of this machine that work beside this one."""

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool

    def each(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """Return the function's answer to each item, in order, worked out side by side."""
        items = list(items)
        try:
            return list(self._pool.map(function, items))
        except BrokenProcessPool:  # a worker was killed, for want of memory perhaps
            return super().each(function, items)

    def beside(self, function: Callable[..., Any], *given: Any) -> Future[Any]:
        """Return the promise of an answer that another core works out meanwhile."""
        try:
            return self._pool.submit(function, *given)
        except BrokenProcessPool:
            return super().beside(function, *given)


@contextmanager
def workers(count: int | None = None) -> Iterator[Alone]:
    """Give workers on `count` cores, by default all of this machine's, four at most.

    They end with this process, however it ends, and leave a request to stop to it.
    """
    count = min(_cores(), 4) if count is None else count
    if count < 2:
        yield Alone()
        return
    # A server that forks has loaded everything once, and no thread of ours is forked with it.
    way = "spawn" if sys.platform == "win32" else "forkserver"
    context = multiprocessing.get_context(way)
    if way == "forkserver":
        context.set_forkserver_preload(PRELOADED)
    pool = ProcessPoolExecutor(max_workers=count, mp_context=context, initializer=_begin)
    try:
        for _ in range(count):
            pool.submit(os.getpid)  # they start while the sheet is still being read
        yield Workers(pool)
    except BaseException:
        for worker in multiprocessing.active_children():
            worker.terminate()  # nobody waits for their answers any more
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _begin() -> None:
    """Leave Ctrl-C to the process that started this one, and end when that has ended."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _kept(function: Callable[..., Any], given: tuple[Any, ...]) -> Future[Any]:
    future: Future[Any] = Future()
    try:
        future.set_result(function(*given))
    except Exception as fault:
        future.set_exception(fault)
    return future
