"""One batch from the command line: run it on a thread of its own, show what happens, and what came of it."""

from __future__ import annotations

import asyncio
import json
import sys
import textwrap
from collections.abc import Callable, Coroutine
from typing import Any, TypeVar

from gingerly import report
from gingerly.batch import Batch, BatchEvent, Summary
from gingerly.cli.interrupt import BrokenOff, Interrupts, broken_off
from gingerly.cli.progress import LiveProgress, Progress, Silence
from gingerly.cli.table import clock, draw, on_terminal
from gingerly.driver.blocking import LoopThread
from gingerly.driver.events import Event
from gingerly.driver.machine import Machine
from gingerly.job import Job

T = TypeVar("T")

Observe = Callable[[BatchEvent | Event], None]

WIDTH = 78
"""Columns of the text that is told to people. Our own choice, for terminals of 80."""


def operate(machine: Machine, work: Callable[[], Coroutine[Any, Any, T]], interrupts: Interrupts) -> T:
    """Run what may move `machine` on a thread of its own; the first Ctrl-C stops it, further ones change nothing.

    Raises `BrokenOff` once what was interrupted has ended.
    """

    async def guarded() -> T:
        interrupts.guard()
        return await work()

    thread = LoopThread()
    try:
        return thread.call(guarded())
    except asyncio.CancelledError:
        raise broken_off(machine) from None
    finally:
        thread.close()


def carry_out(
    machine: Machine,
    job: Job,
    *,
    quiet: bool,
    live: bool = True,
    pace_s: float = 0.0,
    observe: Observe | None = None,
    make: Callable[[Observe], Batch] | None = None,
) -> Summary:
    """Move the machine through the job and return the summary, also when it was interrupted.

    `make` makes the batch of the observer that it gets; left out, it is an ordinary one.
    """
    progress = _progress(quiet=quiet, live=live, pace_s=pace_s)
    done: list[Batch] = []

    def tell(event: BatchEvent | Event) -> None:
        if observe is not None:
            observe(event)
        progress.observe(event)

    async def work() -> Summary:
        async with machine:
            await progress.foresee(job, machine)
            done.append(make(tell) if make is not None else Batch(job, machine, observer=tell))
            return await done[0].run()

    with Interrupts() as interrupts, progress:
        try:
            return operate(machine, work, interrupts)
        except BrokenOff:
            if not done:
                raise
            return done[0].summary


def _progress(*, quiet: bool, live: bool, pace_s: float) -> Progress:
    terminal = on_terminal(sys.stderr)
    if quiet and not terminal:
        return Silence(sys.stderr)
    return LiveProgress(sys.stderr, pace_s=pace_s) if terminal and live else Progress(sys.stderr)


def show(summary: Summary, *, as_json: bool) -> int:
    """Print what came of a batch, to stdout what was found and to stderr what went wrong; return the exit code."""
    code = report.exit_code(summary)
    if as_json:
        print(json.dumps(report.document(summary), ensure_ascii=False, indent=2, allow_nan=False))
    else:
        _show_table(summary)
    for line in _verdict(summary, code):
        print(line, file=sys.stderr)
    return code


def _show_table(summary: Summary) -> None:
    kind = " (virtual)" if summary.simulated else ""
    spent = clock(summary.duration_s)
    count = f"{len(summary.parts)} part{'s' if len(summary.parts) > 1 else ''}"
    print(f"\n{summary.job.title}: {count} on {summary.machine}{kind}, machine time {spent}\n")
    draw(report.rows(summary), sys.stdout)
    found = [line for entry in summary.parts for line in report.measured(entry)]
    if found:
        print("\n" + "\n".join(found))
    for story in (*map(report.fault_story, summary.parts), report.after_story(summary)):
        if story:
            print("\n" + "\n".join(_wrapped(line) for line in story))
    unsure = [reason for entry in summary.parts if entry.account for reason in entry.account.unconfirmed]
    for reason in dict.fromkeys(unsure):
        print(f"\nunconfirmed: {reason}")
    steps = report.next_steps(summary)
    if steps:
        print("\nWhat to do next")
    for number, step in enumerate(steps, 1):
        print(textwrap.fill(step, WIDTH, initial_indent=f"  {number}. ", subsequent_indent="     "))


def _wrapped(line: str) -> str:
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.fill(line, WIDTH, subsequent_indent=f"{indent}    ", break_long_words=False)


def _verdict(summary: Summary, code: int) -> list[str]:
    """Say in words why the exit code is not 0."""
    standing = summary.faults[-1].standstill.value if summary.faults else ""
    if code == report.INTERRUPTED:
        released = "" if summary.released else " Test lead and plate must be thought to be on."
        return [f"interrupted: {standing or 'nothing was moving'}.{released}"]
    if code == report.REFUSED:
        return ["refused before anything moved: change the job."]
    if code == report.FAULT and not summary.faults:
        return ["not everything went as the job expects; see the table."]
    if code == report.FAULT:
        return [f"ended with a fault ({', '.join(fault.name for fault in summary.faults)}): {standing}."]
    if code == report.NOT_RELEASED:
        return ["set, but nobody has confirmed that test lead and plate are off."]
    return []
