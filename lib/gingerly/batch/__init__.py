"""Do a job's parts in order on one machine, and account for every one of them.

::

    job = gingerly.job.read("dials.toml")
    summary = await gingerly.batch.run(job, operator=my_operator)
    for entry in summary.parts:
        print(entry.part.name, entry.status.value, entry.found)

On a simulated machine each part's scene is staged first, and the truth is kept beside what was found.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Collection, Sequence
from functools import partial

from gingerly.batch.books import Books
from gingerly.batch.runner import MANY, Batch
from gingerly.batch.summary import (
    Account,
    BatchEvent,
    BatchObserver,
    Noted,
    PartEnded,
    PartResult,
    PartStarted,
    Status,
    StepAsked,
    Summary,
)
from gingerly.batch.unattended import objections
from gingerly.driver.adapter import Operator, Simulated
from gingerly.driver.blocking import LoopThread
from gingerly.driver.events import Event
from gingerly.driver.floor import Floor
from gingerly.driver.machine import Machine
from gingerly.driver.recorder import Recorder
from gingerly.job import Job
from gingerly.job.machines import adapter_of
from gingerly.journal import Journal
from gingerly.messages.faults import Declined

__all__ = [
    "MANY",
    "Account",
    "Batch",
    "BatchEvent",
    "BatchObserver",
    "Books",
    "Noted",
    "PartEnded",
    "PartResult",
    "PartStarted",
    "Status",
    "StepAsked",
    "Summary",
    "connect",
    "objections",
    "run",
    "run_blocking",
    "run_together",
]


def connect(
    job: Job,
    *,
    operator: Operator | None = None,
    recorder: Recorder | None = None,
    blind_waiver: bool = False,
    floor: Floor | None = None,
) -> Machine:
    """Return the job's machine, not connected yet; a simulated one has its own operator unless another is given.

    Raises `JobError` for an adapter that is not installed or options that it does not take.
    """
    adapter = adapter_of(job.machine, job.source)
    if operator is None and isinstance(adapter, Simulated):
        operator = adapter.operator
    return Machine(
        adapter,
        name=job.machine.name,
        operator=operator,
        recorder=recorder,
        keep_outs=job.keep_outs,
        doubts=job.doubts,
        blind_waiver=blind_waiver,
        floor=floor,
    )


async def run(
    job: Job,
    *,
    operator: Operator | None = None,
    recorder: Recorder | None = None,
    observer: BatchObserver | None = None,
    journal: Journal | None = None,
    resume: bool = False,
    overwrite: Collection[int] = (),
    accept: Collection[str] = (),
    finished: Sequence[str] | None = None,
    keep_results: bool | None = None,
    unattended: bool = False,
    floor: Floor | None = None,
) -> Summary:
    """Move the job's machine through the whole job, connect to release, and return the summary.

    With a `journal` everything is kept there, and `resume` goes on where the latest run of this job was cut off;
    see `Books` for `overwrite`, `accept` and `finished`, and `Batch` for `keep_results`. `unattended` asks nobody
    anything. Raises `JobError` for a machine that cannot be had, the fault where it cannot be connected to, and
    `Declined` for an unattended job that needs a person.
    """
    made = connect(job, operator=operator, recorder=recorder, floor=floor)
    if unattended:
        needs = objections(job, made.facts)
        if needs:
            raise Declined(f"nobody is there, and {'; '.join(needs)}", done="no motion was ordered")
        made.operator = None
    async with made as machine:
        books = None
        if journal is not None:
            books = Books(
                journal, job, machine, resume=resume, overwrite=overwrite, accept=accept, finished=finished
            )
        batch = Batch(
            job, machine, observer=observer, books=books, keep_results=keep_results, unattended=unattended
        )
        return await batch.run()


def run_blocking(
    job: Job,
    *,
    operator: Operator | None = None,
    recorder: Recorder | None = None,
    observer: BatchObserver | None = None,
    journal: Journal | None = None,
    resume: bool = False,
    overwrite: Collection[int] = (),
    accept: Collection[str] = (),
    finished: Sequence[str] | None = None,
    keep_results: bool | None = None,
    unattended: bool = False,
) -> Summary:
    """Move the job's machine through the whole job and return the summary, for scripts without ``async``.

    Raises what `run` does; Ctrl-C stops the machine first and then goes on as `KeyboardInterrupt`.
    """
    thread = LoopThread()
    try:
        return thread.call(
            run(
                job,
                operator=operator,
                recorder=recorder,
                observer=observer,
                journal=journal,
                resume=resume,
                overwrite=overwrite,
                accept=accept,
                finished=finished,
                keep_results=keep_results,
                unattended=unattended,
            )
        )
    finally:
        thread.close()


async def run_together(
    jobs: Sequence[Job],
    *,
    operator: Operator | None = None,
    observer: Callable[[Job, BatchEvent | Event], None] | None = None,
    journal: Journal | None = None,
    resume: bool = False,
) -> list[Summary | BaseException]:
    """Move the machines of several jobs at once, and return what came of each, in order.

    While one machine waits for hands, none of them moves. What ends one job does not end the others: where one
    cannot begin, its exception stands in its place. Raises `ValueError` for two jobs on one machine.
    """
    names = [job.machine.name for job in jobs]
    if len(set(names)) < len(names):
        raise ValueError(f"each machine takes one job at a time; the machines named are {', '.join(names)}")
    floor = Floor()
    runs = [
        run(
            job,
            operator=operator,
            observer=None if observer is None else partial(observer, job),
            journal=journal,
            resume=resume,
            floor=floor,
        )
        for job in jobs
    ]
    return await asyncio.gather(*runs, return_exceptions=True)
