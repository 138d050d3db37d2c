"""The port: bytes in and out on two threads, so that neither a silent nor a stuck line can stop the event loop.

The writer sends whole lines, one after the other; a stop overtakes every line that waits.
Whatever goes wrong on either thread is told once, as a lost link. Nothing here knows what a line means.
"""

from __future__ import annotations

import asyncio
import contextlib
import re
import select
import socket
import threading
import warnings
from collections import deque
from collections.abc import Callable
from typing import Protocol, cast
from urllib.parse import urlsplit

import serial

from gingerly_serial.lines import LineSplitter
from gingerly_serial.why import why

POLL_S = 0.2
"""How often the reader wakes up to see whether it is to end. Our own choice."""

WRITE_S = 2.0
"""A write that takes longer is stuck; it may be half sent, so the link is then given up. Our own choice."""

JOIN_S = 2.0
"""How long the reader is waited for when the port is closed. Our own choice."""

AT_MOST = 4096
"""Bytes that are read at a time. Our own choice."""

MOST_WAITING = 2000
"""Lines that may wait for the event loop; the oldest give way. Our own choice."""

AT_ONCE = 200
"""Lines handed over in one go, so that a flood cannot starve the event loop. Our own choice."""

SCHEMES = ("socket", "rfc2217", "loop")
_DEVICE = re.compile(r"(/dev/[\w./:+,@-]{1,200}|COM\d{1,3}|\\\\\.\\COM\d{1,3})", re.ASCII)
_BROKEN: tuple[type[Exception], ...] = (OSError, TypeError, AttributeError, ValueError, serial.SerialException)
"""All the faces that a lost port has, on its own thread or while another one closes it."""

try:
    from termios import error as _termios_error

    _BROKEN = (*_BROKEN, _termios_error)
except ImportError:  # pragma: no cover - where there are no terminals of that kind
    pass


def check_url(url: object) -> str:
    """Return the port's name; raises `ValueError` for anything but a device, or an address of a known kind."""
    if not isinstance(url, str) or len(url) > 300 or not url.isascii() or not url.isprintable():
        raise ValueError(
            "port must be a device such as /dev/ttyUSB0 or COM3, or an address such as socket://host:port"
        )
    scheme, colon, _ = url.partition("://")
    if (colon and scheme in SCHEMES) or _DEVICE.fullmatch(url):
        if scheme in ("socket", "rfc2217") and not _names_a_port(url):
            raise ValueError(
                f"port {url!r}: give a host and a port from 1 to 65535, as in {scheme}://192.168.0.7:4000"
            )
        return url
    raise ValueError(f"port {url!r}: give a device such as /dev/ttyUSB0 or COM3, or {'://, '.join(SCHEMES)}://")


def _names_a_port(url: str) -> bool:
    try:
        where = urlsplit(url)
        return bool(where.hostname and where.port)
    except ValueError:
        return False


class Wire(Protocol):
    """What the threads need of a port: pyserial's, or a socket."""

    def read(self, size: int = 1, /) -> bytes:
        """Return what has come, at most `size` bytes; nothing where nothing came in time."""
        ...

    def write(self, data: bytes, /) -> int | None:
        """Send all of `data`."""
        ...

    def close(self) -> None:
        """Let go of the port."""
        ...


class SocketWire:
    """A TCP connection. It reads what has come in one go, and knows at once when the other end has closed."""

    def __init__(self, url: str) -> None:
        where = urlsplit(url)
        self._socket = socket.create_connection((where.hostname or "", where.port or 0), timeout=WRITE_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def read(self, size: int = 1, /) -> bytes:
        """Return what has come, at most `size` bytes; raises `OSError` where the other end has closed."""
        ready, _, _ = select.select([self._socket], [], [], POLL_S)
        if not ready:
            return b""
        data = self._socket.recv(size)
        if not data:
            raise ConnectionError("the other end has closed the connection")
        return data

    def write(self, data: bytes, /) -> None:
        """Send all of `data`."""
        self._socket.sendall(data)

    def cancel_read(self) -> None:
        """End a read that waits on another thread."""
        self._socket.shutdown(socket.SHUT_RD)

    def close(self) -> None:
        """Close the connection."""
        self._socket.close()


class Port:
    """An open port. `on_line` and `on_lost` are called on the event loop that opened it."""

    def __init__(
        self,
        url: str,
        *,
        baud: int,
        ending: bytes,
        longest: int,
        on_line: Callable[[bytes], None],
        on_lost: Callable[[str], None],
    ) -> None:
        self._url = check_url(url)
        self._baud = baud
        self._ending = ending
        self._splitter = LineSplitter(longest)
        self._on_line = on_line
        self._on_lost = on_lost
        self._native = "://" not in url
        self._wire: Wire | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._opening: asyncio.Future[Wire] | None = None
        self._shutting: asyncio.Future[None] | None = None
        self._closing = False
        self._told = False
        self._heard: deque[bytes] = deque(maxlen=MOST_WAITING)
        self._scheduled = False
        self._wake = threading.Condition()
        self._urgent: deque[bytes] = deque()
        self._waiting: deque[bytes] = deque()
        self._threads: list[threading.Thread] = []

    @property
    def overlong(self) -> int:
        """How many lines were thrown away because they were too long."""
        return self._splitter.overlong

    # ---- on the event loop ----------------------------------------------------------------------------

    async def open(self) -> None:
        """Open the port and start its threads; raises `ConnectionError` with a sentence where it cannot be."""
        self._loop = asyncio.get_running_loop()
        opening = self._opening = self._loop.run_in_executor(None, self._open)
        try:
            self._wire = await asyncio.shield(opening)
        except asyncio.CancelledError:
            # The thread goes on; whatever it opens must not stay open behind everybody's back.
            self._closing = True
            opening.add_done_callback(_close_late)
            raise
        except _BROKEN as error:
            raise ConnectionError(f"the port {self._url} cannot be opened: {why(error)}") from error
        for work, name in ((self._read, "reader"), (self._write, "writer")):
            thread = threading.Thread(target=work, name=f"gingerly {name}", daemon=True)
            self._threads.append(thread)
            thread.start()

    def send(self, line: str) -> None:
        """Queue a line; it is sent whole, with its ending."""
        with self._wake:
            self._waiting.append(line.encode("ascii") + self._ending)
            self._wake.notify()

    def send_byte(self, byte: int, *, first: bool = False) -> None:
        """Queue a request of one byte, on request before every line that waits."""
        with self._wake:
            (self._urgent if first else self._waiting).append(bytes((byte,)))
            self._wake.notify()

    def send_first(self, line: str) -> None:
        """Queue a line before every line that waits."""
        with self._wake:
            self._urgent.append(line.encode("ascii") + self._ending)
            self._wake.notify()

    def forget_waiting(self) -> None:
        """Throw away every line that has not been begun."""
        with self._wake:
            self._waiting.clear()

    async def close(self) -> None:
        """End the threads and close the port; may be called more than once."""
        self._closing = True
        with self._wake:
            self._wake.notify()
        if self._opening is not None and not self._opening.done():
            # An opening that was cancelled is waited for, so that it cannot come between the next one and its port.
            await asyncio.wait({self._opening})
        if self._shutting is None:
            self._shutting = asyncio.get_running_loop().run_in_executor(None, self._shut)
        # A close that is cancelled lets go all the same, and the next one waits for that.
        await asyncio.shield(self._shutting)

    def _hand_over(self) -> None:
        self._scheduled = False
        for _ in range(min(AT_ONCE, len(self._heard))):
            self._on_line(self._heard.popleft())
        if self._heard:
            self._schedule()

    def _say_lost(self, detail: str) -> None:
        if not self._told and not self._closing:
            self._told = True
            self._on_lost(detail)

    # ---- on the threads -------------------------------------------------------------------------------

    def _open(self) -> Wire:
        if self._url.startswith("socket://"):
            return SocketWire(self._url)
        remote = self._url.startswith("rfc2217")
        with warnings.catch_warnings():
            if remote:
                # Opening that kind of port calls thread methods with old names.
                warnings.simplefilter("ignore", DeprecationWarning)
            port = serial.serial_for_url(
                self._url,
                baudrate=self._baud,
                timeout=POLL_S,
                # A remote port knows no bound for writing; one that is stuck ends when the port is closed.
                write_timeout=None if remote else WRITE_S,
                exclusive=True if self._native else None,
            )
        return cast(Wire, port)

    def _read(self) -> None:
        port = self._wire
        assert port is not None
        # What a device holds is read in one go; other kinds of pyserial port would wait for all that was asked for.
        native, at_once = self._native, AT_MOST if isinstance(port, SocketWire) else 1
        while not self._closing:
            try:
                data = port.read(max(1, getattr(port, "in_waiting", 1)) if native else at_once)
            except _BROKEN as error:
                self._lose(f"reading failed: {why(error)}")
                return
            for line in self._splitter.feed(data):
                self._heard.append(line)
                if not self._scheduled:
                    self._schedule()

    def _schedule(self) -> None:
        self._scheduled = True
        assert self._loop is not None
        with contextlib.suppress(RuntimeError):  # the event loop has gone
            self._loop.call_soon_threadsafe(self._hand_over)

    def _write(self) -> None:
        port = self._wire
        assert port is not None
        while True:
            with self._wake:
                while not (self._urgent or self._waiting or self._closing):
                    self._wake.wait()
                if not (self._urgent or self._waiting):
                    return
                data = (self._urgent or self._waiting).popleft()
            try:
                port.write(data)
            except _BROKEN as error:
                self._lose(f"writing failed: {why(error)}")
                return

    def _lose(self, detail: str) -> None:
        assert self._loop is not None
        with contextlib.suppress(RuntimeError):  # the event loop has gone
            self._loop.call_soon_threadsafe(self._say_lost, detail)

    def _shut(self) -> None:
        port = self._wire
        if port is None:
            return
        # The writer first: what is queued, perhaps a stop, still goes out.
        for thread in reversed(self._threads):
            thread.join(JOIN_S)
            with contextlib.suppress(*_BROKEN):
                cancel = getattr(port, "cancel_read", None)
                if cancel is not None:
                    cancel()
        self._threads.clear()
        with contextlib.suppress(*_BROKEN):
            port.close()
        self._wire = None


def _close_late(opening: asyncio.Future[Wire]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        opening.result().close()
