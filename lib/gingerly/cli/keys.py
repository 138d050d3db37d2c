"""Single keys from a terminal: it tells each key at once, shows nothing, and is put back as it was afterwards."""

from __future__ import annotations

import os
from collections import deque
from types import TracebackType
from typing import Any, Self

from gingerly.cli.operator import Lines

NAMED = {
    "\x1b[A": "up",
    "\x1b[B": "down",
    "\x1b[C": "right",
    "\x1b[D": "left",
    "\x1bOA": "up",
    "\x1bOB": "down",
    "\x1bOC": "right",
    "\x1bOD": "left",
    "\x1b[5~": "page up",
    "\x1b[6~": "page down",
    "\r": "enter",
    "\n": "enter",
}
"""What terminals send for keys without a letter (ECMA-48 and its usual extension)."""


def split(text: str) -> list[str]:
    """Return the keys in what a terminal sent at once; a key that is not known stays as it was sent."""
    keys = []
    while text:
        sequence = next((known for known in NAMED if text.startswith(known)), None)
        if sequence is None and text.startswith("\x1b"):
            keys.append(text)  # a key that we do not know, however long
            break
        keys.append(NAMED[sequence] if sequence else text[0])
        text = text[len(sequence or text[0]) :]
    return keys


class Keys:
    """Reads key by key from the terminal that `lines` reads from. Use it as a context manager."""

    def __init__(self, lines: Lines) -> None:
        self._lines = lines
        self._waiting: deque[str] = deque()
        self._before: list[Any] | None = None

    def __enter__(self) -> Self:
        if os.isatty(self._lines.descriptor):
            import termios
            import tty

            self._before = termios.tcgetattr(self._lines.descriptor)
            tty.setcbreak(self._lines.descriptor)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._before is not None:
            import termios

            termios.tcsetattr(self._lines.descriptor, termios.TCSANOW, self._before)

    def discard(self) -> None:
        """Throw away every key that was pressed and not asked for."""
        self._waiting.clear()
        self._lines.discard()

    async def next(self) -> str | None:
        """Return the next key by name, or None at the end of input."""
        while not self._waiting:
            text = await self._lines.next()
            if text is None:
                return None
            self._waiting.extend(split(text))
        return self._waiting.popleft()
