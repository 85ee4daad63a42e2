"""What every test shares: repeatable examples, a drawing backend, costly results made once."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

# before numpy is loaded: the systems solved here are small, and one thread is quickest
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from unroll.garbage import look_seldom

# before anything else is loaded: Python would look through all that a library makes as it comes
look_seldom()

import pytest
from hypothesis import HealthCheck, settings
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling

from unroll.undocumented import undocumented

with undocumented():
    import matplotlib

    from tests.coarse import EDGE_MM, CoarseRun, coarsely
    from tests.samples import SAMPLE_DARTS, sample_measures
    from unroll import job
    from unroll.arm_job import LOOK
    from unroll.arms import lofting
    from unroll.arms.lofting import ArmShape, shape_arm
    from unroll.correct.draft_loop import correct_draft
    from unroll.correct.loop import correct
    from unroll.correct.on_bench import OnBench, lay_on_bench
    from unroll.drafts import drafting
    from unroll.job import Job
    from unroll.nouns import Cloth, Correction, Make, MakeResult, Sheet
    from unroll.nouns.corrected import DraftCorrection
    from unroll.nouns.values import fingerprint

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from unroll.page.web import Desk

T = TypeVar("T")

matplotlib.use("Agg")
settings.register_profile(
    "ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("ci")


DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"
# What costs most is made once for all who share it, so these stay on one core.
TOGETHER = {
    "test_cli": "coarse run", "test_job": "coarse run", "test_cli_stopped": "coarse run",
    "test_workers": "coarse run", "test_correction": "corrected",
    "test_correction_round_trip": "corrected", "test_refitting": "corrected",
}  # fmt: skip
# Begun first, so that no core is left alone with one of them at the end.
SLOWEST = (
    "test_cli", "test_job", "test_cli_stopped", "test_workers", "test_clear_pages",
    "test_page_browser", "test_page_files", "test_page_reach", "test_correction",
    "test_correction_round_trip", "test_refitting", "test_many_arms", "test_plausible_sheets",
    "test_kernels", "test_layouts", "test_printing",
)  # fmt: skip


class FilesTogether(LoadScopeScheduling):
    """Each file's tests stay on one core, those of the files of `TOGETHER` on one and the same.

    Groups by marks do not reach the cores under pytest 9.2, so files are told by their names.
    """

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        return TOGETHER.get(Path(file).stem, file)


@pytest.hookimpl(optionalhook=True)  # there may be no cores to hand out to
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> FilesTogether:
    """Return what hands the tests out to the cores."""
    return FilesTogether(config, log)


def kept(stage: Callable[..., T]) -> Callable[..., T]:
    """Return a pure stage that keeps what it came to for each set of values."""
    known: dict[str, T] = {}

    def found(*given: Any, **named: Any) -> T:
        key = fingerprint(given, named)
        if key not in known:
            known[key] = stage(*given, **named)
        return known[key]

    return found


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    """Look for doctests in the program alone: studies and what tests share hold none."""
    is_ours = collection_path.parent == Path(__file__).parent and collection_path.suffix == ".py"
    return True if is_ours and not collection_path.name.startswith("test_") else None


def pytest_collection_finish() -> None:
    """Spare Python looking through all that is loaded: it stays to the end."""
    gc.freeze()


def pytest_unconfigure() -> None:
    """Nor at the end, as the program itself does."""
    gc.freeze()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the slowest files first; the order of all others, and within a file, stays."""
    turns = {name: turn for turn, name in enumerate(SLOWEST)}
    items.sort(key=lambda item: turns.get(item.path.stem, len(turns)))


@pytest.fixture(scope="session", autouse=True)
def solved_once() -> Iterator[None]:
    """Have this process solve each arm and draft once: many tests begin from the same."""
    stages = (lofting, "fit_cap"), (lofting, "_solve_lengths"), (drafting, "dart_cap")
    with pytest.MonkeyPatch.context() as patch:
        for module, name in stages:
            patch.setattr(module, name, kept(getattr(module, name)))
        yield


@pytest.fixture(scope="session")
def sample_shape() -> ArmShape:
    """The sample arm, lofted."""
    return shape_arm(sample_measures())


@pytest.fixture(scope="session")
def on_bench(sample_shape: ArmShape) -> OnBench:
    """The sample arm laid flat with two darts, sewn and filled on a coarse mesh."""
    return lay_on_bench(
        sample_shape, Make(), Cloth(), SAMPLE_DARTS, edge=EDGE_MM, spacing=EDGE_MM
    )


@pytest.fixture(scope="session")
def correction(on_bench: OnBench, sample_shape: ArmShape) -> Correction:
    """The same pieces, corrected on a coarse mesh."""
    return correct(on_bench, sample_shape)


@pytest.fixture(scope="session")
def fine_correction(sample_shape: ArmShape) -> Correction:
    """The same pieces, corrected on a mesh as fine as a maker's job has it."""
    on = lay_on_bench(sample_shape, Make(), Cloth(), SAMPLE_DARTS, edge=8.0, spacing=8.0)
    return correct(on, sample_shape)


@pytest.fixture(scope="session")
def darted_draft() -> DraftCorrection:
    """The sample's flat draft with darts, its numbers corrected on a coarse mesh."""
    return correct_draft(
        sample_measures(), Make(), Cloth(), manner="darts", spacing=EDGE_MM
    )


@pytest.fixture(scope="session")
def coarse_run() -> CoarseRun:
    """The sample sheet's whole job, on coarse meshes."""
    job = Job(Sheet((sample_measures(),), Cloth(), Make()), search=LOOK, edge=EDGE_MM)
    with coarsely() as calls:
        return CoarseRun(job, job.everything(), calls)


@pytest.fixture(scope="session")
def coarse_result(coarse_run: CoarseRun) -> MakeResult:
    """All that the sample sheet's job finds, on coarse meshes."""
    return coarse_run.result


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """The demo, to be written on."""
    return Path(shutil.copy(DEMO, tmp_path / "mine.toml"))


@pytest.fixture
def desk(sheet: Path) -> Iterator[Desk]:
    """The page's answers to the test's own `sheet`, nothing of it worked out."""
    from tests.page_desk import idle_desk  # the page's libraries, which few tests want

    with idle_desk(sheet) as made:
        yield made


@pytest.fixture
def page(desk: Desk) -> TestClient:
    """What asks that page."""
    from tests.page_desk import client_of

    return client_of(desk)


@pytest.fixture
def at_once(coarse_run: CoarseRun, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every command the coarse job's results, which cost nothing more."""
    monkeypatch.setattr(job, "Job", lambda *_args, **_kwargs: coarse_run.job)
