"""Work on other cores: the same functions, the same answers in the same order."""

from __future__ import annotations

import importlib
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, TypeVar

from unroll.errors import UnrollError
from unroll.processes import begin, context_of, cores, end_all, end_answers, watched
from unroll.undocumented import undocumented

# What searches and sews, which workers are asked for first: loaded by the process that they are
# forked from, while this one reads the sheet and lofts.
PRELOADED = ("unroll.worker_modules",)
DRAWING = ("unroll.disk.outputs", "unroll.disk.print_files")  # what they are asked for at the end

S = TypeVar("S")
T = TypeVar("T")
# Runs a function on each item, here (`map`) or on other cores; answers come in the items' order.
Each = Callable[[Callable[..., Any], Iterable[Any]], Iterable[Any]]


@dataclass(eq=False)
class Promise:
    """An answer that another core works out; should that core be lost, it is worked out here.

    Attributes
    ----------
    future : Future
        Of the other core, or of what was worked out here instead.
    function : callable
        What is worked out.
    given : tuple
        What it is called with.
    """

    future: Future[Any]
    function: Callable[..., Any]
    given: tuple[Any, ...]

    def done(self) -> bool:
        """Tell whether the other core has ended its work."""
        return self.future.done()

    def cancel(self) -> bool:
        """Give the work up where it has not begun, and tell whether that was so."""
        return self.future.cancel()

    def take_back(self) -> bool:
        """Work it out here where that has not begun elsewhere, and tell whether that was so."""
        if not self.cancel():
            return False
        self.future = _kept(self.function, self.given)
        return True

    def result(self) -> Any:
        """Wait for the answer and return it; a fault is raised here."""
        try:
            return self.future.result()
        except BrokenProcessPool:  # a worker was killed, for want of memory perhaps
            return self.function(*self.given)


def _kept(function: Callable[..., Any], given: tuple[Any, ...]) -> Future[Any]:
    future: Future[Any] = Future()
    try:
        future.set_result(function(*given))
    except Exception as fault:
        future.set_exception(fault)
    return future


class Alone:
    """No other core: everything is done here and now."""

    def each(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """Return the function's answer to each item, in order."""
        return [function(item) for item in items]

    def beside(self, function: Callable[..., Any], *given: Any) -> Promise:
        """Return the promise of an answer; here it is kept at once.

        Examples
        --------
        >>> Alone().beside(max, 3, 5).result()
        5
        """
        return Promise(_kept(function, given), function, given)

    def kept(self, promise: Promise) -> Any:
        """Return what a promise comes to."""
        return promise.result()

    def pair(
        self, here: Callable[[], S], there: Callable[..., T], *given: Any
    ) -> tuple[S, T]:
        """Return what is worked out here, and what another core works out meanwhile."""
        return here(), there(*given)

    def meanwhile(self, work: Callable[[], object]) -> None:
        """Have something done here the next time that an answer is waited for.

        Whoever needs it does it, or asks for it, all the same; where nothing is waited for it is
        never done.
        """

    def load_drawing(self) -> None:
        """Have the other cores load what draws, behind what they are asked for next."""


def each_kept(
    others: Alone, function: Callable[[Any], Any], items: Iterable[Any]
) -> list[Any]:
    """Return the function's answer to each item, in order, each promised and then kept.

    Where one cannot be kept, what has not begun of the others is given up.
    """
    promised = [others.beside(function, item) for item in items]
    try:
        return [others.kept(promise) for promise in promised]
    finally:
        for promise in promised:
            promise.cancel()


class Workers(Alone):
    """Processes of this machine that work beside this one."""

    def __init__(self, pool: ProcessPoolExecutor, count: int = 1) -> None:
        self._pool, self._count, self._is_to_draw = pool, count, False
        self._meanwhile: list[Callable[[], object]] = []

    def end(self) -> None:
        """Hand nothing over any more: all is done, or given up."""

    def each(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """Return the function's answer to each item, in order, worked out side by side."""
        items = list(items)
        try:
            answers = self._pool.map(function, items)
            if items:
                self._use_the_wait()
            return list(answers)
        except BrokenProcessPool:  # a worker was killed, for want of memory perhaps
            return super().each(function, items)

    def beside(self, function: Callable[..., Any], *given: Any) -> Promise:
        """Return the promise of an answer that another core works out meanwhile."""
        try:
            return Promise(self._pool.submit(function, *given), function, given)
        except BrokenProcessPool:
            return super().beside(function, *given)

    def kept(self, promise: Promise) -> Any:
        """Return what a promise comes to."""
        if not promise.done():
            self._use_the_wait()
        return super().kept(promise)

    def pair(
        self, here: Callable[[], S], there: Callable[..., T], *given: Any
    ) -> tuple[S, T]:
        """Return what is worked out here, and what another core works out meanwhile."""
        promise = self.beside(there, *given)
        return here(), promise.result()

    def meanwhile(self, work: Callable[[], object]) -> None:
        """Have something done here the next time that an answer is waited for."""
        self._meanwhile.append(work)

    def load_drawing(self) -> None:
        """Have the other cores load what draws, behind what they are asked for next."""
        self._is_to_draw = True

    def _use_the_wait(self) -> None:
        if self._is_to_draw:
            self._is_to_draw = False
            with suppress(BrokenProcessPool):  # nobody is left to load it
                for _ in range(self._count):
                    self._pool.submit(load_drawing)
        while self._meanwhile:
            with suppress(UnrollError):  # whoever needs it is told
                self._meanwhile.pop(0)()


class Sharers(Workers):
    """Processes that share the work with this one: while it waits, it does what none has begun.

    With this one there are as many as cores, so that one fewer has to load what it works with.
    """

    def __init__(self, pool: ProcessPoolExecutor, count: int = 1) -> None:
        super().__init__(pool, count)
        # each hands over one thing at a time: what has not been can be taken back
        self._handing = ThreadPoolExecutor(count)
        self._lock, self._may_hand = threading.Lock(), True
        self._promised: list[Promise] = []

    def end(self) -> None:
        """Hand nothing over any more."""
        with self._lock:
            self._may_hand = False
        self._handing.shutdown(wait=False, cancel_futures=True)

    def each(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """Return the function's answer to each item, in order, worked out side by side."""
        return each_kept(self, function, items)

    def beside(self, function: Callable[..., Any], *given: Any) -> Promise:
        """Return the promise of an answer that another core, or this one, works out meanwhile."""
        future = self._handing.submit(self._there, function, given)
        self._promised = [one for one in self._promised if not one.done()]
        self._promised.append(Promise(future, function, given))
        return self._promised[-1]

    def kept(self, promise: Promise) -> Any:
        """Return what a promise comes to; meanwhile do what is like it, and not begun elsewhere."""
        if not promise.done():
            self._use_the_wait()
        while not promise.done() and self._take_one_back(promise):
            pass
        return promise.result()

    def pair(
        self, here: Callable[[], S], there: Callable[..., T], *given: Any
    ) -> tuple[S, T]:
        """Return what is worked out here, and what another core works out meanwhile."""
        promise = self.beside(there, *given)
        answer = here()
        promise.take_back()
        return answer, promise.result()

    def _there(self, function: Callable[..., Any], given: tuple[Any, ...]) -> Any:
        with self._lock:
            if not self._may_hand:
                raise CancelledError
            future = self._pool.submit(function, *given)
        return future.result()

    def _take_one_back(self, wanted: Promise) -> bool:
        """Do here what is wanted, or else the last of its kind, where it has not begun elsewhere.

        What is of another kind may take much longer than whoever waits would have to wait.
        """
        alike = [one for one in self._promised if one.function == wanted.function]
        return any(one.take_back() for one in (wanted, *reversed(alike)))


def load_drawing() -> None:
    """Load what draws."""
    with undocumented():
        for name in DRAWING:
            importlib.import_module(name)


@contextmanager
def loading() -> Iterator[None]:
    """Load what workers start with, before it is known whether there will be work for them.

    Should there be none, because a fault ends this, the process that loads ends at once too.
    """
    begun = None
    if cores() > 1 and sys.platform != "win32":
        before = _loading_process()
        context_of(*PRELOADED)
        begun = _loading_process()
        begun = None if begun == before else begun
    try:
        yield
    except BaseException:
        if begun is not None:
            with suppress(OSError):  # it has ended by itself
                os.kill(begun, signal.SIGKILL)
                # until it has: whoever begins another looks whether it runs
                if hasattr(os, "waitid"):
                    os.waitid(os.P_PID, begun, os.WEXITED | os.WNOWAIT)
        raise


def _loading_process() -> int | None:
    """Return the number of the process that workers are forked from, which is not told openly."""
    from multiprocessing import forkserver

    return getattr(getattr(forkserver, "_forkserver", None), "_forkserver_pid", None)


@contextmanager
def workers(
    count: int | None = None, *, niceness: int = 0, loads: Sequence[str] = (),
    shared: bool = False,
) -> Iterator[Alone]:  # fmt: skip
    """Give workers for `count` cores, by default all of this machine's, four at most.

    They end with this process, however it ends, and leave a request to stop to it. With a
    `niceness` above 0 they step back where others want the cores.

    Parameters
    ----------
    count : int, optional
    niceness : int
    loads : sequence of str
        Modules that they start with, beside what searches and sews.
    shared : bool
        Whether this process is one of so many, and works too while it waits.
    """
    count = min(cores(), 4) if count is None else count
    if count < 2:
        yield Alone()
        return
    count -= shared  # this process makes up their number
    pool = ProcessPoolExecutor(
        max_workers=count, mp_context=context_of(*PRELOADED, *loads), initializer=begin,
        initargs=(niceness,),
    )
    # The first answer comes when all is loaded; meanwhile this process reads the sheet and lofts.
    given_up = threading.Event()
    starting = threading.Thread(target=_start, args=(pool, count, given_up), daemon=True)
    found = Sharers(pool, count) if shared else Workers(pool, count)
    try:
        starting.start()
        with watched(pool):
            yield found
    except BaseException:
        given_up.set()
        found.end()
        end_all(starting)  # nobody waits for their answers any more
        end_answers(pool)
        raise
    finally:
        found.end()
        pool.shutdown(cancel_futures=True)


def _start(pool: ProcessPoolExecutor, count: int, given_up: threading.Event) -> None:
    # the work was done, or given up, before; what they are forked from may have been ended with it
    with suppress(RuntimeError, BrokenProcessPool, OSError, EOFError):
        for _ in range(count):
            if not given_up.is_set():
                pool.submit(os.getpid)
