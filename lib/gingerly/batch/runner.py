"""Do a job's parts in order on one machine. Between parts the operator moves the plate and changes the tool.

After either nothing that was proved before counts. A part that fails is skipped only where its fault leaves the
machine trusted, at rest, idle and clear; otherwise nothing more is begun.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterator
from dataclasses import replace

from gingerly.batch.stage import Stage
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
from gingerly.driver.adapter import Simulated
from gingerly.driver.events import Event
from gingerly.driver.machine import Machine, Result
from gingerly.geometry import Axis, Position
from gingerly.job import Job, OnFault, Part
from gingerly.messages.commands import AxisValues, Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import CircuitFault, ContactFault, Declined, Fault, Interrupted, PlanFault, Standstill
from gingerly.messages.snapshot import Circuit, Snapshot, Spindle
from gingerly.messages.touches import Touch
from gingerly.routines import PlannedCourse, Routine, ToolChange

log = logging.getLogger("gingerly")


class Batch:
    """One job on one connected machine. `summary` accounts for every part at any time, after a cancellation too."""

    def __init__(self, job: Job, machine: Machine, *, observer: BatchObserver | None = None) -> None:
        self.job = job
        self.machine = machine
        self._observer = observer
        self._rehearsal = Stage(machine.adapter, job.parts) if isinstance(machine.adapter, Simulated) else None
        self._entries = [PartResult(part=part) for part in job.parts]
        self._by_name = {part.name: part for part in job.parts}
        self._heights: dict[str, float] = {}
        self._longer: dict[str, float] = {}
        self._before: Part | None = None
        self._notes: list[str] = []
        self._interrupted = False
        self._began_s = self._ended_s = machine.clock.now()

    @property
    def summary(self) -> Summary:
        """How things stand."""
        return Summary(
            job=self.job,
            machine=self.machine.name,
            facts=self.machine.facts,
            simulated=self._rehearsal is not None,
            parts=tuple(self._entries),
            released=not self.machine.attached,
            interrupted=self._interrupted,
            duration_s=self._ended_s - self._began_s,
            notes=tuple(self._notes),
        )

    async def run(self) -> Summary:
        """Move the machine through all parts, ask for lead and plate to be taken off, and return the summary.

        Faults do not come out as exceptions: they stand in the summary. On cancellation the machine is stopped
        first and `asyncio.CancelledError` goes on; `summary` tells how far it got.
        """
        unsubscribe = self.machine.events.subscribe(self._tell)
        try:
            self._note_what_is_ignored()
            if not await self._refused():
                await self._do_parts()
            await self._release()
        except asyncio.CancelledError:
            self._interrupted = True
            raise
        finally:
            self._ended_s = self.machine.clock.now()
            unsubscribe()
        return self.summary

    async def _do_parts(self) -> None:
        for index, part in enumerate(self.job.parts):
            self._tell(PartStarted(part, index + 1, len(self.job.parts)))
            entry = self._entries[index] = await self._one(index, part)
            self._tell(PartEnded(entry))
            if entry.status is Status.FAILED or (entry.why and part.on_fault is OnFault.STOP):
                return

    async def _one(self, index: int, part: Part) -> PartResult:
        if part.compare_with is not None and part.compare_with not in self._heights:
            return PartResult(part=part, why=f"no height was found at {part.compare_with!r} to compare with")
        routine = self._corrected(part)
        last = self.machine.last
        try:
            if not await self._steps(part):
                return self._ended(part, Declined("a step between two parts", done="no motion was ordered"))
            began = await self.machine.look()
            if self._rehearsal is not None:
                self._rehearsal.set_up(part, began.position)
            self.machine.wishes = part.wishes
            result = await self.machine.attempt(routine)
        except Fault as fault:
            return self._ended(part, fault)
        except asyncio.CancelledError:
            self._entries[index] = self._cut_short(part, last)
            raise
        entry = self._entries[index] = self._ended(part, result.fault, result)
        if result.fault is not None and await self._may_go_on(part, result.fault, began.position):
            return replace(entry, status=Status.SKIPPED)
        return entry

    def _corrected(self, part: Part) -> Routine:
        """Return the part's routine with its place corrected by what is known of tools and faces by now.

        A tool change expects its face where the former tool met it; other parts stand higher by as much as their
        tool is longer than the first one.
        """
        if part.compare_with is None:
            return part.moved(self._longer.get(part.tool.name, 0.0)).routine
        height, place = self._heights[part.compare_with], part.spot.place
        assert isinstance(place, Position)
        return part.moved(height - part.spot.thickness() - place.z).compared(height)

    # ---- before anything moves ------------------------------------------------------------------------

    async def _refused(self) -> bool:
        """Plan every part before the first moves; a part that cannot be, and must not be skipped, refuses all."""
        try:
            here = (await self.machine.look()).position
        except Fault as fault:
            self._entries[0] = self._ended(self.job.parts[0], fault)
            return True
        refused = False
        for index, objection in self.preflight(here):
            part = self.job.parts[index]
            if part.on_fault is OnFault.STOP:
                refused = True
                self._entries[index] = self._ended(part, objection)
                self._tell(PartEnded(self._entries[index]))
        return refused

    def preflight(self, here: Position) -> Iterator[tuple[int, PlanFault]]:
        """Yield the index of each part that cannot be planned, and why, for a tool that begins at `here` (mm)."""
        tool = None
        for index, part in enumerate(self.job.parts):
            site = self.machine.site(here)
            site = replace(site, length_known=part.tool == tool, wishes=part.wishes)
            routine = part.compared(0.0) if part.compare_with is not None else part.routine
            tool = part.tool
            try:
                here = _exit(routine.plan(site)) or here
            except PlanFault as fault:
                yield index, fault

    def _note_what_is_ignored(self) -> None:
        told = [part.name for part in self.job.parts if part.rehearsal is not None]
        if self._rehearsal is None and told:
            self._note(f"this machine is real: what the job says under 'simulated' is ignored ({', '.join(told)})")

    # ---- between parts --------------------------------------------------------------------------------

    async def _steps(self, part: Part) -> bool:
        """Ask the operator for what has to be moved or changed first; return whether all was confirmed."""
        before, self._before = self._before, part
        if before is None:
            return True
        if not _same_place(before, part):
            self.machine.void_proof()
            if not await self._step(part, Question.NEXT_PART):
                return False
        if before.tool != part.tool:
            self.machine.tool_changed()
            return await self._step(part, Question.CHANGE_TOOL)
        return True

    async def _step(self, part: Part, question: Question) -> bool:
        self._tell(StepAsked(part, question))
        return await self.machine.ask(question)

    # ---- after a part ---------------------------------------------------------------------------------

    def _ended(self, part: Part, fault: Fault | None, result: Result | None = None) -> PartResult:
        expect = part.rehearsal.expect if part.rehearsal is not None and self._rehearsal is not None else None
        return PartResult(
            part=part,
            status=Status.DONE if fault is None else Status.FAILED,
            result=result,
            fault=fault,
            found=self._found(part, result) if result is not None and fault is None else (),
            truth=self._rehearsal.truth(part) if self._rehearsal is not None else (),
            deepest=self._rehearsal.deepest(part) if self._rehearsal is not None else None,
            as_expected=fault is not None and expect == fault.name,
        )

    def _cut_short(self, part: Part, last: Result | None) -> PartResult:
        """The entry of a part that was interrupted, whether in motion or at a question."""
        self._interrupted = True
        result = self.machine.last if self.machine.last is not last else None
        fault = result.fault if result is not None else None
        return self._ended(part, fault or Interrupted("at a question or a look, with no motion under way"), result)

    def _found(self, part: Part, result: Result) -> AxisValues:
        faces = result.outcome.faces
        if faces:
            self._heights[part.name] = faces[0].position.z
        if not isinstance(part.routine, ToolChange):
            return result.outcome.found
        height = self._heights[part.name]
        if part.compare_with is None:
            return ((Axis.Z, height),)
        shift = height - self._heights[part.compare_with]
        known = self._longer.get(self._by_name[part.compare_with].tool.name, 0.0)
        self._longer[part.tool.name] = known + shift
        return ((Axis.Z, shift),)

    async def _may_go_on(self, part: Part, fault: Fault, began: Position) -> bool:
        """Whether this part may be skipped: the fault leaves the machine trusted, at rest, idle and clear."""
        if part.on_fault is not OnFault.SKIP or not isinstance(fault, PlanFault | CircuitFault | ContactFault):
            return False
        if fault.standstill is Standstill.UNCONFIRMED:
            return False
        try:
            snapshot = await self.machine.look()
        except Fault:
            return False
        clear = self.machine.facts.envelope.high.z if isinstance(part.spot.place, Position) else began.z
        unmoved = fault.standstill is Standstill.UNMOVED
        high_enough = snapshot.position.z >= clear - self.machine.facts.position_slack
        return _at_ease(snapshot, self.machine.facts) and (unmoved or high_enough)

    async def _release(self) -> None:
        """Ask for lead and plate to be taken off; nobody is sent near a machine that may still be moving."""
        moving = any(entry.fault and entry.fault.standstill is Standstill.UNCONFIRMED for entry in self._entries)
        if self.machine.attached and not moving:
            await self.machine.release()

    # ---- telling --------------------------------------------------------------------------------------

    def _note(self, text: str) -> None:
        self._notes.append(text)
        self._tell(Noted(text))

    def _tell(self, event: BatchEvent | Event) -> None:
        if self._observer is None:
            return
        try:
            self._observer(event)
        except Exception:
            log.exception("an observer failed on %s", type(event).__name__)


def _exit(course: PlannedCourse) -> Position | None:
    """Where the tool will stand when a course is over, as far as that is foreseen."""
    touches = [step for step in course.foreseen() if isinstance(step, Touch)]
    return touches[-1].exit if touches else None


def _same_place(before: Part, part: Part) -> bool:
    """Whether plate and lead stay where they are from one part to the next."""
    spots = [replace(each.spot, tool=part.tool, within=0.0) for each in (before, part)]
    return spots[0] == spots[1]


def _at_ease(snapshot: Snapshot, facts: MachineFacts) -> bool:
    return (
        snapshot.idle
        and (snapshot.alarm is False or not facts.alarm_known)
        and (snapshot.circuit is Circuit.OPEN or not facts.circuit_known)
        and snapshot.spindle is not Spindle.TURNING
        and snapshot.homed is not False
    )
