"""An event loop in virtual time, and a link in memory: the example adapter and its controller without a wait.

The loop never sleeps: where nothing is ready it puts its own clock forward to the next timer. No socket and no
thread takes part, so the same run gives the same order of events every time.
"""

from __future__ import annotations

import asyncio
import selectors
from collections.abc import Awaitable, Callable
from typing import Any

from gingerly.driver.clock import WallClock

Serve = Callable[[asyncio.StreamReader, "MemoryWriter"], Awaitable[None]]

DELAY_S = 0.001
"""How long a line is on its way."""


class _Jumping(selectors.DefaultSelector):
    """A selector that never waits, and counts the seconds that it should have."""

    def __init__(self) -> None:
        super().__init__()
        self.now_s = 0.0

    def select(self, timeout: float | None = None) -> Any:
        ready = super().select(0)
        if not ready:
            if timeout is None:
                raise RuntimeError("everybody waits for an event that nothing will bring about")
            self.now_s += max(1e-9, timeout)
        return ready


class VirtualLoop(asyncio.SelectorEventLoop):
    """An event loop whose seconds cost nothing."""

    def __init__(self) -> None:
        self._jumping = _Jumping()
        super().__init__(self._jumping)

    def time(self) -> float:
        return self._jumping.now_s


class LoopClock(WallClock):
    """The clock of the running event loop."""

    def now(self) -> float:
        return asyncio.get_running_loop().time()


class MemoryWriter:
    """One end of a link in memory: what is written gets to the other end's reader a little later."""

    def __init__(self, there: asyncio.StreamReader) -> None:
        self._there = there
        self.peer: MemoryWriter | None = None
        self.talk: asyncio.Future[None] | None = None
        self._closed = False

    def write(self, data: bytes) -> None:
        if not self._closed:
            asyncio.get_running_loop().call_later(DELAY_S, self._deliver, data)

    def is_closing(self) -> bool:
        return self._closed

    def close(self) -> None:
        if self._closed:
            return
        self._closed = True
        self._there.feed_eof()
        if self.peer is not None:
            self.peer.close()

    def _deliver(self, data: bytes) -> None:
        if not self._closed:
            self._there.feed_data(data)


def link(serve: Serve) -> tuple[asyncio.StreamReader, MemoryWriter]:
    """Return the client's end of a new link, with `serve` at the other end."""
    here, there = asyncio.StreamReader(), asyncio.StreamReader()
    mine, theirs = MemoryWriter(there), MemoryWriter(here)
    mine.peer, theirs.peer = theirs, mine
    mine.talk = asyncio.ensure_future(serve(there, theirs))
    return here, mine
