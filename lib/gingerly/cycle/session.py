"""What the cycle remembers of one run. The session changes in notes only; it copies in microseconds.

Everything it holds is immutable, so a copy of the session is a fork of the run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from gingerly.cycle.states import State
from gingerly.geometry import Position, distance_to_line
from gingerly.messages.commands import AxisValues, Command, Motion, Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import Fault, OffsetState, Stands, Standstill
from gingerly.messages.outcome import Proof
from gingerly.messages.snapshot import Circuit, Snapshot
from gingerly.messages.touches import Contact, Face, Finding, Leg, Place, Step, Touch

NO_STEP = Finding(())


class Course(Protocol):
    """A planned routine: a pure function of the faces found so far."""

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the circuit must have been seen to close before the first sense."""
        ...

    def next(self, faces: tuple[Face, ...]) -> Step:
        """Return the next touch, or what follows from the faces."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Everything that is fixed before a run begins.

    `here` is where the tool stood when the course was planned (mm), or None where that does not matter;
    `proof` what an earlier run of the same attachment leaves; `blind_waiver` that a person accepted to go on
    although the machine cannot tell the circuit; `hand_over` whether the run ends with the release of lead
    and plate; `patience_s` how long a person may take to answer. Looks are repeated every `look_again_s`, at
    most `looks` times, and the circuit counts as steadily open after `steady` of them in a row. These defaults are
    our own choice.
    """

    facts: MachineFacts
    course: Course
    here: Position | None = None
    proof: Proof | None = None
    blind_waiver: bool = False
    hand_over: bool = True
    patience_s: float = 1800.0
    looks: int = 20
    steady: int = 3
    look_again_s: float = 0.2


@dataclass(frozen=True, slots=True)
class Work:
    """One work offset on its way: which axes, its origin before, what is meant, and what was read last (mm)."""

    number: int
    axes: AxisValues
    relative: bool
    old: Position | None = None
    new: Position | None = None
    read: Position | None = None
    stands: Stands = Stands.OLD

    @property
    def state(self) -> OffsetState:
        """What people are told about this offset."""
        return OffsetState(self.number, self.old, self.new, self.stands, self.read)


@dataclass(frozen=True, slots=True)
class Blame:
    """The first trouble of a run: which fault, in which state, and what was found."""

    fault: type[Fault]
    state: State
    detail: str
    code: str = ""
    position: Position | None = None


@dataclass(slots=True, eq=False)
class Session:
    """One run of the cycle, from ready to done or faulted.

    `trusted` is where the machine stood when its position was last to be believed, `heeded` that a stop was answered.
    `trail` holds the points where the tool stood free since clearance, each as the leg that led there; it is
    the only way back, and `behind` is the point of it left last. `step` is what the course asks for now and
    `coming` what follows after the touch under way.
    """

    setup: Setup
    state: State = State.READY
    command: Command | None = None

    # the machine, as last seen
    snapshot: Snapshot | None = None
    trusted: Position | None = None
    still: bool = True
    motion: Motion | None = None
    stopped: bool = False
    heeded: bool = False
    retreated: int = 0

    # the circuit check
    places_left: tuple[Place, ...] = ()
    questions: tuple[Question, ...] = ()
    looks: int = 0
    opens: int = 0
    waived: bool = False
    proof: Proof | None = None

    # where it may go
    step: Step = NO_STEP
    coming: Step | None = None
    legs: tuple[Leg, ...] = ()
    trail: tuple[Leg, ...] = ()
    behind: Leg | None = None

    # the touch
    faces: tuple[Face, ...] = ()
    contacts: tuple[Contact, ...] = ()
    met: Contact | None = None
    extras: int = 0
    longer: bool = False
    touches: int = 0

    # the work offsets
    works: tuple[Work, ...] = ()
    index: int = 0
    restored: int = 0
    released: bool = False

    blame: Blame | None = None
    afterwards: tuple[str, ...] = ()

    def fork(self) -> Session:
        """Return an independent copy of the run as it stands."""
        twin = object.__new__(Session)
        for name in _SLOTS:
            setattr(twin, name, getattr(self, name))
        return twin

    @property
    def facts(self) -> MachineFacts:
        """The machine's facts."""
        return self.setup.facts

    @property
    def touch(self) -> Touch:
        """The touch under way; an `AssertionError` where the course has none is our own bug."""
        assert isinstance(self.step, Touch)
        return self.step

    @property
    def upcoming(self) -> Step:
        """What follows once the present way is gone: after a touch the next step, else the present one."""
        return self.step if self.coming is None else self.coming

    @property
    def work(self) -> Work:
        """The work offset whose turn it is."""
        return self.works[self.index]

    @property
    def way_out(self) -> Position:
        """Where the way out of this touch ends: its exit, or the trail's beginning once all touches are taken."""
        return self.touch.exit if isinstance(self.upcoming, Touch) else self.trail[0].to

    def lies_on_line(self, point: Position) -> bool:
        """Return whether `point` lies on the line of the last motion, seen from where that line began."""
        if self.motion is None or not self.trail:
            return False
        start, slack = self.trail[-1].to, self.facts.position_slack
        if start.distance(self.motion.to) <= slack:
            return start.distance(point) <= slack
        direction = self.motion.to.minus(start).unit()
        along = point.minus(start).dot(direction)
        reach = start.distance(self.motion.to) + slack + self.overtravel
        return -slack <= along <= reach and distance_to_line(point, start, direction) <= slack

    @property
    def overtravel(self) -> float:
        """How far past its end a sense may have run on, in mm."""
        return self.step.plan.overtravel if isinstance(self.step, Touch) else 0.0

    @property
    def blind(self) -> bool:
        """Whether this run goes on a person's word because the machine cannot tell the circuit."""
        return not self.facts.circuit_known and self.setup.blind_waiver

    @property
    def in_force_told(self) -> bool:
        """Whether the machine tells all that could be in force; what it leaves untold only a person can see."""
        told = self.snapshot.in_force if self.snapshot is not None else None
        return self.facts.in_force_known and (told is None or told.is_whole)

    def is_closed(self, snapshot: Snapshot, *, expected: Circuit) -> bool:
        """Return whether the circuit is closed; in a blind run it is taken to be as expected.

        Where nobody accepted to go on without, a machine that is said not to tell it is never seen open, even if it
        tells something.
        """
        circuit = snapshot.circuit
        if not self.facts.circuit_known:
            if not self.setup.blind_waiver:
                return True
            circuit = expected if circuit is None else circuit
        return circuit is not Circuit.OPEN

    @property
    def standstill(self) -> Standstill:
        """What may honestly be said about the machine's motion now."""
        if not self.still:
            return Standstill.UNCONFIRMED
        return Standstill.UNMOVED if self.motion is None else Standstill.CONFIRMED


_SLOTS = tuple(Session.__slots__)
