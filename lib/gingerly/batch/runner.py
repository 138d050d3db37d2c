"""Do a job's parts in order on one machine. Between parts the operator moves the plate and changes the tool.

After either nothing that was proved before counts. A part that fails is skipped only where its fault leaves the
machine trusted, at rest, idle and clear; otherwise nothing more is begun.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Mapping
from dataclasses import replace

from gingerly.batch.between import Steps, may_be_skipped
from gingerly.batch.books import Books
from gingerly.batch.heights import Heights
from gingerly.batch.new_zero import look_at_zeros
from gingerly.batch.resume import FINISHED, Kept
from gingerly.batch.stage import Stage
from gingerly.batch.summary import (
    BatchEvent,
    BatchObserver,
    Noted,
    PartEnded,
    PartResult,
    PartStarted,
    Status,
    Summary,
)
from gingerly.batch.unattended import check_circuit
from gingerly.driver import first_day
from gingerly.driver.adapter import Simulated
from gingerly.driver.events import Event
from gingerly.driver.machine import Machine
from gingerly.driver.result import Result
from gingerly.geometry import Position
from gingerly.job import Job, OnFault, Part
from gingerly.messages.commands import Question
from gingerly.messages.faults import (
    Declined,
    Fault,
    Interrupted,
    NotRecorded,
    PlanFault,
    Standstill,
)
from gingerly.messages.touches import Touch
from gingerly.routines import PlannedCourse

log = logging.getLogger("gingerly")

MANY = 1000
"""Of a job with more parts than this only the account of each run is kept, unless a script says otherwise.
Our own choice."""


class Batch:
    """One job on one connected machine. `summary` accounts for every part at any time, after a cancellation too.

    With `keep_results` every entry holds its whole run, without it an account of it; left out, that depends on how
    many parts the job has (`MANY`). An observer is given each run whole either way (`PartEnded`). An `unattended`
    batch asks nobody: the machine checks its circuit itself, before the first part and again after each fault; what
    stands against that, `gingerly.batch.objections` tells.
    """

    def __init__(
        self,
        job: Job,
        machine: Machine,
        *,
        observer: BatchObserver | None = None,
        books: Books | None = None,
        keep_results: bool | None = None,
        unattended: bool = False,
    ) -> None:
        self.job = job
        self.machine = machine
        self._observer = observer
        self._books = books
        self._unattended = unattended
        self._keep_results = len(job.parts) <= MANY if keep_results is None else keep_results
        self.asks_for_release = 1
        """How often a person is asked, while the machine stays held, before it is left with lead and plate on."""
        self.bring: Callable[[Part], Awaitable[bool]] | None = None
        """Brings the tool over a part that lies "here", and returns whether it is there; left out, it stands there."""
        self.look_height: float | None = None
        """How far above each new zero the tool goes at the end, for the eye to check (mm); None: it does not."""
        self._looked_at: list[int] = []
        self._after: Fault | None = None
        self._stage = Stage(machine.adapter, job.parts) if isinstance(machine.adapter, Simulated) else None
        self._entries = [PartResult(part=part) for part in job.parts]
        self._heights = Heights(job)
        self._steps = Steps(machine, books, unattended=unattended, tell=self._tell)
        self._notes: list[str] = []
        self._interrupted = self._moved_besides = False
        self._began_s = self._ended_s = machine.clock.now()

    @property
    def summary(self) -> Summary:
        """How things stand."""
        return Summary(
            job=self.job,
            machine=self.machine.name,
            facts=self.machine.facts,
            simulated=self._stage is not None,
            parts=tuple(self._entries),
            released=not self.machine.attached,
            interrupted=self._interrupted,
            duration_s=self._ended_s - self._began_s,
            notes=tuple(self._notes),
            looked_at=tuple(self._looked_at),
            after=self._after,
            moved_besides=self._moved_besides,
        )

    @contextlib.asynccontextmanager
    async def _besides(self) -> AsyncIterator[None]:
        """Take note whether what this encloses, and is no part of the job, has moved the machine."""
        last = self.machine.last
        try:
            yield
        finally:
            now = self.machine.last
            if now is not None and now is not last and now.outcome.standstill is not Standstill.UNMOVED:
                self._moved_besides = True

    async def run(self) -> Summary:
        """Move the machine through all parts, ask for lead and plate to be taken off, and return the summary.

        Faults do not come out as exceptions: they stand in the summary. On cancellation the machine is stopped
        first and `asyncio.CancelledError` goes on; `summary` tells how far it got.
        """
        unsubscribe = self.machine.events.subscribe(self._tell) if self._observer is not None else _nothing
        try:
            self._note_what_is_ignored()
            if await self._opened() and not await self._refused():
                await self._do_parts()
            await self._release()
            await self._look_at_zeros()
        except asyncio.CancelledError:
            self._interrupted = True
            raise
        finally:
            self._ended_s = self.machine.clock.now()
            unsubscribe()
            await self._close()
        return self.summary

    # ---- the books ------------------------------------------------------------------------------------

    async def _opened(self) -> bool:
        """Open the books, and take from them what is done already; return whether parts may be begun."""
        books, fault = self._books, None
        if books is not None:
            try:
                await books.open()
            except Fault as error:
                fault = error
            for note in books.left.notes:
                self._note(note)
            self._adopt(books.left.kept)
        self._hold_later_waves()
        if fault is None and books is not None and books.cut_off and self._left():
            try:
                async with self._besides():
                    await self._withdraw()
            except Fault as error:
                fault = error
        if fault is not None:
            self._end_next(fault)
        return fault is None

    def _adopt(self, kept: Mapping[str, Kept]) -> None:
        """Take over what an earlier batch has done."""
        if kept:
            self._note(f"{len(kept)} of {len(self.job.parts)} parts are done already and are not touched again")
        for index, part in enumerate(self.job.parts):
            one = kept.get(part.name)
            if one is None:
                continue
            found = one.found
            if one.height is not None:
                found = self._heights.adopt(part, one.height, found)
            self._entries[index] = PartResult(part=part, status=Status.KEPT, found=found, why=one.why)

    def _hold_later_waves(self) -> None:
        """Only the first wave with a part that is not finished is done; the offsets of later ones are in use."""
        open_waves = [entry.part.wave for entry in self._entries if entry.why != FINISHED]
        for index, entry in enumerate(self._entries):
            if entry.status is Status.NOT_BEGUN and entry.part.wave > min(open_waves):
                why = f"wave {entry.part.wave} waits until the parts of wave {min(open_waves)} are finished"
                self._entries[index] = replace(entry, status=Status.WAITING, why=why)

    def _left(self) -> bool:
        return any(entry.status is Status.NOT_BEGUN for entry in self._entries)

    def _end_next(self, fault: Fault) -> None:
        """Let the first part that is left, or else the last one, end with a fault that came before any part."""
        indices = [n for n, entry in enumerate(self._entries) if entry.status is Status.NOT_BEGUN]
        index = indices[0] if indices else len(self._entries) - 1
        entry = self._entries[index] = replace(
            self._ended(self.job.parts[index], fault), found=self._entries[index].found
        )
        self._tell(PartEnded(entry))

    async def _withdraw(self) -> None:
        """Raise the tool out of what it was interrupted in, with lead and plate off and hands away."""
        facts = self.machine.facts
        if (await self.machine.look()).position.z >= facts.envelope.high.z - facts.position_slack:
            return
        self._note("the tool stands where it was interrupted, and is raised first")
        self.machine.assume_attached()
        if not await self.machine.release() or not await self.machine.ask(Question.STAND_CLEAR):
            raise Declined("the tool was not allowed to be raised", done="no motion was ordered")
        await self.machine.withdraw()

    async def _close(self) -> None:
        if self._books is None:
            return
        try:
            released = not self.machine.attached
            await self._books.close(released=released, interrupted=self._interrupted, entries=self._entries)
        except Fault as fault:
            self._note(f"the end of the batch could not be kept in the journal: {fault.detail}")
        if self._books.journal.failed:
            self._note(f"the journal is not complete: {self._books.journal.failed}")

    async def _do_parts(self) -> None:
        for index, part in enumerate(self.job.parts):
            if self._entries[index].status is not Status.NOT_BEGUN:
                continue
            self._tell(PartStarted(part, index + 1, len(self.job.parts)))
            entry = self._entries[index] = await self._one(index, part)
            self._tell(PartEnded(entry))
            if not self._keep_results:
                self._entries[index] = entry.put_away()
            if entry.status is Status.FAILED or (entry.why and part.on_fault is OnFault.STOP):
                return

    async def _one(self, index: int, part: Part) -> PartResult:
        if part.compare_with is not None and part.compare_with not in self._heights:
            return PartResult(part=part, why=f"no height was found at {part.compare_with!r} to compare with")
        routine = self._heights.corrected(part)
        last = self.machine.last
        try:
            if self._books is not None:
                self._books.begin(part)
            if not await self._steps.before(part) or not await self._brought(part):
                raise Declined("a step between two parts", done="no motion was ordered")
            if self._unattended and self.machine.proof is None:
                async with self._besides():
                    await check_circuit(self.machine, self.job, self._stage)
            began = await self.machine.look()
            if self._stage is not None:
                self._stage.set_up(part, began.position)
            result = await first_day.attempt(self.machine, routine, wishes=part.wishes)
            if self._books is not None:
                await self._books.end(result.fault, result)
        except Fault as fault:
            return await self._not_run(part, fault)
        except asyncio.CancelledError:
            self._entries[index] = self._cut_short(part, last)
            raise
        entry = self._entries[index] = self._ended(part, result.fault, result)
        if result.fault is not None and await may_be_skipped(self.machine, part, result.fault, began.position):
            return replace(entry, status=Status.SKIPPED)
        return entry

    async def _brought(self, part: Part) -> bool:
        """Have the tool brought over a part that lies "here"; whoever jogs may have closed the circuit anywhere."""
        if not part.here or self.bring is None:
            return True
        async with self._besides():
            return await self.bring(part)

    async def _not_run(self, part: Part, fault: Fault) -> PartResult:
        """The entry of a part that ended before its run began."""
        if self._books is not None:
            with contextlib.suppress(NotRecorded):  # what could not be kept before is told already
                await self._books.end(fault)
        return self._ended(part, fault)

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
            if self._entries[index].status is not Status.NOT_BEGUN:
                continue
            site = self.machine.site(here)
            site = replace(site, length_known=part.tool == tool, wishes=part.wishes)
            routine = part.compared(0.0) if part.compare_with is not None else part.routine
            tool = part.tool
            try:
                here = _exit(routine.plan(site)) or here
            except PlanFault as fault:
                yield index, fault

    def _note_what_is_ignored(self) -> None:
        told = [part.name for part in self.job.parts if part.staged is not None]
        if self._stage is None and told:
            self._note(f"this machine is real: what the job says under 'simulated' is ignored ({', '.join(told)})")

    # ---- after a part ---------------------------------------------------------------------------------

    def _ended(self, part: Part, fault: Fault | None, result: Result | None = None) -> PartResult:
        expect = part.staged.expect if part.staged is not None and self._stage is not None else None
        return PartResult(
            part=part,
            status=Status.DONE if fault is None else Status.FAILED,
            result=result,
            fault=fault,
            found=self._heights.found(part, result.outcome) if result is not None and fault is None else (),
            truth=self._stage.truth(part) if self._stage is not None else (),
            deepest=self._stage.deepest(part) if self._stage is not None else None,
            as_expected=fault is not None and expect == fault.name,
        )

    def _cut_short(self, part: Part, last: Result | None) -> PartResult:
        """The entry of a part that was interrupted, whether in motion or at a question."""
        self._interrupted = True
        result = self.machine.last if self.machine.last is not last else None
        fault = result.fault if result is not None else None
        return self._ended(part, fault or Interrupted("at a question or a look, with no motion under way"), result)

    async def _release(self) -> None:
        """Ask for lead and plate to be taken off; nobody is sent near a machine that may still be moving."""
        last = self.machine.last
        moving = any(entry.fault and entry.fault.standstill is Standstill.UNCONFIRMED for entry in self._entries)
        moving = moving or (last is not None and last.outcome.standstill is Standstill.UNCONFIRMED)
        if self.machine.attached and not moving:
            try:
                for turn in range(1, self.asks_for_release + 1):
                    if await self.machine.release():
                        return
                    if turn == 1 < self.asks_for_release:
                        self._note("the machine stays held until lead and plate are confirmed off")
            except NotRecorded as fault:
                self._note(f"the answer could not be kept in the journal: {fault.detail}")

    async def _look_at_zeros(self) -> None:
        if self.look_height is None:
            return
        try:
            async for number in look_at_zeros(
                self.machine, self._entries, height=self.look_height, asked=self._tell, note=self._note
            ):
                self._looked_at.append(number)
        except Fault as fault:
            self._after = fault
            self._note(f"the look at the new zeros ended in {fault.name}: {fault.standstill.value}")

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


def _nothing() -> None:
    """Nobody listens, so nobody is to be told that it is over."""


def _exit(course: PlannedCourse) -> Position | None:
    """Where the tool will stand when a course is over, as far as that is foreseen."""
    touches = [step for step in course.foreseen() if isinstance(step, Touch)]
    return touches[-1].exit if touches else None
