"""What the serial adapter can be told: plain data, as keyword arguments or the machine table of a job give it.

The facts of the machine are its owner's to state; what the controller can tell follows from the profile and
cannot be claimed beyond it.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import MISSING, dataclass
from pathlib import Path
from typing import Any

from gingerly import units
from gingerly.messages.facts import Guard, MachineFacts, SpindleKnowledge
from gingerly.options import FACTS, between, check_known, fact, stated, whole
from gingerly_serial.port import check_url
from gingerly_serial.profile import Profile, load
from gingerly_serial.report import tells_in_force
from gingerly_serial.transcript import obstacle

DEFAULT_BAUD = 115_200
"""The most common rate of USB serial lines: common practice, no source."""

FROM_PROFILE = frozenset({"circuit_known", "alarm_known", "in_force_known", "offsets_readable", "alarm_on_miss"})
"""Facts that say what the controller can tell; they follow from the profile."""

OWN = frozenset({"port", "profile", "baud", "transcript", "clock_scale", "name"})
STATED = FACTS.keys() - FROM_PROFILE
"""Facts that the machine's owner states."""


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
    check_known(given, STATED | OWN | {"facts"}, "the serial adapter has no option")
    for name in ("port", "profile"):
        if name not in given:
            raise TypeError(f"the serial adapter needs the option {name!r}")
    profile = (
        given["profile"] if isinstance(given["profile"], Profile) else load(_file("profile", given["profile"]))
    )
    options = Options(
        port=check_url(given["port"]),
        profile=profile,
        baud=whole("baud", given.get("baud", DEFAULT_BAUD), 50, 20_000_000),
        transcript=_transcript(given.get("transcript")),
        clock_scale=between("clock_scale", given.get("clock_scale", 1.0), 0.1, 1000.0),
    )
    return _facts(given, profile), options


def _file(name: str, value: object) -> str:
    if not isinstance(value, str | os.PathLike) or not os.fspath(value) or "\0" in os.fsdecode(value):
        raise ValueError(f"{name} must be the name of a file, not {units.shown(value)}")
    return os.fsdecode(value)


def _transcript(value: object) -> Path | None:
    if value is None:
        return None
    path = Path(_file("transcript", value))
    found = obstacle(path)
    if found:
        raise ValueError(f"the transcript {str(path)!r} cannot be kept: {found}")
    return path


def _facts(given: Mapping[str, Any], profile: Profile) -> MachineFacts:
    values = stated(given.get("facts", {}), STATED, "the facts of a machine that can be stated here have no")
    values |= {name: fact(name, given[name]) for name in FACTS if name in given}
    values.setdefault("name", profile.name)
    values.setdefault("guard", Guard.POLLED if can_watch(profile) else Guard.NONE)
    values.setdefault("offset_resolution", profile.offsets.step)
    values |= told_by(profile)
    if profile.state.every_s is not None:
        # Nobody can look more often than the state is told; that one on its way is not waited for.
        least = profile.state.every_s
        values["look_interval_s"] = max(least, values.get("look_interval_s", FACTS["look_interval_s"].default))
    missing = [name for name, entry in FACTS.items() if name not in values and entry.default is MISSING]
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
