"""Ctrl-C: the first one cancels what moves the machine, which stops it; further ones change nothing."""

from __future__ import annotations

import asyncio
import signal
import threading
from types import FrameType, TracebackType
from typing import Any, ClassVar, Self

from gingerly.driver.machine import Machine
from gingerly.messages.faults import Standstill

SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")


class BrokenOff(Exception):
    """A command was interrupted; the text says what is known of the machine's motion by then."""


def broken_off(machine: Machine) -> BrokenOff:
    """Return the exception that says whether this machine was moved, stands still, and has lead and plate on."""
    last = machine.last.outcome if machine.last is not None else None
    standstill = last.standstill if last is not None else Standstill.UNMOVED
    told = f"{standstill.value}."
    if last is not None and last.position is not None and standstill is Standstill.CONFIRMED:
        told += f" It stands at {last.position} (the controller says)."
    return BrokenOff(told + (LEAD_ON if machine.attached else ""))


LEAD_ON = " Test lead and plate must be thought to be on."


class Interrupts:
    """Turns an interruption into the cancellation of one task, in whichever thread its loop runs.

    While no task is guarded an interruption ends the program as usual (`KeyboardInterrupt`). `ever_guarded` says
    whether the command under way has guarded one, so that a machine may have been moved by then.
    """

    ever_guarded: ClassVar[bool] = False

    def __init__(self) -> None:
        self._guarded: tuple[asyncio.AbstractEventLoop, asyncio.Task[Any]] | None = None
        self._before: dict[int, Any] = {}
        self.seen = False

    def __enter__(self) -> Self:
        if threading.current_thread() is threading.main_thread():
            for name in SIGNALS:
                if hasattr(signal, name):
                    number = getattr(signal, name)
                    self._before[number] = signal.signal(number, self._interrupted)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def guard(self) -> None:
        """Cancel the task that calls this, when an interruption comes."""
        task = asyncio.current_task()
        assert task is not None
        self._guarded = (asyncio.get_running_loop(), task)
        Interrupts.ever_guarded = True

    def _interrupted(self, number: int, frame: FrameType | None) -> None:
        first, self.seen = not self.seen, True
        if self._guarded is None:
            raise KeyboardInterrupt
        loop, task = self._guarded
        if first and not loop.is_closed():
            loop.call_soon_threadsafe(task.cancel)
