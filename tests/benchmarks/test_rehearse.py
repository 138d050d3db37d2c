"""How many outside corners a second are rehearsed, budget and all. On demand: ``--benchmark-enable``."""

from __future__ import annotations

import os

import pytest

from gingerly.rehearse import Script, rehearse, rehearsed
from support.rehearsals import rehearsal_of

CORNER = ("outside corner", "the defaults for home-made parts")
SCRIPT = Script(job=rehearsal_of(*CORNER, guard="polled"), seed=1)
UNWATCHED = Script(job=rehearsal_of(*CORNER), seed=1)
"""Where nothing watches the circuit during a traverse, ways below clearance are made in short pieces: twice as many
moves in all."""


@pytest.mark.parametrize("script", [SCRIPT, UNWATCHED], ids=["watched", "unwatched"])
def test_one_corner_on_one_core(benchmark, script):
    """Wanted: at least 400 a second, which are 2.5 ms each, on a machine that watches its traverses."""
    numbers = iter(range(1, 10**9))
    rehearsed(script, 0)
    assert benchmark(lambda: rehearsed(script, next(numbers))).done


@pytest.mark.skipif(not os.environ.get("GINGERLY_RUNS"), reason="takes a quiet machine: set GINGERLY_RUNS=20000")
@pytest.mark.parametrize("workers", [1, 2])
def test_many_corners_on_so_many_cores(benchmark, workers):
    """Wanted: two cores make at least 1.8 times as many as one, the start of the processes included."""
    runs = int(os.environ["GINGERLY_RUNS"])
    records = benchmark.pedantic(lambda: rehearse(SCRIPT, runs, workers=workers), rounds=1, iterations=1)
    assert len(records) == runs
