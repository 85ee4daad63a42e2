"""The same function on many items: by a process of this machine each, or by a cluster."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor, as_completed
from typing import Any

from unroll.errors import UnrollError, one_line
from unroll.processes import begin_orderly, context_of, cores, watched

ANSWER_SECONDS = 10


def one_each(
    function: Callable[[Any], Any], items: Iterable[Any], *, count: int | None = None
) -> Generator[tuple[int, Future[Any]], None, None]:
    """Yield place and kept promise of each item as it is ready, each made by a process of its own.

    Whatever a process took of memory goes with it, and one that is killed takes no other along:
    its promise raises. Take each answer before the next is asked for; where nobody asks on, those
    at work are told to end.

    Parameters
    ----------
    function : callable
    items : iterable
    count : int, optional
        How many at once; as many as this machine has cores where left out.
    """
    context = context_of("unroll.batch.making")

    def alone(item: Any) -> Any:
        with (
            ProcessPoolExecutor(1, mp_context=context, initializer=begin_orderly) as pool,
            watched(pool),
        ):
            return pool.submit(function, item).result()

    threads = ThreadPoolExecutor(max(1, count or cores()))
    places = {threads.submit(alone, item): place for place, item in enumerate(items)}
    try:
        yield from ((places[done], done) for done in as_completed(places))
    finally:
        for future in places:
            future.cancel()
        while not all(future.done() for future in places):
            for worker in multiprocessing.active_children():
                worker.terminate()
            time.sleep(0.05)
        threads.shutdown()


def on_cluster(
    function: Callable[[Any], Any], items: Iterable[Any], *, address: str
) -> Generator[tuple[int, Future[Any]], None, None]:
    """Yield the same as `one_each`, made by the workers of a Dask cluster.

    Parameters
    ----------
    address : str
        Of its scheduler: "tcp://workroom:8786".

    Raises
    ------
    UnrollError
        When dask.distributed is not installed, or no scheduler answers.
    """
    try:
        import distributed
    except ImportError:
        raise UnrollError(
            "a cluster needs the package distributed; expected it here (pip install "
            "'unroll[cluster]')"
        ) from None
    try:
        client = distributed.Client(address, timeout=ANSWER_SECONDS, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise UnrollError(
            f"no scheduler answers at {one_line(address)} within {ANSWER_SECONDS} seconds; "
            f"expected one such as tcp://workroom:8786 (not started? {one_line(error)[:80]})"
        ) from None
    with client:
        futures = client.map(function, list(items), pure=False)
        places = {future.key: place for place, future in enumerate(futures)}
        try:
            for done in distributed.as_completed(futures, loop=client.loop):
                yield places[done.key], done
        finally:
            client.cancel(futures)
