"""Adapters that keep the contract in other ways than the example does: none of them may be blamed."""

from __future__ import annotations

import asyncio

from conformance.plain_subjects import MemoryAdapter
from gingerly import LinkLost
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


OTHER_MAKES = (
    Polls,
    StopsWhenCancelled,
    OneCallAtATime,
    WaitsItsTurn,
    TellsRestartsInSnapshots,
    LostAfterClose,
    LooksOnceMore,
)
