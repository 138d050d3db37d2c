"""Do a job's parts in order on one machine, and account for every one of them.

::

    job = gingerly.job.read("dials.toml")
    summary = await gingerly.batch.run(job, operator=my_operator)
    for entry in summary.parts:
        print(entry.part.name, entry.status.value, entry.found)

On a simulated machine each part's scene is staged first, and the truth is kept beside what was found.
"""

from __future__ import annotations

from gingerly.batch.runner import Batch
from gingerly.batch.summary import (
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
from gingerly.driver.adapter import Operator, Simulated
from gingerly.driver.blocking import LoopThread
from gingerly.driver.machine import Machine
from gingerly.driver.recorder import Recorder
from gingerly.driver.registry import installed, make
from gingerly.job import Job, JobError
from gingerly.job.problems import Problems

__all__ = [
    "Batch",
    "BatchEvent",
    "BatchObserver",
    "Noted",
    "PartEnded",
    "PartResult",
    "PartStarted",
    "Status",
    "StepAsked",
    "Summary",
    "connect",
    "run",
    "run_blocking",
]


def connect(
    job: Job, *, operator: Operator | None = None, recorder: Recorder | None = None, blind_waiver: bool = False
) -> Machine:
    """Return the job's machine, not connected yet; a simulated one has its own operator unless another is given.

    Raises `JobError` for an adapter that is not installed or options that it does not take.
    """
    choice = job.machine
    try:
        adapter = make(choice.adapter, dict(choice.options))
    except ValueError as error:
        raise _unusable(job, error) from error
    if operator is None and isinstance(adapter, Simulated):
        operator = adapter.operator
    return Machine(
        adapter,
        name=choice.name,
        operator=operator,
        recorder=recorder,
        keep_outs=job.keep_outs,
        blind_waiver=blind_waiver,
    )


def _unusable(job: Job, error: ValueError) -> JobError:
    problems = Problems()
    problems.add("machine.options" if job.machine.adapter in installed() else "machine.adapter", error)
    return JobError(job.source, problems.found)


async def run(
    job: Job,
    *,
    operator: Operator | None = None,
    recorder: Recorder | None = None,
    observer: BatchObserver | None = None,
) -> Summary:
    """Move the job's machine through the whole job, connect to release, and return the summary.

    Raises `JobError` for a machine that cannot be had, and the fault where it cannot be connected to.
    """
    async with connect(job, operator=operator, recorder=recorder) as machine:
        return await Batch(job, machine, observer=observer).run()


def run_blocking(
    job: Job,
    *,
    operator: Operator | None = None,
    recorder: Recorder | None = None,
    observer: BatchObserver | None = None,
) -> Summary:
    """Move the job's machine through the whole job and return the summary, for scripts without ``async``.

    Raises what `run` does; Ctrl-C stops the machine first and then goes on as `KeyboardInterrupt`.
    """
    thread = LoopThread()
    try:
        return thread.call(run(job, operator=operator, recorder=recorder, observer=observer))
    finally:
        thread.close()
