"""Ctrl-C at the command line: whatever was broken off, it is said whether the machine was moved and stands still."""

from __future__ import annotations

import asyncio
import signal
import threading

import pytest

from gingerly import Axis, Jogger, Machine, Position
from gingerly.cli.interrupt import BrokenOff, Interrupts
from gingerly.cli.session import operate
from gingerly.messages.snapshot import Snapshot
from gingerly_mock import MockAdapter
from support.bench import PIN, bench


def test_a_question_to_the_machine_that_is_broken_off_has_moved_nothing() -> None:
    machine = bench({"what": "pause", "call": "look", "nth": 1})

    async def work() -> None:
        async with machine:
            threading.Thread(target=signal.raise_signal, args=(signal.SIGINT,), daemon=True).start()
            await machine.look()

    with Interrupts() as interrupts, pytest.raises(BrokenOff, match=r"^nothing was moved\.$"):
        operate(machine, work, interrupts)


class Homes(MockAdapter):
    """Is interrupted when it has risen half-way to its switch."""

    async def home(self) -> Snapshot:
        await self.traverse(Position(100.0, 100.0, -18.96), None)
        threading.Thread(target=signal.raise_signal, args=(signal.SIGINT,), daemon=True).start()
        await asyncio.Event().wait()
        raise AssertionError


def test_homing_that_is_broken_off_is_told_with_where_the_machine_stands_whatever_came_before_it() -> None:
    machine = Machine(Homes(ideal=True, position=[100, 100, -60]))

    async def work() -> None:
        async with machine:
            jogger = Jogger(machine, tool=PIN)
            await jogger.step(Axis.Z, -0.5)
            await jogger.home()

    stands = r"^the machine stands still \(confirmed\)\. It stands at X100\.000 Y100\.000 Z-18\.960 \(the"
    with Interrupts() as interrupts, pytest.raises(BrokenOff, match=stands):
        operate(machine, work, interrupts)
