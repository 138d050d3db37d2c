"""The practice machine's table: what lies on it, and the hands at it.

A scene file is a TOML table with ``[machine]`` (facts and options of the virtual machine, as the mock takes
them) and ``[scene]``: ``place`` (where the stock's corner is expected, mm), ``within``, ``corner``, ``stock``,
``tool``, and ``plate`` unless the stock itself is touched. Left out, a bench machine with a pin, a plate and a
block is set up.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, cast

from gingerly.driver.adapter import Scene, Simulated
from gingerly.geometry import Corner, Position
from gingerly.messages.commands import Question
from gingerly.plate import Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tool
from gingerly_mock.machine import Machine

USUAL: dict[str, Any] = {
    "name": "practice block",
    "place": [100.0, 60.0, -50.0],
    "within": 1.0,
    "corner": "front left",
    "stock": {"size_x": 120.0, "size_y": 90.0, "thickness": 25.0, "jaw_height": 8.0},
    "tool": {"name": "practice pin", "diameter": 6.0, "free_length": 30.0, "overtravel": 1.0},
    "plate": {
        "name": "practice plate",
        "size_a": 52.0,
        "size_b": 55.0,
        "height": 12.0,
        "recess_a": 40.0,
        "recess_b": 41.0,
        "recess_depth": 6.0,
    },
}
"""Invented sizes of a plausible set-up."""


def read(path: str | Path | None) -> dict[str, Any]:
    """Return the tables of a scene file, or none; raises `OSError` or `ValueError`."""
    if path is None:
        return {}
    return tomllib.loads(Path(path).read_text("utf-8"))


def scene_of(given: Mapping[str, Any]) -> Scene:
    """Return the scene that a table describes; raises `ValueError` or `TypeError` for an unusable one."""
    table = {**USUAL, **given}
    corners = {one.name.lower().replace("_", " "): one for one in Corner}
    if table["corner"] not in corners:
        raise ValueError(f"corner must be one of {', '.join(corners)}, not {table['corner']!r}")
    plate = table.get("plate")
    return Scene(
        name=str(table["name"]),
        place=Position(*(float(value) for value in table["place"])),
        corner=corners[table["corner"]],
        stock=Stock(**table["stock"]),
        tool=Tool(**table["tool"]),
        plate=Plate(**plate) if plate else None,
        placement=Placement(table.get("placement", "seated")),
        within=float(table["within"]),
        skew=float(table.get("skew", 0.0)),
        lead_off_after=table.get("lead_off_after"),
    )


class Parts:
    """The parts of a job on the practice machine's table, one after the other, as hands bring them there."""

    def __init__(self, path: str | Path, table: Callable[[], Machine]) -> None:
        from gingerly import job as jobs
        from gingerly.batch.stage import Stage

        self._parts = jobs.read(path).parts
        self._table = table
        self._stage = Stage(cast(Simulated, self), self._parts)
        self._at = -1
        self._moved = False

    @property
    def deepest_penetration(self) -> float:
        """The deepest that the tool was pushed past a surface of this part, in mm."""
        return self._table().deepest

    def stage(self, scene: Scene) -> Position:
        """Return where the stock's corner truly is (mm), after clamping the scene's blank and loading its tool."""
        return stage(self._table(), scene)

    def begin(self) -> str:
        """Put the first part on the table and return its name."""
        self._at = -1
        return self._advance()

    def _advance(self) -> str:
        self._at = min(self._at + 1, len(self._parts) - 1)
        part = self._parts[self._at]
        self._stage.set_up(part, self._table().position)
        return part.name

    def hand(self, question: Question) -> str:
        """Bring the next part, or its tool, where the question asks for it; return the part's name, or nothing."""
        if question is Question.CHANGE_TOOL and self._moved:
            return ""
        self._moved = question is Question.NEXT_PART
        return self._advance() if question in (Question.NEXT_PART, Question.CHANGE_TOOL) else ""


def stage(machine: Machine, scene: Scene) -> Position:
    """Return where the stock's corner truly is (mm), after clamping the blank and loading the tool."""
    corner = machine.world.stage(scene)
    machine.wiring.connect()
    machine.wiring.lead_on = scene.lead_off_after != 0
    machine.begin_blank()
    return corner
