"""Hold the example adapter to the contract, with its controller in the same process and a real TCP link between."""

from __future__ import annotations

import asyncio

import pytest

from gingerly import Box, Position
from gingerly.conformance import AdapterConformance, Subject, Truth, Wall
from tcp_adapter.adapter import PlainAdapter
from tcp_adapter.controller import FLOOR, WALL, Controller

SAFE = Position(100, 75, -20)
NOBODY = 1
"""A port that nobody serves: listening on it takes rights that no test has."""


class Bench(PlainAdapter):
    """The adapter, and the controller at the other end of its link, so that the test can reach both."""

    controller: Controller
    server: asyncio.Server


async def make() -> Bench:
    controller = Controller(position=SAFE)
    server = await asyncio.start_server(controller.serve, "127.0.0.1", 0)
    bench = Bench(*server.sockets[0].getsockname())
    bench.controller, bench.server = controller, server
    return bench


async def finish(bench: Bench) -> None:
    bench.server.close()
    await bench.controller.power_off()


def truth(bench: Bench) -> Truth:
    mill = bench.controller
    return Truth(position=mill.true_position, moving=mill.true_moving, offsets=mill.offsets, homed=mill.homed)


def soon(name: str):
    """Return a hook that calls a method of the controller after a delay."""
    return lambda bench, in_s: asyncio.get_running_loop().call_later(in_s, getattr(bench.controller, name)) and None


def flag(name: str, value: float = True):
    """Return a hook that sets an attribute of the controller."""
    return lambda bench, in_s: setattr(bench.controller, name, value)


def subject() -> Subject:
    """The plain mill, its floor and its wall, and all that can be provoked in it."""
    return Subject(
        make=make,
        finish=finish,
        simulated=True,
        safe=SAFE,
        free=Box(Position(95, 70, -25), Position(110, 85, -15)),
        walls=(
            Wall(start=Position(100, 75, FLOOR + 1), contact=Position(100, 75, FLOOR)),
            Wall(start=Position(WALL - 1.5, 75, -20), contact=Position(WALL, 75, -20)),
        ),
        truth=truth,
        alarm=soon("raise_alarm"),
        restart=soon("restart"),
        link_loss=soon("hang_up"),
        silence=flag("hushed"),
        refusal=flag("refusing"),
        short_move=flag("shortened"),
        closed_circuit=flag("bridged"),
        turning_spindle=flag("turning"),
        foreign_state=flag("pace", 0.5),
        unreachable=lambda: PlainAdapter("127.0.0.1", NOBODY),
    )


class TestPlainAdapter(AdapterConformance):
    """The example adapter keeps the contract."""

    @pytest.fixture
    def subject(self) -> Subject:
        return subject()
