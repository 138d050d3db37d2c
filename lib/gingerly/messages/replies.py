"""What the cycle can be told. Frozen data; the class name is the name of the reply in the table.

Three kinds: answers to a command; what one look at a snapshot finds wrong before the table sees it; and what
happens to the run from outside.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Position
from gingerly.messages.commands import Answer
from gingerly.messages.snapshot import Snapshot

# ---- answers ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Started:
    """The run begins."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A snapshot was taken."""

    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class Arrived:
    """A traverse has ended; `rest` was taken after standstill and says whether the target was reached."""

    rest: Snapshot


@dataclass(frozen=True, slots=True)
class Touched:
    """A sense met something: `contact` is the position (mm) latched at contact, `rest` taken after standstill."""

    contact: Position
    rest: Snapshot


@dataclass(frozen=True, slots=True)
class Missed:
    """A sense ended without contact; `rest` was taken after standstill."""

    rest: Snapshot


@dataclass(frozen=True, slots=True)
class OffsetRead:
    """Work offset `number` has this origin in machine coordinates (mm)."""

    number: int
    origin: Position


@dataclass(frozen=True, slots=True)
class OffsetWritten:
    """The controller has accepted new values for work offset `number`."""

    number: int


@dataclass(frozen=True, slots=True)
class Answered:
    """A person has answered."""

    answer: Answer


# ---- what a snapshot gives away (see gingerly.cycle.triage) -----------------------------------------------


@dataclass(frozen=True, slots=True)
class Turning:
    """The spindle turns, or can no longer be seen to be still."""

    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class Unhomed:
    """The machine no longer knows where its axes are."""

    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class Foreign:
    """Something is in force that would falsify the result."""

    snapshot: Snapshot
    detail: str


@dataclass(frozen=True, slots=True)
class Displaced:
    """The machine is not where its last command left it."""

    snapshot: Snapshot
    detail: str


@dataclass(frozen=True, slots=True)
class Early:
    """A motion is reported as over sooner than its feed allows."""

    snapshot: Snapshot
    detail: str


@dataclass(frozen=True, slots=True)
class Blind:
    """A snapshot does not tell the circuit although the facts promise it."""

    snapshot: Snapshot


# ---- trouble ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Refused:
    """The controller refused the command, with its own code."""

    code: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Alarmed:
    """An alarm stands; `snapshot` shows it where one could be taken."""

    snapshot: Snapshot | None = None
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Restarted:
    """The controller has restarted since the run began."""

    snapshot: Snapshot | None = None
    detail: str = ""


@dataclass(frozen=True, slots=True)
class TimedOut:
    """No answer came within the command's deadline."""

    detail: str = ""


@dataclass(frozen=True, slots=True)
class Disconnected:
    """The link to the controller is gone."""

    detail: str = ""


@dataclass(frozen=True, slots=True)
class Unrecorded:
    """The recorder could not keep what must be kept before going on."""

    detail: str = ""


@dataclass(frozen=True, slots=True)
class Aborted:
    """The run is to end now: a person interrupted it, or the program around it gave up."""

    detail: str = ""


Reply = (
    Started
    | Seen
    | Arrived
    | Touched
    | Missed
    | OffsetRead
    | OffsetWritten
    | Answered
    | Turning
    | Unhomed
    | Foreign
    | Displaced
    | Early
    | Blind
    | Refused
    | Alarmed
    | Restarted
    | TimedOut
    | Disconnected
    | Unrecorded
    | Aborted
)
