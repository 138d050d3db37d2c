"""What a virtual machine can be told: plain data, as keyword arguments or a TOML table give it.

Every imperfection has a size here. Left out, it takes an honest value, or nothing at all with ``ideal = true``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from gingerly import units
from gingerly.budgets import Doubts
from gingerly.geometry import ORIGIN, Box, Position
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.options import FACTS, check_known, fact, flag, position, stated, whole
from gingerly_mock.faults import Happening
from gingerly_mock.operator import Habits

DEFAULT_FACTS = MachineFacts(
    name="virtual machine",
    envelope=Box(Position(0.0, 0.0, -80.0), Position(300.0, 200.0, 0.0)),
    resolution=0.0025,
    acceleration=300.0,
    top_feed=1500.0,
    rapid_feed=2000.0,
    guard=Guard.POLLED,
)
"""A small bench machine: sizes and speeds are our own choice. Its adapter looks at the circuit during a traverse."""

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

MOST_HISTORY = 10_000_000
"""No test looks at more motions and calls; each takes memory. Our own choice."""

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
    many motions and calls it keeps for tests. `memory` names a file in which the controller keeps position and
    offsets, so that the next process finds them as it would at a real one. What is left out and is not in `HONEST`
    is nothing, or our own choice.
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
    memory: str | None = None
    faults: tuple[Happening, ...] = ()
    operator: Habits = DO_ALL


_OPTIONS = {entry.name for entry in fields(Options)}


def parse(given: Mapping[str, Any]) -> tuple[MachineFacts, Options]:
    """Return the facts and options that plain data ask for.

    Raises `TypeError` for an unknown name, with the nearest known one, and `ValueError` for an unusable value.
    """
    check_known(given, {*FACTS, *_OPTIONS, "facts"}, "the mock has no option")
    facts = _facts(given)
    values = {name: value for name, value in given.items() if name in _OPTIONS}
    return facts, _options(values, facts)


def _facts(given: Mapping[str, Any]) -> MachineFacts:
    base = given.get("facts", {})
    named = {name: fact(name, given[name]) for name in FACTS if name in given}
    if isinstance(base, MachineFacts) and not named:
        return base
    values = {name: getattr(DEFAULT_FACTS, name) for name in FACTS}
    return MachineFacts(**{**values, **stated(base, FACTS, "the mock's facts have no"), **named})


def _options(values: dict[str, Any], facts: MachineFacts) -> Options:
    ideal = flag("ideal", values.get("ideal", False))
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
        raise ValueError("the option doubts is for scripts (gingerly.budgets.Doubts); a job has a table [doubts]")
    found["tool_length_range"] = _size("tool_length_range", values.pop("tool_length_range", 10.0))
    if "position" in values:
        found["position"] = position(values.pop("position"), "position")
    found["offsets"] = _offsets(values.pop("offsets", {}))
    faults = values.pop("faults", ())
    if not isinstance(faults, list | tuple):
        raise ValueError(f"faults must be a list of tables with what and when, not {units.shown(faults)}")
    found["faults"] = tuple(Happening.from_plain(one) for one in faults)
    found["operator"] = Habits.from_plain(values.pop("operator", Habits()))
    found["seed"] = values.pop("seed", 0)
    if isinstance(found["seed"], bool) or not isinstance(found["seed"], int | str):
        raise ValueError(f"seed must be a whole number or a text, not {units.shown(found['seed'])}")
    found["memory"] = values.pop("memory", None)
    if not isinstance(found["memory"], str | None) or found["memory"] == "":
        raise ValueError(f"memory must be the name of a file, not {units.shown(found['memory'])}")
    found["history"] = whole("history", values.pop("history", 20_000), 0, MOST_HISTORY)
    return Options(**found)


def _offsets(value: object) -> dict[int, Position]:
    if not isinstance(value, Mapping):
        raise ValueError(f"offsets must be a table from number to [x, y, z], not {units.shown(value)}")
    found = dict.fromkeys(range(1, 10), ORIGIN)
    for key, origin in value.items():
        if str(key) not in {str(number) for number in found}:
            raise ValueError(f"offsets are numbered from 1 to 9, not {key!r}")
        found[int(key)] = position(origin, f"offset {key}")
    return found


def _size(name: str, value: object) -> float:
    number = units.number(value, name=name) if name.endswith("_s") else units.length(value, name=name)
    if number < 0.0:
        raise ValueError(f"{name} must not be negative, and is {number:g}")
    return number
