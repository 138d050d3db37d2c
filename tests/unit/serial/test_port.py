"""The port on a real pty: what overtakes what, and what a hang-up looks like."""

from __future__ import annotations

import asyncio
import os
import threading
import tty
from collections.abc import AsyncIterator, Iterator

import pytest
import pytest_asyncio

from gingerly_serial import SerialAdapter
from gingerly_serial.port import Port
from support.practice import FACTS

LONG = "G90 " + "(" + "x" * 240 + ")"
MANY = 2000
"""Half a megabyte: more than any pty holds."""


class Ends:
    """Both ends of a pty, and what the port has told."""

    def __init__(self) -> None:
        self.far, self._near = os.openpty()
        tty.setraw(self._near)
        self.name = os.ttyname(self._near)
        self.lines: list[bytes] = []
        self.lost: list[str] = []
        self.news = asyncio.Event()

    def heard(self, line: bytes) -> None:
        self.lines.append(line)
        self.news.set()

    def gone(self, detail: str) -> None:
        self.lost.append(detail)
        self.news.set()

    async def let_go(self, port: Port) -> None:
        """Close the port while everything that still comes is read: a writer in mid-line waits for room."""
        loop = asyncio.get_running_loop()
        loop.add_reader(self.far, os.read, self.far, 65536)
        await port.close()
        loop.remove_reader(self.far)

    def hang_up(self) -> None:
        os.close(self.far)
        os.close(self._near)
        self.far = -1

    def close(self) -> None:
        if self.far >= 0:
            self.hang_up()


@pytest.fixture
def ends() -> Iterator[Ends]:
    both = Ends()
    yield both
    both.close()


@pytest_asyncio.fixture
async def port(ends: Ends) -> AsyncIterator[Port]:
    opened = Port(ends.name, baud=115200, ending=b"\n", longest=100, on_line=ends.heard, on_lost=ends.gone)
    await opened.open()
    yield opened
    await opened.close()


def read_up_to(descriptor: int, byte: bytes) -> bytes:
    """Everything that comes, up to and including a byte."""
    found = b""
    while byte not in found:
        found += os.read(descriptor, 65536)
    return found


@pytest.mark.asyncio
async def test_stop_byte_overtakes_every_line_that_waits(ends: Ends, port: Port) -> None:
    """With half a megabyte of lines waiting, the stop leaves before most of them, between two lines."""
    for _ in range(MANY):
        port.send(LONG)
    port.send_byte(24, first=True)
    sent = await asyncio.to_thread(read_up_to, ends.far, b"\x18")
    port.forget_waiting()
    lines = sent.partition(b"\x18")[0].split(b"\n")
    assert len(lines) < MANY / 2
    assert set(lines[:-1]) <= {LONG.encode()}
    assert lines[-1] == b""
    await ends.let_go(port)


@pytest.mark.asyncio
async def test_lines_that_were_not_begun_are_forgotten_whole(ends: Ends, port: Port) -> None:
    """After a stop no waiting line leaves any more, and none leaves half."""
    for _ in range(MANY):
        port.send(LONG)
    port.forget_waiting()
    port.send_first("the end")
    sent = await asyncio.to_thread(read_up_to, ends.far, b"d\n")
    lines = sent.split(b"\n")
    assert len(lines) < MANY / 2
    assert set(lines[:-2]) <= {LONG.encode()}
    assert lines[-2:] == [b"the end", b""]


@pytest.mark.asyncio
async def test_lines_are_heard_whole_and_overlong_ones_not_at_all(ends: Ends, port: Port) -> None:
    """A line comes once its end has come; one that is too long is thrown away and counted."""
    os.write(ends.far, b"first\r\nsec")
    os.write(ends.far, b"ond\n" + b"y" * 500 + b"\nthird\n")
    while len(ends.lines) < 3:
        ends.news.clear()
        await ends.news.wait()
    assert ends.lines == [b"first", b"second", b"third"]
    assert port.overlong == 1


@pytest.mark.asyncio
async def test_hang_up_is_told_once(ends: Ends, port: Port) -> None:
    """A pulled cable shows in reading and in writing, and is told one time."""
    ends.hang_up()
    port.send("G90")
    await ends.news.wait()
    port.send("G90")
    await port.close()
    assert len(ends.lost) == 1


@pytest.mark.asyncio
async def test_closing_ends_both_threads(ends: Ends, port: Port) -> None:
    """Nothing of the port is left once it is closed; closing again does nothing."""
    await port.close()
    await port.close()
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("gingerly ")]


@pytest.mark.asyncio
async def test_port_that_is_taken_is_refused(ends: Ends, port: Port) -> None:
    """Two programs on one port steal each other's answers; the second to come is refused where the platform can."""
    second = Port(ends.name, baud=115200, ending=b"\n", longest=100, on_line=ends.heard, on_lost=ends.gone)
    with pytest.raises(ConnectionError, match="cannot be opened"):
        await second.open()
    await second.close()


@pytest.mark.asyncio
@pytest.mark.parametrize("url", ["/dev/none-such-port", "socket://127.0.0.1:9", "rfc2217://127.0.0.1:9"])
async def test_port_that_is_not_there_is_a_lost_link_with_its_name(url: str) -> None:
    """Whatever cannot be opened ends as LinkLost with the port's name, never as another error."""
    from gingerly import LinkLost

    adapter = SerialAdapter(port=url, profile="practice", **FACTS)
    with pytest.raises(LinkLost, match="cannot be opened"):
        await adapter.open()
    await adapter.close()


@pytest.mark.asyncio
async def test_port_that_only_echoes_is_no_controller() -> None:
    """Behind a port that answers nothing but an echo, opening ends in NoAnswer, in bounded time."""
    from gingerly import NoAnswer

    adapter = SerialAdapter(port="loop://", profile="practice", clock_scale=100.0, **FACTS)
    with pytest.raises(NoAnswer, match="state"):
        await adapter.open()
    await adapter.close()
