"""Work on other cores: the same answers in the same order; no worker outlives its run."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.coarse import CoarseRun
from tests.samples import sample_measures
from unroll.arm_job import SEWN_TOGETHER, _sewn
from unroll.arms.lofting import ArmShape
from unroll.correct.layouts import layout_steps
from unroll.drafts.drafting import draft
from unroll.errors import UnrollError
from unroll.nouns import Cloth, Make
from unroll.nouns.values import fingerprint
from unroll.processes import cores
from unroll.workers import (
    DRAWING,
    PRELOADED,
    Alone,
    Promise,
    Sharers,
    Workers,
    _start,
    load_drawing,
    workers,
)

ROOT = Path(__file__).parent.parent
NUMBERS = [7, 3, 5, 1, 8, 2]


@pytest.fixture(scope="module")
def two() -> Iterator[Alone]:
    with workers(2) as found:
        yield found


@pytest.fixture(scope="module")
def sharing() -> Iterator[Alone]:
    with workers(2, shared=True) as found:
        found.beside(os.getpid).result()  # has begun
        yield found


def squared_late(number: int) -> int:
    """The larger, the sooner: answers are ready in another order than they were asked for."""
    time.sleep(0.02 / number)
    return number * number


def refuse(number: int) -> int:
    raise UnrollError(f"{number} cannot be sewn")


def test_answers_come_in_the_order_of_the_items(two: Alone, sharing: Alone) -> None:
    assert type(two) is Workers and type(sharing) is Sharers
    for those in (Alone(), two, sharing):
        assert those.each(squared_late, iter(NUMBERS)) == [n * n for n in NUMBERS]
        assert those.each(squared_late, []) == []
        assert those.beside(squared_late, 4).result() == 16


def test_workers_are_other_processes(two: Alone) -> None:
    assert two.beside(os.getpid).result() != os.getpid() == Alone().beside(os.getpid).result()


def where(wait_s: float) -> int:
    time.sleep(wait_s)
    return os.getpid()


def handed_over(promise: Promise) -> Promise:
    """Return a promise once a worker has been asked for it."""
    while not (promise.future.running() or promise.done()):
        time.sleep(0.001)
    return promise


def test_what_no_worker_has_begun_is_done_here_while_an_answer_is_waited_for(
    sharing: Alone,
) -> None:
    slept = handed_over(sharing.beside(time.sleep, 0.5))
    left = [sharing.beside(where, wait_s) for wait_s in (0.5, 0.0, 0.0)]
    assert sharing.kept(left[1]) == os.getpid()  # what is wanted itself
    sharing.kept(slept)
    assert not left[0].done()  # what is of another kind may take longer than the wait
    assert sharing.kept(handed_over(left[0])) != os.getpid() == left[2].future.result()
    assert os.getpid() in sharing.each(where, [0.02] * 6)


def test_of_two_things_the_worker_does_the_one_that_it_has_begun(
    sharing: Alone, monkeypatch
) -> None:
    begun: list[Promise] = []
    beside = sharing.beside
    monkeypatch.setattr(
        sharing, "beside", lambda *given: begun.append(beside(*given)) or begun[-1]
    )
    here, there = sharing.pair(lambda: handed_over(begun[0]) and os.getpid(), where, 0.0)
    assert here == os.getpid() != there


SHARED = """
import time
from unroll.workers import workers

if __name__ == "__main__":
    for wait_s in (0.0, 0.2):
        try:
            with workers(2, shared=True) as others:
                promised = [others.beside(time.sleep, 300) for _ in range(4)]
                time.sleep(wait_s)
                raise KeyError
        except KeyError:
            print(len(promised), "given up", flush=True)
    with workers(2, shared=True) as others:
        first, *left = [others.beside(time.sleep, wait_s) for wait_s in (0.1, 0.1, 300, 300)]
        first.result()
    print("done", flush=True)
"""


def test_where_one_meets_a_fault_the_rest_that_has_not_begun_is_given_up(
    sharing: Alone, monkeypatch
) -> None:
    slept, asked = handed_over(sharing.beside(time.sleep, 0.3)), []
    beside = sharing.beside
    monkeypatch.setattr(
        sharing, "beside", lambda *given: asked.append(beside(*given)) or asked[-1]
    )
    with pytest.raises(UnrollError, match="7 cannot be sewn"):
        sharing.each(refuse, NUMBERS)
    assert not slept.done() and all(one.done() for one in asked)
    assert any(one.future.cancelled() for one in asked)


def test_what_is_given_up_is_neither_done_here_nor_elsewhere(tmp_path: Path) -> None:
    assert ended(SHARED, tmp_path).stdout == "4 given up\n4 given up\ndone\n"


def ended(program: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a program of its own to its end."""
    script = folder / "program.py"
    script.write_text(program)
    return subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, timeout=60, check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip


SENDING = """
import time
from unroll.workers import workers

if __name__ == "__main__":
    for wait_s in (0.2, 0.3, 0.4, 0.5):
        try:
            with workers(2) as others:
                others.beside(bytes, 10).result()
                promised = [others.beside(bytes, 200_000_000) for _ in range(2)]
                time.sleep(wait_s)
                raise KeyError
        except KeyError:
            print("ended", flush=True)
"""


def test_a_worker_that_is_ended_while_it_sends_its_answer_keeps_nobody_waiting(
    tmp_path: Path,
) -> None:
    """Large answers, given up at several moments: at one or another they are half-way sent."""
    assert ended(SENDING, tmp_path).stdout == 4 * "ended\n"


KILLED_SENDING = """
import multiprocessing
import time
from unroll.workers import workers

if __name__ == "__main__":
    for wait_s in (0.1, 0.15, 0.2):
        with workers(2, shared=True) as others:
            others.beside(bytes, 10).result()
            promise = others.beside(bytes, 200_000_000)
            time.sleep(wait_s)
            multiprocessing.active_children()[0].kill()
            print(len(promise.result()), flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="ends processes by signals")
def test_the_answer_of_a_worker_that_is_killed_while_it_sends_it_is_worked_out_here(
    tmp_path: Path,
) -> None:
    """As the system does for want of memory: its pool alone would read on for ever."""
    assert ended(KILLED_SENDING, tmp_path).stdout == 3 * "200000000\n"


BEGINNING = """
import multiprocessing
import time
from multiprocessing.context import ForkServerProcess
from unroll.workers import workers

def late(process, begin=ForkServerProcess._Popen, begun=[]):
    begun.append(begin(process))
    if len(begun) == 2:
        time.sleep(0.6)
    return begun[-1]

if __name__ == "__main__":
    with workers(2) as others:
        others.beside(bytes, 10).result()
    ForkServerProcess._Popen = staticmethod(late)
    try:
        with workers(2):
            time.sleep(0.3)
            raise KeyError
    except KeyError:
        time.sleep(0.6)
        print(multiprocessing.active_children(), flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="this system forks no processes")
def test_a_worker_that_begins_while_all_are_given_up_is_ended_too(tmp_path: Path) -> None:
    """It would wait for ever for the lock that the one before it held as it was ended."""
    assert ended(BEGINNING, tmp_path).stdout == "[]\n"


def test_what_workers_start_with_is_loaded_and_garbage_is_not_looked_for_in_it() -> None:
    tell = "print('unroll.job' in sys.modules, gc.isenabled(), gc.get_freeze_count() > 10_000)"
    done = subprocess.run(
        [sys.executable, "-c", f"import gc, sys, {', '.join(PRELOADED)}; {tell}"],
        capture_output=True, text=True, timeout=60, check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.stdout == "True True True\n"


@pytest.mark.skipif(not hasattr(os, "nice"), reason="this system knows no niceness")
def test_workers_behind_step_back_for_others() -> None:
    with workers(2, niceness=3) as behind:
        found = behind.beside(os.nice, 0).result()
    assert found == min(os.nice(0) + 3, 19)


def test_a_fault_beside_the_rest_is_raised_where_its_answer_is_asked_for(
    two: Alone, sharing: Alone
) -> None:
    for those in (Alone(), two, sharing):
        promised = those.beside(refuse, 3)
        with pytest.raises(UnrollError, match="3 cannot be sewn"):
            promised.result()
        with pytest.raises(UnrollError, match="7 cannot be sewn"):
            those.each(refuse, NUMBERS)


def test_one_core_works_alone() -> None:
    for shared in (False, True):
        with workers(1, shared=shared) as found:
            assert type(found) is Alone


def test_where_a_worker_was_killed_the_work_is_done_here() -> None:
    class Broken:
        def map(self, *_given):
            raise BrokenProcessPool("killed")

        submit = map

    for found in (Workers(Broken()), Sharers(Broken())):  # type: ignore[arg-type]
        assert found.each(squared_late, NUMBERS) == [n * n for n in NUMBERS]
        assert found.beside(squared_late, 4).result() == 16
        found.load_drawing()  # nobody is left to load it
        assert found.each(squared_late, NUMBERS) == [n * n for n in NUMBERS]
        found.end()


def test_every_worker_loads_what_draws_behind_what_it_is_asked_for_next() -> None:
    asked = []
    pool = SimpleNamespace(
        submit=lambda *given: asked.append(given),
        map=lambda function, items: asked.append(items) or map(function, items),
    )
    found = Workers(pool, 3)  # type: ignore[arg-type]
    found.load_drawing()
    assert asked == []
    for _ in range(2):
        assert found.each(squared_late, NUMBERS) == [n * n for n in NUMBERS]
    assert asked == [NUMBERS, *3 * [(load_drawing,)], NUMBERS]  # once is enough
    load_drawing()
    assert set(DRAWING) <= set(sys.modules)


def test_something_else_is_done_here_while_an_answer_is_waited_for(monkeypatch) -> None:
    done: list[int] = []
    answered, waiting = Future(), Future()
    answered.set_result(4)
    found = Workers(SimpleNamespace(), 2)  # type: ignore[arg-type]
    found.meanwhile(lambda: done.append(1))
    found.meanwhile(lambda: refuse(3))  # whoever needs it is told
    found.meanwhile(lambda: done.append(2))
    assert found.kept(Promise(answered, squared_late, (2,))) == 4 and done == []
    monkeypatch.setattr(waiting, "result", lambda: 9)
    assert [found.kept(Promise(waiting, squared_late, (3,))) for _ in range(2)] == [9, 9]
    assert done == [1, 2]


def test_alone_nothing_is_done_meanwhile() -> None:
    done: list[int] = []
    alone = Alone()
    alone.meanwhile(lambda: done.append(1))
    assert alone.kept(alone.beside(squared_late, 4)) == 16 and done == []


@pytest.mark.parametrize("fault", [RuntimeError, BrokenProcessPool, OSError, EOFError])
def test_workers_that_are_given_up_while_they_begin_say_nothing(fault) -> None:
    def refused(*_given):
        raise fault("given up")

    _start(SimpleNamespace(submit=refused), 2, threading.Event())  # type: ignore[arg-type]


def test_once_they_are_given_up_no_more_workers_begin() -> None:
    given_up, begun = threading.Event(), []

    def begin(function):
        begun.append(function)
        given_up.set()

    _start(SimpleNamespace(submit=begin), 4, given_up)  # type: ignore[arg-type]
    assert len(begun) == 1


def test_two_things_are_worked_out_here_and_beside(two: Alone) -> None:
    for those in (Alone(), two):
        here, there = those.pair(os.getpid, os.getpid)
        assert here == os.getpid() and (here == there) == (those is not two)
        with pytest.raises(UnrollError, match="7 cannot be sewn"):  # what is asked for first
            those.pair(lambda: refuse(7), refuse, 3)
        with pytest.raises(UnrollError, match="3 cannot be sewn"):
            those.pair(os.getpid, refuse, 3)


def test_the_same_layouts_are_found_alone_and_with_two_workers(
    two: Alone, coarse_run: CoarseRun, sample_shape: ArmShape
) -> None:
    beside = next(layout_steps(sample_shape, Make(), Cloth(), each=two.each))
    assert fingerprint(beside) == fingerprint(coarse_run.job.arms[0].layouts)


def test_a_draft_is_sewn_to_the_same_shape_alone_and_beside(two: Alone) -> None:
    pieces = draft(sample_measures(), Make(), manner="darts")
    together = [piece for piece in pieces if piece.name in SEWN_TOGETHER]
    given = together, Cloth(), None, 13.0
    promised = two.beside(_sewn, *given)
    assert fingerprint(promised.result()) == fingerprint(_sewn(*given))


LOADING = """
import os, subprocess, sys
from unroll.errors import UnrollError
from unroll.workers import _loading_process, loading, workers

if __name__ == "__main__":
    try:
        with loading():
            first = _loading_process()
            print(first, flush=True)
            raise UnrollError("no sheet")
    except UnrollError:
        pass
    with loading(), workers(2) as those:
        print(those.beside(os.getpid).result() != os.getpid(), flush=True)
        print(_loading_process() not in (None, first), flush=True)
    try:
        with loading():  # loaded before, and by somebody else: it is let be
            raise UnrollError("no sheet")
    except UnrollError:
        print(os.path.exists(f"/proc/{_loading_process()}"), flush=True)
"""


@pytest.mark.skipif(
    not Path("/proc/self/stat").exists() or cores() < 2, reason="needs /proc, and other cores"
)
def test_what_loads_for_workers_ends_at_once_where_there_is_no_work(tmp_path) -> None:
    done = ended(LOADING, tmp_path)
    number, *told = done.stdout.split()
    assert is_gone(int(number)) and done.stderr == ""
    assert told == ["True", "True", "True"]


KILLED = """
import os, sys, time
from unroll.workers import workers

if __name__ == "__main__":
    with workers(2) as those:
        print(those.beside(os.getpid).result(), flush=True)
        time.sleep(60)
"""


def is_gone(number: int) -> bool:
    """Whether a process has ended; one that nobody has waited for yet has."""
    try:
        state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return True
    return state == "Z"


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_a_worker_ends_when_its_parent_is_killed(tmp_path) -> None:
    script = tmp_path / "killed.py"
    script.write_text(KILLED)
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    parent = subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.PIPE, text=True, env=environment
    )
    worker = int(parent.stdout.readline())
    assert not is_gone(worker)
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    until = time.monotonic() + 5.0
    while not is_gone(worker) and time.monotonic() < until:
        time.sleep(0.05)
    assert is_gone(worker)
