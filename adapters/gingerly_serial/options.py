"""What the serial adapter can be told: plain data, as keyword arguments or the machine table of a job give it.

The facts of the machine are its owner's to state; what the controller can tell follows from the profile and
cannot be claimed beyond it.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields
from enum import Enum
from pathlib import Path
from typing import Any, TypeVar

from gingerly import units
from gingerly.geometry import Box, Limits, Position
from gingerly.messages.facts import Guard, Home, MachineFacts, SpindleKnowledge
from gingerly_serial.port import check_url
from gingerly_serial.profile import Profile, load
from gingerly_serial.report import tells_in_force

E = TypeVar("E", bound=Enum)

DEFAULT_BAUD = 115_200
"""The most common rate of USB serial lines: common practice, no source."""

FROM_PROFILE = frozenset({"circuit_known", "alarm_known", "in_force_known", "offsets_readable", "alarm_on_miss"})
"""Facts that say what the controller can tell; they follow from the profile."""

OWN = frozenset({"port", "profile", "baud", "transcript", "clock_scale", "name"})
_LENGTHS = frozenset({"resolution", "offset_resolution", "backlash"})
_FEEDS = frozenset({"top_feed", "rapid_feed"})
_FACTS = {entry.name: entry for entry in fields(MachineFacts)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How the controller is reached.

    `transcript` is a file to which everything sent and heard is added. `clock_scale` says how many times faster
    than the world a practice controller runs; 1 for every real machine.
    """

    port: str
    profile: Profile
    baud: int = DEFAULT_BAUD
    transcript: Path | None = None
    clock_scale: float = 1.0


def parse(given: Mapping[str, Any]) -> tuple[MachineFacts, Options]:
    """Return the facts and options that plain data ask for.

    Raises `TypeError` for a name that is unknown or missing, `ValueError` for an unusable value.
    """
    known = (set(_FACTS) | OWN | {"facts"}) - FROM_PROFILE
    for name in given:
        if name not in known:
            near = difflib.get_close_matches(str(name), sorted(known), n=1, cutoff=0.0)
            raise TypeError(f"the serial adapter has no option {name!r}; the nearest is {near[0]!r}")
    for name in ("port", "profile"):
        if name not in given:
            raise TypeError(f"the serial adapter needs the option {name!r}")
    profile = given["profile"] if isinstance(given["profile"], Profile) else load(given["profile"])
    options = Options(
        port=check_url(given["port"]),
        profile=profile,
        baud=_whole("baud", given.get("baud", DEFAULT_BAUD), 50, 20_000_000),
        transcript=None if given.get("transcript") is None else Path(given["transcript"]),
        clock_scale=_between("clock_scale", given.get("clock_scale", 1.0), 0.1, 1000.0),
    )
    return _facts(given, profile), options


def _facts(given: Mapping[str, Any], profile: Profile) -> MachineFacts:
    base = given.get("facts", {})
    if isinstance(base, MachineFacts):
        values: dict[str, Any] = {name: getattr(base, name) for name in _FACTS}
    elif isinstance(base, Mapping):
        values = {}
        for name, value in base.items():
            if name not in _FACTS or name in FROM_PROFILE:
                raise TypeError(f"the facts of a machine have no {name!r} that could be stated here")
            values[str(name)] = _fact(str(name), value)
    else:
        raise ValueError(f"facts must be machine facts or a table of them, not {units.shown(base)}")
    values |= {name: _fact(name, given[name]) for name in _FACTS if name in given}
    values.setdefault("name", profile.name)
    values.setdefault("guard", Guard.POLLED if can_watch(profile) else Guard.NONE)
    values.setdefault("offset_resolution", profile.offsets.step)
    values |= told_by(profile)
    if profile.state.every_s is not None:
        # Nobody can look more often than the state is told; that one on its way is not waited for.
        least = profile.state.every_s
        values["look_interval_s"] = max(least, values.get("look_interval_s", _FACTS["look_interval_s"].default))
    missing = [name for name, entry in _FACTS.items() if name not in values and entry.default is MISSING]
    if missing:
        raise TypeError(f"the machine's facts are incomplete; state {', '.join(missing)}")
    if values["guard"] is Guard.POLLED and not can_watch(profile):
        raise ValueError("guard cannot be 'polled': by its profile the controller tells no circuit during a move")
    return MachineFacts(**values)


def can_watch(profile: Profile) -> bool:
    """Return whether the circuit can be looked at while the machine moves."""
    return profile.state.while_moving and _tells_circuit(profile)


def _tells_circuit(profile: Profile) -> bool:
    told = profile.told("state")
    return (
        "circuit" in told or "circuit" in profile.state.absent or (bool(profile.flags.closed) and "flags" in told)
    )


def told_by(profile: Profile) -> dict[str, Any]:
    """Return the facts that follow from what the profile can tell."""
    told = profile.told("state")
    spindle = bool(told & {"spindle", "spindle_speed"}) or (bool(profile.flags.turning) and "flags" in told)
    alarm = "alarm" in profile.words.mode or bool(profile.words.alarm) or bool(profile.flags.alarm)
    knowledge = {"measured": SpindleKnowledge.MEASURED, "commanded": SpindleKnowledge.COMMANDED}
    return {
        "circuit_known": _tells_circuit(profile),
        "alarm_known": alarm or profile.means("alarm"),
        "in_force_known": tells_in_force(told),
        "offsets_readable": profile.offsets.ask is not None,
        "alarm_on_miss": profile.contact.miss == "alarm",
        "spindle": knowledge[profile.state.spindle] if spindle else SpindleKnowledge.BY_HAND,
    }


# ---- values -----------------------------------------------------------------------------------------------


def _fact(name: str, value: Any) -> Any:
    special: dict[str, Callable[[Any], Any]] = {
        "name": str,
        "envelope": _box,
        "latch_s": _limits,
        "guard": lambda text: _member(Guard, text, "guard"),
        "home": lambda text: _member(Home, text, "home"),
        "spindle": lambda text: _member(SpindleKnowledge, text, "spindle"),
    }
    if name in special:
        return special[name](value)
    if name in _LENGTHS:
        return units.length(value, name=name)
    if name in _FEEDS:
        return units.feed(value, name=name)
    return units.number(value, name=name)


def _member(kind: type[E], value: object, name: str) -> E:
    for found in kind:
        if value in (found, found.value):
            return found
    raise ValueError(
        f"{name} must be one of {', '.join(repr(one.value) for one in kind)}, not {units.shown(value)}"
    )


def _box(value: object) -> Box:
    if isinstance(value, Box):
        return value
    if not isinstance(value, Mapping) or set(value) != {"low", "high"}:
        raise ValueError("envelope must be a table with low and high, three lengths each")
    return Box(_position(value["low"], "envelope low"), _position(value["high"], "envelope high"))


def _position(value: object, name: str) -> Position:
    if isinstance(value, Mapping):
        value = [value.get(axis, math.nan) for axis in "xyz"]
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError(f"{name} must be three lengths [x, y, z], not {units.shown(value)}")
    x, y, z = (units.length(part, name=name) for part in value)
    return Position(x, y, z)


def _limits(value: object) -> Limits:
    if isinstance(value, Limits):
        return value
    if isinstance(value, Mapping):
        value = [value.get("low", math.nan), value.get("high", math.nan)]
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("latch_s must be two numbers of seconds, the shortest and the longest")
    return Limits(units.number(value[0], name="latch_s"), units.number(value[1], name="latch_s"))


def _whole(name: str, value: object, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise ValueError(f"{name} must be a whole number from {low} to {high}, not {units.shown(value)}")
    return value


def _between(name: str, value: object, low: float, high: float) -> float:
    number = units.number(value, name=name)
    if not low <= number <= high:
        raise ValueError(f"{name} must lie from {low:g} to {high:g}, not {number:g}")
    return number
