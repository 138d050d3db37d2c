"""A machine to script: connect, probe, hand over.

`Machine` holds what outlives a run: the connection, the proof of the circuit, and whether this tool's length is
known. One attachment of the test lead runs from the continuity check to the release.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from types import TracebackType
from typing import ClassVar, Self

from gingerly.budgets import DEFAULTS, Doubts
from gingerly.budgets.scatter import UNKNOWN
from gingerly.cycle import Course, Cycle, Setup, cycle
from gingerly.cycle.ending import fault_of
from gingerly.cycle.jog import jog_cycle
from gingerly.cycle.self_check import self_check_cycle
from gingerly.cycle.stop_test import stop_test_cycle
from gingerly.cycle.view import view_cycle
from gingerly.driver.adapter import Adapter, HasClock, Operator, Simulated
from gingerly.driver.carry import Carrier
from gingerly.driver.clock import Clock, WallClock
from gingerly.driver.events import Asked, Events, RunStarted
from gingerly.driver.floor import Floor
from gingerly.driver.recorder import Recorder
from gingerly.driver.registry import make
from gingerly.driver.rehearsal import scene_for
from gingerly.driver.result import Result as Result
from gingerly.driver.run import Run
from gingerly.geometry import Axis, KeepOut, Position
from gingerly.messages.commands import Answer, Ask, Command, Look, Question, ReadOffset, WriteOffset
from gingerly.messages.facts import MachineFacts, SpindleKnowledge
from gingerly.messages.faults import (
    CircuitUnknown,
    Declined,
    Fault,
    NotRecorded,
    OffsetNotKept,
    SpindleTurning,
    Standstill,
)
from gingerly.messages.outcome import Outcome, Proof
from gingerly.messages.replies import Answered, OffsetRead, Reply, Seen
from gingerly.messages.snapshot import Snapshot
from gingerly.messages.touches import Leg, Place, Way
from gingerly.planner import ANY, Wishes
from gingerly.routines import PlannedCourse, Routine, Site, TopSpot
from gingerly.routines.course import CircuitCheck
from gingerly.routines.jog import JogStep
from gingerly.routines.look_at_zero import LookAtZero, WayCourse
from gingerly.routines.self_check import SelfCheck
from gingerly.routines.stop_test import StopTest
from gingerly.tool import Tool


class Machine:
    """One machine behind one adapter. Use it as an asynchronous context manager.

    `operator` answers questions (None: nobody is there), `recorder` keeps the record, `keep_outs` and `wishes`
    bind every plan; `doubts` is what nobody measured. `blind_waiver` says that a person at this run accepts a
    machine that cannot tell the circuit; a job file cannot say that. Machines that the same people walk between
    share a `floor`: while one waits for hands, none of them moves.
    """

    def __init__(
        self,
        adapter: Adapter,
        *,
        name: str = "machine",
        operator: Operator | None = None,
        recorder: Recorder | None = None,
        keep_outs: tuple[KeepOut, ...] = (),
        wishes: Wishes = ANY,
        doubts: Doubts = DEFAULTS,
        blind_waiver: bool = False,
        patience_s: float = 1800.0,
        floor: Floor | None = None,
    ) -> None:
        self.adapter = adapter
        self.name = name
        self.events = Events()
        self.clock: Clock = adapter.clock if isinstance(adapter, HasClock) else WallClock()
        self.operator = operator
        self.recorder = recorder
        self.keep_outs = keep_outs
        self.wishes = wishes
        self.doubts = doubts
        self.scatter = UNKNOWN
        self.blind_waiver = blind_waiver
        self.patience_s = patience_s
        self.floor = floor
        self.last: Result | None = None
        self._proof: Proof | None = None
        self._touched_with: Tool | None = None
        self._attached = False

    # ---- connection -----------------------------------------------------------------------------------

    _make_run: ClassVar[type[Run]] = Run

    async def __aenter__(self) -> Self:
        await self.adapter.open()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._leave_floor()
        await self.adapter.close()

    def _leave_floor(self) -> None:
        if self.floor is not None:
            self.floor.leave(self.adapter)

    @property
    def facts(self) -> MachineFacts:
        """What is known of the machine."""
        return self.adapter.facts

    @property
    def proof(self) -> Proof | None:
        """The proof of the circuit that holds in this attachment, if any."""
        return self._proof

    @property
    def attached(self) -> bool:
        """Whether test lead and plate must be thought to be on the machine."""
        return self._attached

    async def look(self) -> Snapshot:
        """Return what the machine says about itself now; raises the fault where it says nothing."""
        reply = await self._ask_adapter(Look(0.0, self.facts.answer_s))
        assert isinstance(reply, Seen)
        return reply.snapshot

    async def read_offset(self, number: int) -> Position:
        """Return the origin of work offset `number` (1–9) in machine coordinates (mm).

        Raises the fault where the machine does not answer.
        """
        reply = await self._ask_adapter(ReadOffset(number, self.facts.answer_s))
        assert isinstance(reply, OffsetRead)
        return reply.origin

    async def _ask_adapter(self, command: Command) -> Reply:
        carrier = self._carrier()
        reply = await carrier.carry(command)
        trouble = fault_of(reply)
        if trouble is not None:
            raise trouble from carrier.cause
        return reply

    def _carrier(self) -> Carrier:
        return Carrier(self.adapter, self.operator, self.clock, self.name)

    async def rehearse(
        self, spot: TopSpot, *, name: str = "blank", skew: float = 0.0, lead_off_after: int | None = None
    ) -> Position:
        """Clamp a blank for `spot` on a simulated machine and let its own operator answer; moves nothing.

        Returns where the stock's corner truly is (mm): drawn within the spot's `within` from the simulation's
        seed and the blank's `name`, and turned by up to `skew` rad. Raises `TypeError` on a real machine.
        """
        if not isinstance(self.adapter, Simulated):
            raise TypeError(f"{self.name!r} is no simulation: its table cannot be set from here")
        self.operator = self.operator or self.adapter.operator
        here = (await self.look()).position
        return self.adapter.stage(scene_for(spot, here, name=name, skew=skew, lead_off_after=lead_off_after))

    # ---- runs -----------------------------------------------------------------------------------------

    async def probe(self, routine: Routine, *, hand_over: bool = False, wishes: Wishes | None = None) -> Result:
        """Move the machine through one routine and return its result; raises the fault where it ends in one.

        With `hand_over` the run ends by asking for the release of lead and plate; `wishes` are this run's own
        instead of the machine's. The raised fault carries the whole result as its ``result``.
        """
        return (await self.attempt(routine, hand_over=hand_over, wishes=wishes)).raised()

    async def attempt(self, routine: Routine, *, hand_over: bool = False, wishes: Wishes | None = None) -> Result:
        """Move the machine through one routine and return its result, whether or not it ends in a fault."""
        try:
            snapshot = await self.look()
            course = self.plan(routine, snapshot.position, wishes=wishes)
        except Fault as fault:
            self._leave_floor()
            return self._keep(type(routine).__name__, 0.0, refused(fault))
        self._attached = True
        return await self._run(cycle(), course, snapshot.position, hand_over=hand_over)

    def plan(self, routine: Routine, here: Position, *, wishes: Wishes | None = None) -> PlannedCourse:
        """Return the course of a routine begun at `here` (mm); raises a `PlanFault` where it must not begin."""
        return routine.plan(self.site(here, routine, wishes=wishes))

    def site(self, here: Position, routine: Routine | None = None, *, wishes: Wishes | None = None) -> Site:
        """Return what a routine is planned for, with the tool standing at `here` (mm)."""
        tool = getattr(getattr(routine, "spot", None), "tool", None)
        return Site(
            facts=self.facts,
            here=here,
            keep_outs=self.keep_outs,
            length_known=tool is not None and tool == self._touched_with,
            wishes=self.wishes if wishes is None else wishes,
            doubts=self.doubts,
        )

    async def continuity(self, places: tuple[Place, ...] = (Place.TIP,)) -> Result:
        """Check the circuit with the operator, open, closed, open; moves nothing. Raises the fault, if any."""
        self.void_proof()
        self._attached = True
        snapshot = await self.look()
        result = await self._run(cycle(), CircuitCheck(places), snapshot.position, hand_over=False)
        return result.raised()

    async def self_check(self, check: SelfCheck) -> Result:
        """Move the tool slowly onto a fixed reference and prove the circuit so, with nobody there to do it.

        Raises `CircuitUnknown` or `SpindleTurning` before any motion on a machine that cannot tell its circuit or
        does not measure its spindle, and the fault of the run where it ends in one.
        """
        self.void_proof()
        if not self.facts.circuit_known:
            raise CircuitUnknown("only a person can check the circuit here", done="no motion was ordered")
        if self.facts.spindle is not SpindleKnowledge.MEASURED:
            raise SpindleTurning("only a person can tell that the spindle is still", done="no motion was ordered")
        self._attached = True
        snapshot = await self.look()
        course = check.plan(self.site(snapshot.position))
        return (await self._run(self_check_cycle(), course, snapshot.position, hand_over=False)).raised()

    async def look_at_zero(self, number: int, *, height: float, tool: Tool) -> Result:
        """Move the tool to `height` mm above the zero of work offset `number`, so that the eye can check it.

        Only after lead and plate are confirmed off, and with the tool that touched. Raises `PlanFault` or any
        fault of the run.
        """
        if self._attached:
            raise Declined("test lead and plate are not confirmed off", done="no motion was ordered")
        origin = await self.read_offset(number)
        snapshot = await self.look()
        known = self._touched_with == tool
        course = LookAtZero(origin, height=height, tool=tool, length_known=known).plan(self.site(snapshot.position))
        return (await self._run(view_cycle(), course, snapshot.position, hand_over=False)).raised()

    async def jog(self, step: JogStep, here: Position) -> Result:
        """Move one axis by one step, from `here` (mm), and return its result; raises the fault where it ends in one.

        Raises a `PlanFault` before any motion for a step that must not be taken. `gingerly.Jogger` makes the steps.
        """
        course = step.plan(self.site(here))
        return (await self._run(jog_cycle(), course, here, hand_over=False)).raised()

    async def stop_test(self, test: StopTest) -> Result:
        """Move the tool slowly up in free air until a person touches it with the plate; it then stays there.

        Only while the circuit check holds. Raises a `PlanFault` without room above, or any fault of the run.
        """
        here = (await self.look()).position
        course = test.plan(self.site(here))
        return (await self._run(stop_test_cycle(), course, here, hand_over=False)).raised()

    async def withdraw(self) -> Result:
        """Move the tool straight up to the top of Z, out of what it was interrupted in; nothing else moves.

        Only after lead and plate are confirmed off. Raises `Declined` before that, or any fault of the run.
        """
        if self._attached:
            raise Declined("test lead and plate are not confirmed off", done="no motion was ordered")
        here = (await self.look()).position
        up = Leg(here._replace(z=self.facts.envelope.high.z), clear=True)
        return (await self._run(view_cycle(), WayCourse(Way((up,))), here, hand_over=False)).raised()

    async def _run(self, table: Cycle, course: Course, here: Position, *, hand_over: bool) -> Result:
        setup = Setup(
            facts=self.facts,
            course=course,
            here=here,
            proof=self._proof,
            blind_waiver=self.blind_waiver,
            hand_over=hand_over,
            patience_s=self.patience_s,
        )
        name = course.name if isinstance(course, PlannedCourse) else type(course).__name__
        began = self.clock.now()
        if self.events:
            self.events.emit(RunStarted(self.name, name, began))
        run = self._make_run(table, setup, self._carrier(), self.clock, self.events, self.recorder, self.floor)
        try:
            await run.go()
        finally:
            self._leave_floor()
            if run.outcome is not None:
                self._remember(course, run.outcome)
                self._keep(name, self.clock.now() - began, run.outcome, course)
        assert self.last is not None
        return self.last

    def _remember(self, course: Course, outcome: Outcome) -> None:
        self._proof = outcome.proof
        if outcome.released:
            self._attached = False
        touched_down = any(face.direction.z < 0.0 for face in outcome.faces)
        if outcome.fault is None and touched_down and isinstance(course, PlannedCourse):
            self._touched_with = course.tool
        if isinstance(course, PlannedCourse):
            self.scatter = self.scatter.grown(outcome.faces)

    def _keep(self, routine: str, duration_s: float, outcome: Outcome, course: Course | None = None) -> Result:
        self.last = Result(self.name, routine, duration_s, outcome, course, self.scatter)
        if outcome.fault is not None:
            outcome.fault.result = self.last
        return self.last

    # ---- people ---------------------------------------------------------------------------------------

    def void_proof(self) -> None:
        """Forget the proof of the circuit: the plate was moved, or something else was touched."""
        self._proof = None

    def tool_changed(self) -> None:
        """Forget the proof of the circuit and the tool's length."""
        self._proof = None
        self._touched_with = None

    async def ask(self, question: Question) -> bool:
        """Return whether the operator answered yes to `question`; False where nobody answers. Moves nothing.

        Question and answer are told and kept on record like those of a run. Raises `NotRecorded` where they
        cannot be kept.
        """
        command = Ask(question, self.patience_s)
        await self._kept(lambda recorder: recorder.before(command))
        reply = await self._asked(command)
        if isinstance(reply, Answered) and self.events:
            self.events.emit(Asked(question, reply.answer, self.clock.now()))
        await self._kept(lambda recorder: recorder.after(command, reply))
        return isinstance(reply, Answered) and reply.answer is Answer.YES

    async def _asked(self, command: Ask) -> Reply:
        if self.floor is None:
            return await self._carrier().carry(command)
        async with self.floor.during(command, self.adapter):
            reply = await self._carrier().carry(command)
        self.floor.answered(command, reply, self.adapter)
        return reply

    async def _kept(self, keep: Callable[[Recorder], Awaitable[None]]) -> None:
        if self.recorder is None:
            return
        try:
            await keep(self.recorder)
        except Exception as error:
            raise NotRecorded(str(error), state="asking", done="no motion was ordered") from error

    async def release(self) -> bool:
        """Ask for test lead and plate to be taken off, and return whether a person confirmed it; moves nothing.

        Raises what `ask` does.
        """
        self._proof = None
        confirmed = await self.ask(Question.RELEASE)
        self._attached = self._attached and not confirmed
        return confirmed

    def assume_attached(self) -> None:
        """Think of test lead and plate as on the machine until a person says otherwise: a record says so."""
        self._attached = True
        self._proof = None

    # ---- work offsets ---------------------------------------------------------------------------------

    async def put_back(self, number: int, old: Position, new: Position) -> None:
        """Write work offset `number`, which reads `new`, back to `old` (mm), and read it back; nothing moves.

        For a set of offsets of which a run that was cut off has written some only. Raises `OffsetNotKept` where
        it reads otherwise afterwards, `NotRecorded`, or the fault of the machine.
        """
        axes = tuple((axis, old[axis]) for axis in Axis if old[axis] != new[axis])
        write = WriteOffset(number, axes or ((Axis.Z, old.z),), new, old, self.facts.answer_s)
        for command in (write, ReadOffset(number, self.facts.answer_s)):
            await self._kept(partial(_before, command))
            reply = await self._ask_adapter(command)
            await self._kept(partial(_after, command, reply))
        assert isinstance(reply, OffsetRead)
        if max(abs(a - b) for a, b in zip(reply.origin, old, strict=True)) > self.facts.offset_resolution:
            detail = f"work offset {number} was written back to {old} and reads {reply.origin}"
            raise OffsetNotKept(detail, state="restoring", done="no motion was ordered")


def _before(command: Command, recorder: Recorder) -> Awaitable[None]:
    return recorder.before(command)


def _after(command: Command, reply: Reply, recorder: Recorder) -> Awaitable[None]:
    return recorder.after(command, reply)


def refused(fault: Fault) -> Outcome:
    """Return the outcome of a run that did not begin."""
    return Outcome(
        fault=fault,
        standstill=Standstill.UNMOVED,
        faces=(),
        touches=0,
        found=(),
        offsets=(),
        released=False,
        unconfirmed=(),
        proof=None,
        position=fault.position,
    )


def connect(
    adapter: str,
    *,
    name: str | None = None,
    operator: Operator | None = None,
    recorder: Recorder | None = None,
    keep_outs: tuple[KeepOut, ...] = (),
    wishes: Wishes = ANY,
    doubts: Doubts = DEFAULTS,
    blind_waiver: bool = False,
    floor: Floor | None = None,
    **options: object,
) -> Machine:
    """Return a machine behind the installed adapter of this name; it connects when entered.

    `options` go to the adapter. Raises `ValueError` for an unknown adapter or option.
    """
    return Machine(
        make(adapter, options),
        name=name or adapter,
        operator=operator,
        recorder=recorder,
        keep_outs=keep_outs,
        wishes=wishes,
        doubts=doubts,
        blind_waiver=blind_waiver,
        floor=floor,
    )
