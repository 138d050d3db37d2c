"""The machine's clock. Against a practice controller that runs n times faster, all its seconds are n times
shorter, so that feeds, facts and deadlines hold as they are.
"""

from __future__ import annotations

from collections.abc import Coroutine
from typing import Any, TypeVar

from gingerly.driver.clock import WallClock

T = TypeVar("T")


class MachineClock(WallClock):
    """The world's clock, `scale` times as fast."""

    def __init__(self, scale: float = 1.0) -> None:
        self.scale = scale

    def now(self) -> float:
        """Return the machine's seconds since some fixed moment."""
        return super().now() * self.scale

    def real(self, seconds: float) -> float:
        """Return how long `seconds` of the machine last in the world, in seconds."""
        return seconds / self.scale

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds` of the machine."""
        await super().sleep(self.real(seconds))

    async def bounded(self, work: Coroutine[Any, Any, T], seconds: float) -> T:
        """Await `work`, but cancel it after `seconds` of the machine; raises `TimeoutError` then."""
        return await super().bounded(work, self.real(seconds))
