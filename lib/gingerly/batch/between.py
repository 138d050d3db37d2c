"""Between two parts of a job: what the operator is asked for first, and whether a part that failed may be skipped."""

from __future__ import annotations

from collections.abc import Callable

from gingerly.batch.books import Books
from gingerly.batch.summary import StepAsked
from gingerly.driver.machine import Machine
from gingerly.geometry import Position
from gingerly.job import OnFault, Part
from gingerly.messages.commands import Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import CircuitFault, ContactFault, Fault, PlanFault, Standstill
from gingerly.messages.snapshot import Circuit, Snapshot, Spindle


class Steps:
    """What has to be moved or changed by hand before each part, on one machine; each is told, and then asked for."""

    def __init__(
        self, machine: Machine, books: Books | None, *, unattended: bool, tell: Callable[[StepAsked], None]
    ) -> None:
        self._machine = machine
        self._books = books
        self._unattended = unattended
        self._tell = tell
        self._before: Part | None = None

    async def before(self, part: Part) -> bool:
        """Ask for what this part needs moved or changed first; return whether all was confirmed. Moves nothing."""
        before, self._before = self._before, part
        if before is None:
            return await self._again(part)
        if not part.same_setting(before):
            self._machine.void_proof()
            if not await self._step(part, Question.NEXT_PART):
                return False
        if before.tool != part.tool:
            self._machine.tool_changed()
            return await self._step(part, Question.CHANGE_TOOL)
        return True

    async def _again(self, part: Part) -> bool:
        """Ask for what the first part of a resumed batch needs, since nobody knows what was done meanwhile."""
        if self._books is None or not self._books.resumed:
            return True
        if self._unattended:  # all is wired, and the machine checks its circuit itself; a tool nobody changes
            return self._books.last_tool in ("", part.tool.name)
        if self._books.last_tool not in ("", part.tool.name) and not await self._step(part, Question.CHANGE_TOOL):
            return False
        return await self._step(part, Question.NEXT_PART)

    async def _step(self, part: Part, question: Question) -> bool:
        self._tell(StepAsked(part, question))
        return await self._machine.ask(question)


async def may_be_skipped(machine: Machine, part: Part, fault: Fault, began: Position) -> bool:
    """Return whether the batch may go on after `fault`: the machine is trusted, at rest, idle and clear.

    `began` is where the tool stood before the part (mm), which is as high as it must stand again where nobody said
    where the part lies. Takes a look and moves nothing.
    """
    if part.on_fault is not OnFault.SKIP or not isinstance(fault, PlanFault | CircuitFault | ContactFault):
        return False
    if fault.standstill is Standstill.UNCONFIRMED:
        return False
    try:
        snapshot = await machine.look()
    except Fault:
        return False
    facts = machine.facts
    clear = facts.envelope.high.z if isinstance(part.spot.place, Position) else began.z
    high_enough = snapshot.position.z >= clear - facts.position_slack
    return _at_ease(snapshot, facts) and (fault.standstill is Standstill.UNMOVED or high_enough)


def _at_ease(snapshot: Snapshot, facts: MachineFacts) -> bool:
    return (
        snapshot.idle
        and (snapshot.alarm is False or not facts.alarm_known)
        and (snapshot.circuit is Circuit.OPEN or not facts.circuit_known)
        and snapshot.spindle is not Spindle.TURNING
        and snapshot.homed is not False
    )
