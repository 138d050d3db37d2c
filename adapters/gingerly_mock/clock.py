"""Virtual time: a clock that nobody waits for.

Time passes only when the simulated machine says so, in `VirtualClock.elapse`. Deadlines live on the same clock
and strike inside the very call that would pass them; no task, no timer and no event loop is involved. A wait
that nothing would ever end is an error, never a hang.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


class VirtualClock:
    """A clock whose seconds cost nothing."""

    __slots__ = ("_limit", "_now", "_struck")

    def __init__(self, start_s: float = 0.0) -> None:
        self._now = start_s
        self._limit = math.inf
        self._struck: float | None = None

    def now(self) -> float:
        """Return the virtual time in seconds since the machine was made."""
        return self._now

    @property
    def limit(self) -> float:
        """The earliest deadline in force, in virtual seconds; infinite where there is none."""
        return self._limit

    def elapse(self, seconds: float) -> None:
        """Let `seconds` pass (infinity: an answer that never comes), at most until the earliest deadline.

        Time then stands exactly at the deadline and `asyncio.CancelledError` is raised, as a timeout would.
        Raises `RuntimeError` for an endless wait without a deadline, `ValueError` for time running backwards.
        """
        then = self._now + seconds
        if then <= self._limit:
            if then == math.inf:
                raise RuntimeError(
                    "waiting for an answer that never comes, and no deadline is in force:"
                    " put the call under clock.bounded()"
                )
            if seconds < 0.0:
                raise ValueError(f"virtual time cannot run backwards by {-seconds} s")
            self._now = then
            return
        if math.isnan(then):
            raise ValueError("virtual time cannot pass by a number of seconds that is none")
        # An adapter that swallowed an earlier strike comes here again; time must not run backwards for it.
        self._now = max(self._now, self._limit)
        self._struck = self._limit
        raise asyncio.CancelledError("a virtual deadline has passed")

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds` of virtual time; returns at once."""
        self.elapse(seconds)

    async def bounded(self, work: Coroutine[Any, Any, T], seconds: float) -> T:
        """Await `work`, but cancel it once `seconds` of virtual time have passed; raises `TimeoutError` then.

        An answer that comes after the deadline was struck is thrown away, even where the work swallowed its
        cancellation. A cancellation from outside, or by an earlier deadline around this one, goes on as it is.
        """
        if not seconds >= 0.0:
            work.close()
            raise ValueError(f"a deadline of {seconds} s lies in the past")
        outer, own = self._limit, self._now + seconds
        self._limit = min(outer, own)
        try:
            answer = await work
        except asyncio.CancelledError:
            if self._strike_was(own, outer):
                raise TimeoutError from None
            raise
        finally:
            self._limit = outer
        if self._struck is not None and self._strike_was(own, outer):
            raise TimeoutError
        return answer

    def _strike_was(self, own: float, outer: float) -> bool:
        if self._struck is None or self._struck != own or outer <= own:
            return False
        self._struck = None
        return True
