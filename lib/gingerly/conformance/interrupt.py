"""Cancel a call exactly where it waits: at its n-th suspension, as it begins to wait or as its answer arrives.

Both happen in practice. A deadline strikes while a call waits; and it may strike in the very turn of the event loop
in which the answer has come, so that the call is woken with a cancellation although its answer is there.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Coroutine, Generator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Cut:
    """Where to cancel: at which suspension (1 is the first), and whether as the answer arrives (`late`)."""

    at: int
    late: bool = False

    def __str__(self) -> str:
        moment = "as its answer arrives" if self.late else "as it begins to wait"
        return f"at its suspension {self.at}, {moment}"


@dataclass(slots=True)
class Ended:
    """How a watched call ended: after how many suspensions, whether it was cut, and with what."""

    suspensions: int = 0
    cut: bool = False
    value: object = None
    error: BaseException | None = None


class _Watched(Awaitable[Any]):
    """Drives a coroutine, counts its suspensions, and cancels it at one of them."""

    def __init__(self, work: Coroutine[Any, Any, Any], cut: Cut | None, ended: Ended) -> None:
        self._work = work
        self._cut = cut
        self._ended = ended

    def __await__(self) -> Generator[Any, Any, Any]:
        error: BaseException | None = None
        while True:
            try:
                waits_for = self._work.send(None) if error is None else self._work.throw(error)
            except StopIteration as end:
                return end.value
            error = None
            self._ended.suspensions += 1
            due = self._cut is not None and not self._ended.cut and self._ended.suspensions == self._cut.at
            if due and self._cut is not None:
                self._ended.cut = True
                if not self._cut.late:
                    task = asyncio.current_task()
                    assert task is not None
                    asyncio.get_running_loop().call_soon(task.cancel)
            try:
                yield waits_for
            except BaseException as thrown:
                error = thrown
            else:
                if due and self._cut is not None and self._cut.late:
                    error = asyncio.CancelledError("cancelled as the answer arrived")


async def watched(work: Coroutine[Any, Any, Any], cut: Cut | None) -> Ended:
    """Await `work`, cancelling it at `cut` if there is one, and return how it ended; cancellation stays in here."""
    ended = Ended()
    try:
        ended.value = await _Watched(work, cut, ended)
    except (Exception, asyncio.CancelledError) as error:
        ended.error = error
    task = asyncio.current_task()
    if ended.cut and cut is not None and not cut.late and task is not None:
        task.uncancel()
    return ended


def cuts(suspensions: int, most: int = 6) -> list[Cut]:
    """Return where to cancel a call that suspends so often: everywhere, or at the first, last and some between.

    Six places are our own choice.
    """
    if suspensions <= most:
        places = list(range(1, suspensions + 1))
    else:
        half = most // 2
        step = (suspensions - half) / (most - half)
        places = [*range(1, half + 1), *(round(half + step * n) for n in range(1, most - half + 1))]
    return [Cut(at, late) for at in places for late in (False, True)]
