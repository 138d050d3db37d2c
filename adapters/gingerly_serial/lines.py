"""Bytes into lines: bounded memory, whatever comes. Pure; used by the reader thread and by tests alike."""

from __future__ import annotations

from collections.abc import Iterator

ENDINGS = (10, 13)


class LineSplitter:
    """Cuts a stream at CR and LF. A line longer than `longest` bytes is thrown away whole, and counted."""

    __slots__ = ("_buffer", "_longest", "_skipping", "overlong")

    def __init__(self, longest: int) -> None:
        self._longest = longest
        self._buffer = bytearray()
        self._skipping = False
        self.overlong = 0

    @property
    def held(self) -> int:
        """How many bytes wait for the end of their line; never more than the longest line."""
        return len(self._buffer)

    def feed(self, data: bytes) -> Iterator[bytes]:
        """Yield the lines that `data` completes, without their endings; empty lines are passed over."""
        for byte in data:
            if byte in ENDINGS:
                line, skipped = bytes(self._buffer), self._skipping
                self._buffer.clear()
                self._skipping = False
                if line and not skipped:
                    yield line
            elif not self._skipping:
                if len(self._buffer) >= self._longest:
                    self._buffer.clear()
                    self._skipping = True
                    self.overlong += 1
                else:
                    self._buffer.append(byte)
