"""What a virtual machine can be told: plain data, as keyword arguments or a TOML table give it.

Every imperfection has a size here. Left out, it takes an honest value, or nothing at all with ``ideal = true``.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields
from enum import Enum
from typing import Any, TypeVar

from gingerly import units
from gingerly.budgets import Doubts
from gingerly.geometry import ORIGIN, Box, Limits, Position
from gingerly.messages.facts import Guard, Home, MachineFacts, SpindleKnowledge
from gingerly_mock.faults import Happening
from gingerly_mock.operator import Habits

E = TypeVar("E", bound=Enum)

DEFAULT_FACTS = MachineFacts(
    name="virtual machine",
    envelope=Box(Position(0.0, 0.0, -80.0), Position(300.0, 200.0, 0.0)),
    resolution=0.0025,
    acceleration=300.0,
    top_feed=1500.0,
    rapid_feed=2000.0,
)
"""A small bench machine: sizes and speeds are our own choice."""

HONEST = {
    "plate_tolerance": 0.01,
    "tool_tolerance": 0.002,
    "runout": 0.015,
    "seating_gap": 0.02,
    "edge_form": 0.01,
    "latency_s": 0.002,
    "bounce_s": 0.01,
}
"""Sizes of the imperfections where nobody states them, in mm and seconds: our own choice."""


DO_ALL = Habits()
"""Whoever does everything that is asked, and says yes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """All that decides what the virtual machine truly is and does.

    `seed` decides every draw. Drawn evenly within ±: the plate's top and lips (`plate_tolerance`), the tool's
    radius (`tool_tolerance`), each edge's form (`edge_form`), the length of every tool after the first
    (`tool_length_range`). `seating_gap` is the most by which a plate stays off each face; `runout` the amplitude
    of the tool's eccentricity. All in mm.

    Each contact bounces for up to `bounce_s` seconds; every command takes `latency_s` to get there. Drawn per
    machine from the facts unless given: `latch_lag_s` (sample to latched position), `stop_delay_s` (sample to
    braking), `sample_s` (time between samples), `true_backlash` (mm, all axes).

    `contact_noise` is the standard deviation by which each contact closes too late or too early, in mm. `doubts`
    says, instead of all sizes of tool, plate and stock above, from what they are drawn.

    `position` is where the machine stands when switched on, `offsets` what its work offsets hold, `history` how
    many motions and calls it remembers.
    """

    seed: int | str = 0
    ideal: bool = False
    plate_tolerance: float = 0.0
    tool_tolerance: float = 0.0
    runout: float = 0.0
    seating_gap: float = 0.0
    edge_form: float = 0.0
    tool_length_range: float = 10.0
    latency_s: float = 0.0
    bounce_s: float = 0.0
    contact_noise: float = 0.0
    doubts: Doubts | None = None
    latch_lag_s: float | None = None
    stop_delay_s: float | None = None
    sample_s: float | None = None
    true_backlash: float | None = None
    position: Position | None = None
    offsets: Mapping[int, Position] = field(default_factory=dict)
    history: int = 20_000
    faults: tuple[Happening, ...] = ()
    operator: Habits = DO_ALL


_FACTS = {entry.name for entry in fields(MachineFacts)}
_OPTIONS = {entry.name for entry in fields(Options)}
_LENGTHS = {"resolution", "offset_resolution", "backlash"}
_FEEDS = {"top_feed", "rapid_feed"}


def parse(given: Mapping[str, Any]) -> tuple[MachineFacts, Options]:
    """Return the facts and options that plain data ask for.

    Raises `TypeError` for an unknown name, with the nearest known one, and `ValueError` for an unusable value.
    """
    known = _FACTS | _OPTIONS | {"facts"}
    for name in given:
        check_known(name, known, "the mock has no option")
    facts = _facts(given)
    values = {name: value for name, value in given.items() if name in _OPTIONS}
    return facts, _options(values, facts)


def check_known(name: str, known: Iterable[str], what: str) -> None:
    """Return nothing if `name` is known; raises `TypeError` that names the nearest known one otherwise."""
    if name in known:
        return
    near = difflib.get_close_matches(str(name), list(known), n=1, cutoff=0.0)
    hint = f"; the nearest is {near[0]!r}" if near else ""
    raise TypeError(f"{what} {name!r}{hint}")


def position_of(value: object, name: str) -> Position:
    """Return a position given as three numbers; raises `ValueError` for anything else."""
    if isinstance(value, Mapping):
        value = [value.get(axis, math.nan) for axis in "xyz"]
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError(f"{name} must be three lengths [x, y, z], not {value!r}")
    x, y, z = (units.length(part, name=name) for part in value)
    return Position(x, y, z)


def member(kind: type[E], value: object, name: str) -> E:
    """Return the member of an enum that has this value; raises `ValueError` naming all values otherwise."""
    if isinstance(value, kind):
        return value
    for found in kind:
        if found.value == value:
            return found
    raise ValueError(f"{name} must be one of {', '.join(repr(one.value) for one in kind)}, not {value!r}")


def _facts(given: Mapping[str, Any]) -> MachineFacts:
    base = given.get("facts", DEFAULT_FACTS)
    if isinstance(base, Mapping):
        for name in base:
            check_known(name, _FACTS, "the mock's facts have no")
        changes, base = dict(base), DEFAULT_FACTS
    elif isinstance(base, MachineFacts):
        changes = {}
    else:
        raise ValueError(f"facts must be machine facts or a table of them, not {base!r}")
    changes |= {name: value for name, value in given.items() if name in _FACTS}
    merged = {entry.name: getattr(base, entry.name) for entry in fields(MachineFacts)}
    merged |= {name: _fact(name, value) for name, value in changes.items()}
    return MachineFacts(**merged)


def _fact(name: str, value: Any) -> Any:
    special: dict[str, Callable[[Any], Any]] = {
        "name": str,
        "envelope": _box,
        "latch_s": _limits,
        "guard": lambda text: member(Guard, text, "guard"),
        "home": lambda text: member(Home, text, "home"),
        "spindle": lambda text: member(SpindleKnowledge, text, "spindle"),
    }
    if name in special:
        return special[name](value)
    if name in _LENGTHS:
        return units.length(value, name=name)
    if name in _FEEDS:
        return units.feed(value, name=name)
    if isinstance(getattr(DEFAULT_FACTS, name), bool):
        return _flag(name, value)
    return _number(name, value)


def _box(value: object) -> Box:
    if isinstance(value, Box):
        return value
    if not isinstance(value, Mapping) or set(value) != {"low", "high"}:
        raise ValueError(f"envelope must be a table with low and high, three lengths each, not {value!r}")
    return Box(position_of(value["low"], "envelope low"), position_of(value["high"], "envelope high"))


def _limits(value: object) -> Limits:
    if isinstance(value, Limits):
        return value
    if isinstance(value, Mapping):
        value = [value.get("low", math.nan), value.get("high", math.nan)]
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError(f"latch_s must be two numbers of seconds, not {value!r}")
    return Limits(_number("latch_s", value[0]), _number("latch_s", value[1]))


def _options(values: dict[str, Any], facts: MachineFacts) -> Options:
    ideal = _flag("ideal", values.get("ideal", False))
    found: dict[str, Any] = {"ideal": ideal}
    for name, honest in HONEST.items():
        default = 0.0 if ideal else min(honest, 0.5 * facts.settle_s) if name == "bounce_s" else honest
        found[name] = _size(name, values.pop(name, default))
    for name in ("latch_lag_s", "stop_delay_s", "sample_s", "true_backlash"):
        value = values.pop(name, 0.0 if ideal else None)
        found[name] = None if value is None else _size(name, value)
    found["contact_noise"] = _size("contact_noise", values.pop("contact_noise", 0.0))
    found["doubts"] = values.pop("doubts", None)
    if not isinstance(found["doubts"], Doubts | None):
        raise ValueError(f"doubts must be gingerly.budgets.Doubts, not {found['doubts']!r}")
    found["tool_length_range"] = _size("tool_length_range", values.pop("tool_length_range", 10.0))
    if "position" in values:
        found["position"] = position_of(values.pop("position"), "position")
    found["offsets"] = _offsets(values.pop("offsets", {}))
    found["faults"] = tuple(Happening.from_plain(one) for one in values.pop("faults", ()))
    found["operator"] = Habits.from_plain(values.pop("operator", Habits()))
    found["seed"] = values.pop("seed", 0)
    if isinstance(found["seed"], bool) or not isinstance(found["seed"], int | str):
        raise ValueError(f"seed must be a whole number or a text, not {found['seed']!r}")
    found["history"] = int(_size("history", values.pop("history", 20_000)))
    return Options(**found)


def _offsets(value: object) -> dict[int, Position]:
    if not isinstance(value, Mapping):
        raise ValueError(f"offsets must be a table from number to [x, y, z], not {value!r}")
    found = dict.fromkeys(range(1, 10), ORIGIN)
    for key, origin in value.items():
        if str(key) not in {str(number) for number in found}:
            raise ValueError(f"offsets are numbered from 1 to 9, not {key!r}")
        found[int(key)] = position_of(origin, f"offset {key}")
    return found


def _size(name: str, value: object) -> float:
    number = _number(name, value) if name.endswith("_s") or name == "history" else units.length(value, name=name)
    if number < 0.0:
        raise ValueError(f"{name} must not be negative, and is {number:g}")
    return number


def _number(name: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{name} must be a finite number, not {value!r}")
    return float(value)


def _flag(name: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{name} must be true or false, not {value!r}")
    return value
