"""`gingerly continuity`: the check of the test circuit alone; nothing moves.

``--json`` prints one document with stable keys: ``format`` (1), ``machine``, ``part``, ``places`` (where the
circuit was to be seen closed), ``proved``, ``waived`` (somebody went on without having seen it close: nothing is
proved, and the exit code is 1), ``released``, ``exit_code``, ``fault`` (as in `gingerly run`,
or null).
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass

from gingerly import job as jobs
from gingerly import report
from gingerly.batch import connect
from gingerly.cli.check import assumed_start
from gingerly.cli.columns import tell, wrapped
from gingerly.cli.interrupt import Interrupts
from gingerly.cli.jog import chosen
from gingerly.cli.operator import Lines, TerminalOperator
from gingerly.cli.session import operate
from gingerly.cli.words import SAFETY
from gingerly.driver.adapter import Simulated
from gingerly.driver.machine import Machine
from gingerly.job.forecast import foresee
from gingerly.messages.faults import Fault
from gingerly.messages.touches import Place
from gingerly.routines import StopTest


def run(arguments: argparse.Namespace) -> int:
    """Check the circuit with the person at this terminal, and return the exit code; moves nothing."""
    job = jobs.read(arguments.job)
    part = chosen(job, arguments.part)
    machine = connect(job)
    simulated = isinstance(machine.adapter, Simulated)
    if arguments.prompts or not simulated:
        if not sys.stdin.isatty():
            print("refused: the check needs a person at a terminal.", file=sys.stderr)
            return report.REFUSED
        person = TerminalOperator(Lines(sys.stdin.fileno()), sys.stderr, forward=machine.operator)
        machine.operator = person
    print(SAFETY, file=sys.stderr)
    entry = foresee(job, machine.facts, assumed_start(machine.facts, part)).parts[job.parts.index(part)]
    places = entry.places or part.spot.places()

    async def work() -> Checked:
        async with machine:
            if simulated and not isinstance(part.routine, StopTest):
                await machine.stage(part.spot, name=part.name)
            return await checked(machine, places)

    with Interrupts() as interrupts:
        seen = operate(machine, work, interrupts)
    return _told(machine, part.name, places, seen, as_json=arguments.json)


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of a check: a fault, a waiver, or, without either, a proof."""

    fault: Fault | None = None
    waived: bool = False

    @property
    def proved(self) -> bool:
        """Whether the circuit was seen open, closed and open."""
        return self.fault is None and not self.waived


async def checked(machine: Machine, places: tuple[Place, ...]) -> Checked:
    """Check the circuit at these places, have lead and plate taken off, and return what came of it."""
    fault = proof = None
    try:
        proof = (await machine.continuity(places)).outcome.proof
    except Fault as found:
        fault = found
    await machine.release()
    return Checked(fault, waived=fault is None and (proof is None or proof.waived))


def _told(machine: Machine, part: str, places: tuple[Place, ...], seen: Checked, *, as_json: bool) -> int:
    fault = seen.fault
    code = report.FAULT if not seen.proved else report.NOT_RELEASED if machine.attached else report.DONE
    names = [place.value for place in places]
    if as_json:
        document = {
            "format": 1,
            "machine": machine.name,
            "part": part,
            "places": names,
            "proved": seen.proved,
            "waived": seen.waived,
            "released": not machine.attached,
            "exit_code": code,
            "fault": report.fault_record(fault) if fault is not None else None,
        }
        print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
    elif seen.waived:
        told = (
            f"{machine.name}: NOT PROVED. The circuit was not seen to close ({', '.join(names)}): that was waived."
        )
        print(wrapped(told))
    elif fault is None:
        print(wrapped(f"{machine.name}: the circuit was seen open, closed ({', '.join(names)}), and open again."))
    if fault is not None:
        tell(fault.story())
    elif machine.attached:
        print("nobody has confirmed that test lead and plate are off.", file=sys.stderr)
    return code
