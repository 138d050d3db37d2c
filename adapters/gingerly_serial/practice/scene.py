"""The practice machine's table: what lies on it, and the hands at it.

A scene file is a TOML table with ``[machine]`` (facts and options of the virtual machine, as the mock takes
them) and ``[scene]``: ``place`` (where the stock's corner is expected, mm), ``within``, ``corner``, ``stock``,
``tool``, and ``plate`` unless the stock itself is touched (an empty one). Left out, a bench machine with a pin, a
plate and a block is set up. What is not known here is refused, with the nearest that is.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, fields
from pathlib import Path
from typing import Any, TypeVar, cast

from gingerly import units
from gingerly.driver.adapter import Scene, Simulated
from gingerly.geometry import Corner, Position
from gingerly.messages.commands import Question
from gingerly.options import check_known, flag, member, position, whole
from gingerly.plate import Bolt, Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tip, Tool
from gingerly_mock.machine import Machine
from gingerly_serial.why import why

T = TypeVar("T")

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


KEYS = frozenset({*USUAL, "placement", "skew", "lead_off_after"})
SWITCHES = frozenset({"conductive", "relief_through"})


def read(path: str | Path | None) -> dict[str, Any]:
    """Return the tables of a scene file, or none; raises `ValueError` that names the file."""
    if path is None:
        return {}
    try:
        found = tomllib.loads(Path(path).read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise ValueError(f"the scene {str(path)!r} cannot be read: {why(error)}") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ValueError(f"the scene {str(path)!r} is not TOML: {error}") from error
    try:
        check_known(found, ("machine", "scene"), "a scene file has the tables machine and scene, and no")
    except TypeError as error:
        raise ValueError(f"{path}: {error}") from error
    for name, table in found.items():
        _table(table, f"{path}: {name}")
    return found


def scene_of(given: object) -> Scene:
    """Return the scene that a table describes; raises `ValueError` or `TypeError` for an unusable one."""
    check_known(_table(given, "the scene"), KEYS, "a scene has no")
    table = {**USUAL, **_table(given, "the scene")}
    corners = {one.name.lower().replace("_", " "): one for one in Corner}
    if not isinstance(table["corner"], str) or table["corner"] not in corners:
        raise ValueError(f"corner must be one of {', '.join(corners)}, not {units.shown(table['corner'])}")
    lead_off_after = table.get("lead_off_after")
    return Scene(
        name=_name(table["name"], "the scene's name"),
        place=position(table["place"], "place"),
        corner=corners[table["corner"]],
        stock=_made(Stock, table["stock"], "stock"),
        tool=_made(Tool, {"name": "practice tool", **_table(table["tool"], "tool")}, "tool"),
        plate=_plate(_table(table["plate"] or {}, "plate")),
        placement=member(Placement, table.get("placement", "seated"), "placement"),
        within=units.length(table["within"], name="within"),
        skew=units.number(table.get("skew", 0.0), name="skew"),
        lead_off_after=None if lead_off_after is None else whole("lead_off_after", lead_off_after, 0, 1000),
    )


def _plate(table: Mapping[str, Any]) -> Plate | None:
    return _made(Plate, {"name": "practice plate", **table}, "plate") if table else None


def _table(given: object, name: str) -> Mapping[str, Any]:
    if not isinstance(given, Mapping):
        raise ValueError(f"{name} must be a table, not {units.shown(given)}")
    return given


def _name(value: object, name: str) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{name} must be a text, not {units.shown(value)}")
    return value


def _made(kind: Callable[..., T], given: object, name: str) -> T:
    """Return what a table makes of one of the library's own things; every objection is a sentence."""
    table = _table(given, name)
    known: dict[str, Field[Any]] = {entry.name: entry for entry in fields(cast(Any, kind))}
    check_known(table, known, f"a {name} has no")
    missing = [one for one, entry in known.items() if entry.default is MISSING and one not in table]
    if missing:
        raise ValueError(f"{name}: missing {', '.join(missing)}")
    return kind(**{one: _value(one, value, f"{name} {one}") for one, value in table.items()})


def _value(key: str, value: object, name: str) -> Any:
    """Return a value as its class takes it; sizes are left to the class, which names what is wrong with one."""
    if key == "name":
        return _name(value, name)
    if key == "tip":
        return member(Tip, value, name)
    if key == "bolt":
        return _made(Bolt, value, "bolt")
    return flag(name, value) if key in SWITCHES else value


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
