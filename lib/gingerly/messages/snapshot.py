"""What a machine says about itself at one moment.

Where a controller cannot tell something the field is None, and the machine's facts say so too: nothing here is
ever guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from gingerly.geometry import ORIGIN, Position


class Circuit(Enum):
    """The test circuit through tool, touch plate and test lead."""

    OPEN = "open"
    CLOSED = "closed"


class Spindle(Enum):
    """Whether the spindle turns."""

    STILL = "still"
    TURNING = "turning"


@dataclass(frozen=True, slots=True)
class InForce:
    """What is in force in the controller and would falsify a result.

    `shift` is an origin shift on top of the work offsets (mm), `tool_length` a tool length offset (mm),
    `override` the factor on programmed feeds (1 = as programmed), `rotation` a rotation of the work system
    (rad), `inch` whether the controller reads lengths in inches. None: the controller cannot tell.
    """

    shift: Position | None = ORIGIN
    tool_length: float | None = 0.0
    override: float | None = 1.0
    rotation: float | None = 0.0
    inch: bool | None = False

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left untold that only a person could see; units are the adapter's to set."""
        return None not in (self.shift, self.tool_length, self.override, self.rotation)

    def oddities(self) -> tuple[str, ...]:
        """Return, in words, everything that is in force and should not be."""
        found = []
        if self.shift is not None and self.shift.length() > 0.0:
            found.append(f"an origin shift of {self.shift}")
        if self.tool_length is not None and self.tool_length != 0.0:
            found.append(f"a tool length offset of {self.tool_length:.3f} mm")
        if self.override is not None and self.override != 1.0:
            found.append(f"a feed override of {self.override:.0%}")
        if self.rotation is not None and self.rotation != 0.0:
            found.append(f"a rotation of {self.rotation:.5f} rad")
        if self.inch:
            found.append("inch units")
        return tuple(found)


AS_PROGRAMMED = InForce()


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What the machine says about itself right now.

    `position` is the controlled point in machine coordinates (mm); `idle` means that no axis moves and no
    command waits; `restarts` counts the controller's restarts as far as the adapter saw them, and only grows.
    The other fields are None where the controller cannot tell; `alarm_detail` is the controller's own wording,
    for people only.
    """

    position: Position
    idle: bool
    restarts: int = 0
    alarm: bool | None = False
    circuit: Circuit | None = Circuit.OPEN
    spindle: Spindle | None = Spindle.STILL
    homed: bool | None = True
    in_force: InForce | None = AS_PROGRAMMED
    alarm_detail: str = ""
