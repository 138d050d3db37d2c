"""Adapters that keep the contract in other ways than the example does: none of them may be blamed."""

from __future__ import annotations

import asyncio
import math

from conformance.plain_subjects import MemoryAdapter
from gingerly import AlarmActive, LinkLost, Missed
from tcp_adapter.adapter import snapshot


class Polls(MemoryAdapter):
    """Does not wait for the answer to a move: looks again and again until the machine stands."""

    async def traverse(self, to, feed):
        job = asyncio.ensure_future(super().traverse(to, feed))
        try:
            while not job.done():
                await asyncio.sleep(0.01)
                await self._ask("tell")
            return await job
        finally:
            job.cancel()


class StopsWhenCancelled(MemoryAdapter):
    """Stops the machine before it lets a cancellation out."""

    async def traverse(self, to, feed):
        try:
            return await super().traverse(to, feed)
        except asyncio.CancelledError:
            await self.stop()
            raise


class OneCallAtATime(MemoryAdapter):
    """Refuses a second call by RuntimeError, all but a stop."""

    _busy = False

    async def _ask(self, order, **numbers):
        if self._busy and order != "halt":
            raise RuntimeError("a call is under way")
        if order == "halt":
            return await super()._ask(order, **numbers)
        self._busy = True
        try:
            return await super()._ask(order, **numbers)
        finally:
            self._busy = False


class WaitsItsTurn(MemoryAdapter):
    """Lets a second call wait until the first has ended, all but a stop."""

    def __init__(self):
        super().__init__()
        self._turn = asyncio.Lock()

    async def _ask(self, order, **numbers):
        if order == "halt":
            return await super()._ask(order, **numbers)
        async with self._turn:
            return await super()._ask(order, **numbers)


class TellsRestartsInSnapshots(MemoryAdapter):
    """Does not raise a restart: its snapshots count it."""

    async def _ask(self, order, **numbers):
        from gingerly import ControllerRestarted

        try:
            return await super()._ask(order, **numbers)
        except ControllerRestarted:
            return await super()._ask("tell")


class LostAfterClose(MemoryAdapter):
    """Calls a closed adapter's link lost."""

    async def _ask(self, order, **numbers):
        if self._writer is None:
            raise LinkLost("this adapter is not open")
        return await super()._ask(order, **numbers)


class LooksOnceMore(MemoryAdapter):
    """Looks afresh after each motion instead of using the answer's own state."""

    async def traverse(self, to, feed):
        await super().traverse(to, feed)
        return snapshot(await self._ask("tell"))


class TellsAlarmsInTheRest(MemoryAdapter):
    """Answers a sense that an alarm has ended by a miss whose rest tells the alarm."""

    async def sense(self, to, feed):
        try:
            return await super().sense(to, feed)
        except AlarmActive:
            return Missed(await self.look())


class OneStopAtATime(MemoryAdapter):
    """Refuses a stop by RuntimeError while another is under way."""

    _stopping = False

    async def stop(self):
        if self._stopping:
            raise RuntimeError("a stop is under way")
        self._stopping = True
        try:
            return await super().stop()
        finally:
            self._stopping = False


class LooksAtNumbersItself(MemoryAdapter):
    """Raises ValueError for a number that is none before anything is sent."""

    async def _ask(self, order, **numbers):
        given = {name: value for name, value in numbers.items() if value is not None}
        if not all(map(math.isfinite, given.values())) or given.get("feed", 1.0) <= 0.0:
            raise ValueError(f"{order}: not all of {given} are numbers to go by")
        return await super()._ask(order, **numbers)


OTHER_MAKES = (
    Polls,
    StopsWhenCancelled,
    OneCallAtATime,
    WaitsItsTurn,
    TellsRestartsInSnapshots,
    LostAfterClose,
    LooksOnceMore,
    TellsAlarmsInTheRest,
    OneStopAtATime,
    LooksAtNumbersItself,
)
