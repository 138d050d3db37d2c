"""One run of a cycle: carry its commands, feed it the replies, until it has ended.

The only loop in the library that awaits a machine. When it is cancelled, the stop goes on in a task of its own
that a second cancellation cannot reach, bounded by the deadlines of its commands; then the cancellation goes on.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable

from gingerly.cycle import Cycle, Setup, Unhandled, outcome
from gingerly.cycle.triage import triage
from gingerly.driver.carry import Carrier
from gingerly.driver.clock import Clock
from gingerly.driver.ctrl_c import unheard
from gingerly.driver.events import Asked, Events, FaceFound, Ordered, Replied, RunEnded
from gingerly.driver.floor import Floor
from gingerly.driver.recorder import Recorder, why_unkept
from gingerly.messages.commands import Ask, Command, Finish, Look
from gingerly.messages.outcome import Outcome
from gingerly.messages.replies import Aborted, Answered, Refused, Reply, Seen, Unrecorded
from gingerly.messages.snapshot import Circuit

log = logging.getLogger("gingerly")

STUBBORN = 3
"""How often a command of the shielded ending is tried again after being cancelled from outside. Our own choice."""


class Run:
    """Drives one session from ready to done or faulted."""

    def __init__(
        self,
        cycle: Cycle,
        setup: Setup,
        carrier: Carrier,
        clock: Clock,
        events: Events,
        recorder: Recorder | None = None,
        floor: Floor | None = None,
    ) -> None:
        self._cycle = cycle
        self._carrier = carrier
        self._clock = clock
        self._events = events
        self._recorder = recorder
        self._floor = floor
        self._cause: BaseException | None = None
        self._unrecorded: str | None = None
        self._winding_up = False
        self.session, self._command = cycle.start(setup)
        self.outcome: Outcome | None = None

    async def go(self) -> Outcome:
        """Carry the run to its end and return how it ended; moves the machine.

        On cancellation the machine is stopped first, `outcome` holds an `Interrupted` fault, and
        `asyncio.CancelledError` goes on.
        """
        try:
            await self._until_ended()
        except asyncio.CancelledError:
            with unheard():
                await self._wind_up()
            raise
        assert self.outcome is not None
        return self.outcome

    async def _until_ended(self) -> None:
        faces = len(self.session.faces)  # some, where a run is being wound up: those were told
        while not isinstance(self._command, Finish):
            await self._step(self._command)
            if len(self.session.faces) > faces:
                faces = len(self.session.faces)
                self._tell(lambda at: FaceFound(self.session.faces[-1], at))
                # A machine in virtual time never waits; this is where a cancellation can reach the run.
                await asyncio.sleep(0)
        await self._end()

    async def _step(self, command: Command) -> None:
        self._tell(lambda at: Ordered(self.session.state, command, at))
        reply, elapsed_s = await self._perform(command)
        self._tell(lambda at: Replied(reply, at))
        if isinstance(command, Ask) and isinstance(reply, Answered):
            self._tell(lambda at: Asked(command.question, reply.answer, at))
        blamed = self.session.blame
        self._advance(reply, elapsed_s)
        if blamed is None and self.session.blame is not None:
            self._cause = self._carrier.cause

    async def _perform(self, command: Command) -> tuple[Reply, float | None]:
        """Record the intent, carry the command out, record the reply; time it on the machine's clock."""
        objection = self._floor.objection(command, self._carrier.adapter) if self._floor is not None else None
        if objection is not None:
            return objection, None
        if not await self._record_before(command):
            return Unrecorded(self._unrecorded or ""), None
        self._carrier.cause = None
        elapsed_s: float | None
        if self._floor is None:
            reply, elapsed_s = await self._timed(command)
        else:
            async with self._floor.during(command, self._carrier.adapter) as waited:
                trouble = await self._looked_again() if waited else None
                reply, elapsed_s = await self._timed(command) if trouble is None else (trouble, None)
            if isinstance(command, Ask):
                self._floor.answered(command, reply, self._carrier.adapter)
        await self._record_after(command, reply)
        return reply, elapsed_s

    async def _looked_again(self) -> Reply | None:
        """Look at a machine that stood while hands were elsewhere; return what keeps it from moving, if anything."""
        reply = await self._carry(Look(0.0, self.session.facts.answer_s))
        if not isinstance(reply, Seen):
            return reply
        named = triage(self.session, reply, None)
        if named is not reply:
            return named
        before = self.session.snapshot
        closed = reply.snapshot.circuit is Circuit.CLOSED
        if closed and (before is None or before.circuit is not Circuit.CLOSED):
            return Refused("the circuit has closed while the machine waited for hands elsewhere")
        return None

    async def _timed(self, command: Command) -> tuple[Reply, float]:
        began = self._clock.now()
        reply = await self._carry(command)
        return reply, self._clock.now() - began

    async def _carry(self, command: Command) -> Reply:
        for _ in range(STUBBORN):
            try:
                return await self._carrier.carry(command)
            except asyncio.CancelledError:
                if not self._winding_up:
                    raise
        return Aborted("cancelled again and again while stopping")

    def _advance(self, reply: Reply, elapsed_s: float | None) -> None:
        """Take the next command; where the cycle has none, or a routine fails in it, stop the machine instead."""
        try:
            following = self._cycle.advance(self.session, reply, elapsed_s)
        except Exception as error:
            log.exception("the cycle failed on %r while %s", reply, self.session.state.value)
            following = self._give_up(f"the cycle failed: {type(error).__name__}: {error}")
        if isinstance(following, Unhandled):
            log.error("no rule for %r while %s", following.reply, following.state.value)
            following = self._give_up(f"no rule for {type(following.reply).__name__} while {following.state.value}")
        self._command = following

    def _give_up(self, why: str) -> Command:
        following = self._cycle.advance(self.session, Aborted(why))
        assert not isinstance(following, Unhandled), "every state that goes on has an answer to being aborted"
        return following

    # ---- the record -----------------------------------------------------------------------------------

    async def _record_before(self, command: Command) -> bool:
        """Return whether the run may go on: what is to be kept has been, or it is being wound up anyway."""
        if self._recorder is None:
            return True
        if self._unrecorded is None:
            try:
                await self._recorder.before(command)
            except Exception as error:
                self._unrecorded = why_unkept(error)
        return self._unrecorded is None or self.session.blame is not None

    async def _record_after(self, command: Command, reply: Reply) -> None:
        if self._recorder is None or self._unrecorded is not None:
            return
        try:
            await self._recorder.after(command, reply)
        except Exception as error:
            self._unrecorded = why_unkept(error)

    # ---- the end --------------------------------------------------------------------------------------

    async def _wind_up(self) -> None:
        """Bring an interrupted run to its end, whatever cancellations still come, in a bounded number of tries."""
        if self.outcome is not None:
            return
        self._winding_up = True
        self._advance(Aborted("cancelled from outside: by Ctrl-C, or by the script itself"), None)
        for _ in range(STUBBORN):
            ending = asyncio.ensure_future(self._until_ended())
            while not ending.done():
                with contextlib.suppress(asyncio.CancelledError):
                    await asyncio.shield(ending)
            if not ending.cancelled():
                ending.result()
                return
        while not isinstance(self._command, Finish):
            self._advance(Aborted("cancelled again and again while stopping"), None)
        self._end_unheard()

    def _end_unheard(self) -> None:
        """Settle how the run ended, without telling anybody."""
        self.outcome = outcome(self.session)
        if self.outcome.fault is not None:
            self.outcome.fault.__cause__ = self._cause

    async def _end(self) -> None:
        self._end_unheard()
        ended = self.outcome
        assert ended is not None
        if self._recorder is not None:
            try:
                await self._recorder.ended(ended)
            except Exception:
                log.exception("the end of the run could not be recorded")
        self._tell(lambda at: RunEnded(ended, at))

    def _tell(self, event: Callable[[float], object]) -> None:
        if self._events:
            self._events.emit(event(self._clock.now()))  # type: ignore[arg-type]
