"""What a batch tells while it goes on: plain lines, and on a terminal one live line below them.

An observer only: whatever happens here, the machine does not care.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from types import TracebackType
from typing import TYPE_CHECKING, Self, TextIO

from gingerly.batch import BatchEvent, Noted, PartEnded, PartStarted, StepAsked
from gingerly.cli.columns import wrapped
from gingerly.cli.table import clock
from gingerly.driver.events import Asked, Event, FaceFound, Ordered, Replied, RunEnded
from gingerly.driver.machine import Machine
from gingerly.geometry import Axis
from gingerly.job import Job
from gingerly.job.forecast import PartForecast, foresee
from gingerly.messages.commands import Answer, Question, ReadOffset, Sense, WriteOffset
from gingerly.messages.faults import Fault
from gingerly.messages.replies import OffsetRead, OffsetWritten, Touched
from gingerly.messages.touches import Face

if TYPE_CHECKING:
    from rich.live import Live

BAR = 12
"""How many columns the bar of a batch has. Our own choice."""

ECHO = 3
"""Columns that stay free at the end of the live line, for the ^C that a terminal shows there."""

STEPS = {
    Question.NEXT_PART: "next, for plate and lead",
    Question.CHANGE_TOOL: "next, into the spindle",
    Question.LOOK_AT_ZERO: "next, a look at the new zero",
}


MOVES = (
    Question.CLEAR,
    Question.HANDS_AWAY,
    Question.STAND_CLEAR,
    Question.LOOK_AT_ZERO,
    Question.RISE,
    Question.PRESS_STOP,
)
"""Questions that end a check, or after whose yes the machine moves: what was asked up to there is told in one line."""


class Teller:
    """Turns events into lines; the steps of a circuit check are gathered into one.

    Of a work offset is told what was read back, where it was.
    """

    def __init__(self) -> None:
        self._steps: list[str] = []
        self._written: WriteOffset | None = None

    def line(self, event: BatchEvent | Event) -> str:
        """Return the line that tells of `event`, or nothing where it is not worth one."""
        return wrapped("\n".join(filter(None, (self._of_offset(event), self._of_all_else(event)))))

    def _of_offset(self, event: BatchEvent | Event) -> str:
        """The line of a work offset that was written: once it is read, or once it is clear that it will not be."""
        write = self._written
        match event:
            case Ordered(_, ReadOffset()) | Replied(OffsetWritten()):
                return ""
            case Ordered(_, WriteOffset() as command):
                self._written = command
            case Replied(OffsetRead(number, origin)) if write is not None and number == write.number:
                self._written = None
                return f"    work offset {number} reads {_axes((axis, origin[axis]) for axis, _ in write.axes)}"
            case Ordered() | RunEnded():
                self._written = None
            case _:
                return ""
        if write is None:
            return ""
        return f"    work offset {write.number} was told {_axes(write.axes)}, and not read back"

    def _of_all_else(self, event: BatchEvent | Event) -> str:
        if not isinstance(event, Asked):
            return told(event)
        yes = event.answer is Answer.YES
        self._steps.append(event.question.value if yes else f"{event.question.value}: {event.answer.value}")
        if yes and event.question not in MOVES:
            return ""
        steps, self._steps = self._steps, []
        return f"    operator: {', '.join(steps)}"


def told(event: BatchEvent | Event) -> str:
    """Return the line that tells of a single event, or nothing where it is not worth one."""
    match event:
        case PartStarted(part, index, of):
            return f"{index}/{of} {part.name}: {part.kind}, {part.tool.name}"
        case StepAsked(part, question):
            return f"    {STEPS[question]}: {part.tool.name if question is Question.CHANGE_TOOL else part.name}"
        case FaceFound(face):
            return f"    {_face(face)}"
        case PartEnded(entry) if entry.fault is not None:
            return f"    {entry.part.name} {entry.status.value}: {entry.fault.name}; {entry.fault.standstill.value}"
        case PartEnded(entry) if entry.why:
            return f"    {entry.status.value}: {entry.why}"
        case PartEnded(entry):
            return f"    {entry.status.value} in {clock(entry.account.duration_s if entry.account else None)}"
        case Noted(text):
            return f"note: {text}"
    return ""


def _axes(values: Iterable[tuple[Axis, float]]) -> str:
    return " ".join(f"{axis.name} {value:.3f}" for axis, value in values)


def _face(face: Face) -> str:
    axis = max(Axis, key=lambda candidate: abs(face.direction[candidate]))
    count = len(face.contacts)
    contacts = f"{count} contact{'s' if count > 1 else ''}"
    return f"{face.touch}: {contacts}, {axis.name} {face.position[axis]:.3f}, spread {1000.0 * face.spread:.1f} µm"


class Progress(AbstractContextManager["Progress"]):
    """Plain lines on a stream."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._teller = Teller()

    def observe(self, event: BatchEvent | Event) -> None:
        """Tell of one event."""
        line = self._teller.line(event)
        if line:
            self._stream.write(f"{line}\n")
            self._stream.flush()

    async def foresee(self, job: Job, machine: Machine) -> None:
        """Learn how long the job will take; nothing to do where no time is shown."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None


class Silence(Progress):
    """Nothing at all."""

    def observe(self, event: BatchEvent | Event) -> None:
        """Tell nothing."""


class LiveProgress(Progress):
    """Lines on a terminal, and below them the part, the cycle's state, the touch, the contacts and the time.

    `pace_s` is how long the display rests after each face, so that the eye can follow a virtual machine.
    """

    def __init__(self, stream: TextIO, *, pace_s: float = 0.0) -> None:
        super().__init__(stream)
        self._pace_s = pace_s
        self._live: Live | None = None
        self._part = self._state = ""
        self._faces = self._touch = self._contacts = 0
        self._at_s = self._began_s = 0.0
        self._ahead: list[PartForecast] = []
        self._index = 0

    async def foresee(self, job: Job, machine: Machine) -> None:
        """Learn how long each part will take; where the machine does not say where it stands, nobody knows."""
        with contextlib.suppress(Fault):
            here = (await machine.look()).position
            self._ahead = list(foresee(job, machine.facts, here).parts)

    def __enter__(self) -> Self:
        from rich.console import Console
        from rich.live import Live

        console = Console(file=self._stream, highlight=False)
        self._live = Live(console=console, transient=True, refresh_per_second=12.0, get_renderable=self.now)
        self._live.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._live is not None:
            self._live.__exit__(kind, error, trace)

    def observe(self, event: BatchEvent | Event) -> None:
        """Tell of one event, and keep the live line fresh."""
        self._follow(event)
        line = self._teller.line(event)
        if line and self._live is not None:
            self._live.console.print(line, style=_style(event), markup=False, soft_wrap=True)
        if isinstance(event, FaceFound) and self._pace_s:
            time.sleep(self._pace_s)

    def _follow(self, event: BatchEvent | Event) -> None:
        match event:
            case PartStarted(part, index, of):
                self._part, self._index = f"{index}/{of} {part.name}", index
                self._faces = self._touch = self._contacts = 0
                self._began_s = self._at_s
            case Ordered(state, command, at_s):
                self._state, self._at_s = state.value, at_s
                if isinstance(command, Sense):
                    self._touch = self._faces + 1
            case Replied(Touched(), at_s):
                self._contacts += 1
                self._at_s = at_s
            case FaceFound():
                self._faces += 1

    def now(self) -> str:
        """Return the live line as it is at this moment; nothing before the first part."""
        if not self._part or self._live is None:
            return ""
        spent = clock(self._at_s - self._began_s)
        touches = [f"touch {self._touch}", f"contact {self._contacts}"] if self._touch else []
        words = [self._part, self._state, *touches, spent, *(self._left() if self._ahead else ())]
        return fitting(words, self._live.console.width - ECHO)

    def _left(self) -> tuple[str, str]:
        """The time that this part and the whole job still need, and a bar of the share that is done."""
        of_part = sum(touch.duration_s for touch in self._ahead[self._index - 1].touches[self._faces :])
        of_job = of_part + sum(part.duration_s for part in self._ahead[self._index :])
        whole = sum(part.duration_s for part in self._ahead)
        done = round(BAR * (1.0 - of_job / whole)) if whole > 0.0 else 0
        bar = f"{'━' * done}{'╌' * (BAR - done)}"
        return f"left {clock(of_part)}, job {clock(of_job)}", bar


def fitting(words: Sequence[str], width: int) -> str:
    """Return the words in one line of at most `width` columns: the last go first, but the second goes as the second.

    Here the last is the bar, which says what the time left says, and the second the state, too quick to be read.
    """
    left = list(words)
    while len(line := " · ".join(left)) > width and len(left) > 1:
        left.pop(1 if len(left) == len(words) - 1 else -1)
    return line if len(line) <= width else f"{line[: max(width - 1, 0)]}…"


def _style(event: BatchEvent | Event) -> str:
    match event:
        case PartStarted():
            return "bold"
        case PartEnded(entry) if entry.fault is not None:
            return "bold red"
        case PartEnded():
            return "green"
        case Noted():
            return "yellow"
    return "dim"
