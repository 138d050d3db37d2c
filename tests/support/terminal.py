"""A command at a terminal of its own: what it shows is waited for, never slept for."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
from collections.abc import Mapping
from types import TracebackType
from typing import Self

from support.command import COMMAND, LIMIT_S


class Terminal:
    """Runs `gingerly` with `arguments` at a terminal of 80 columns. Use it as a context manager."""

    def __init__(self, *arguments: str, **environment: str) -> None:
        self._child, self._screen = pty.fork()
        if self._child == 0:
            os.environ.update({"TERM": "xterm", "COLUMNS": "80", "PYTHONUTF8": "1", **environment})
            os.execv(sys.executable, [*COMMAND, *arguments])
        self.text = ""
        self._read_to = 0
        self.code: int | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.close(self._screen)
        if self.code is None:
            os.kill(self._child, signal.SIGKILL)
            self.code = os.waitstatus_to_exitcode(os.waitpid(self._child, 0)[1])

    def until(self, shown: str) -> str:
        """Return what has appeared since the last call, up to `shown`, which must come."""
        while shown not in self.text[self._read_to :]:
            if not self._more():
                raise AssertionError(f"{shown!r} never appeared in:\n{self.text[self._read_to :]}")
        end = self.text.index(shown, self._read_to) + len(shown)
        found, self._read_to = self.text[self._read_to : end], end
        return found

    def type(self, text: str) -> None:
        """Press these keys."""
        os.write(self._screen, text.encode())

    def answer(self, word: str) -> None:
        """Wait for a prompt, then type this word and press enter."""
        self.until("> ")
        self.type(f"{word}\n")

    def answer_all(self, answers: Mapping[str, str]) -> None:
        """Answer every prompt by what it shows, until the command ends."""
        while self._more():
            if self.text.endswith("> ") and len(self.text) > self._read_to:
                last = self.text[self.text.rindex("Question ") :]
                self._read_to = len(self.text)
                self.type(f"{next(word for shown, word in answers.items() if shown in last)}\n")

    def end(self) -> tuple[str, int]:
        """Wait for the command to end; return the whole screen and the exit code."""
        while self._more():
            pass
        self.code = os.waitstatus_to_exitcode(os.waitpid(self._child, 0)[1])
        return self.text, self.code

    def _more(self) -> bool:
        if not select.select([self._screen], [], [], LIMIT_S)[0]:
            raise AssertionError(f"nothing more came after:\n{self.text}")
        try:
            data = os.read(self._screen, 65536)
        except OSError:
            return False
        self.text += data.decode("utf-8", "replace")
        return bool(data)
