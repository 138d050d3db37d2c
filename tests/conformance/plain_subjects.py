"""The example adapter with its controller at the other end of a link in memory, in virtual time."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from typing import Any

from conformance.virtual import LoopClock, link
from gingerly import LinkLost
from gingerly.conformance import Subject
from tcp_adapter.adapter import PlainAdapter
from tcp_adapter.controller import Controller
from tcp_adapter.test_conformance import SAFE, subject


class MemoryAdapter(PlainAdapter):
    """The example adapter, with a link in memory instead of a socket; nothing else is different."""

    lives_in_world_time = False
    """Whether the kit is to measure by the world's clock, as far as its event loop knows one."""
    plugged_in = True
    """Whether a controller is at the other end of its link."""

    def __init__(self) -> None:
        super().__init__()
        self.controller = Controller(position=SAFE)

    async def open(self) -> None:
        if self._writer is not None:
            raise RuntimeError("this adapter is open already")
        if not self.plugged_in:
            raise LinkLost("nobody is there")
        reader, self._writer = link(self.controller.serve)
        self._listener = asyncio.create_task(self._listen(reader))
        await self._ask("tell")


async def power_off(adapter: Any) -> None:
    await adapter.controller.power_off()


def memory_subject(kind: type[MemoryAdapter] = MemoryAdapter) -> Subject:
    """The example's own subject, with everything in memory and in virtual time."""
    clock = None if kind.lives_in_world_time else LoopClock()
    nowhere = type(kind.__name__, (kind,), {"plugged_in": False})
    return replace(subject(), make=kind, finish=power_off, clock=clock, unreachable=nowhere)
