"""What a routine asks for and what it gets: touches, faces, and what follows from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from gingerly.geometry import Position
from gingerly.messages.commands import AxisValues, Question
from gingerly.messages.faults import Fault


class Place(Enum):
    """Where the circuit must be seen to close before it is trusted: the very place that will touch."""

    TIP = "tip"
    FLANK = "flank"
    STOCK = "stock"
    BENCH = "bench"
    """Not at the machine at all: lead and plate are touched together where nothing moves, for the stop test."""

    @property
    def question(self) -> Question:
        """What a person is asked so that the circuit closes there."""
        return {
            Place.TIP: Question.CLOSE_AT_TIP,
            Place.FLANK: Question.CLOSE_AT_FLANK,
            Place.STOCK: Question.CLOSE_AT_STOCK,
            Place.BENCH: Question.CLOSE_AT_BENCH,
        }[self]


@dataclass(frozen=True, slots=True)
class Leg:
    """One straight traverse to `to` (mm) at `feed` mm/min; None is as fast as the machine goes.

    `clear` marks a leg that ends at clearance, free everywhere: there the trail begins anew.
    """

    to: Position
    feed: float | None = None
    clear: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchPlan:
    """The numbers of one touch. Feeds in mm/min, lengths in mm, times in seconds.

    One sense at `fast_feed`, then `retouches` at `slow_feed`, each after a back-off of `back_off`; up to
    `extras` more where a contact bounces or the contacts disagree by more than `spread`. `overtravel` is the
    most that the tool may run on after a contact; a re-touch gives up `reach` beyond the last contact.
    `leave_feed` is the feed of the back-off and of the way out along the line of approach.
    `latch_s` is the lateness of the latched position that contacts are corrected for; where it is not known well,
    `extrapolated` says that the face lies where the contacts at both feeds lead to at no feed at all. `limited_by`
    says, one sentence each, which limit chose what.
    """

    fast_feed: float
    slow_feed: float
    leave_feed: float
    back_off: float
    retouches: int
    extras: int
    spread: float
    overtravel: float
    reach: float
    latch_s: float
    limited_by: tuple[str, ...] = ()
    extrapolated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Metal:
    """What a touch meets, as far as what is found depends on it.

    `plate` says that it is a plate's flat, `lip` names the plate's lip; without either it is the stock itself.
    `beside` is the distance in mm along the wall from the corner to the touch, with its sign along that axis,
    where skew acts on it; `shortfall` by how many mm stationary flutes may read short.
    """

    plate: bool = False
    lip: str | None = None
    beside: float = 0.0
    shortfall: float = 0.0


BARE = Metal()


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One touch: the way there, the line of approach, and where a contact would be plausible.

    `legs` lead to `start`; the sense goes straight from `start` to `end` (mm, machine coordinates). A contact
    is plausible from `near` to `far` mm along that line. After the touch the tool goes back along its trail to
    `exit`, which lies on the trail or on the line of approach. `question` is asked before the first leg. `metal`
    is what it is to meet. `direction` is the unit vector of the approach; it follows from the line.

    Raises `ValueError` for a line of no length.
    """

    name: str
    legs: tuple[Leg, ...]
    start: Position
    end: Position
    near: float
    far: float
    exit: Position
    plan: TouchPlan
    question: Question | None = None
    metal: Metal = BARE
    direction: Position = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "direction", self.end.minus(self.start).unit())

    @property
    def length(self) -> float:
        """How far the sense goes at most, in mm."""
        return self.start.distance(self.end)


@dataclass(frozen=True, slots=True)
class Contact:
    """One accepted contact: the latched position (mm), the feed (mm/min), and its distance along the line of
    approach corrected for the lateness at that feed (mm)."""

    position: Position
    feed: float
    distance: float


@dataclass(frozen=True, slots=True)
class Face:
    """What one touch found: the controlled point (mm) at contact, extrapolated to no speed.

    It lies on the line of approach; the metal begins beyond it along `direction`. `contacts` holds all that
    were taken, in order, the fast one first; the latest slow ones, as many as planned, make the mean.
    """

    touch: str
    position: Position
    direction: Position
    contacts: tuple[Contact, ...]

    @property
    def spread(self) -> float:
        """The range of the slow contacts' distances in mm; 0 for a single one."""
        slow = [contact.distance for contact in self.contacts[1:]]
        return max(slow) - min(slow) if slow else 0.0


@dataclass(frozen=True, slots=True)
class Change:
    """New values for axes of one work offset; with `relative` they are added to what stands there (mm)."""

    number: int
    axes: AxisValues
    relative: bool = False


Measures = tuple[tuple[str, float], ...]
"""What was found besides an origin, each with its name: lengths in mm, angles in rad; a name that ends in ``_s``
is in seconds."""

RAN_ON = "ran on"
"""What a stop test finds of the touch: how far the tool ran on after it, in mm."""

STOP_SIGNS = {"alarm": " after", "standstill": " after", "silence": " after", "restart": "", "homing lost": ""}
"""What a stop test finds of the machine's own stop: how it was noticed. Where the position can still be told, the
name goes on with `` after`` and the value is how many mm the tool had risen; else the value is 0."""


@dataclass(frozen=True, slots=True)
class Setting:
    """All touches are taken: write these work offsets, all or none; `measures` is what was found besides."""

    changes: tuple[Change, ...]
    measures: Measures = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """All touches are taken, and nothing is to be written.

    `axes` of the origin found, in mm, and `measures`, what was found besides.
    """

    axes: AxisValues
    measures: Measures = ()


@dataclass(frozen=True, slots=True)
class Unusable:
    """The faces found do not allow to go on, and why."""

    fault: type[Fault]
    detail: str


@dataclass(frozen=True, slots=True)
class Way:
    """Nothing to touch: only a way to go, with test lead and plate taken off."""

    legs: tuple[Leg, ...]


Step = Touch | Setting | Finding | Unusable | Way
