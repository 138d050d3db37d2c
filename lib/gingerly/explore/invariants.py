"""The invariants, checked on nothing but commands and replies.

A `Monitor` watches one run from outside: what was ordered, what came back. It knows the design's rules and none of
the cycle's code, so an error in the table cannot hide in it. I9 is the driver's, and is tested there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.cycle.session import Session, Setup
from gingerly.cycle.states import State
from gingerly.explore.telling import short
from gingerly.geometry import Position, distance_to_line
from gingerly.messages.commands import (
    Answer,
    Ask,
    Command,
    Finish,
    Look,
    Question,
    ReadOffset,
    Sense,
    Stop,
    Traverse,
    WriteOffset,
)
from gingerly.messages.facts import SpindleKnowledge
from gingerly.messages.faults import Stands, Standstill
from gingerly.messages.replies import (
    Answered,
    Arrived,
    Missed,
    OffsetRead,
    OffsetWritten,
    Reply,
    Seen,
    TimedOut,
    Touched,
)
from gingerly.messages.snapshot import Circuit, Snapshot, Spindle
from gingerly.messages.touches import Place, Touch

MOST_COMMANDS = 400
"""No routine here needs half as many commands; a run that takes more does not end (I7). Our own choice."""

_CLOSING = {
    Question.CLOSE_AT_TIP: Place.TIP,
    Question.CLOSE_AT_FLANK: Place.FLANK,
    Question.CLOSE_AT_STOCK: Place.STOCK,
    Question.CLOSE_AT_BENCH: Place.BENCH,
}


@dataclass(frozen=True, slots=True)
class Violation:
    """An invariant that did not hold, and what happened."""

    invariant: str
    what: str

    def __str__(self) -> str:
        return f"{self.invariant}: {self.what}"


@dataclass(slots=True, eq=False)
class Monitor:
    """Watches one run. `violation` is the first invariant broken, or None."""

    setup: Setup
    violation: Violation | None = None
    commands: int = 0

    # what the machine is known to be doing
    snapshot: Snapshot | None = None
    fresh: bool = False
    still: bool = True
    moved: bool = False
    restarts: int | None = None

    # the line that is being travelled, and what was met on it
    line_start: Position | None = None
    line_sensed: bool = False
    must_back_off: bool = False
    must_see_open: bool = False
    touched: tuple[Position, ...] = ()
    met: Position | None = None

    # the circuit check and the hands
    closing: Place | None = None
    closed_at: frozenset[Place] = frozenset()
    opens: int = 0
    cleared: bool = False
    hands: bool = False
    waived: bool = False
    proved: bool = False
    alone: bool = False

    # the offsets
    troubled: bool = False
    reads: tuple[tuple[int, Position], ...] = ()
    written: tuple[tuple[int, Position | None, Position | None], ...] = ()
    unread: int | None = None
    mismatch: bool = False
    put_back: frozenset[int] = frozenset()
    standing: tuple[tuple[int, Position | None], ...] = ()
    released: bool = False

    def fork(self) -> Monitor:
        """Return an independent copy."""
        twin = object.__new__(Monitor)
        for name in _SLOTS:
            setattr(twin, name, getattr(self, name))
        return twin

    def _broken(self, invariant: str, what: str) -> None:
        if self.violation is None:
            self.violation = Violation(invariant, what)

    # ---- orders -------------------------------------------------------------------------------------------

    def order(self, command: Command, session: Session) -> None:
        """Watch `command` being ordered."""
        self.commands += 1
        if self.commands > MOST_COMMANDS:
            self._broken("I7", f"{self.commands} commands and no end")
        if not isinstance(command, Finish) and not 0.0 < command.deadline_s < math.inf:
            self._broken("I7", f"{short(command)} has no deadline")
        match command:
            case Traverse():
                self._motion(command)
                self._traverse(command)
            case Sense():
                self._motion(command)
                self._sense(command)
            case WriteOffset():
                self._write(command, session)
            case ReadOffset():
                _only_numbers(self, (command.number,))
            case Ask():
                self._ask(command)
            case Look() | Stop() | Finish():
                pass

    def _motion(self, command: Traverse | Sense) -> None:
        _only_numbers(self, (*command.to, *(() if command.feed is None else (command.feed,))))
        if self.hands:
            self._broken(
                "I12", f"{short(command)} although nobody has said that hands are clear, or the circuit not steady"
            )
        if self.snapshot is None or not self.fresh or not self.snapshot.idle:
            self._broken("I1", f"{short(command)} without having seen the machine at rest")
        self.fresh = False
        self.still = False
        self.moved = True

    def _closed(self) -> bool:
        assert self.snapshot is not None
        blind = not self.setup.facts.circuit_known and self.setup.blind_waiver
        return self.snapshot.circuit is not Circuit.OPEN and not blind

    def _traverse(self, command: Traverse) -> None:
        assert self.snapshot is not None
        here = self.snapshot.position
        if self._closed() or self.must_back_off:
            if not self._leads_back(here, command.to):
                rule = "I3" if self.must_back_off and not self._closed() else "I2"
                self._broken(rule, f"{short(command)} from {here} leads elsewhere than back to {self.line_start}")
        else:
            self.line_start = here
            self.line_sensed = False
        if self.must_back_off:
            self.must_back_off = False
        elif self.must_see_open and not self._leads_back(here, command.to):
            self._broken("I3", f"{short(command)} before the circuit was seen open again")

    def _leads_back(self, here: Position, to: Position) -> bool:
        """Whether `to` lies on the line just travelled, between where it began and here."""
        begin, slack = self.line_start, self.setup.facts.position_slack
        if begin is None:
            return False
        if begin.distance(here) <= slack:
            return to.distance(begin) <= slack
        direction = here.minus(begin).unit()
        along = to.minus(begin).dot(direction)
        return distance_to_line(to, begin, direction) <= slack and -slack <= along <= begin.distance(here) + slack

    def _sense(self, command: Sense) -> None:
        snapshot, facts = self.snapshot, self.setup.facts
        assert snapshot is not None
        if self._closed():
            self._broken("I2", f"{short(command)} with the circuit closed")
        if snapshot.alarm or (snapshot.alarm is None and facts.alarm_known):
            self._broken("I1", f"{short(command)} with an alarm standing")
        measured = facts.spindle is SpindleKnowledge.MEASURED
        if snapshot.spindle is Spindle.TURNING or (measured and snapshot.spindle is None):
            self._broken("I1", f"{short(command)} with the spindle not known to be still")
        if self.must_back_off or self.must_see_open:
            self._broken("I3", f"{short(command)} before backing off and seeing the circuit open")
        if not self._is_proved() and not self._proves_it(command):
            self._broken("I10", f"{short(command)} without the circuit having been checked")
        if self.troubled:
            self._broken("I4", f"{short(command)} after trouble")
        here = snapshot.position
        if not self._goes_on(here, command.to):
            self.line_start = here
        self.line_sensed = True

    def _goes_on(self, here: Position, to: Position) -> bool:
        """Whether a sense from here continues the line of the senses before it."""
        if (
            not self.line_sensed
            or self.line_start is None
            or self.line_start.distance(here) == 0.0
            or here.distance(to) == 0.0
        ):
            return False
        direction = to.minus(here).unit()
        return here.minus(self.line_start).unit().dot(direction) > 1.0 - 1e-9

    def _proves_it(self, command: Sense) -> bool:
        """Whether this very sense is a machine's own check: slow, and after the circuit was seen steadily open."""
        course = self.setup.course
        touch = course.next(())
        slow = isinstance(touch, Touch) and command.feed <= touch.plan.slow_feed
        self.alone = self.alone or self.opens >= self.setup.steady
        return getattr(course, "proves", False) and slow and self.alone

    def _is_proved(self) -> bool:
        held = self.setup.proof
        earlier: frozenset[Place] = frozenset()
        if held is not None and held.restarts == self.restarts:
            earlier = held.places
        places = frozenset(self.setup.course.places)
        return self.waived or self.proved or places <= earlier

    def _ask(self, command: Ask) -> None:
        self.opens = 0
        self.closing = _CLOSING.get(command.question)
        if command.question is not Question.RELEASE:
            self.hands = True
            self.cleared = False
            self.proved = False

    def _write(self, command: WriteOffset, session: Session) -> None:
        _only_numbers(self, (command.number, *(value for _, value in command.axes)))
        self.still = False
        self._stands(command.number, None)
        known = {number: old for number, old, _ in self.written}
        restoring = command.number in known
        if restoring:
            if not self.mismatch:
                self._broken("I5", f"{short(command)} writes a second time without a mismatch")
            old = known[command.number]
            if old is None or any(abs(old[axis] - value) > 1e-9 for axis, value in command.axes):
                self._broken("I5", f"{short(command)} does not restore {old}")
            self.put_back |= {command.number}
            return
        if self.troubled or self.mismatch:
            self._broken("I4", f"{short(command)} after trouble")
        self._check_contacts(session)
        if self.setup.facts.offsets_readable:
            read = dict(self.reads).get(command.number)
            if read is None or command.old != read:
                self._broken("I5", f"{short(command)} although {read} was read")
            elif command.new != read.with_axes(dict(command.axes)):
                self._broken("I5", f"{short(command)} would touch other axes")
        self.written = (*self.written, (command.number, command.old, command.new))
        self.unread = command.number if self.setup.facts.offsets_readable else None

    def _check_contacts(self, session: Session) -> None:
        """I4: every planned contact was really met, in its window, and the repeats agree."""
        course, faces = self.setup.course, session.faces
        for index, face in enumerate(faces):
            touch = course.next(faces[:index])
            if not isinstance(touch, Touch):
                self._broken("I4", f"more faces than touches: {face.touch}")
                return
            used = face.contacts[1:][-touch.plan.retouches :] if touch.plan.retouches else face.contacts[:1]
            if len(face.contacts) < touch.plan.retouches + 1:
                self._broken(
                    "I4", f"{face.touch}: {len(face.contacts)} contacts of {touch.plan.retouches + 1} planned"
                )
            distances = [contact.distance for contact in used]
            if distances and max(distances) - min(distances) > touch.plan.spread:
                self._broken("I4", f"{face.touch}: contacts spread over {max(distances) - min(distances):.4f} mm")
            for contact in face.contacts:
                if contact.position not in self.touched:
                    self._broken("I4", f"{face.touch}: no contact was met and seen closed at {contact.position}")
                if not touch.near - 0.01 <= contact.distance <= touch.far + 0.01:
                    self._broken("I4", f"{face.touch}: contact outside its window at {contact.distance:.3f} mm")
        if isinstance(course.next(faces), Touch):
            self._broken("I4", "touches are left")

    # ---- replies ------------------------------------------------------------------------------------------

    def reply(self, command: Command, reply: Reply) -> None:
        """Watch the reply to `command`."""
        snapshot: Snapshot | None = None
        match reply:
            case Seen(snapshot=snapshot):
                pass
            case Arrived(rest=snapshot):
                pass
            case Touched(rest=snapshot, contact=contact):
                self.must_back_off = True
                self.must_see_open = True
                self.met = contact
            case Missed(rest=snapshot):
                self.troubled = True
            case Answered():
                self._answered(command, reply)
            case OffsetRead():
                self._offset_read(reply)
            case OffsetWritten():
                pass
            case TimedOut() if isinstance(command, Ask) and command.question is Question.RELEASE:
                pass  # nobody there to release: everything is set all the same
            case _:
                self.troubled = True
                self.unread = None
        if snapshot is not None:
            self._see(snapshot, command)

    def _see(self, snapshot: Snapshot, command: Command) -> None:
        if self.restarts is None:
            self.restarts = snapshot.restarts
        self.troubled = self.troubled or snapshot.restarts != self.restarts or bool(snapshot.alarm)
        self.snapshot = snapshot
        self.fresh = True
        self.still = snapshot.idle
        is_open = snapshot.circuit is Circuit.OPEN or (
            not self.setup.facts.circuit_known and self.setup.blind_waiver and self.closing is None
        )
        if self.met is not None and isinstance(command, Look):
            if not is_open or snapshot.circuit is None:
                self.touched = (*self.touched, self.met)
            self.met = None
        if is_open and not self.must_back_off:
            self.must_see_open = False
        if self.closing is not None and snapshot.circuit is not Circuit.OPEN:
            self.closed_at |= {self.closing}
            self.closing = None
        self.opens = self.opens + 1 if is_open else 0
        if self.opens >= self.setup.steady and self.cleared:
            self.hands = False
            self.proved = self.closed_at.issuperset(self.setup.course.places) or self._is_held()

    def _is_held(self) -> bool:
        held = self.setup.proof
        return held is not None and held.restarts == self.restarts and held.places >= set(self.setup.course.places)

    def _answered(self, command: Command, reply: Answered) -> None:
        assert isinstance(command, Ask)
        if reply.answer is Answer.WAIVE and command.question in _CLOSING:
            self.waived = True
        if reply.answer is not Answer.YES:
            self.closing = None
            return
        if command.question in (Question.CLEAR, Question.HANDS_AWAY):
            self.cleared = True
        if command.question is Question.RELEASE:
            self.released = True

    def _offset_read(self, reply: OffsetRead) -> None:
        if self.unread == reply.number:
            self.unread = None
            new = {number: new for number, _, new in self.written}[reply.number]
            self.mismatch = new is None or new.distance(reply.origin) > self.setup.facts.offset_resolution
        self.reads = (*self.reads, (reply.number, reply.origin))
        self._stands(reply.number, reply.origin)

    def _stands(self, number: int, origin: Position | None) -> None:
        """Note what was read of a work offset since it was last written; None: nothing yet."""
        self.standing = (*(entry for entry in self.standing if entry[0] != number), (number, origin))

    # ---- the end ------------------------------------------------------------------------------------------

    def end(self, session: Session) -> None:
        """Watch the run having ended: the state is done or faulted, and says only what was seen."""
        if session.state not in (State.DONE, State.FAULTED):
            self._broken("I6", f"the run ended while {session.state.value}")
        if session.state is State.FAULTED:
            if session.blame is None:
                self._broken("I6", "faulted without a fault")
            if session.standstill is Standstill.CONFIRMED and not self.still:
                self._broken("I6", "standstill is said to be confirmed, and was not seen")
            if session.standstill is Standstill.UNMOVED and self.moved:
                self._broken("I6", "nothing is said to have moved, and something was")
        # The test of the machine's own stop is done when trouble was noticed, and the machine seen to stand.
        awaited = getattr(self.setup.course, "awaits_trouble", False)
        if session.state is State.DONE and (not self.still if awaited else self.troubled):
            self._broken("I6", "done, after trouble or without having been seen to stand")
        if session.state is State.DONE and self.written and self.setup.facts.offsets_readable and self.mismatch:
            self._broken("I5", "done, and a work offset does not read as meant")
        if session.state is State.DONE and self.unread is not None:
            self._broken("I5", "done, and a work offset was not read back")
        if session.released and not self.released:
            self._broken("I11", "released, and nobody confirmed it")
        if self.written and self.setup.facts.offsets_readable:
            self._end_of_offsets(session)

    def _end_of_offsets(self, session: Session) -> None:
        """I5: what was not kept was put back, and what is said to stand was read since it was last written."""
        numbers = {number for number, _, _ in self.written}
        if session.state is State.FAULTED and self.mismatch and not self.troubled and not numbers <= self.put_back:
            self._broken("I5", f"work offsets {sorted(numbers - self.put_back)} were not kept, and not put back")
        standing, done = dict(self.standing), session.state is State.DONE
        for work in session.works:
            claims = {Stands.OLD: work.old, Stands.NEW: work.new}
            if work.number not in numbers:
                continue
            if work.stands is Stands.UNCONFIRMED or (done and work.stands is not Stands.NEW):
                self._broken("I5", f"of work offset {work.number} it is said at the end: {work.stands.value}")
            if work.stands not in claims:
                continue
            found, said = standing[work.number], claims[work.stands]
            if found is None or said is None or found.distance(said) > 2.0 * self.setup.facts.offset_resolution:
                self._broken("I5", f"work offset {work.number} is said to be {said}, and {found} was read last")


def _only_numbers(monitor: Monitor, values: tuple[object, ...]) -> None:
    for value in values:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            monitor._broken("I8", f"{value!r} would reach the controller")


_SLOTS = tuple(Monitor.__slots__)
