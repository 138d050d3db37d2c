"""What is known of a machine: the numbers that decide how fast it may go and what may be believed.

Facts come from the adapter, or from a file its owner filled in. They never change while a run goes on.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from gingerly.geometry import Box, Limits
from gingerly.units import number, shown

PROMPT_LATCH = Limits(0.0, 0.002)
"""A latch that is at most two milliseconds late: the facts of a machine that was never calibrated.
Our own choice."""


POSITIVE = ("resolution", "acceleration", "top_feed", "rapid_feed", "answer_s", "sample_interval_s")
NUMBERS = (*POSITIVE, "stop_reaction_s", "look_interval_s", "settle_s", "offset_resolution", "backlash")


class Guard(Enum):
    """Whether a traverse sees the circuit close.

    NONE: nobody looks while it moves. POLLED: the adapter looks every `look_interval_s` and stops the motion.
    SENSED: the controller itself stops any motion at contact.
    """

    NONE = "none"
    POLLED = "polled"
    SENSED = "sensed"


class Home(Enum):
    """How the machine knows its coordinates: by switches, or only since it was switched on."""

    SWITCHES = "switches"
    NONE = "none"


class SpindleKnowledge(Enum):
    """How far the controller can tell whether the spindle turns."""

    MEASURED = "measured"
    COMMANDED = "commanded"
    BY_HAND = "by hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFacts:
    """What is known of one machine.

    Lengths in mm, feeds in mm/min, `acceleration` in mm/s² (of the slowest axis), times in seconds.

    `resolution` is one motor step; `offset_resolution` the step in which work offsets are stored;
    `top_feed` the highest feed of a programmed move and `rapid_feed` that of a traverse without one;
    `envelope` the axis limits, or the free box that the operator vouches for where `home` is NONE.
    `latch_s` bounds how late the reported contact position is taken after the touch; `stop_reaction_s` is the
    longest time from the touch to the start of braking; `sample_interval_s` is how often the controller looks
    at the circuit. `settle_s` is how long a contact may bounce. `answer_s` is the longest that an answer may
    take beyond the motion it waits for.

    `circuit_known`, `alarm_known`, `in_force_known` and `offsets_readable` say what a snapshot can tell;
    `alarm_on_miss` that a sense without contact leaves an alarm that only a person may clear.

    Where the defaults come from: the times are our own choice, for a controller that nobody has measured, and are
    to be replaced by what its manual states or a calibration finds; offsets kept to 0.001 mm are common practice,
    no source; no backlash is what is assumed where none is stated.

    Raises `ValueError` for a number that is not finite or has the wrong sign.
    """

    name: str
    envelope: Box
    resolution: float
    acceleration: float
    top_feed: float
    rapid_feed: float
    latch_s: Limits = PROMPT_LATCH
    stop_reaction_s: float = 0.005
    sample_interval_s: float = 0.001
    look_interval_s: float = 0.1
    settle_s: float = 0.02
    answer_s: float = 2.0
    offset_resolution: float = 0.001
    backlash: float = 0.0
    guard: Guard = Guard.NONE
    home: Home = Home.SWITCHES
    spindle: SpindleKnowledge = SpindleKnowledge.MEASURED
    circuit_known: bool = True
    alarm_known: bool = True
    in_force_known: bool = True
    offsets_readable: bool = True
    alarm_on_miss: bool = False

    def __post_init__(self) -> None:
        for name in NUMBERS:
            value = number(getattr(self, name), name=f"the machine fact {name}")
            if value < 0.0 or (value == 0.0 and name in POSITIVE):
                raise ValueError(f"the machine fact {name} cannot be {shown(value)}")
        if self.latch_s.low < 0.0:
            raise ValueError(f"the machine fact latch_s cannot begin at {shown(self.latch_s.low)} s")

    @property
    def position_slack(self) -> float:
        """How far a reported position may be from where the machine was sent, in mm: two steps and rounding.

        Our own choice; 0.001 mm is what a report of three decimals rounds to.
        """
        return 2.0 * self.resolution + 0.001

    @property
    def traverse_reaction_s(self) -> float:
        """Seconds from a touch during a traverse to the start of braking, as the guard (or a look) allows."""
        if self.guard is Guard.SENSED:
            return self.stop_reaction_s
        return self.look_interval_s + self.stop_reaction_s
