"""A person at a terminal who answers questions, and cannot answer one by accident.

Each prompt has a number, names its machine, and is answered by typing the full word that it shows. What was typed
before the prompt appeared is thrown away. Nothing here moves anything.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import textwrap
import threading
from collections import deque
from typing import TextIO

from gingerly.batch import PartStarted, StepAsked
from gingerly.cli.columns import WIDTH
from gingerly.cli.words import PROMPTS, REFUSE, WAIVE, Prompt
from gingerly.driver.adapter import Operator
from gingerly.job import Part
from gingerly.job.problems import printable
from gingerly.messages.commands import Answer, Question
from gingerly.routines import StopTest

PATIENCE = 20
"""After so many answers that are none, the answer is no. Our own choice."""

LINE = 1024
"""Bytes that are read from the terminal at a time. Our own choice."""


class Lines:
    """Lines from a file descriptor, read by a thread of its own: a read cannot be cancelled, a wait for it can."""

    def __init__(self, descriptor: int) -> None:
        self.descriptor = descriptor
        self._lines: deque[str | None] = deque()
        self._waiting: tuple[asyncio.AbstractEventLoop, asyncio.Event] | None = None
        self._thread: threading.Thread | None = None

    @property
    def waiting(self) -> int:
        """How many lines have arrived and were not asked for yet."""
        return len(self._lines)

    def discard(self) -> None:
        """Throw away what was typed before anybody asked; an end of input is kept."""
        ended = None in self._lines
        self._lines.clear()
        if ended:
            self._lines.append(None)
        if os.isatty(self.descriptor):
            _flush_terminal(self.descriptor)

    async def next(self) -> str | None:
        """Return the next line, or None at the end of input."""
        self._waiting = (asyncio.get_running_loop(), asyncio.Event())
        if self._thread is None:
            self._thread = threading.Thread(target=self._read, name="terminal", daemon=True)
            self._thread.start()
        while not self._lines:
            await self._waiting[1].wait()
            self._waiting[1].clear()
        return self._lines[0] if self._lines[0] is None else self._lines.popleft()

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self.descriptor, LINE)
            except OSError:
                data = b""
            line = data.decode("utf-8", "replace") if data else None
            self._lines.append(line)
            self._wake()
            if line is None:
                return

    def _wake(self) -> None:
        if self._waiting is not None:
            loop, arrived = self._waiting
            with contextlib.suppress(RuntimeError):  # the loop is closed: nobody asks any more
                loop.call_soon_threadsafe(arrived.set)


def _set_in(text: str) -> str:
    return textwrap.indent(textwrap.fill(text, WIDTH - 2), "  ")


def _flush_terminal(descriptor: int) -> None:
    try:
        import termios
    except ImportError:  # not on this platform; lines read so far are thrown away all the same
        return
    termios.tcflush(descriptor, termios.TCIFLUSH)


class TerminalOperator:
    """Puts questions to the person at a terminal. `forward` gets what was confirmed, where the machine is virtual."""

    def __init__(self, lines: Lines, out: TextIO, forward: Operator | None = None) -> None:
        self._lines = lines
        self._out = out
        self._forward = forward
        self._part: Part | None = None
        self._untold = ""
        self._asked = 0

    def observe(self, event: object) -> None:
        """Remember which part is meant by "next"."""
        if isinstance(event, PartStarted | StepAsked):
            if event.part != self._part:
                self._untold = event.part.say
            self._part = event.part

    async def ask(self, question: Question, machine: str) -> Answer:
        """Put `question` to the person at the terminal, for the machine of this name, and return the answer."""
        prompt = PROMPTS[question]
        self._asked += 1
        self._lines.discard()
        self._say(f"\nQuestion {self._asked}, machine {printable(machine)!r}")
        self._say(_set_in(f"{prompt.task}{self._which(question)}"))
        if self._untold:
            self._say(_set_in(f"The job says: {self._untold}"))
            self._untold = ""
        answer = await self._answer(prompt)
        if answer is Answer.YES and self._forward is not None:
            return await self._forward.ask(question, machine)
        return answer

    def _which(self, question: Question) -> str:
        part = self._part
        if part is None:
            return ""
        if question in (Question.RISE, Question.PRESS_STOP) and isinstance(part.routine, StopTest):
            return f" It goes up by {part.routine.height:g} mm at most."
        if question is Question.CHANGE_TOOL:
            return f" It is {part.tool.name!r}, {part.tool.diameter:g} mm across."
        if question in (Question.NEXT_PART, Question.CLEAR, Question.HANDS_AWAY):
            spot = part.spot
            how = f"plate {spot.plate.name!r}, {spot.placement.value}" if spot.plate is not None else "no plate"
            return f" Part {part.name!r}: {spot.corner.label} corner, {how}."
        return ""

    async def _answer(self, prompt: Prompt) -> Answer:
        known = {prompt.word: Answer.YES, REFUSE: Answer.NO}
        if prompt.may_waive:
            known[WAIVE] = Answer.WAIVE
        self._say(f"  Type  {prompt.word}  when that is done, or  {REFUSE}  {prompt.refusing}.")
        if prompt.may_waive:
            self._say(f"  ({WAIVE}  goes on without having seen the circuit close, on record.)")
        for _ in range(PATIENCE):
            self._say("  > ", end="")
            if getattr(self._out, "lost", False):
                return Answer.NO  # nobody can have read the question
            line = await self._lines.next()
            if line is None:
                return Answer.NO
            answer = known.get(" ".join(line.lower().split()))
            if answer is not None:
                return answer
            self._say(f"  That answers nothing, and nothing was done. The word is  {prompt.word}  or  {REFUSE}.")
        return Answer.NO

    def _say(self, text: str, end: str = "\n") -> None:
        self._out.write(text + end)
        self._out.flush()
