"""A machine between runs: what can be looked at, asked, read and put back while nothing moves.

Nothing in this module moves a machine. `gingerly.driver.machine` adds the runs.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from types import TracebackType
from typing import Self, TypeVar

from gingerly.cycle.ending import fault_of
from gingerly.driver.adapter import Adapter, HasClock, Operator
from gingerly.driver.attachment import Attachment
from gingerly.driver.carry import Carrier
from gingerly.driver.clock import Clock, WallClock
from gingerly.driver.events import Asked, Events
from gingerly.driver.floor import Floor
from gingerly.driver.recorder import Recorder, why_unkept
from gingerly.geometry import Axis, Position
from gingerly.messages.commands import Answer, Ask, Command, Look, Question, ReadOffset, WriteOffset
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import NotRecorded, OffsetNotKept
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Answered, OffsetRead, Reply, Seen
from gingerly.messages.snapshot import Snapshot

C = TypeVar("C", bound=Command)


class Station:
    """One machine behind one adapter, with the people and the record beside it; see `gingerly.Machine`."""

    def __init__(
        self,
        adapter: Adapter,
        *,
        name: str,
        operator: Operator | None,
        recorder: Recorder | None,
        patience_s: float,
        floor: Floor | None,
    ) -> None:
        self.adapter = adapter
        self.name = name
        self.operator = operator
        self.recorder = recorder
        self.patience_s = patience_s
        self.floor = floor
        self.events = Events()
        self.clock: Clock = adapter.clock if isinstance(adapter, HasClock) else WallClock()
        self._attachment = Attachment()
        self._restarts: int | None = None

    async def __aenter__(self) -> Self:
        await self.adapter.open()
        self._attachment.begin_anew()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._leave_floor()
        await self.adapter.close()

    def _leave_floor(self) -> None:
        if self.floor is not None:
            self.floor.leave(self.adapter)

    # ---- what is known --------------------------------------------------------------------------------

    @property
    def facts(self) -> MachineFacts:
        """What is known of the machine."""
        return self.adapter.facts

    @property
    def proof(self) -> Proof | None:
        """The proof of the circuit that holds in this attachment, if any."""
        return self._attachment.proof

    @property
    def attached(self) -> bool:
        """Whether test lead and plate must be thought to be on the machine."""
        return self._attachment.on

    def void_proof(self) -> None:
        """Forget the proof of the circuit: the plate was moved, or something else was touched."""
        self._attachment.void_proof()

    def tool_changed(self) -> None:
        """Forget the proof of the circuit and the tool's length."""
        self._attachment.tool_changed()

    def assume_attached(self) -> None:
        """Think of test lead and plate as on the machine until a person says otherwise: a record says so."""
        self._attachment.void_proof()
        self._attachment.assume()

    # ---- the machine ----------------------------------------------------------------------------------

    async def look(self) -> Snapshot:
        """Return what the machine says about itself now; raises the fault where it says nothing."""
        reply = await self._order(Look(0.0, self.facts.answer_s))
        assert isinstance(reply, Seen)
        if self._restarts not in (None, reply.snapshot.restarts):
            self._attachment.begin_anew()
        self._restarts = reply.snapshot.restarts
        return reply.snapshot

    async def read_offset(self, number: int) -> Position:
        """Return the origin of work offset `number` (1–9) in machine coordinates (mm).

        Raises the fault where the machine does not answer.
        """
        reply = await self._order(ReadOffset(number, self.facts.answer_s))
        assert isinstance(reply, OffsetRead)
        return reply.origin

    async def put_back(self, number: int, old: Position, new: Position) -> None:
        """Write work offset `number`, which reads `new`, back to `old` (mm), and read it back; nothing moves.

        For a set of offsets of which a run that was cut off has written some only. Raises `OffsetNotKept` where
        it reads otherwise afterwards, `NotRecorded`, or the fault of the machine.
        """
        axes = tuple((axis, old[axis]) for axis in Axis if old[axis] != new[axis])
        write = WriteOffset(number, axes or ((Axis.Z, old.z),), new, old, self.facts.answer_s)
        await self._on_record(write, self._order)
        reply = await self._on_record(ReadOffset(number, self.facts.answer_s), self._order)
        assert isinstance(reply, OffsetRead)
        if max(abs(a - b) for a, b in zip(reply.origin, old, strict=True)) > self.facts.offset_resolution:
            detail = f"work offset {number} was written back to {old} and reads {reply.origin}"
            raise OffsetNotKept(detail, state="restoring", done="no motion was ordered")

    async def _order(self, command: Command) -> Reply:
        carrier = self._carrier()
        reply = await carrier.carry(command)
        trouble = fault_of(reply)
        if trouble is not None:
            raise trouble from carrier.cause
        return reply

    def _carrier(self) -> Carrier:
        return Carrier(self.adapter, self.operator, self.clock, self.name)

    # ---- the people -----------------------------------------------------------------------------------

    async def ask(self, question: Question) -> bool:
        """Return whether the operator answered yes to `question`; False where nobody answers. Moves nothing.

        Question and answer are told and kept on record like those of a run. Raises `NotRecorded` where they
        cannot be kept.
        """
        reply = await self._on_record(Ask(question, self.patience_s), self._put)
        return isinstance(reply, Answered) and reply.answer is Answer.YES

    async def release(self) -> bool:
        """Ask for test lead and plate to be taken off, and return whether a person confirmed it; moves nothing.

        Raises what `ask` does.
        """
        self._attachment.void_proof()
        confirmed = await self.ask(Question.RELEASE)
        if confirmed:
            self._attachment.released()
        return confirmed

    async def _put(self, command: Ask) -> Reply:
        if self.floor is None:
            reply = await self._carrier().carry(command)
        elif (objection := self.floor.objection(command, self.adapter)) is not None:
            return objection
        else:
            async with self.floor.during(command, self.adapter):
                reply = await self._carrier().carry(command)
            self.floor.answered(command, reply, self.adapter)
        if isinstance(reply, Answered) and self.events:
            self.events.emit(Asked(command.question, reply.answer, self.clock.now()))
        return reply

    # ---- the record -----------------------------------------------------------------------------------

    async def _on_record(self, command: C, carry: Callable[[C], Awaitable[Reply]]) -> Reply:
        await self._kept(lambda recorder: recorder.before(command))
        reply = await carry(command)
        await self._kept(lambda recorder: recorder.after(command, reply))
        return reply

    async def _kept(self, keep: Callable[[Recorder], Awaitable[None]]) -> None:
        if self.recorder is None:
            return
        try:
            await keep(self.recorder)
        except Exception as error:
            raise NotRecorded(why_unkept(error), state="asking", done="no motion was ordered") from error
