"""A state as the profile's fields tell it, in our own terms: millimetres, open or closed, at rest or not. Pure.

What the fields do not tell is None; a word that the profile does not list tells nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gingerly.geometry import ORIGIN, Position
from gingerly.messages.snapshot import Circuit, InForce, Spindle
from gingerly.units import INCH
from gingerly_serial.grammar import Fields
from gingerly_serial.hearing import Heard
from gingerly_serial.profile import Profile
from gingerly_serial.rs274 import system_number

FORCED = ("shift_x", "tool_length", "override", "rotation_deg", "units")
"""A field each of what can be in force."""


@dataclass(frozen=True, slots=True)
class Report:
    """One state. `at` is the position as told (mm, in the profile's coordinates); `resting` None where untold."""

    at: Position
    resting: bool | None
    alarm: bool | None
    alarm_detail: str
    circuit: Circuit | None
    spindle: Spindle | None
    homed: bool | None
    in_force: InForce | None
    origin: Position | None
    system: int | None
    restarts: int | None


def meaning(words: Mapping[Any, list[str]], fields: Fields, name: str) -> str | None:
    """Return which of the profile's meanings the word in a field has, or None."""
    word = fields.get(name)
    for means, spelled in words.items():
        if word in spelled:
            return str(means)
    return None


def inches(profile: Profile, units: str, fields: Fields) -> bool:
    """Return whether lengths in these fields are told in inches."""
    if units == "as set":
        return meaning(profile.words.units, fields, "units") == "inch"
    return units == "inch"


def position(fields: Fields, *, prefix: str = "", inch: bool = False) -> Position | None:
    """Return the position that three fields tell, in mm, or None where one is missing."""
    found = [fields.get(prefix + axis) for axis in "xyz"]
    factor = INCH if inch else 1.0
    numbers = [float(value) * factor for value in found if isinstance(value, int | float)]
    return Position(*numbers) if len(numbers) == 3 else None


def state(profile: Profile, fields: Fields) -> Report | None:
    """Return the state that a reply's fields tell, or None where they do not tell a position."""
    inch = inches(profile, profile.state.units, fields)
    at = position(fields, inch=inch)
    if at is None:
        return None
    words, flags = profile.words, fields.get("flags")
    mode = meaning(words.mode, fields, "mode")
    restarts = fields.get("restarts")
    return Report(
        at=at,
        resting={"resting": True, "alarm": True, "moving": False}.get(mode or ""),
        alarm=_alarm(profile, fields, mode),
        alarm_detail=str(fields.get("detail") or fields.get("alarm") or ""),
        circuit=_circuit(profile, fields, flags),
        spindle=_spindle(profile, fields, flags),
        homed=_either(meaning(words.homed, fields, "homed"), "yes", "no", flags, profile.flags.homed),
        in_force=_in_force(profile, fields, inch=inch),
        origin=position(fields, prefix="origin_", inch=inch),
        system=system_number(str(fields.get("system", ""))),
        restarts=restarts if isinstance(restarts, int) else None,
    )


def _either(word: str | None, yes: str, no: str, flags: object, letter: str | None) -> bool | None:
    if word in (yes, no):
        return word == yes
    if letter is not None and isinstance(flags, str):
        return letter in flags
    return None


def _alarm(profile: Profile, fields: Fields, mode: str | None) -> bool | None:
    if mode == "alarm":
        return True
    if "alarm" in fields and profile.words.alarm:
        return meaning(profile.words.alarm, fields, "alarm") != "none"
    flagged = _either(None, "", "", fields.get("flags"), profile.flags.alarm)
    if flagged is None and mode is not None and "alarm" in profile.words.mode:
        return False
    return flagged


def _circuit(profile: Profile, fields: Fields, flags: object) -> Circuit | None:
    word = meaning(profile.words.circuit, fields, "circuit")
    closed = _either(word, "closed", "open", flags, profile.flags.closed)
    return None if closed is None else Circuit.CLOSED if closed else Circuit.OPEN


def _spindle(profile: Profile, fields: Fields, flags: object) -> Spindle | None:
    speed = fields.get("spindle_speed")
    word = meaning(profile.words.spindle, fields, "spindle")
    turning = _either(word, "turning", "still", flags, profile.flags.turning)
    if turning is None and isinstance(speed, int | float):
        turning = speed != 0.0
    return None if turning is None else Spindle.TURNING if turning else Spindle.STILL


def tells_in_force(told: frozenset[str]) -> bool:
    """Return whether a state with these fields tells anything that could falsify a result."""
    return not told.isdisjoint(FORCED)


def _in_force(profile: Profile, fields: Fields, *, inch: bool) -> InForce | None:
    if not tells_in_force(profile.told("state")):
        return None
    factor = INCH if inch else 1.0
    length, override, turned = (_number(fields, name) for name in ("tool_length", "override", "rotation_deg"))
    units = meaning(profile.words.units, fields, "units")
    return InForce(
        shift=position(fields, prefix="shift_", inch=inch),
        tool_length=None if length is None else length * factor,
        override=None if override is None else override / 100.0,
        rotation=None if turned is None else math.radians(turned),
        inch=None if units is None else units == "inch",
    )


def _number(fields: Fields, name: str) -> float | None:
    value = fields.get(name)
    return float(value) if isinstance(value, int | float) else None


class Gatherer:
    """Puts states and offsets told in several lines together, and never mixes an old line with new ones."""

    __slots__ = ("_fields", "_form", "_means")

    def __init__(self) -> None:
        self._means = ""
        self._fields: Fields = {}
        self._form = -1

    def take(self, heard: Heard) -> Heard | None:
        """Return the whole reply where this line completes one, else None."""
        if heard.means == "end":
            whole = Heard(self._means, self._fields) if self._means else None
            self._forget()
            return whole
        if heard.means not in ("state", "offset"):
            return heard
        if heard.means != self._means or heard.form <= self._form:
            self._forget()
        fields = {**self._fields, **heard.fields}
        complete = not heard.more or (heard.means == "offset" and {"x", "y", "z"} <= set(fields))
        if complete:
            self._forget()
            return Heard(heard.means, fields, heard.form)
        self._means, self._fields, self._form = heard.means, fields, heard.form
        return None

    def _forget(self) -> None:
        self._means, self._fields, self._form = "", {}, -1


def machine_position(at: Position, origin: Position | None, shift: Position | None) -> Position:
    """Return a work position in machine coordinates: value + origin + shift (NISTIR 6556, 3.5.18)."""
    return at.plus(origin or ORIGIN).plus(shift or ORIGIN)
