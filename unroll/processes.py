"""Processes that work for this one: how they begin, are watched, and end."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager, suppress
from multiprocessing.connection import wait

from unroll.garbage import look_seldom

WATCHED_EVERY_S = 1.0
CLEARING_SECONDS = 2.0  # until a process whose parent is gone ends, cleared away or not


def context_of(*loads: str) -> multiprocessing.context.BaseContext:
    """Return how processes begin; where they fork, it is from a server that has loaded modules.

    Everything is loaded once, and no thread of ours is forked with it. The server is begun deaf to
    Ctrl-C, which it would only hear once it has loaded everything.
    """
    if sys.platform == "win32":
        return multiprocessing.get_context("spawn")
    from multiprocessing import forkserver, resource_tracker  # which Windows has not

    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(loads))
    resource_tracker.ensure_running()  # by itself the server would begin it, and hear again after
    heard = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, heard)
    return context


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def begin(niceness: int = 0) -> None:
    """Leave Ctrl-C to the process that started this one, and end when that has ended."""
    if hasattr(os, "nice"):
        os.nice(niceness)
    look_seldom()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def begin_orderly() -> None:
    """Begin as `begin` does; a request to end leaves time to clear half a folder away."""
    begin()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        if signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL:
            os.kill(os.getpid(), signal.SIGTERM)
            time.sleep(CLEARING_SECONDS)
        os._exit(1)


@contextmanager
def watched(pool: ProcessPoolExecutor) -> Iterator[None]:
    """Have a pool's workers watched meanwhile: one that the system ends leaves nobody waiting."""
    over = threading.Event()
    watching = threading.Thread(target=_watch, args=(pool, over), daemon=True)
    watching.start()
    try:
        yield
    finally:
        over.set()
        watching.join()  # the pool is about to close what this may be closing


def _watch(pool: ProcessPoolExecutor, over: threading.Event) -> None:
    """End all workers once one of them was killed, by the system for want of memory perhaps.

    The pool does so itself and at once, unless that one was just sending its answer: then it reads
    on until nobody can write, which this process itself could, and whoever waits would wait for
    ever. The pool offers no public way to its workers.
    """
    is_one_dead = False
    while not over.wait(WATCHED_EVERY_S) and not getattr(pool, "_broken", False):
        known = list((getattr(pool, "_processes", None) or {}).values())
        if is_one_dead:  # for a while, and the pool has not noticed
            for worker in known:
                worker.terminate()
            end_answers(pool)
            return
        is_one_dead = any(worker.exitcode is not None for worker in known)


def end_all(starting: threading.Thread) -> None:
    """End every worker, one that is just beginning too.

    One that is ended may take the lock with it by which workers ask for work: another that came
    after it would wait for ever, and the pool for that.
    """
    while True:
        is_last = not starting.is_alive()
        for worker in multiprocessing.active_children():
            worker.terminate()
        if is_last:
            return
        starting.join(0.01)


def end_answers(pool: ProcessPoolExecutor) -> None:
    """Have an answer that a worker was sending as it ended come to an end too.

    The pool reads on until nobody can write, and this process itself could: it would wait for
    ever. The pool offers no public way to its pipe.
    """
    with suppress(AttributeError, OSError):
        pool._result_queue._writer.close()  # type: ignore[attr-defined]
