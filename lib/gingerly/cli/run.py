"""`gingerly run`: do a job on the machine that it names, with the person at this terminal, or with nobody."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Awaitable, Callable

from gingerly import job as jobs
from gingerly.batch import Batch, Books, Summary, connect, objections
from gingerly.cli import journalling, origins
from gingerly.cli.attending import Attendance, attend
from gingerly.cli.columns import tell
from gingerly.cli.jog import jogged
from gingerly.cli.jogging import Ending
from gingerly.cli.lengths import length_option
from gingerly.cli.session import Observe, Watch, carry_out, show
from gingerly.cli.words import SAFETY
from gingerly.driver.machine import Machine
from gingerly.job import Job, JobError, Part, Problem
from gingerly.journal import Journal
from gingerly.report import REFUSED

HOLDS = 10
"""How often the person at the terminal is asked to take lead and plate off before the machine is let go of.
Our own choice."""


def run(arguments: argparse.Namespace) -> int:
    """Move the job's machine through the job, and return the exit code."""
    job = jobs.read(arguments.job)
    machine = connect(job)
    look = None
    if arguments.look_at_zero is not None:
        look = length_option(arguments.look_at_zero, job, option="--look-at-zero", name="the height")
    if arguments.table is not None:
        origins.reserve(arguments.table)
    if not arguments.resume and (arguments.overwrite or arguments.accept or arguments.finished is not None):
        raise JobError(
            job.source, [Problem("--resume", "without it --overwrite, --accept and --finished mean nothing")]
        )
    if arguments.unattended and look is not None:
        print("refused before anything moved: --look-at-zero needs somebody who looks.", file=sys.stderr)
        return REFUSED
    journal = journalling.opened(arguments, job)
    if journal is None:
        return REFUSED
    with journal:
        return _kept(arguments, job, machine, journal, look)


def _kept(arguments: argparse.Namespace, job: Job, machine: Machine, journal: Journal, look: float | None) -> int:
    """Do a job with everything kept in the journal."""
    books = journalling.books(arguments, journal, job, machine)
    print(SAFETY, file=sys.stderr)
    if arguments.unattended:
        return _alone(arguments, job, machine, books)
    attendance = attend(machine, prompts=arguments.prompts)
    if attendance is None:
        return REFUSED

    def make(tell: Observe) -> Batch:
        batch = Batch(job, machine, observer=tell, books=books)
        batch.bring = bringing(machine, attendance, books)
        batch.asks_for_release = HOLDS if attendance.asks else 1
        batch.look_height = look
        return batch

    summary, watch = carry_out(
        machine,
        job,
        quiet=arguments.json,
        live=not attendance.asks,
        observe=attendance.observe,
        make=make,
    )
    return _shown(arguments, summary, watch)


def _alone(arguments: argparse.Namespace, job: Job, machine: Machine, books: Books) -> int:
    """Do a job with nobody there, once the machine has checked its circuit itself."""
    needs = objections(job, machine.facts)
    if needs:
        print("refused before anything moved: this job cannot be done unattended.", file=sys.stderr)
        for need in needs[:50]:
            tell(f"  - {need}")
        return REFUSED
    machine.operator = None
    print("Unattended: the machine checks its circuit on the reference first.", file=sys.stderr)
    summary, watch = carry_out(
        machine,
        job,
        quiet=arguments.json,
        make=lambda tell: Batch(job, machine, observer=tell, books=books, unattended=True),
    )
    return _shown(arguments, summary, watch)


def bringing(machine: Machine, attendance: Attendance, books: Books) -> Callable[[Part], Awaitable[bool]]:
    """Return what brings the tool over a part that lies "here": a person's jogging, where there is one."""

    async def bring(part: Part) -> bool:
        if attendance.lines is None:
            return True  # a virtual machine's blank is put under the tool, wherever that stands
        return await jogged(machine, part, attendance.lines, books) is Ending.KEPT

    return bring


def _shown(arguments: argparse.Namespace, summary: Summary, watch: Watch) -> int:
    if arguments.table is not None:
        origins.write(arguments.table, summary)
    return show(summary, watch, as_json=arguments.json)
