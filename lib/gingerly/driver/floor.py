"""Where several machines stand, and hands move between them: while one machine waits for hands, none moves.

A motion shares the floor with the other machines' motions; a question takes it alone, and keeps it until the hands
are said to be clear. Nothing here moves anything: it only makes a run wait before its next command. All machines on
one floor live in one event loop.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from gingerly.messages.commands import MOTIONS, Answer, Ask, Command, Question
from gingerly.messages.replies import Aborted, Answered, Reply

HANDS_OFF = frozenset(
    {
        Question.CLEAR,
        Question.HANDS_AWAY,
        Question.STAND_CLEAR,
        Question.LOOK_AT_ZERO,
        Question.RISE,
        Question.PRESS_STOP,
        Question.RELEASE,
    }
)
"""Questions after whose yes no hand is near the machine any more."""


class Floor:
    """One shop floor; hand the same one to all machines that the same people walk between."""

    def __init__(self) -> None:
        self._moving = 0
        self._hands_at: object | None = None
        self._loose: set[object] = set()
        self._waiting: list[asyncio.Future[None]] = []

    @property
    def hands_at(self) -> object | None:
        """The machine that waits for hands now, or None."""
        return self._hands_at

    def stands(self, machine: object, *, known: bool) -> None:
        """Remember whether `machine` is known to stand still, after a run of it has ended."""
        if known:
            self._loose.discard(machine)
        else:
            self._loose.add(machine)

    def objection(self, command: Command, machine: object) -> Aborted | None:
        """Return why nobody may be sent to `machine` for `command` now: another one here may still be moving."""
        if not isinstance(command, Ask) or not self._loose - {machine}:
            return None
        return Aborted(
            f"nobody was asked to {command.question.value!r}: another machine on this floor may still be moving; stop"
            " it with its own stop first"
        )

    @asynccontextmanager
    async def during(self, command: Command, machine: object) -> AsyncIterator[bool]:
        """Wait until `machine` may carry out `command`, keep the floor for it, and say whether its motion waited.

        What was known of a machine that waited is old: hands were about. It is looked at again before it moves.
        """
        if isinstance(command, MOTIONS):
            waits = self._hands_at not in (None, machine)
            await self._until(lambda: self._hands_at in (None, machine))
            self._moving += 1
            try:
                yield waits
            finally:
                self._moving -= 1
                self._tell()
            return
        if isinstance(command, Ask):
            await self._take_alone(machine)
        yield False

    def answered(self, command: Ask, reply: Reply, machine: object) -> None:
        """Give the floor back where the answer says that the hands are off, or that nothing more will be done."""
        yes = isinstance(reply, Answered) and reply.answer is Answer.YES
        if command.question in HANDS_OFF or not yes:
            self.leave(machine)

    def leave(self, machine: object) -> None:
        """Give the floor back, whatever was asked; a machine that does not have it changes nothing."""
        if self._hands_at is machine:
            self._hands_at = None
            self._tell()

    async def _take_alone(self, machine: object) -> None:
        await self._until(lambda: self._hands_at in (None, machine))
        # From here on no motion begins elsewhere; those under way are waited for.
        self._hands_at = machine
        try:
            await self._until(lambda: self._moving == 0)
        except BaseException:
            self.leave(machine)
            raise

    async def _until(self, may: Callable[[], bool]) -> None:
        while not may():
            change: asyncio.Future[None] = asyncio.get_running_loop().create_future()
            self._waiting.append(change)
            await change

    def _tell(self) -> None:
        waiting, self._waiting = self._waiting, []
        for change in waiting:
            if not change.done():
                change.set_result(None)
