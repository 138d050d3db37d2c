"""Plain data into facts: what an adapter is told, as keyword arguments or the machine table of a job give it.

For authors of adapters. Every function returns the value in the library's own terms, or raises with the name of the
option: `TypeError` for a name that is unknown, `ValueError` for a value that cannot be used. Lengths are in mm and
feeds in mm/min, as numbers or as texts with a unit; times are numbers of seconds. Nothing here opens or moves anything.

::

    given = {"envelope": {"low": [0, 0, -80], "high": [300, 200, 0]}, "top_feed": "40 in/min", "port": "COM3"}
    check_known(given, {*FACTS, "port"}, "this adapter has no option")
    values = {name: fact(name, given[name]) for name in FACTS if name in given}
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import Field, fields
from enum import Enum
from typing import Any, TypeVar

from gingerly import units
from gingerly.geometry import Box, Limits, Position
from gingerly.messages.facts import Guard, Home, MachineFacts, SpindleKnowledge

E = TypeVar("E", bound=Enum)

FACTS: Mapping[str, Field[Any]] = {entry.name: entry for entry in fields(MachineFacts)}
"""The facts of a machine by name, as `dataclasses.fields` describes them."""

_LENGTHS = frozenset({"resolution", "offset_resolution", "backlash"})
_FEEDS = frozenset({"top_feed", "rapid_feed"})
_FLAGS = frozenset(name for name, entry in FACTS.items() if isinstance(entry.default, bool))


def check_known(given: Iterable[object], known: Iterable[str], what: str) -> None:
    """Raise `TypeError` for the first name that is not known: `what`, the name, and the nearest known one."""
    names = sorted(known)
    for name in given:
        if name not in names:
            near = difflib.get_close_matches(str(name), names, n=1, cutoff=0.0)
            hint = f"; the nearest is {near[0]!r}" if near else ""
            raise TypeError(f"{what} {units.shown(name)}{hint}")


def fact(name: str, value: object) -> Any:
    """Return the value of one fact of `MachineFacts`; raises `KeyError` where there is none of this name."""
    if name not in FACTS:
        raise KeyError(name)
    special = _SPECIAL.get(name)
    if special is not None:
        return special(value)
    if name in _LENGTHS:
        return units.length(value, name=name)
    if name in _FEEDS:
        return units.feed(value, name=name)
    return flag(name, value) if name in _FLAGS else units.number(value, name=name)


def stated(base: object, known: Iterable[str], what: str) -> dict[str, Any]:
    """Return the facts that `base` states, by name: whole `MachineFacts`, or a table of some.

    `known` are the names that a table may state, `what` begins the message for any other.
    """
    if isinstance(base, MachineFacts):
        return {name: getattr(base, name) for name in FACTS}
    if not isinstance(base, Mapping):
        raise ValueError(f"facts must be machine facts or a table of them, not {units.shown(base)}")
    check_known(base, known, what)
    return {str(name): fact(str(name), value) for name, value in base.items()}


# ---- single values ------------------------------------------------------------------------------------------


def member(kind: type[E], value: object, name: str) -> E:
    """Return the member of an enum that is meant, by itself or by its value."""
    for found in kind:
        if value is found or value == found.value:
            return found
    raise ValueError(
        f"{name} must be one of {', '.join(repr(one.value) for one in kind)}, not {units.shown(value)}"
    )


def position(value: object, name: str) -> Position:
    """Return a position given as three lengths, in a list or in a table with x, y and z."""
    if isinstance(value, Mapping):
        value = [value.get(axis, math.nan) for axis in "xyz"]
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError(f"{name} must be three lengths [x, y, z], not {units.shown(value)}")
    x, y, z = (units.length(part, name=name) for part in value)
    return Position(x, y, z)


def box(value: object, name: str) -> Box:
    """Return a box given as a table with low and high, three lengths each."""
    if isinstance(value, Box):
        return value
    if not isinstance(value, Mapping) or set(value) != {"low", "high"}:
        raise ValueError(f"{name} must be a table with low and high, three lengths each, not {units.shown(value)}")
    return Box(position(value["low"], f"{name} low"), position(value["high"], f"{name} high"))


def limits(value: object, name: str) -> Limits:
    """Return limits given as two numbers, in a list or in a table with low and high."""
    if isinstance(value, Limits):
        return value
    if isinstance(value, Mapping):
        value = [value.get("low", math.nan), value.get("high", math.nan)]
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError(
            f"{name} must be two numbers of seconds, the shortest and the longest, not {units.shown(value)}"
        )
    return Limits(units.number(value[0], name=name), units.number(value[1], name=name))


def flag(name: str, value: object) -> bool:
    """Return a truth value."""
    if not isinstance(value, bool):
        raise ValueError(f"{name} must be true or false, not {units.shown(value)}")
    return value


def whole(name: str, value: object, low: int, high: int) -> int:
    """Return a whole number from `low` to `high`."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise ValueError(f"{name} must be a whole number from {low} to {high}, not {units.shown(value)}")
    return value


def between(name: str, value: object, low: float, high: float) -> float:
    """Return a number from `low` to `high`."""
    number = units.number(value, name=name)
    if not low <= number <= high:
        raise ValueError(f"{name} must lie from {low:g} to {high:g}, not {number:g}")
    return number


_SPECIAL: Mapping[str, Callable[[Any], Any]] = {
    "name": str,
    "envelope": lambda value: box(value, "envelope"),
    "latch_s": lambda value: limits(value, "latch_s"),
    "guard": lambda value: member(Guard, value, "guard"),
    "home": lambda value: member(Home, value, "home"),
    "spindle": lambda value: member(SpindleKnowledge, value, "spindle"),
}
