"""A serial port of another computer: the same run through an RFC 2217 server, here one in front of a practice port.

The server is pyserial's own side of RFC 2217 (Telnet Com Port Control Option), so that both ends are not ours.
"""

from __future__ import annotations

import contextlib
import select
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial
from serial.rfc2217 import PortManager

from gingerly import LinkLost, Position, Standstill
from support.practice import SURFACE, Hands, Practice


class Sender:
    """What the port manager writes its own answers to."""

    def __init__(self, link: socket.socket) -> None:
        self._link = link

    def write(self, data: bytes) -> None:
        self._link.sendall(data)


def serve(listener: socket.socket, practice: Practice) -> None:
    """Pass bytes between one caller and the practice controller; ends when either has gone."""
    caller, _ = listener.accept()
    host, _, port = practice.port.removeprefix("socket://").rpartition(":")
    with (
        contextlib.suppress(ConnectionError),
        caller,
        socket.create_connection((host, int(port))) as controller,
        serial.serial_for_url("loop://") as line,
    ):
        manager = PortManager(line, Sender(caller))
        while True:
            ready, _, _ = select.select([caller, controller], [], [])
            for one in ready:
                data = one.recv(4096)
                if not data:
                    return
                if one is caller:
                    controller.sendall(b"".join(manager.filter(data)))
                else:
                    caller.sendall(b"".join(manager.escape(data)))


@contextlib.contextmanager
def remote(practice: Practice) -> Iterator[str]:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=serve, args=(listener, practice))
        thread.start()
        try:
            yield f"rfc2217://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            thread.join(20.0)
            assert not thread.is_alive()


@pytest.mark.asyncio
async def test_surface_is_found_and_set_through_a_remote_port(tmp_path: Path) -> None:
    with Practice(tmp_path, speed=20.0) as practice, remote(practice) as port:
        async with Hands(practice).machine(port=port) as machine:
            result = await machine.attempt(SURFACE)
        assert result.fault is None
        corner = practice.truth()["corner"]
        assert practice.offset(2) == pytest.approx(Position(0.0, 0.0, corner[2]), abs=0.05)


@pytest.mark.asyncio
async def test_remote_port_that_goes_away_in_mid_move_is_a_lost_link(tmp_path: Path) -> None:
    pulled = {"what": "hang up", "motion": 3}
    with Practice(tmp_path, speed=20.0, mischief=(pulled,)) as practice, remote(practice) as port:
        async with Hands(practice).machine(port=port) as machine:
            result = await machine.attempt(SURFACE)
    assert isinstance(result.fault, LinkLost)
    assert result.outcome.standstill is Standstill.UNCONFIRMED
