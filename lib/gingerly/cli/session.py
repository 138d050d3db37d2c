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
from gingerly.cli.columns import WIDTH, tell, wrapped
from gingerly.cli.interrupt import LEAD_ON, BrokenOff, Interrupts, broken_off
from gingerly.cli.progress import LiveProgress, Progress, Silence
from gingerly.cli.table import clock, draw, on_terminal
from gingerly.driver.blocking import LoopThread
from gingerly.driver.events import Event, Ordered
from gingerly.driver.machine import Machine
from gingerly.job import Job
from gingerly.messages.commands import MOTIONS
from gingerly.messages.faults import Standstill

T = TypeVar("T")

Observe = Callable[[BatchEvent | Event], None]


class Watch:
    """What was seen of a machine's motion: whether any was ordered, and how the last run of it ended."""

    def __init__(self, *, moved: bool = False, standstill: Standstill = Standstill.UNMOVED) -> None:
        self.moved = moved
        self.standstill = standstill

    def observe(self, event: BatchEvent | Event) -> None:
        """Take note of a motion that is ordered."""
        self.moved = self.moved or (isinstance(event, Ordered) and isinstance(event.command, MOTIONS))

    def over(self, machine: Machine) -> None:
        """Take note of how the last run of `machine` ended, homing among them."""
        if machine.last is not None:
            self.standstill = machine.last.outcome.standstill
            self.moved = self.moved or self.standstill is not Standstill.UNMOVED


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
) -> tuple[Summary, Watch]:
    """Move the machine through the job, and return the summary and what was seen of its motion, interrupted or not.

    `make` makes the batch of the observer that it gets; left out, it is an ordinary one.
    """
    progress = _progress(quiet=quiet, live=live, pace_s=pace_s)
    done: list[Batch] = []
    watch = Watch()

    def tell(event: BatchEvent | Event) -> None:
        watch.observe(event)
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
            summary = operate(machine, work, interrupts)
        except BrokenOff:
            if not done:
                raise
            summary = done[0].summary
        watch.over(machine)
        return summary, watch


def _progress(*, quiet: bool, live: bool, pace_s: float) -> Progress:
    terminal = on_terminal(sys.stderr)
    if quiet and not terminal:
        return Silence(sys.stderr)
    return LiveProgress(sys.stderr, pace_s=pace_s) if terminal and live else Progress(sys.stderr)


def show(summary: Summary, watch: Watch, *, as_json: bool) -> int:
    """Print what came of a batch, to stdout what was found and to stderr what went wrong; return the exit code."""
    code = report.exit_code(summary)
    try:
        if as_json:
            document = {**report.document(summary), "exit_code": code}
            print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
        else:
            _show_table(summary)
    finally:  # whether the machine stands is told even where nobody takes the data
        for line in _verdict(summary, watch, code):
            tell(line)
    return code


def _show_table(summary: Summary) -> None:
    kind = " (virtual)" if summary.simulated else ""
    spent = clock(summary.duration_s)
    count = f"{len(summary.parts)} part{'s' if len(summary.parts) > 1 else ''}"
    print(wrapped(f"\n{summary.job.title}: {count} on {summary.machine}{kind}, machine time {spent}\n"))
    draw(report.rows(summary), sys.stdout)
    found = [line for entry in summary.parts for line in report.measured(entry)]
    if found:
        print("\n" + wrapped("\n".join(found)))
    for story in (*map(report.fault_story, summary.parts), report.after_story(summary)):
        if story:
            print("\n" + wrapped("\n".join(story)))
    unsure = [reason for entry in summary.parts if entry.account for reason in entry.account.unconfirmed]
    for reason in dict.fromkeys(unsure):
        print("\n" + wrapped(f"unconfirmed: {reason}"))
    steps = report.next_steps(summary)
    if steps:
        print("\nWhat to do next")
    for number, step in enumerate(steps, 1):
        print(textwrap.fill(step, WIDTH, initial_indent=f"  {number}. ", subsequent_indent="     "))


def _verdict(summary: Summary, watch: Watch, code: int) -> list[str]:
    """Say in words why the exit code is not 0."""
    if code == report.INTERRUPTED:
        return [f"interrupted: {_standing(summary, watch)}.{'' if summary.released else LEAD_ON}"]
    if code == report.REFUSED:
        return ["refused before anything moved: change the job."]
    if code == report.FAULT and not summary.faults:
        return ["not everything went as the job expects; see the table."]
    if code == report.FAULT:
        names = ", ".join(fault.name for fault in summary.faults)
        return [f"ended with a fault ({names}): {_standing(summary, watch)}."]
    if code == report.NOT_RELEASED:
        return ["set, but nobody has confirmed that test lead and plate are off."]
    return []


def _standing(summary: Summary, watch: Watch) -> str:
    """What is known of the machine's motion after the whole batch, and not after its last part alone."""
    ends = [fault.standstill for fault in summary.faults]
    ends += [watch.standstill] if summary.interrupted else []
    if Standstill.UNCONFIRMED in (*ends, watch.standstill):
        return Standstill.UNCONFIRMED.value
    if not (watch.moved or summary.moved):
        return Standstill.UNMOVED.value
    if ends and ends[-1] is Standstill.CONFIRMED:
        return Standstill.CONFIRMED.value
    since = "the last part" if summary.moved_in_parts else "the step that came before the first part"
    return f"the machine stands still; nothing was moved since {since}"
