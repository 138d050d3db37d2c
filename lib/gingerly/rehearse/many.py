"""Many runs of one script, on all cores of this computer or on a cluster: the same runs, whoever makes them."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from itertools import islice
from multiprocessing import get_context

from gingerly.rehearse.run import RunRecord, rehearsed
from gingerly.rehearse.script import Script

CHUNK = 50
"""So many runs are handed over at a time: enough that handing over costs nothing. Our own choice."""

AHEAD = 3
"""So many chunks wait for each worker, so that none is idle. Our own choice."""

Progress = Callable[[int, int], None]
"""Told how many runs are done, and of how many."""


def rehearse(
    script: Script,
    runs: int,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress | None = None,
) -> tuple[RunRecord, ...]:
    """Return the records of runs 1 to `runs`, in order; only virtual machines move.

    `workers` processes of this computer make them, by default one for each core that it may use; or the workers of
    the Dask scheduler at `scheduler`. Raises `ValueError` for numbers that cannot be, `ImportError` where the extra
    for a scheduler is not installed, and `OSError` where none answers.
    """
    if runs < 1:
        raise ValueError(f"rehearse at least 1 run, not {runs}")
    if workers is not None and workers < 1:
        raise ValueError(f"rehearse with at least 1 worker, not {workers}")
    chunks = [range(first, min(first + CHUNK, runs + 1)) for first in range(1, runs + 1, CHUNK)]
    if scheduler is not None:
        from gingerly.rehearse.cluster import on_cluster

        made = on_cluster(script, chunks, scheduler)
    else:
        many = min(len(chunks), workers or available_cores())
        made = here(script, chunks) if many == 1 else on_cores(script, chunks, many)
    found: list[RunRecord] = []
    for records in made:
        found += records
        if progress is not None:
            progress(len(found), runs)
    return tuple(sorted(found, key=lambda record: record.number))


def available_cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def chunk_of(script: Script, numbers: Sequence[int]) -> list[RunRecord]:
    """Return the records of these runs; what a worker does."""
    return [rehearsed(script, number) for number in numbers]


def here(script: Script, chunks: Sequence[Sequence[int]]) -> Iterator[list[RunRecord]]:
    """Yield the records of each chunk, made in this process."""
    return (chunk_of(script, numbers) for numbers in chunks)


SELDOM = 50_000
"""So many objects come to be in a worker before it looks for cycles among the youngest. Our own choice."""

_script: list[Script] = []


def _begin(script: Script) -> None:
    _script[:] = [script]
    # Runs leave hardly any cycles behind: looking for them as often as usual costs two or three in a hundred runs.
    gc.set_threshold(SELDOM)


def _of_mine(numbers: Sequence[int]) -> list[RunRecord]:
    return chunk_of(_script[0], numbers)


def on_cores(script: Script, chunks: Sequence[Sequence[int]], workers: int) -> Iterator[list[RunRecord]]:
    """Yield the records of each chunk as it is ready, made by so many processes of this computer.

    Each process gets the script once, so that it plans the job once.
    """
    context = get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_begin, initargs=(script,)) as pool:
        left = iter(chunks)
        waiting: set[Future[list[RunRecord]]] = set()
        try:
            while True:
                more = islice(left, workers * AHEAD - len(waiting))
                waiting |= {pool.submit(_of_mine, numbers) for numbers in more}
                if not waiting:
                    return
                ready, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                yield from (future.result() for future in ready)
        finally:
            for future in waiting:
                future.cancel()
