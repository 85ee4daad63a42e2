"""Commands that are stopped, by Ctrl-C, a signal or a cancelled step: a line, and nothing left."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import SimpleNamespace

import pytest

from tests.test_cli import DEMO, ROOT, run
from unroll import arm_job, cli, terminal
from unroll.arms.lofting import shape_arm
from unroll.disk import previewing
from unroll.progress import Cancelled, Progress


@pytest.mark.parametrize("fault", [Cancelled("cancelled before: sewing"), KeyboardInterrupt()])
def test_a_run_that_is_stopped_says_so_in_a_line_and_leaves_nothing(
    tmp_path, at_once, fault, monkeypatch
):
    def stop(*_args, **_kwargs):
        raise fault

    monkeypatch.setattr(previewing, "preview_files", stop)
    answer = run("preview", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 130
    assert answer.output.strip() == "stopped; nothing was written"
    assert not list(tmp_path.iterdir())


def test_a_cancelled_progress_ends_the_command_at_its_next_step(tmp_path, monkeypatch):
    steps: list[str] = []

    @contextmanager
    def shown() -> Iterator[Progress]:
        def show(step: str, _share: float) -> None:
            steps.append(step)
            progress.cancel()

        progress = Progress(show)
        yield progress

    monkeypatch.setattr(cli, "shown", shown)
    answer = run("make", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 130 and len(steps) == 1
    assert answer.output.strip() == "stopped; nothing was written"
    assert not list(tmp_path.iterdir())


@pytest.fixture
def heeding() -> Iterator[None]:
    """Ctrl-C is heeded meanwhile: a shell has what it runs in the background ignore it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_a_request_to_stop_that_a_library_swallows_ends_the_run_all_the_same(
    tmp_path, monkeypatch, heeding
):
    """Some catch whatever is raised while they load their own parts."""

    def loading(measures):
        with suppress(BaseException):
            signal.raise_signal(signal.SIGINT)
        return shape_arm(measures)

    monkeypatch.setattr(arm_job, "shape_arm", loading)
    answer = run("preview", str(DEMO), "--out", str(tmp_path / "out"))
    assert answer.exit_code == 130
    assert answer.output.strip() == "stopped; nothing was written"
    assert not list(tmp_path.iterdir())
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_what_was_started_to_ignore_ctrl_c_goes_on_ignoring_it(tmp_path, monkeypatch):
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        monkeypatch.setattr(terminal, "Progress", lambda: SimpleNamespace(cancel=pytest.fail))
        with terminal.shown():
            signal.raise_signal(signal.SIGINT)
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


TOLD = """
from unroll import cli, progress

tell = progress.Progress.__call__


def told(self, step):
    print(step, flush=True)
    tell(self, step)


progress.Progress.__call__ = told
if __name__ == "__main__":
    cli.main()
"""


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
@pytest.mark.parametrize(
    ("how", "code", "said"),
    [
        (signal.SIGINT, 130, "stopped; nothing was written\n"),
        (signal.SIGTERM, 143, ""),
        (signal.SIGKILL, -signal.SIGKILL, ""),
    ],
)
def test_a_signal_ends_a_run_without_a_traceback_and_leaves_nothing(
    tmp_path, how, code, said, heeding
):
    (tmp_path / "told.py").write_text(TOLD)
    out = tmp_path / "here" / "out"
    out.parent.mkdir()
    command = [sys.executable, str(tmp_path / "told.py"), "make", str(DEMO), "--out", str(out)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment,
        start_new_session=True,
    )  # fmt: skip
    for line in process.stdout:  # well within the run: its workers are at work
        if line.startswith("looking for the dart layout"):
            break
    # what is typed at a terminal reaches the workers as well
    (os.killpg if how == signal.SIGINT else os.kill)(process.pid, how)
    _, error = process.communicate(timeout=60)
    assert process.returncode == code
    if how != signal.SIGKILL:  # then Python's own tracker tells of what the killed one held
        assert error == said
    assert "Traceback" not in error
    assert not list(out.parent.iterdir())
