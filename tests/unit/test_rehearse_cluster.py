"""The same runs on a Dask cluster: a real one of two workers on this computer."""

from __future__ import annotations

import pytest

from gingerly.rehearse import Script, rehearse
from support.rehearsals import rehearsal_of

pytestmark = pytest.mark.thorough

SCRIPT = Script(job=rehearsal_of("outside corner", "the defaults for home-made parts"), seed=3)


@pytest.mark.filterwarnings("default")
def test_a_cluster_of_two_workers_makes_the_same_runs():
    distributed = pytest.importorskip("distributed", reason="the optional extra gingerly[dask] is not installed")
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, processes=True
    )
    with cluster:
        theirs = rehearse(SCRIPT, 130, scheduler=cluster.scheduler_address)
    assert theirs == rehearse(SCRIPT, 130, workers=1)


@pytest.mark.filterwarnings("default")
def test_a_scheduler_that_is_not_there_is_told():
    pytest.importorskip("distributed", reason="the optional extra gingerly[dask] is not installed")
    with pytest.raises(OSError, match=r"no scheduler answers at 'tcp://127\.0\.0\.1:9'"):
        rehearse(SCRIPT, 1, scheduler="tcp://127.0.0.1:9")
