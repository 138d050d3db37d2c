"""The standard streams, whatever has become of them: closed, full, or with nobody at the other end.

What is told beside the data (stderr) never ends a command: the machine does not care who listens. Data that cannot
be written (stdout) does, once the command has done its work.
"""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import sys
import threading
from collections.abc import Iterator
from types import FrameType
from typing import Any, TextIO, cast


def make_ready() -> None:
    """Make the standard streams fit for use, and tell on stderr, in a line each, what went wrong aside."""
    # Whoever was started without a stream gets an empty one: nobody is there, and nothing can be shown.
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 (as long as the process)
    # A question mark where a terminal cannot show a letter, rather than a failure.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    log = logging.getLogger("gingerly")
    if not log.handlers:
        log.addHandler(_InBrief(logging.WARNING))


class _InBrief(logging.Handler):
    """Tells in one line what went wrong aside; the fault itself is told where it belongs, and no traceback helps."""

    def emit(self, record: logging.LogRecord) -> None:
        error = record.exc_info[1] if record.exc_info else None
        why = "" if error is None else f": {type(error).__name__}"
        print(f"note: {record.getMessage()}{why}", file=sys.stderr)


class Unheard:
    """A text stream that goes on as if nothing were, once nobody takes any more what is written to it.

    `lost` says so from then on. All else is the stream's own.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.lost = False

    def write(self, text: str) -> int:
        """Write `text`, or let it go."""
        if not self.lost:
            with self._watched():
                self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Hand on what was written, or let it go."""
        if not self.lost:
            with self._watched():
                self._stream.flush()

    @contextlib.contextmanager
    def _watched(self) -> Iterator[None]:
        try:
            yield
        except UnicodeError:  # no matter of the stream's
            raise
        except (OSError, ValueError) as error:  # nobody there, no room, or closed
            self.lost = True
            _end_in_nothing(self._stream)
            self._fail(error)

    def _fail(self, error: Exception) -> None:
        """Nothing: nobody hears it, and that is all."""

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


class Unwritten(Exception):
    """The output could not be written; the text says why. `reader_gone`: whoever read it has gone."""

    def __init__(self, error: Exception) -> None:
        super().__init__(getattr(error, "strerror", None) or str(error))
        self.reader_gone = isinstance(error, BrokenPipeError)


class Data(Unheard):
    """The stream that data goes to: the first time that nobody takes it, `Unwritten` says so."""

    def _fail(self, error: Exception) -> None:
        raise Unwritten(error) from None


@contextlib.contextmanager
def guarded() -> Iterator[None]:
    """Let nothing that is told on stderr fail as long as this lasts; what fails on stdout is `Unwritten`."""
    make_ready()
    data, told = cast(TextIO, Data(sys.stdout)), cast(TextIO, Unheard(sys.stderr))
    with contextlib.redirect_stdout(data), contextlib.redirect_stderr(told):
        yield


class Pressed(KeyboardInterrupt):
    """Ctrl-C was pressed. A class of its own: after the usual one Python may end by the signal all the same, whatever
    the program has returned."""


@contextlib.contextmanager
def own_ctrl_c() -> Iterator[None]:
    """Let Ctrl-C raise `Pressed` as long as this lasts, where it would have been Python's to raise."""
    main = threading.current_thread() is threading.main_thread()
    if not main or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield
        return
    signal.signal(signal.SIGINT, _press)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def _press(number: int, frame: FrameType | None) -> None:
    raise Pressed


def _end_in_nothing(stream: TextIO) -> None:
    """Let what Python will flush once more at the end of the process go nowhere, rather than fail again."""
    with contextlib.suppress(OSError, ValueError):  # a stream without a descriptor has no such end
        descriptor = stream.fileno()
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, descriptor)
        os.close(nothing)
