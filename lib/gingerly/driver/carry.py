"""Carry one command to an adapter, under its deadline, and turn whatever comes back into a reply.

This is the one place where an adapter's exceptions are translated. Cancellation is never turned into a reply
here: it goes on to whoever drives the run.
"""

from __future__ import annotations

from collections.abc import Coroutine
from typing import Any

from gingerly.driver.adapter import Adapter, Operator
from gingerly.driver.clock import Clock
from gingerly.messages.commands import Ask, Command, Look, ReadOffset, Sense, Stop, Traverse, WriteOffset
from gingerly.messages.faults import AlarmActive, ControllerRefused, ControllerRestarted, LinkLost, NoAnswer
from gingerly.messages.replies import (
    Aborted,
    Alarmed,
    Answered,
    Arrived,
    Disconnected,
    OffsetRead,
    OffsetWritten,
    Refused,
    Reply,
    Restarted,
    Seen,
    TimedOut,
)


class Carrier:
    """Carries commands to one adapter and one operator; remembers the last exception, as a fault's cause."""

    def __init__(self, adapter: Adapter, operator: Operator | None, clock: Clock, machine: str) -> None:
        self.adapter = adapter
        self._operator = operator
        self._clock = clock
        self._machine = machine
        self.cause: BaseException | None = None

    async def carry(self, command: Command) -> Reply:
        """Carry out `command` and return the reply; may move the machine."""
        if isinstance(command, Ask) and self._operator is None:
            return TimedOut("nobody is there to answer")
        try:
            return await self._clock.bounded(self._do(command), command.deadline_s)  # type: ignore[union-attr]
        except TimeoutError as error:
            self.cause = error
            return TimedOut(f"no answer to {type(command).__name__} within its deadline")
        except ControllerRefused as error:
            self.cause = error
            return Refused(error.code or "none", error.detail)
        except AlarmActive as error:
            self.cause = error
            return Alarmed(detail=error.detail)
        except ControllerRestarted as error:
            self.cause = error
            return Restarted(detail=error.detail)
        except LinkLost as error:
            self.cause = error
            return Disconnected(error.detail)
        except NoAnswer as error:
            self.cause = error
            return TimedOut(error.detail)
        except Exception as error:
            # Not in the contract, so nothing it implies may be believed.
            self.cause = error
            return Aborted(f"the adapter raised {type(error).__name__}: {error}")

    def _do(self, command: Command) -> Coroutine[Any, Any, Reply]:
        match command:
            case Look():
                return self._look(command)
            case Traverse():
                return self._traverse(command)
            case Sense():
                return self.adapter.sense(command.to, command.feed)
            case Stop():
                return self._stop()
            case ReadOffset():
                return self._read(command)
            case WriteOffset():
                return self._write(command)
            case Ask():
                return self._ask(command)
            case _:
                raise TypeError(f"{command!r} is not for an adapter")

    async def _look(self, command: Look) -> Reply:
        if command.after_s > 0.0:
            await self._clock.sleep(command.after_s)
        return Seen(await self.adapter.look())

    async def _traverse(self, command: Traverse) -> Reply:
        return Arrived(await self.adapter.traverse(command.to, command.feed))

    async def _stop(self) -> Reply:
        return Seen(await self.adapter.stop())

    async def _read(self, command: ReadOffset) -> Reply:
        origin = await self.adapter.read_offset(command.number)
        if not origin.is_finite():  # nothing may be reckoned from it, and least of all written
            return TimedOut(f"work offset {command.number} was answered with {origin}, which is no place")
        return OffsetRead(command.number, origin)

    async def _write(self, command: WriteOffset) -> Reply:
        await self.adapter.write_offset(command.number, dict(command.axes))
        return OffsetWritten(command.number)

    async def _ask(self, command: Ask) -> Reply:
        assert self._operator is not None
        return Answered(await self._operator.ask(command.question, self._machine))
