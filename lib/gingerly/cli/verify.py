"""`gingerly verify`: touch what was set, compare with what the controller holds, and write nothing.

``--json`` prints the document of `gingerly run`; ``measures`` of a part say by how much each axis is off.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from gingerly import job as jobs
from gingerly.batch import Batch, Books, connect
from gingerly.cli import journalling
from gingerly.cli.attending import attend
from gingerly.cli.check import assumed_start
from gingerly.cli.columns import wrapped
from gingerly.cli.interrupt import Interrupts
from gingerly.cli.lengths import length_option
from gingerly.cli.session import carry_out, operate, show
from gingerly.cli.words import SAFETY
from gingerly.driver.machine import Machine
from gingerly.geometry import Axis, Position
from gingerly.job import Job, JobError, Part, Problem
from gingerly.journal import Journal, what_was_set
from gingerly.journal.recorder import kept_as
from gingerly.messages.faults import PlanFault
from gingerly.messages.touches import Finding, Setting
from gingerly.report import REFUSED
from gingerly.routines import Site, ToolChange, Verify
from gingerly.routines.verify import SAME
from gingerly.tool import Tool


def run(arguments: argparse.Namespace) -> int:
    """Move the job's machine through the job again, and return the exit code; writes nothing."""
    job = jobs.read(arguments.job)
    tolerance = length_option(arguments.tolerance, job, option="--tolerance", name="the tolerance")
    parts = settled(job, arguments.part)
    machine = connect(job)
    if not machine.facts.offsets_readable:
        print("refused before anything moved: this machine cannot tell its work offsets.", file=sys.stderr)
        return REFUSED
    print(SAFETY, file=sys.stderr)
    attendance = attend(machine, prompts=arguments.prompts)
    if attendance is None:
        return REFUSED
    with Interrupts() as interrupts:
        origins = operate(machine, lambda: _origins(machine, parts), interrupts)
    first = {part.name: part.tool for part in job.parts}
    journal = journalling.opened(arguments, job)
    if journal is None:
        return REFUSED
    with journal:
        kept = recorded(journal, machine)
        _note_changed(machine, origins, kept)
        again = replace(
            job,
            parts=tuple(
                verifying(part, origins, machine, tolerance, changed=part.tool != first[part.name], recorded=kept)
                for part in parts
            ),
        )
        # A face that is where it was set restores the trust in all that was set before on this machine.
        books = Books(journal, job, machine, follow=True)
        summary, watch = carry_out(
            machine,
            again,
            quiet=arguments.json,
            live=not attendance.asks,
            observe=attendance.observe,
            make=lambda tell: Batch(again, machine, observer=tell, books=books),
        )
    return show(summary, watch, as_json=arguments.json)


def settled(job: Job, name: str | None) -> tuple[Part, ...]:
    """Return the parts that set a work offset, with the tool that their offsets fit by the end of the job.

    Raises `JobError` where there is none of this name, or none at all.
    """
    fits: dict[int, Tool] = {}
    for part in job.parts:
        fits |= dict.fromkeys(part.offsets, part.tool)
    found = [
        part.with_spot(replace(part.spot, tool=fits[part.offsets[0]]))
        for part in job.parts
        if part.offsets and not isinstance(part.routine, ToolChange) and name in (None, part.name)
    ]
    if not found:
        what = "no part sets a work offset" if name is None else f"no part called {name!r} sets a work offset"
        raise JobError(job.source, [Problem("parts", what)])
    return tuple(found)


def recorded(journal: Journal, machine: Machine) -> dict[int, Position]:
    """Return what the journal says that each work offset of this machine was last set to (mm)."""
    found = sorted(what_was_set(journal, machine=kept_as(machine)), key=lambda one: one.number)
    set_to = ((one.offset, one.read or one.new) for one in found)
    return {number: position for number, position in set_to if position is not None}


def _note_changed(machine: Machine, origins: dict[int, Position], kept: dict[int, Position]) -> None:
    """Tell which work offsets do not hold what was set last: an offset may be wrong where nothing has moved."""
    for number, origin in sorted(origins.items()):
        was = kept.get(number, origin)
        if max(abs(a - b) for a, b in zip(was, origin, strict=True)) > max(SAME, machine.facts.offset_resolution):
            line = f"note: work offset {number} holds {origin}, the journal says {was}: has somebody changed it?"
            print(wrapped(line), file=sys.stderr)


async def _origins(machine: Machine, parts: tuple[Part, ...]) -> dict[int, Position]:
    async with machine:
        return {number: await machine.read_offset(number) for part in parts for number in part.offsets}


def verifying(
    part: Part,
    origins: dict[int, Position],
    machine: Machine,
    tolerance: float,
    *,
    changed: bool = False,
    recorded: Mapping[int, Position] = MappingProxyType({}),
) -> Part:
    """Return the part that touches the same again, and compares it with the origin that the controller holds.

    `changed` says that its offset fits another tool by now than the one that the job's place was told for; `recorded`
    is what the journal says of each offset.
    """
    number = part.offsets[0]
    origin = origins[number]
    routine: Any = part.routine
    reads = getattr(routine, "reads", 0.0)
    up = reads.z if isinstance(reads, Position) else reads
    place = part.spot.place
    axes = _axes(part, machine)
    if changed and isinstance(place, Position) and Axis.Z in axes:
        routine = replace(routine, spot=replace(part.spot, place=place._replace(z=origin.z + up)))
    again = Verify(
        routine=replace(routine, offset=None),
        expected=tuple((axis, origin[axis]) for axis in axes),
        tolerance=tolerance,
        number=number,
        recorded=tuple((axis, recorded[number][axis]) for axis in axes if number in recorded),
    )
    return replace(part, routine=again)


def _axes(part: Part, machine: Machine) -> tuple[Axis, ...]:
    """Return which axes this part's routine sets; those of a corner where it cannot be planned."""
    site = Site(facts=machine.facts, here=assumed_start(machine.facts, part), wishes=part.wishes)
    try:
        *_, last = part.routine.plan(site).foreseen()
    except PlanFault:
        return (Axis.X, Axis.Y, Axis.Z)
    if isinstance(last, Setting):
        return tuple(axis for axis, _ in last.changes[0].axes)
    return tuple(axis for axis, _ in last.axes) if isinstance(last, Finding) else ()
