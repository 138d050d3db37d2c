"""What a batch tells: an account of every part at the end, and events while it goes on. Frozen data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum

from gingerly.driver.events import Event
from gingerly.driver.result import Result
from gingerly.job import Job, Part
from gingerly.messages.commands import AxisValues, Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import Fault, OffsetState, Standstill
from gingerly.messages.touches import Measures


class Status(Enum):
    """What became of one part."""

    DONE = "done"
    SKIPPED = "skipped"
    """It ended in a fault, and the batch went on."""
    FAILED = "failed"
    """It ended in a fault, and the batch ended with it."""
    NOT_BEGUN = "not begun"
    KEPT = "set before"
    """A resumed batch found it done, and the controller still says so."""
    WAITING = "waits"
    """It belongs to a later wave, which begins when the parts of this one are finished."""


WELL = (Status.DONE, Status.KEPT, Status.WAITING)
"""What a part may have come to without anything having gone wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """What is told of a part's run, in short: it stays when the run itself, with all its contacts, is put away.

    `duration_s` is on the machine's clock; `stated` the half width of the 95 % interval of everything found, by
    name, in mm or rad; the rest is the outcome's own.
    """

    touches: int
    contacts: int
    duration_s: float
    standstill: Standstill
    offsets: tuple[OffsetState, ...]
    measures: Measures
    unconfirmed: tuple[str, ...]
    stated: Measures

    @classmethod
    def of(cls, result: Result) -> Account:
        """Return the account of a run."""
        outcome = result.outcome
        return cls(
            touches=outcome.touches,
            contacts=sum(len(face.contacts) for face in outcome.faces),
            duration_s=result.duration_s,
            standstill=outcome.standstill,
            offsets=outcome.offsets,
            measures=outcome.measures if outcome.fault is None else (),
            unconfirmed=outcome.unconfirmed,
            stated=tuple((name, one.half_width) for name, one in result.statements.items()),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PartResult:
    """What became of one part, and what is known of it.

    `found` are the axes of the origin found (mm), of a reference the height at contact, of a tool change the shift.
    `truth` is the same as a simulated machine knows it, `deepest` the mm that its tool was pushed past a surface.
    `as_expected` says that the fault was part of the show; `why` tells, in words, why a part was not begun.
    `result` is the whole run; where it is put away because there are very many, `away` is the account of it.
    """

    part: Part
    status: Status = Status.NOT_BEGUN
    result: Result | None = None
    away: Account | None = None
    fault: Fault | None = None
    found: AxisValues = ()
    truth: AxisValues = ()
    deepest: float | None = None
    as_expected: bool = False
    why: str = ""

    @property
    def account(self) -> Account | None:
        """The run in short; None where none was begun."""
        return self.away if self.result is None else Account.of(self.result)

    def put_away(self) -> PartResult:
        """Return this entry with the account of its run alone: a small one, however much was touched."""
        if self.fault is not None:
            self.fault.result = None
        return replace(self, away=self.account, result=None)

    @property
    def errors(self) -> AxisValues:
        """What was found minus the truth, per axis, in mm; empty where no truth is known."""
        true = dict(self.truth)
        return tuple((axis, value - true[axis]) for axis, value in self.found if axis in true)


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """How a batch went. `parts` has one entry per part of the job, in its order, whatever happened.

    `released` says that test lead and plate are known to be off; `set_offsets` that a work offset was written;
    `duration_s` is on the machine's clock; `notes` are sentences that people should read; `looked_at` are
    the work offsets whose zero was looked at in the end, and `after` is a fault in that. `moved_besides` says that the
    machine was moved by more than the parts themselves: raised, brought over a part, or checking its circuit.
    """

    job: Job
    machine: str
    facts: MachineFacts
    simulated: bool
    parts: tuple[PartResult, ...]
    released: bool
    interrupted: bool
    duration_s: float
    notes: tuple[str, ...] = ()
    looked_at: tuple[int, ...] = ()
    after: Fault | None = None
    moved_besides: bool = False

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault that was not part of the show, in order."""
        found = [entry.fault for entry in self.parts if entry.fault is not None and not entry.as_expected]
        return (*found, self.after) if self.after is not None else tuple(found)

    @property
    def complete(self) -> bool:
        """Whether every part is done, or failed just as it was meant to, or waits for its wave."""
        return all(entry.as_expected or (entry.status in WELL and not _expects(entry)) for entry in self.parts)

    @property
    def moved(self) -> bool:
        """Whether the machine was moved at all."""
        return self.moved_besides or self.moved_in_parts

    @property
    def moved_in_parts(self) -> bool:
        """Whether a part moved the machine."""
        return any(
            entry.account is not None and entry.account.standstill is not Standstill.UNMOVED for entry in self.parts
        )

    @property
    def set_offsets(self) -> bool:
        """Whether a work offset may have been written."""
        return any(entry.account is not None and entry.account.offsets for entry in self.parts)


def _expects(entry: PartResult) -> bool:
    staged = entry.part.staged
    return staged is not None and staged.expect is not None and entry.deepest is not None


# ---- events -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PartStarted:
    """Part `index` of `of`, counted from 1, begins."""

    part: Part
    index: int
    of: int


@dataclass(frozen=True, slots=True)
class StepAsked:
    """The operator is about to be asked for a step before this part."""

    part: Part
    question: Question


@dataclass(frozen=True, slots=True)
class PartEnded:
    """What became of the part that began last."""

    entry: PartResult


@dataclass(frozen=True, slots=True)
class Noted:
    """Something that people should read."""

    text: str


BatchEvent = PartStarted | StepAsked | PartEnded | Noted
BatchObserver = Callable[[BatchEvent | Event], None]
