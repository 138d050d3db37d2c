"""`gingerly jog`: bring the tool over the plate step by step, and keep the place for the job."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from gingerly import job as jobs
from gingerly.batch import Books, connect
from gingerly.cli import journalling
from gingerly.cli.columns import wrapped
from gingerly.cli.interrupt import Interrupts
from gingerly.cli.jogging import Ending, JogScreen
from gingerly.cli.lengths import length_option
from gingerly.cli.operator import Lines, TerminalOperator
from gingerly.cli.place import as_toml, store
from gingerly.cli.session import operate
from gingerly.cli.words import SAFETY
from gingerly.driver.adapter import Simulated
from gingerly.driver.jog import Jogger
from gingerly.driver.machine import Machine
from gingerly.geometry import Position
from gingerly.job import Job, JobError, Part, Problem
from gingerly.messages.commands import Question
from gingerly.messages.faults import Standstill
from gingerly.messages.touches import Place
from gingerly.report import DONE, NOT_RELEASED, REFUSED
from gingerly.routines import Above, StopTest


def run(arguments: argparse.Namespace) -> int:
    """Move the job's machine as keys are pressed, and return the exit code."""
    job = jobs.read(arguments.job)
    part = chosen(job, arguments.part)
    height = _height(arguments.height, job)
    machine = connect(job)
    if not sys.stdin.isatty():
        print("refused before anything moved: jogging needs a person at a terminal.", file=sys.stderr)
        return REFUSED
    journal = journalling.opened(arguments, job)
    if journal is None:
        return REFUSED
    print(SAFETY, file=sys.stderr)
    lines = Lines(sys.stdin.fileno())
    machine.operator = TerminalOperator(lines, sys.stderr, forward=machine.operator)
    # Where the machine is taken to is accounted for, so that what was set before goes on being trusted.
    books = Books(journal, job, machine, follow=True)

    async def work() -> Position | None:
        async with machine:
            await books.open()
            try:
                return await _session(machine, part, lines, books)
            finally:
                await books.close(released=not machine.attached, interrupted=False, entries=())

    with journal, Interrupts() as interrupts:
        kept = operate(machine, work, interrupts)
    if kept is not None:
        _keep(arguments, part, kept, height)
    return NOT_RELEASED if machine.attached else DONE


async def _session(machine: Machine, part: Part, lines: Lines, books: Books) -> Position | None:
    """Jog, have lead and plate taken off again, and return the place that was kept, if any (mm)."""
    if isinstance(machine.adapter, Simulated):
        if not isinstance(part.routine, StopTest):
            await machine.stage(part.spot, name=part.name)
        print("The machine is virtual, and nothing real moves.", file=sys.stderr)
    ending = await jogged(machine, part, lines, books)
    position = (await machine.look()).position if ending is Ending.KEPT else None
    moving = machine.last is not None and machine.last.outcome.standstill is Standstill.UNCONFIRMED
    if machine.attached and not moving:  # nobody is sent near a machine that may still be moving
        await machine.release()
    return position


async def jogged(machine: Machine, part: Part, lines: Lines, books: Books) -> Ending:
    """Ask for clear hands, then move the machine as keys are pressed; return how that ended."""
    if not await machine.ask(Question.CLEAR):
        return Ending.LEFT
    machine.assume_attached()  # the plate is seated, and where it is the lead may be too
    # The tip on a plate, the very stock without one; before a stop test nothing is laid anywhere yet.
    places = (Place.TIP,) if isinstance(part.routine, StopTest) else part.spot.places()
    screen = JogScreen(Jogger(machine, tool=part.tool), lines, sys.stderr, places)
    screen.homed = lambda: books.end_trust("the machine was homed")
    return await screen.run()


def chosen(job: Job, name: str | None) -> Part:
    """Return the part of this name; left out, the first that the tool must be brought to, or the first of all.

    Raises `JobError` where no part is called so.
    """
    if name is None:
        return next((part for part in job.parts if part.here), job.parts[0])
    for part in job.parts:
        if part.name == name:
            return part
    near = jobs.problems.nearest(name, [part.name for part in job.parts])
    raise JobError(job.source, [Problem("--part", f"no part is called {name!r}{near}")])


def _height(given: str | None, job: Job) -> float | None:
    return None if given is None else length_option(given, job, option="--height", name="the height")


def _keep(arguments: argparse.Namespace, part: Part, position: Position, height: float | None) -> None:
    """Tell the place of the part's corner under a tool that stands at `position` (mm), and put it into the job."""
    place = part.spot.place
    if isinstance(place, Above) and height is None:
        height = place.height
    print(f"the tool stands at {position}")
    if height is None:
        told = "say with --height how far it stands above the flat, and the place of the part follows from it"
        print(wrapped(told))
        return
    corner = replace(part.spot, place=Above(height)).corner_place(position)
    print(f"place = {as_toml(corner)}")
    if arguments.keep:
        kept = store(Path(arguments.job), part.name, corner)
        print("written into the job" if kept else "its line was not found in the job: put it there by hand")
