"""Ctrl-C at the command line: whatever was broken off, it is said whether the machine was moved and stands still."""

from __future__ import annotations

import signal
import threading

import pytest

from gingerly.cli.interrupt import BrokenOff, Interrupts
from gingerly.cli.session import operate
from support.bench import bench


def test_a_question_to_the_machine_that_is_broken_off_has_moved_nothing() -> None:
    machine = bench({"what": "pause", "call": "look", "nth": 1})

    async def work() -> None:
        async with machine:
            threading.Thread(target=signal.raise_signal, args=(signal.SIGINT,), daemon=True).start()
            await machine.look()

    with Interrupts() as interrupts, pytest.raises(BrokenOff, match=r"^nothing was moved\.$"):
        operate(machine, work, interrupts)
