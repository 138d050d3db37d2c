"""Ctrl-C while something moves: heard once, and then not in the middle of a stop.

Python turns a press into an exception between any two steps of the main thread. Where that would tear a wait, or the
stop of a machine, its handler is replaced for as long as that lasts, and put back.
"""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import Self

log = logging.getLogger("gingerly")


@contextmanager
def unheard() -> Iterator[None]:
    """Let Ctrl-C change nothing while a machine is being stopped; what this encloses must be bounded.

    For scripts that run the machine in the main thread (`asyncio.run`), where a second press would otherwise break
    into the stop. Does nothing in another thread, where no press arrives, nor where Ctrl-C is already ignored.
    """
    before = None
    if threading.current_thread() is threading.main_thread():
        before = signal.getsignal(signal.SIGINT)
    if not callable(before):
        yield
        return
    signal.signal(signal.SIGINT, lambda *_: log.warning("the machine is being stopped already"))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class CtrlC:
    """Turns Ctrl-C into a call instead of an exception, so that none can escape between two steps of a wait.

    Python's own handler alone is replaced, and only in the main thread, where it would raise. A press that comes
    before `then` has said what to do is kept for it.
    """

    def __init__(self) -> None:
        self.pressed = False
        self._then: Callable[[], object] | None = None
        self._replaced = False

    def __enter__(self) -> Self:
        main = threading.current_thread() is threading.main_thread()
        if main and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            # The mark comes first: a press between the two lines is still Python's own, and nothing has begun.
            self._replaced = True
            signal.signal(signal.SIGINT, lambda number, frame: self.press())
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._replaced:
            signal.signal(signal.SIGINT, signal.default_int_handler)

    def then(self, do: Callable[[], object]) -> None:
        """Do this at the first press, at once where it has come already."""
        self._then = do
        if self.pressed:
            do()

    def press(self) -> None:
        """Heed one press; further ones change nothing."""
        first, self.pressed = not self.pressed, True
        if first and self._then is not None:
            self._then()
