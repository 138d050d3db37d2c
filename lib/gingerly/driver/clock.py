"""Whose seconds count: the world's clock, or one that a simulated machine brings along.

A clock knows the time, can wait, and can bound a wait. Deadlines are enforced through it and nowhere else, so
a machine in virtual time has virtual deadlines.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Coroutine
from typing import Any, Protocol, TypeVar

T = TypeVar("T")

GRACE_S = 0.5
"""How long a cancelled call may take to end before it is given up. Our own choice."""


class Clock(Protocol):
    """A source of seconds."""

    def now(self) -> float:
        """Return the time in seconds since some fixed moment."""
        ...

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds`."""
        ...

    async def bounded(self, work: Coroutine[Any, Any, T], seconds: float) -> T:
        """Await `work`, but cancel it after `seconds`; raises `TimeoutError` then."""
        ...


class WallClock:
    """The world's own clock, and asyncio's timers."""

    def now(self) -> float:
        """Return seconds of the monotonic clock."""
        return time.monotonic()

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds`."""
        await asyncio.sleep(seconds)

    async def bounded(self, work: Coroutine[Any, Any, T], seconds: float) -> T:
        """Await `work` in a task of its own; after `seconds` cancel it, wait a grace time, and give it up.

        Raises `TimeoutError` when the time is up, whether or not the work heeds its cancellation. When the
        caller itself is cancelled, the work is cancelled, given the same grace time, and the cancellation
        goes on.
        """
        task = asyncio.ensure_future(work)
        try:
            done, _ = await asyncio.wait({task}, timeout=seconds)
        except asyncio.CancelledError:
            await _cancel(task)
            raise
        if not done:
            # Whatever it may still return is too late to be believed.
            await _cancel(task)
            raise TimeoutError
        return task.result()


async def _cancel(task: asyncio.Future[T]) -> None:
    task.cancel()
    await asyncio.wait({task}, timeout=GRACE_S)
    if task.done() and not task.cancelled():
        task.exception()  # looked at, so that nobody is told of an error that came too late
