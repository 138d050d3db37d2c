"""Everything that can go wrong, as exceptions with attributes.

::

    Fault
    ├── PlanFault            refused before any motion: change the job
    │   ├── OutsideEnvelope  KeepOutEntered  StartOutsideWindow  UnsuitableTool  UnsuitablePlate
    ├── CircuitFault         look at test lead, plate, chips
    │   ├── CircuitNotChecked  CircuitAlreadyClosed  CircuitUnknown
    │   ├── NoContact  UnexpectedContact  StillClosed  UnsteadyContact
    ├── ContactFault         the circuit works, the numbers do not agree
    │   ├── ContactsDisagree  PlateMoved  ImplausibleContact  NotAsSet
    ├── MachineFault         look at the controller
    │   ├── SpindleTurning  AlarmActive  PositionUnknown  ForeignState
    │   ├── ControllerRefused  NoAnswer  LinkLost  ControllerRestarted  PositionJumped  TooEarly
    │   ├── NotStopped
    ├── OffsetNotKept        a work offset does not read back as it was written
    ├── NotRecorded          the journal could not be kept
    └── PersonFault          Declined  Interrupted

Adapters raise only `ControllerRefused`, `AlarmActive`, `ControllerRestarted`, `LinkLost` and `NoAnswer`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import ClassVar

from gingerly.geometry import Position


class Standstill(Enum):
    """What is known of the machine's motion at the end of a run."""

    CONFIRMED = "the machine stands still (confirmed)"
    UNMOVED = "nothing was moved"
    UNCONFIRMED = "standstill is not confirmed: the machine may still be moving, use the machine's own stop"


class Stands(Enum):
    """Which values of a work offset stand in the controller."""

    OLD = "the old values stand"
    NEW = "the new values stand"
    NEITHER = "neither the old nor the new values stand"
    UNKNOWN = "which values stand is unknown"
    UNCONFIRMED = "the new values were written and cannot be read back"


@dataclass(frozen=True, slots=True)
class OffsetState:
    """One work offset at the end of a run: its origin before, what was meant, what was read last (mm)."""

    number: int
    old: Position | None
    new: Position | None
    stands: Stands
    read: Position | None = None

    def __str__(self) -> str:
        text = f"work offset {self.number}: {self.stands.value}"
        if self.stands is Stands.NEITHER and self.read is not None:
            text += f" (it reads {self.read})"
        return text


class Fault(Exception):
    """A run, or the preparation of one, that had to end.

    Attributes: `detail` (what was found and what was expected, with numbers), `state` (the cycle's state, or
    ``preflight``), `position` (the last trusted position in mm, or None), `done` (what was done about it),
    `standstill`, `offsets` (the state of every work offset the run meant to write), `advice` (one sentence:
    what to check first; the class's own where the case has no better one), `code`, the controller's own where it
    gave one, and `stands_at` (where the controller said in the end that the tool stands, in mm, or None). The
    adapter's exception, if any, is the ``__cause__``. ``result`` is the whole result once the run has ended.
    """

    summary: ClassVar[str] = "the run had to end"
    advice: str = "Read the detail above."

    def __init__(
        self,
        detail: str = "",
        *,
        state: str = "preflight",
        position: Position | None = None,
        done: str = "",
        standstill: Standstill = Standstill.UNMOVED,
        offsets: tuple[OffsetState, ...] = (),
        code: str = "",
        advice: str = "",
        stands_at: Position | None = None,
    ) -> None:
        super().__init__(detail)
        self.detail = detail
        self.state = state
        self.position = position
        self.done = done
        self.standstill = standstill
        self.offsets = offsets
        self.code = code
        self.advice = advice or self.advice
        self.stands_at = stands_at
        self.result: object | None = None

    @property
    def name(self) -> str:
        """The fault's class name, as tables and journals give it."""
        return type(self).__name__

    def __str__(self) -> str:
        text = f"{self.summary}: {self.detail}" if self.detail else self.summary
        return " ".join(f"{text}; {self.standstill.value}. {self.advice}".split())

    def story(self) -> str:
        """Return what a person needs, a line each: what, where, what was done, standstill, offsets, advice."""
        lines = [f"{self.name}: {self.summary}"]
        if self.detail:
            lines.append(f"  found: {self.detail}")
        where = f"  where: {self.state}"
        if self.position is not None:
            where += f", last trusted position {self.position}"
        lines.append(where)
        if self.done:
            lines.append(f"  done: {self.done}")
        lines.append(f"  machine: {self.standstill.value}")
        if self.stands_at is not None and self.standstill is Standstill.CONFIRMED:
            lines.append(f"  stands at: {self.stands_at} (the controller says)")
        lines.extend(f"  {offset}" for offset in self.offsets)
        lines.append(f"  check first: {self.advice}")
        return "\n".join(lines)


class PlanFault(Fault):
    """Refused before any motion."""


class OutsideEnvelope(PlanFault):
    """A move would leave the axis limits."""

    summary = "a move would leave the machine's envelope"
    advice = "Check the start place, the stock's expected place and the envelope in the machine's facts."


class KeepOutEntered(PlanFault):
    """A move would come too near to a keep-out."""

    summary = "a move would enter a keep-out"
    advice = "Move the clamp, or choose a start place or a corner with more room."


class StartOutsideWindow(PlanFault):
    """The tool does not stand where the routine may begin."""

    summary = "the start place is outside the allowed window"
    advice = (
        "Compare the numbers above with tool, plate, stock and place; where you brought the tool, bring it anew."
    )


class UnsuitableTool(PlanFault):
    """The tool cannot give this face."""

    summary = "this tool cannot touch this face"
    advice = "Use a plain pin or the shank, or measure the tool again where it touches."


class UnsuitablePlate(PlanFault):
    """The plate does not suit this stock, or does not stay where it is laid."""

    summary = "this plate does not suit this stock"
    advice = "Measure plate, stock and jaw height again, or lay the plate another way."


class CircuitFault(Fault):
    """Something about lead, plate or contact."""


class CircuitNotChecked(CircuitFault):
    """The circuit was never seen to close, so nothing may rely on it."""

    summary = "the circuit was not seen to close"
    advice = "Is the lead clipped to the tool and the plate, and is the face bare metal?"


class CircuitAlreadyClosed(CircuitFault):
    """The circuit is closed where it must be open."""

    summary = "the circuit is closed before anything has touched"
    advice = "Look for chips across the gap, a lead that touches the machine, and a tool that stands on metal."


class CircuitUnknown(CircuitFault):
    """The machine does not tell whether the circuit is closed."""

    summary = "the machine does not tell whether the circuit is closed"
    advice = "Check the probe input in the controller's set-up, and that the machine's facts are right."


class NoContact(CircuitFault):
    """A sense reached its end without contact."""

    summary = "no contact was made"
    advice = "Is the lead still clipped on, and does the plate lie where it should? The tool may stand on it."


class UnexpectedContact(CircuitFault):
    """The circuit closed where nothing should touch."""

    summary = "the circuit closed where nothing should touch"
    advice = "Look what the tool touches; check the stock's place, the tool's diameter and loose chips."


class StillClosed(CircuitFault):
    """The circuit stays closed after the back-off."""

    summary = "the circuit stays closed after backing off"
    advice = "Look for a chip between tool and plate, or a plate that sticks to the tool."


class UnsteadyContact(CircuitFault):
    """Contacts do not last."""

    summary = "the contact does not last"
    advice = "Clean tool and plate; look for a loose clip, and at the lead where it is strained."


class ContactFault(Fault):
    """The contacts do not fit each other or what was expected."""


class ContactsDisagree(ContactFault):
    """The re-touches differ by more than the plan allows."""

    summary = "the contacts do not agree"
    advice = "Clean tool and plate, check that the plate is fixed and that nothing is loose."


class PlateMoved(ContactFault):
    """Every contact lies further on than the one before: the plate is being pushed."""

    summary = "the plate gives way"
    advice = "Seat the plate again and fix it; never hold it by hand while the machine may move."


class ImplausibleContact(ContactFault):
    """A contact lies where none can be."""

    summary = "a contact lies where none can be"
    advice = "Check the stock's expected place, plate and tool dimensions, and whether the plate is seated."


class NotAsSet(ContactFault):
    """What was touched again does not lie where it was set."""

    summary = "what was touched does not lie where it was set"
    advice = (
        "Has somebody changed the work offset, or the controller lost it? Has stock or plate moved, is another tool"
        " in, was the machine homed anew? Then touch everything again."
    )


class MachineFault(Fault):
    """Something about controller or link."""


class SpindleTurning(MachineFault):
    """The spindle turns, or cannot be seen to be still."""

    summary = "the spindle is not known to be still"
    advice = "Keep away until it stands still; lock it off, and only then see to test lead, plate and tool."


class AlarmActive(MachineFault):
    """An alarm stands in the controller; no run ever clears one."""

    summary = "an alarm stands in the controller"
    advice = "Find its cause in the machine's manual before clearing it at the machine."


class PositionUnknown(MachineFault):
    """The machine does not know where its axes are."""

    summary = "the machine does not know its position"
    advice = "Home the machine as its manual says, with test lead and plate taken off."


class ForeignState(MachineFault):
    """Something is in force in the controller that would falsify the result."""

    summary = "something is in force that would falsify the result"
    advice = "Cancel it at the controller if it is not wanted; it is never cancelled from here."


class ControllerRefused(MachineFault):
    """The controller refused a command; `code` holds its own code."""

    summary = "the controller refused a command"
    advice = "Look the code up in the controller's manual."


class NoAnswer(MachineFault):
    """No answer came in time."""

    summary = "the controller did not answer in time"
    advice = "Check cable and power, and whether another program holds the port."


class LinkLost(MachineFault):
    """The link to the controller is gone."""

    summary = "the link to the controller is gone"
    advice = "Look at the machine first, then at the cable."


class ControllerRestarted(MachineFault):
    """The controller has restarted; its position is not to be trusted."""

    summary = "the controller has restarted"
    advice = "Check power and cable; home the machine before anything else."


class PositionJumped(MachineFault):
    """The machine is not where its last command left it."""

    summary = "the machine is not where its last command left it"
    advice = "Look for a stalled motor, a pressed stop, or another hand on the controls."


class TooEarly(MachineFault):
    """A motion was reported as over sooner than its feed allows."""

    summary = "a motion was reported as over sooner than its feed allows"
    advice = "Check feed override, units and acceleration in the machine's facts."


class NotStopped(MachineFault):
    """In a stop test the tool rose to the end, and nothing that happened stopped it."""

    summary = "the machine was not seen to stop when it should have"
    advice = "Try nothing else with this machine until it does: look at lead, probe input and its own stop."


class OffsetNotKept(Fault):
    """A work offset does not read back as it was written."""

    summary = "the work offset does not read back as written"
    advice = "Read the offsets at the controller before running any program."


class NotRecorded(Fault):
    """The record that must come before a step could not be made."""

    summary = "the journal could not be kept"
    advice = "Check that the disk has room and its folder may be written to."


class PersonFault(Fault):
    """A person ended the run, or none was there."""


class Declined(PersonFault):
    """The operator said no, or nobody answered."""

    summary = "the operator declined, or nobody answered"
    advice = "Begin again when test lead, plate and hands are ready."


class Interrupted(PersonFault):
    """The run was interrupted."""

    summary = "the run was interrupted"
    advice = "Look where the tool stands before moving anything."


ADAPTER_FAULTS = (ControllerRefused, AlarmActive, ControllerRestarted, LinkLost, NoAnswer)
"""All that an adapter may raise."""


def fault_classes() -> tuple[type[Fault], ...]:
    """Return every fault class that can end a run: the leaves of the tree, by name."""
    found: list[type[Fault]] = []
    waiting: list[type[Fault]] = [Fault]
    while waiting:
        parent = waiting.pop()
        children = [child for child in parent.__subclasses__() if child.__module__ == __name__]
        waiting.extend(children)
        if not children:
            found.append(parent)
    return tuple(sorted(found, key=lambda fault: fault.__name__))
