"""What the cycle may order. Frozen data; every command carries its own deadline in seconds.

The cycle computes a deadline from distance, feed and acceleration; the driver alone enforces it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from gingerly.geometry import Axis, Position

AxisValues = tuple[tuple[Axis, float], ...]
"""Axes with a value each, in axis order: hashable, unlike a dict."""


class Question(Enum):
    """Everything a person can be asked during a run.

    Each names what the person does before answering yes; the wording belongs to whoever talks to people.
    """

    CLOSE_AT_TIP = "close at tip"
    """Bring the touch plate up to the tool's tip, so that the circuit closes."""
    CLOSE_AT_FLANK = "close at flank"
    """Bring the touch plate to the tool's flank, where it will touch a wall."""
    CLOSE_AT_STOCK = "close at stock"
    """Bridge the tool and the very face of the stock that will be touched with a piece of bare metal."""
    CLOSE_AT_BENCH = "close at bench"
    """Touch test lead and plate together on the bench, away from the machine, so that the circuit closes."""
    OPEN = "open"
    """Take the touch plate away from the tool again."""
    PLAIN_STATE = "plain state"
    """See at the controller that no origin shift, tool length offset, feed override or rotation is in force."""
    CLEAR = "clear"
    """Seat and fix the plate, lock the spindle off, take the hands away."""
    HANDS_AWAY = "hands away"
    """The same at the end of a check that stands alone, and after which nothing moves by itself."""
    TURN_FLUTE = "turn flute"
    """Turn the tool by hand until a flute faces the wall that comes next, then take the hands away."""
    TURN_HALF = "turn half"
    """Turn the spindle by hand by half a turn, its drive locked off and the lead left on, then take the hands away."""
    RELEASE = "release"
    """Take test lead and touch plate off the machine."""
    NEXT_PART = "next part"
    """Take test lead and touch plate to the part that comes next. The circuit is checked there afterwards."""
    CHANGE_TOOL = "change tool"
    """Put the next tool into the spindle, which is locked off. The circuit is checked afterwards."""
    STAND_CLEAR = "stand clear"
    """Take the hands away, with lead and plate off: the tool is about to be raised straight up."""
    RISE = "rise"
    """Stand ready at the bench to touch lead and plate together while the tool rises; nobody is near the tool."""
    PRESS_STOP = "press stop"
    """Stand ready to press the machine's own stop once while the tool rises; nobody is near the tool."""
    LOOK_AT_ZERO = "look at zero"
    """Take the hands away, with lead and plate off: the tool is about to go above a new zero, for the eye to check."""


class Answer(Enum):
    """What a person can answer."""

    YES = "yes"
    NO = "no"
    WAIVE = "waive"
    """Go on without this proof: a typed word, kept on record."""


@dataclass(frozen=True, slots=True)
class Look:
    """Take a snapshot, after waiting `after_s` seconds."""

    after_s: float
    deadline_s: float


@dataclass(frozen=True, slots=True)
class Traverse:
    """Move straight to `to` (mm) at `feed` mm/min, or as fast as the machine goes; no contact is expected."""

    to: Position
    feed: float | None
    deadline_s: float


@dataclass(frozen=True, slots=True)
class Sense:
    """Move straight towards `to` (mm) at `feed` mm/min until contact, at the latest until `to`."""

    to: Position
    feed: float
    deadline_s: float


@dataclass(frozen=True, slots=True)
class Stop:
    """Stop all motion at once."""

    deadline_s: float


@dataclass(frozen=True, slots=True)
class ReadOffset:
    """Read the origin of work offset `number` (1–9) in machine coordinates."""

    number: int
    deadline_s: float


@dataclass(frozen=True, slots=True)
class WriteOffset:
    """Write the axes of work offset `number` in one command.

    `old` is the whole origin before, `new` the whole origin meant to stand after; both are None where the
    controller cannot tell its offsets.
    """

    number: int
    axes: AxisValues
    old: Position | None
    new: Position | None
    deadline_s: float


@dataclass(frozen=True, slots=True)
class Ask:
    """Ask a person, and wait for the answer."""

    question: Question
    deadline_s: float


@dataclass(frozen=True, slots=True)
class Finish:
    """The run is over; there is nothing more to order."""


Command = Look | Traverse | Sense | Stop | ReadOffset | WriteOffset | Ask | Finish
Motion = Traverse | Sense
MOTIONS = (Traverse, Sense)
"""The same, for `isinstance`: made once, since it is asked at every command."""
