"""What may go wrong on the virtual machine, and when: a list, plain data, deterministic.

A `Happening` says *what* and *when*. When is one of: the n-th call of a method (and, within a motion, after so
many mm or seconds), the k-th contact, a virtual time, or nothing at all: in force from the beginning, and again
for each blank staged. As a TOML table::

    [[faults]]
    what = "lead off"
    contact = 2

    [[faults]]
    what = "alarm"
    call = "sense"
    nth = 3
    after_mm = 1.5
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import Enum
from typing import Any

from gingerly import units

CALLS = ("open", "close", "look", "traverse", "sense", "stop", "read_offset", "write_offset", "home")
"""The methods of an adapter whose calls are counted."""


class What(Enum):
    """Everything that can be made to happen. `amount` means what each member says, 0 where it says nothing."""

    LEAD_OFF = "lead off"
    """The test lead falls off, or was never on: the circuit stays open whatever touches."""
    CHIP = "chip"
    """A chip closes the circuit until the tool is `amount` mm away from where it was then (0: for good)."""
    NOISE = "noise"
    """A pulse of noise closes the circuit for `amount` seconds (0: two milliseconds)."""
    BOUNCE = "bounce"
    """The contact does not last: latched, then open although tool and metal touch, until the next motion."""
    ANODISED = "anodised"
    """The face has an insulating skin: the tool meets metal and no circuit closes."""
    PLATE_SLIDES = "plate slides"
    """From now on each touch pushes the plate `amount` mm along the approach."""
    PLATE_LIFTS = "plate lifts"
    """The plate comes to lie `amount` mm higher, as on a chip."""
    CIRCUIT_UNKNOWN = "circuit unknown"
    """Snapshots no longer tell the circuit."""
    SPINDLE_STARTS = "spindle starts"
    """The spindle starts to turn."""
    ALARM = "alarm"
    """The controller goes into alarm; a motion brakes and its call raises `AlarmActive`."""
    ALARM_ON_MISS = "alarm on miss"
    """From now on a sense without contact leaves an alarm, whatever the facts say."""
    RESTART = "restart"
    """The controller restarts: axes stop dead, the position is kept and is no longer homed."""
    RESTART_FORGETTING = "restart forgetting"
    """As `RESTART`, and all work offsets are lost (zero)."""
    POSITION_JUMP = "position jump"
    """The axis moves by `amount` mm as if by another hand, and the position says so."""
    LOST_STEPS = "lost steps"
    """The axis loses steps: the tool stands `amount` mm off, and the position does not say so."""
    HOMING_LOST = "homing lost"
    """The machine no longer knows where its axes are."""
    FOREIGN_STATE = "foreign state"
    """Something else comes into force: `detail` is one of shift, tool length, override, rotation, inch; `amount`
    its size (mm, mm, factor, rad). An override truly changes the feed."""
    STOPS_SHORT = "stops short"
    """The motion ends `amount` mm before its target and is reported as ended there."""
    REFUSED = "refused"
    """The controller refuses the command with the code `detail` and does nothing."""
    REQUEST_LOST = "request lost"
    """The command never gets there: nothing happens and no answer ever comes."""
    ANSWER_LOST = "answer lost"
    """The command is carried out and no answer ever comes."""
    ANSWER_LATE = "answer late"
    """The answer comes `amount` seconds late."""
    ANSWER_EARLY = "answer early"
    """The motion is reported as over, at its target, after a tenth of its time; in truth it goes on."""
    GIVES_UP = "gives up"
    """The command is carried out; the adapter gives up after the facts' `answer_s` and raises `NoAnswer`."""
    LINK_LOST = "link lost"
    """The link breaks once the command got through: a motion goes on; this call and all after raise `LinkLost`."""
    LINK_LOST_UNSENT = "link lost unsent"
    """The link breaks before the command got through: nothing happens; all calls from now on raise `LinkLost`."""
    WRITE_IGNORED = "write ignored"
    """The work offset is accepted and stays as it was."""
    WRITE_WRONG = "write wrong"
    """The first axis written gets a value `amount` mm off."""
    WRITE_PARTIAL = "write partial"
    """Only the first axis is written."""
    STOP_IGNORED = "stop ignored"
    """The stop is answered and the motion goes on."""
    PAUSE = "pause"
    """The call waits on the event loop until `MockAdapter.go_on()`, so that a test can cancel its task there."""


AMOUNTS = {
    What.PLATE_SLIDES: 0.1,
    What.PLATE_LIFTS: 0.5,
    What.POSITION_JUMP: 1.0,
    What.LOST_STEPS: 1.0,
    What.WRITE_WRONG: 0.1,
    What.STOPS_SHORT: 0.5,
    What.ANSWER_LATE: 1.0,
    What.NOISE: 0.002,
    What.FOREIGN_STATE: 0.5,
}
"""What `amount` is where nobody states it: our own choice."""

STATES = ("shift", "tool length", "override", "rotation", "inch")


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """One thing that goes wrong.

    `call` and `nth` name the n-th call of a method (``motion`` counts traverses and senses together, ``any``
    everything) and `times` how many calls in a row, 0 for all from then on; `after_mm` or `after_s` put it
    inside that call's motion. `contact` counts contacts of senses, `time_s` is virtual time. With `scene` only
    that blank's own calls and contacts count. `amount`, `axis` and `detail` belong to what happens.

    Raises `ValueError` for a combination that could never happen.
    """

    what: What
    call: str = ""
    nth: int = 1
    times: int = 1
    contact: int = 0
    time_s: float | None = None
    after_mm: float | None = None
    after_s: float | None = None
    scene: str = ""
    amount: float = 0.0
    axis: str = "x"
    detail: str = ""

    def __post_init__(self) -> None:
        if self.call and self.call not in (*CALLS, "motion", "any"):
            raise ValueError(f"a fault's call must be one of {', '.join(CALLS)}, motion, any, not {self.call!r}")
        if (self.call != "") + (self.contact > 0) + (self.time_s is not None) > 1:
            raise ValueError(f"the fault {self.what.value!r} has more than one of call, contact and time_s")
        if (self.after_mm is not None or self.after_s is not None) and not self.call:
            raise ValueError(f"the fault {self.what.value!r} lies inside a motion, but of which call?")
        if self.nth < 1 or self.times < 0 or self.contact < 0:
            raise ValueError("nth must be 1 or more, times and contact 0 or more")
        if not all(math.isfinite(size) for size in (self.amount, self.after_mm or 0.0, self.time_s or 0.0)):
            raise ValueError(f"the fault {self.what.value!r} needs finite numbers")
        if self.axis not in ("x", "y", "z"):
            raise ValueError(f"a fault's axis must be x, y or z, not {self.axis!r}")
        if self.what is What.FOREIGN_STATE and self.detail not in STATES:
            raise ValueError(f"detail must be one of {', '.join(STATES)}, not {self.detail!r}")
        if self.what in NEEDS_MOMENT and not (self.call or self.contact or self.time_s is not None):
            raise ValueError(
                f"the fault {self.what.value!r} happens at a moment; say at which call, contact or time_s"
            )
        if self.what in NEEDS_CALL and not self.call:
            raise ValueError(f"the fault {self.what.value!r} belongs to a call; say which")

    @classmethod
    def from_plain(cls, given: object) -> Happening:
        """Return the happening that a table describes; raises `TypeError` or `ValueError` for an unusable one."""
        if isinstance(given, Happening):
            return given
        if not isinstance(given, Mapping):
            raise ValueError(f"a fault must be a table with what and when, not {units.shown(given)}")
        known = {entry.name for entry in fields(cls)}
        values: dict[str, Any] = {}
        for name, value in given.items():
            if name not in known:
                near = difflib.get_close_matches(str(name), sorted(known), n=1, cutoff=0.0)
                raise TypeError(f"a fault has no {name!r}; the nearest is {near[0]!r}")
            values[name] = _plain(name, value)
        if "what" not in values:
            raise ValueError("a fault must say what happens")
        return cls(**values)

    @property
    def inside(self) -> bool:
        """Whether it happens inside a motion rather than at its beginning."""
        return self.after_mm is not None or self.after_s is not None

    @property
    def size(self) -> float:
        """The amount, or what is usual for this where none was stated."""
        return self.amount or AMOUNTS.get(self.what, 0.0)


NEEDS_CALL = frozenset(
    {
        What.STOPS_SHORT,
        What.REFUSED,
        What.REQUEST_LOST,
        What.ANSWER_LOST,
        What.ANSWER_LATE,
        What.ANSWER_EARLY,
        What.GIVES_UP,
        What.LINK_LOST_UNSENT,
        What.WRITE_IGNORED,
        What.WRITE_WRONG,
        What.WRITE_PARTIAL,
        What.STOP_IGNORED,
        What.PAUSE,
    }
)
"""What shapes one call, and so must name it."""

NEEDS_MOMENT = frozenset(
    {What.NOISE, What.RESTART, What.RESTART_FORGETTING, What.POSITION_JUMP, What.LOST_STEPS, What.BOUNCE}
)
"""What happens once, and cannot be in force from the beginning."""


def _plain(name: str, value: Any) -> Any:
    if name == "what":
        if isinstance(value, What):
            return value
        for found in What:
            if found.value == value:
                return found
        near = difflib.get_close_matches(str(value), [one.value for one in What], n=1, cutoff=0.0)
        raise ValueError(f"no fault is called {units.shown(value)}; the nearest is {near[0]!r}")
    if name in ("call", "scene", "axis", "detail"):
        if not isinstance(value, str):
            raise ValueError(f"a fault's {name} must be a text, not {units.shown(value)}")
        return value
    if isinstance(value, bool):
        raise ValueError(f"a fault's {name} must be a number, not {units.shown(value)}")
    if name in ("nth", "times", "contact"):
        if not isinstance(value, int):
            raise ValueError(f"a fault's {name} must be a whole number, not {units.shown(value)}")
        return value
    if name == "after_mm":
        return units.length(value, name=name)
    if not isinstance(value, int | float):
        raise ValueError(f"a fault's {name} must be a number, not {units.shown(value)}")
    return float(value)


class Schedule:
    """The list of happenings, and the counts that decide when each is due."""

    __slots__ = (
        "_by_call",
        "_by_contact",
        "_calls",
        "_contacts",
        "_scene",
        "_scene_contacts",
        "_scene_start",
        "standing",
        "timed",
    )

    def __init__(self, happenings: tuple[Happening, ...] = ()) -> None:
        self._calls = dict.fromkeys(CALLS, 0)
        self._contacts = 0
        self._scene = ""
        self._scene_start, self._scene_contacts = dict(self._calls), 0
        self._by_call: list[Happening] = []
        self._by_contact: list[Happening] = []
        self.timed: list[Happening] = []
        """What is still to happen at a virtual time, in order."""
        self.standing: list[Happening] = []
        """What is in force from the beginning."""
        for happening in happenings:
            self.add(happening)

    def add(self, happening: Happening) -> bool:
        """Put one more on the list, and return whether it is in force at once; counts begin with the machine."""
        if happening.call:
            self._by_call.append(happening)
        elif happening.contact:
            self._by_contact.append(happening)
        elif happening.time_s is not None:
            self.timed.append(happening)
            self.timed.sort(key=lambda one: one.time_s or 0.0)
        else:
            self.standing.append(happening)
            return True
        return False

    def begin_scene(self, name: str) -> None:
        """Count from here on for happenings that belong to the blank of this name."""
        self._scene = name
        self._scene_start, self._scene_contacts = dict(self._calls), self._contacts

    def begin_call(self, call: str) -> tuple[Happening, ...]:
        """Count a call, and return what happens in it."""
        self._calls[call] += 1
        if not self._by_call:
            return ()
        return tuple(one for one in self._by_call if self._meant(one, call))

    def _meant(self, one: Happening, call: str) -> bool:
        if one.call != call and one.call != "any" and not (one.call == "motion" and call in ("traverse", "sense")):
            return False
        return self._in_turn(one, _counted(self._calls, one.call), _counted(self._scene_start, one.call), one.nth)

    def _in_turn(self, one: Happening, count: int, before: int, wanted: int) -> bool:
        if one.scene:
            if one.scene != self._scene:
                return False
            count -= before
        return count >= wanted and (one.times == 0 or count < wanted + one.times)

    def begin_contact(self) -> tuple[Happening, ...]:
        """Count a contact, and return what happens with it."""
        self._contacts += 1
        if not self._by_contact:
            return ()
        before = self._scene_contacts
        return tuple(one for one in self._by_contact if self._in_turn(one, self._contacts, before, one.contact))

    def next_time(self) -> float:
        """Return the virtual time of the next timed happening; infinite if there is none."""
        return self.timed[0].time_s or 0.0 if self.timed else math.inf

    def take_timed(self, until_s: float) -> tuple[Happening, ...]:
        """Take off the list, and return, all that is due by `until_s`."""
        due = tuple(one for one in self.timed if (one.time_s or 0.0) <= until_s)
        del self.timed[: len(due)]
        return due


def _counted(counts: Mapping[str, int], call: str) -> int:
    if call == "any":
        return sum(counts.values())
    return counts["traverse"] + counts["sense"] if call == "motion" else counts[call]
