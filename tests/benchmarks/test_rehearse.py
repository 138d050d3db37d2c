"""How many outside corners a second are rehearsed, budget and all. On demand: ``--benchmark-enable``."""

from __future__ import annotations

import os

import pytest

from gingerly.rehearse import Script, rehearse, rehearsed
from support.rehearsals import rehearsal_of

SCRIPT = Script(job=rehearsal_of("outside corner", "the defaults for home-made parts"), seed=1)


def test_one_corner_on_one_core(benchmark):
    """Wanted: at least 400 a second, which are 2.5 ms each."""
    numbers = iter(range(1, 10**9))
    rehearsed(SCRIPT, 0)
    assert benchmark(lambda: rehearsed(SCRIPT, next(numbers))).done


@pytest.mark.skipif(not os.environ.get("GINGERLY_RUNS"), reason="takes a quiet machine: set GINGERLY_RUNS=4000")
@pytest.mark.parametrize("workers", [1, 2])
def test_many_corners_on_so_many_cores(benchmark, workers):
    """Wanted: two cores make at least 1.8 times as many as one, the start of the processes included."""
    runs = int(os.environ["GINGERLY_RUNS"])
    records = benchmark.pedantic(lambda: rehearse(SCRIPT, runs, workers=workers), rounds=1, iterations=1)
    assert len(records) == runs
