"""What the practice controller says, in the units and coordinates that its profile asks for."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from gingerly.geometry import ORIGIN, Position
from gingerly.messages.snapshot import Circuit, Spindle
from gingerly_mock.machine import Machine
from gingerly_serial.practice.modal import INCH, Modal
from gingerly_serial.practice.speaker import Speaker

Emit = Callable[[str, list[str]], None]


class Teller:
    """Says states, contacts, offsets and answers of one controller."""

    def __init__(self, machine: Machine, modal: Modal, speaker: Speaker, emit: Emit) -> None:
        self._machine = machine
        self._modal = modal
        self._speaker = speaker
        self._profile = speaker.table
        self._emit = emit

    def say(self, means: str, **fields: Any) -> None:
        """Say one thing."""
        self._emit(means, self._speaker.say(means, fields))

    def answer(self, number: int | None) -> None:
        """Say that a line is taken, or carried out."""
        self.say("accepted", number=number)

    def _per_mm(self, where: str) -> float:
        units = self._profile.get(where, {}).get("units", "mm")
        return 1.0 / (INCH if units == "inch" else self._modal.unit if units == "as set" else 1.0)

    def _told(self, where: str, at: Position) -> Position:
        frame = self._profile.get(where, {}).get("coordinates", "machine")
        return at.minus(self._modal.origin if frame == "work" else ORIGIN).times(self._per_mm(where))

    def contact(self, contact: Position | None, number: int | None = None) -> None:
        """Say where the last sense met something, or that it met nothing."""
        if contact is None and self._speaker.knows("missed"):
            self.say("missed", number=number)
            return
        at = self._told("contact", contact or self._machine.position)
        success = self._speaker.word("success", "yes" if contact is not None else "no")
        self.say("contact", number=number, **_axes("", at), success=success)

    def offset(self, number: int) -> None:
        """Say where the origin of a work offset is."""
        self.say("offset", offset=number, **_axes("", self._machine.offsets[number].times(self._per_mm("offsets"))))

    def state(self, *, busy: bool, moving: bool, starts: int) -> None:
        """Say the state."""
        machine, speaker, per_mm = self._machine, self._speaker, self._per_mm("state")
        snapshot, forced = machine.snapshot(), machine.in_force
        mode = "alarm" if machine.alarm and not moving else "moving" if busy else "resting"
        closed, turning = snapshot.circuit is Circuit.CLOSED, snapshot.spindle is Spindle.TURNING
        up = {"closed": closed, "alarm": bool(machine.alarm), "homed": bool(snapshot.homed), "turning": turning}
        self.say(
            "state",
            mode=speaker.word("mode", mode),
            circuit=speaker.word("circuit", "closed" if closed else "open"),
            spindle=speaker.word("spindle", "turning" if turning else "still"),
            spindle_speed=1000.0 if turning else 0.0,
            homed=speaker.word("homed", "yes" if snapshot.homed else "no"),
            alarm="barred" if machine.alarm else speaker.word("alarm", "none"),
            flags="".join(letter for name, letter in speaker.flags.items() if up[name]) or "-",
            tool_length=(forced.tool_length or 0.0) * per_mm,
            override=100.0 * (1.0 if forced.override is None else forced.override),
            rotation_deg=math.degrees(forced.rotation or 0.0),
            units=speaker.word("units", "inch" if forced.inch else "mm"),
            system=f"G{self._modal.words['system']}",
            restarts=starts,
            **_axes("", self._told("state", snapshot.position)),
            **_axes("origin_", self._modal.origin.times(per_mm)),
            **_axes("shift_", (forced.shift or ORIGIN).times(per_mm)),
        )


def _axes(prefix: str, at: Position) -> dict[str, float]:
    return {prefix + letter: value for letter, value in zip("xyz", at, strict=True)}
