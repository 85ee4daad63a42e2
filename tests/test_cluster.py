"""The same function on a Dask cluster of two workers; what is told where there is none."""

from __future__ import annotations

import os
import sys
from functools import partial
from pathlib import Path

import pytest

from tests.many_jobs import end_bea, make_squares, write_table
from tests.test_many import QUICK, files_in, here
from unroll.batch.making import Settings, Task, make_one
from unroll.batch.orders import orders_in
from unroll.batch.running import each_on, make_all
from unroll.batch.spreading import on_cluster, one_each
from unroll.errors import UnrollError

distributed = pytest.importorskip("distributed")
ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def address():
    """Two workers of one thread each."""
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = str(ROOT)
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    )
    try:
        with cluster:
            yield cluster.scheduler_address
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before


def test_a_cluster_makes_the_same_as_this_machine_alone(address, tmp_path):
    orders = orders_in(write_table(tmp_path))
    alone = make_all(orders, tmp_path / "alone", QUICK, each=here, make=make_squares)
    each = each_on(address=address)
    together = make_all(orders, tmp_path / "together", QUICK, each=each, make=make_squares)
    assert together == alone
    assert files_in(tmp_path / "together") == files_in(tmp_path / "alone")


def test_what_every_worker_of_a_cluster_runs_is_the_job_itself(address, tmp_path):
    """Its answer comes from the real function: a fault of the sheet's folder, told in full."""
    order = orders_in(write_table(tmp_path))[0]
    task = Task(order, Settings(), str(tmp_path / "missing" / "ada"))
    ((place, made),) = [
        (place, done.result()) for place, done in on_cluster(make_one, [task], address=address)
    ]
    assert place == 0 and made == make_one(task)
    assert "cannot be written" in made.faults[0]


@pytest.mark.skipif(sys.platform == "win32", reason="ends processes by signals")
def test_a_worker_that_is_killed_takes_no_other_sheet_along(address, tmp_path):
    with distributed.Client(address, set_as_default=False) as client:
        client.run_on_scheduler(_allow_no_failure)
    made = make_all(
        orders_in(write_table(tmp_path)), tmp_path / "out", QUICK, make=end_bea,
        each=partial(on_cluster, address=address),
    )  # fmt: skip
    assert [one.state for one in made] == ["within", "not made", "not made", "within"]
    assert "(KilledWorker; out of memory?)" in made[1].faults[0]


def _allow_no_failure(dask_scheduler) -> None:
    dask_scheduler.allowed_failures = 0


def test_no_answer_from_a_scheduler_is_told(monkeypatch):
    monkeypatch.setattr("unroll.batch.spreading.ANSWER_SECONDS", 0.5)
    with pytest.raises(UnrollError, match=r"no scheduler answers at tcp://127\.0\.0\.1:9 within"):
        next(on_cluster(str, [1], address="tcp://127.0.0.1:9"))
    with pytest.raises(UnrollError, match="no scheduler answers at nowhere://x within"):
        next(on_cluster(str, [1], address="nowhere://x"))


def test_a_missing_package_is_told(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UnrollError, match=r"a cluster needs the package distributed; .*cluster"):
        next(on_cluster(str, [1], address="tcp://127.0.0.1:9"))


def test_without_a_scheduler_this_machine_works():
    assert each_on(3).func is one_each and each_on(3).keywords == {"count": 3}
