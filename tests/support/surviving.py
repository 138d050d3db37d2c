"""A virtual machine whose controller remembers: offsets, position and restarts live in a file, and survive a kill.

`point` is called, with what is being done, at every moment at which the process that talks to the controller may be
killed.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from gingerly.geometry import Axis, Position
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly_mock import MockAdapter


def remembered(path: Path) -> dict[str, Any]:
    """What the controller remembers; empty for one that was never switched on."""
    found: dict[str, Any] = json.loads(path.read_text("ascii")) if path.exists() else {}
    return found


def change(path: Path, **what: Any) -> None:
    """Let the controller remember something else: a restart, another hand at its keys."""
    aside = path.with_suffix(".new")
    aside.write_text(json.dumps({**remembered(path), **what}), "ascii")
    os.replace(aside, path)


class SurvivingMachine(MockAdapter):
    """The virtual machine behind its memory, with a point before and after everything that changes that."""

    def __init__(self, memory: Path, point: Callable[[str], None] = lambda call: None, **options: Any) -> None:
        super().__init__(**{"seed": 5, "ideal": True, "memory": str(memory), **options})
        self._file = memory
        self._point = point

    def _may_die_on_the_way(self, to: Position) -> None:
        """The process dies and the link with it: some controllers then stop in the middle of a motion."""
        here = self._machine.position
        self._point("traverse")
        change(self._file, position=list(here.plus(to.minus(here).times(0.5))))
        self._point("traverse")

    async def traverse(self, to: Position, feed: float | None) -> Snapshot:
        self._may_die_on_the_way(to)
        rest = await super().traverse(to, feed)
        self._point("traverse")
        return rest

    async def sense(self, to: Position, feed: float) -> Touched | Missed:
        self._point("sense")
        found = await super().sense(to, feed)
        self._point("sense")
        return found

    async def read_offset(self, number: int) -> Position:
        self._point("read_offset")
        return await super().read_offset(number)

    async def write_offset(self, number: int, axes: Mapping[Axis, float]) -> None:
        self._point("write_offset")
        await super().write_offset(number, axes)
        self._point("write_offset")
