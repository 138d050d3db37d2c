"""Many runs of one script, on all cores of this computer or on a cluster: the same runs, whoever makes them."""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from itertools import islice, takewhile
from multiprocessing import get_context
from multiprocessing.synchronize import Event

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


def chunk_of(script: Script, numbers: Iterable[int]) -> list[RunRecord]:
    """Return the records of these runs; what a worker does."""
    return [rehearsed(script, number) for number in numbers]


def here(script: Script, chunks: Sequence[Sequence[int]]) -> Iterator[list[RunRecord]]:
    """Yield the records of each chunk, made in this process."""
    return (chunk_of(script, numbers) for numbers in chunks)


SELDOM = 50_000
"""So many objects come to be in a worker before it looks for cycles among the youngest. Our own choice."""

_script: list[Script] = []
_over: list[Event] = []


def _begin(script: Script, over: Event) -> None:
    _script[:] = [script]
    _over[:] = [over]
    # Runs leave hardly any cycles behind: looking for them as often as usual costs two or three in a hundred runs.
    gc.set_threshold(SELDOM)


def _of_mine(numbers: Sequence[int]) -> list[RunRecord]:
    """Return the records of these runs, or of those that were made before nobody wanted any more."""
    return chunk_of(_script[0], takewhile(lambda _: not _over[0].is_set(), numbers))


@contextmanager
def deaf_to_ctrl_c() -> Iterator[None]:
    """Let processes that begin meanwhile never hear Ctrl-C: a terminal sends it to all, and theirs end with the pool.

    One that is torn while it starts would break the pool behind the back of whoever is ending it. What is pressed
    meanwhile reaches this process afterwards. On Windows nothing of the kind is needed: no signal is passed on so.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def on_cores(script: Script, chunks: Sequence[Sequence[int]], workers: int) -> Iterator[list[RunRecord]]:
    """Yield the records of each chunk as it is ready, made by so many processes of this computer.

    Each process gets the script once, so that it plans the job once.
    """
    context = get_context("spawn")
    over = context.Event()
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_begin, initargs=(script, over)) as pool:
        left = iter(chunks)
        waiting: set[Future[list[RunRecord]]] = set()
        try:
            while True:
                more = islice(left, workers * AHEAD - len(waiting))
                with deaf_to_ctrl_c():
                    waiting |= {pool.submit(_of_mine, numbers) for numbers in more}
                if not waiting:
                    return
                ready, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                yield from (future.result() for future in ready)
        finally:
            over.set()
            for future in waiting:
                future.cancel()
