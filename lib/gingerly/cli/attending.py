"""Who answers the questions of a run: the person at this terminal, or a virtual machine's own."""

from __future__ import annotations

import sys
from dataclasses import dataclass

from gingerly.batch import BatchEvent
from gingerly.cli.columns import tell
from gingerly.cli.operator import Lines, TerminalOperator
from gingerly.driver.adapter import Simulated
from gingerly.driver.events import Event
from gingerly.driver.machine import Machine


@dataclass(frozen=True, slots=True)
class Attendance:
    """Who is there; `person` and their `lines` are None where the virtual operator answers, or nobody."""

    person: TerminalOperator | None = None
    lines: Lines | None = None

    @property
    def asks(self) -> bool:
        """Whether questions appear on this terminal."""
        return self.person is not None

    def observe(self, event: BatchEvent | Event) -> None:
        """Let the person's prompts know which part is meant."""
        if self.person is not None:
            self.person.observe(event)


def attend(machine: Machine, *, prompts: bool) -> Attendance | None:
    """Have the machine's questions answered, and say by whom; None where a person is needed and is not there."""
    simulated = isinstance(machine.adapter, Simulated)
    if simulated and not prompts:
        print("The machine is virtual; its virtual operator answers.", file=sys.stderr)
        return Attendance()
    if not sys.stdin.isatty():
        tell("refused before anything moved: the questions of a run need a person at a terminal.")
        return None
    lines = Lines(sys.stdin.fileno())
    person = TerminalOperator(lines, sys.stderr, forward=machine.operator)
    machine.operator = person
    if simulated:
        print("The machine is virtual, and nothing real moves.", file=sys.stderr)
    return Attendance(person, lines)
