"""What a run tells while it goes on: typed events, for a terminal, a journal or a notebook.

Mere observers can never fail a run: what they raise is logged and forgotten. A recorder is different, see
`gingerly.driver.recorder`.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass

from gingerly.cycle.states import State
from gingerly.messages.commands import Answer, Command, Question
from gingerly.messages.outcome import Outcome
from gingerly.messages.replies import Reply
from gingerly.messages.touches import Face

log = logging.getLogger("gingerly")


@dataclass(frozen=True, slots=True)
class RunStarted:
    """A run begins: the machine's name and the routine's."""

    machine: str
    routine: str
    at_s: float


@dataclass(frozen=True, slots=True)
class Ordered:
    """The cycle has given an order and waits in `state`."""

    state: State
    command: Command
    at_s: float


@dataclass(frozen=True, slots=True)
class Replied:
    """The machine, or a person, has answered the last order."""

    reply: Reply
    at_s: float


@dataclass(frozen=True, slots=True)
class Asked:
    """A person has been asked, and has answered."""

    question: Question
    answer: Answer
    at_s: float


@dataclass(frozen=True, slots=True)
class FaceFound:
    """The contacts of one touch agree."""

    face: Face
    at_s: float


@dataclass(frozen=True, slots=True)
class RunEnded:
    """The run has ended, well or not."""

    outcome: Outcome
    at_s: float


Event = RunStarted | Ordered | Replied | Asked | FaceFound | RunEnded
Observer = Callable[[Event], None]


class Events:
    """Hands every event to every observer."""

    def __init__(self) -> None:
        self._observers: list[Observer] = []

    def __bool__(self) -> bool:
        return bool(self._observers)

    def subscribe(self, observer: Observer) -> Callable[[], None]:
        """Call `observer` with every event from now on; return what ends that."""
        self._observers.append(observer)
        return lambda: self._observers.remove(observer)

    def emit(self, event: Event) -> None:
        """Hand `event` to all observers; what they raise is logged and does not matter."""
        for observer in tuple(self._observers):
            try:
                observer(event)
            except Exception:
                log.exception("an observer failed on %s", type(event).__name__)

    async def stream(self) -> AsyncIterator[Event]:
        """Yield events as they come, up to and including the next `RunEnded`."""
        waiting: asyncio.Queue[Event] = asyncio.Queue()
        end = self.subscribe(waiting.put_nowait)
        try:
            while True:
                event = await waiting.get()
                yield event
                if isinstance(event, RunEnded):
                    return
        finally:
            end()
