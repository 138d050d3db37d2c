"""A machine to script: connect, probe, hand over.

Each kind of run is one method here: it plans, takes the table that the run needs, and drives it. What may be asked
and read while nothing moves is in `gingerly.driver.station`; what outlives a run in `gingerly.driver.attachment`.
"""

from __future__ import annotations

from typing import ClassVar

from gingerly.budgets import DEFAULTS, Doubts
from gingerly.cycle import Course, Cycle, Setup, cycle
from gingerly.cycle.jog import jog_cycle
from gingerly.cycle.self_check import self_check_cycle
from gingerly.cycle.stop_test import own_stop_cycle, stop_test_cycle
from gingerly.cycle.view import view_cycle
from gingerly.driver.adapter import Adapter, Operator, Simulated
from gingerly.driver.events import RunStarted
from gingerly.driver.floor import Floor
from gingerly.driver.recorder import Recorder
from gingerly.driver.registry import make
from gingerly.driver.result import Result, refused
from gingerly.driver.run import Run
from gingerly.driver.scene import scene_for
from gingerly.driver.station import Station
from gingerly.geometry import KeepOut, Position
from gingerly.messages.facts import SpindleKnowledge
from gingerly.messages.faults import CircuitUnknown, Declined, Fault, ForeignState, SpindleTurning, Standstill
from gingerly.messages.outcome import Outcome
from gingerly.messages.touches import Leg, Place, Way
from gingerly.planner import ANY, Wishes
from gingerly.routines import PlannedCourse, Routine, Site, TopSpot
from gingerly.routines.course import CircuitCheck
from gingerly.routines.jog import JogStep
from gingerly.routines.look_at_zero import LookAtZero, WayCourse
from gingerly.routines.self_check import SelfCheck
from gingerly.routines.stop_test import StopTest
from gingerly.tool import Tool


class Machine(Station):
    """One machine behind one adapter. Use it as an asynchronous context manager.

    `operator` answers questions (None: nobody is there), `recorder` keeps the record, `keep_outs` and `wishes`
    bind every plan; `doubts` is what nobody measured. `blind_waiver` says that a person at this run accepts a
    machine that cannot tell the circuit; a job file cannot say that. Machines that the same people walk between
    share a `floor`: while one waits for hands, none of them moves. A person may take `patience_s` seconds to answer;
    half an hour is our own choice.
    """

    _make_run: ClassVar[type[Run]] = Run

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
        super().__init__(
            adapter, name=name, operator=operator, recorder=recorder, patience_s=patience_s, floor=floor
        )
        self.keep_outs = keep_outs
        self.wishes = wishes
        self.doubts = doubts
        self.blind_waiver = blind_waiver
        self.last: Result | None = None

    async def stage(
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
            self._attachment.use(routine_tool(routine))
            course = self.plan(routine, snapshot.position, wishes=wishes)
        except Fault as fault:
            self._leave_floor()
            return self._keep(type(routine).__name__, 0.0, refused(fault))
        self._attachment.assume()
        spot = getattr(routine, "spot", None)
        metal = spot.thickness() if isinstance(spot, TopSpot) else 0.0
        return await self._run(cycle(), course, snapshot.position, hand_over=hand_over, metal=metal)

    def plan(self, routine: Routine, here: Position, *, wishes: Wishes | None = None) -> PlannedCourse:
        """Return the course of a routine begun at `here` (mm); raises a `PlanFault` where it must not begin."""
        return routine.plan(self.site(here, routine, wishes=wishes))

    def site(self, here: Position, routine: Routine | None = None, *, wishes: Wishes | None = None) -> Site:
        """Return what a routine is planned for, with the tool standing at `here` (mm)."""
        tool = None if routine is None else routine_tool(routine)
        return Site(
            facts=self.facts,
            here=here,
            keep_outs=self.keep_outs,
            length_known=tool is not None and tool == self._attachment.touched_with,
            wishes=self.wishes if wishes is None else wishes,
            doubts=self.doubts,
        )

    async def continuity(self, places: tuple[Place, ...] = (Place.TIP,)) -> Result:
        """Check the circuit with the operator, open, closed, open; moves nothing. Raises the fault, if any."""
        self.void_proof()
        self._attachment.assume()
        snapshot = await self.look()
        result = await self._run(cycle(), CircuitCheck(places), snapshot.position)
        return result.raised()

    async def self_check(self, check: SelfCheck) -> Result:
        """Move the tool slowly onto a fixed reference and prove the circuit so, with nobody there to do it.

        Raises `CircuitUnknown`, `SpindleTurning` or `ForeignState` before any motion on a machine that cannot tell
        its circuit, does not measure its spindle or leaves untold what is in force, and the fault of the run where it
        ends in one.
        """
        self.void_proof()
        if not self.facts.circuit_known:
            raise CircuitUnknown("only a person can check the circuit here", done="no motion was ordered")
        if self.facts.spindle is not SpindleKnowledge.MEASURED:
            raise SpindleTurning("only a person can tell that the spindle is still", done="no motion was ordered")
        self._attachment.assume()
        snapshot = await self.look()
        if not (self.facts.in_force_known and snapshot.in_force is not None and snapshot.in_force.is_whole):
            raise ForeignState("only a person can see all of what is in force here", done="no motion was ordered")
        self._attachment.use(check.spot.tool)
        course = check.plan(self.site(snapshot.position))
        return (await self._run(self_check_cycle(), course, snapshot.position)).raised()

    async def look_at_zero(self, number: int, *, height: float, tool: Tool) -> Result:
        """Move the tool to `height` mm above the zero of work offset `number`, so that the eye can check it.

        Only after lead and plate are confirmed off, with the tool that touched, and for an offset that was set in
        this connection and still stands. Where a face was found above the zero, the height counts from that face.
        Raises `PlanFault` or any fault of the run.
        """
        if self.attached:
            raise Declined("test lead and plate are not confirmed off", done="no motion was ordered")
        origin = await self.read_offset(number)
        snapshot = await self.look()
        look = LookAtZero(
            origin,
            height=height,
            tool=tool,
            length_known=self._attachment.touched_with == tool,
            above=self._above(number, origin),
        )
        course = look.plan(self.site(snapshot.position))
        return (await self._run(view_cycle(), course, snapshot.position)).raised()

    def _above(self, number: int, origin: Position) -> float | None:
        """How far the stock is known to reach above the zero of this work offset; None where nobody knows."""
        zero = self._attachment.zeros.get(number)
        if zero is None or zero.origin.distance(origin) > 2.0 * self.facts.offset_resolution:
            return None
        return zero.above

    async def jog(self, step: JogStep, here: Position) -> Result:
        """Move one axis by one step, from `here` (mm), and return its result; raises the fault where it ends in one.

        Raises a `PlanFault` before any motion for a step that must not be taken. `gingerly.Jogger` makes the steps.
        """
        course = step.plan(self.site(here))
        return (await self._run(jog_cycle(), course, here)).raised()

    async def stop_test(self, test: StopTest, *, wishes: Wishes | None = None) -> Result:
        """Move the tool slowly up in free air until a person touches lead and plate together; it then stays there.

        Only while the circuit check on the bench holds. Raises a `PlanFault` without room above, or any fault of the
        run. `gingerly.driver.first_day` asks for all of it, in order.
        """
        here = (await self.look()).position
        course = test.plan(self.site(here, wishes=wishes))
        return (await self._run(stop_test_cycle(), course, here)).raised()

    async def own_stop_test(self, test: StopTest, *, wishes: Wishes | None = None) -> Result:
        """Move the tool slowly up in free air until the machine's own stop is pressed and this program notices.

        Raises what `stop_test` does; `NotStopped` where nothing was noticed.
        """
        here = (await self.look()).position
        course = test.plan_own_stop(self.site(here, wishes=wishes))
        return (await self._run(own_stop_cycle(), course, here)).raised()

    async def withdraw(self) -> Result:
        """Move the tool straight up to the top of Z, out of what it was interrupted in; nothing else moves.

        Only after lead and plate are confirmed off. Raises `Declined` before that, or any fault of the run.
        """
        if self.attached:
            raise Declined("test lead and plate are not confirmed off", done="no motion was ordered")
        here = (await self.look()).position
        up = Leg(here._replace(z=self.facts.envelope.high.z), clear=True)
        return (await self._run(view_cycle(), WayCourse(Way((up,))), here)).raised()

    async def _run(
        self, table: Cycle, course: Course, here: Position, *, hand_over: bool = False, metal: float = 0.0
    ) -> Result:
        setup = Setup(
            facts=self.facts,
            course=course,
            here=here,
            proof=self.proof,
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
                if self.floor is not None:
                    self.floor.stands(self.adapter, known=run.outcome.standstill is not Standstill.UNCONFIRMED)
                self._attachment.remember(course, run.outcome, metal=metal)
                self._keep(name, self.clock.now() - began, run.outcome, course)
        assert self.last is not None
        return self.last

    def _keep(self, routine: str, duration_s: float, outcome: Outcome, course: Course | None = None) -> Result:
        self.last = Result(self.name, routine, duration_s, outcome, course, self._attachment.scatter)
        if outcome.fault is not None:
            outcome.fault.result = self.last
        return self.last


def routine_tool(routine: Routine) -> Tool | None:
    """Return the tool that a routine touches with, as far as it says so."""
    tool = getattr(getattr(routine, "spot", None), "tool", None)
    return tool if isinstance(tool, Tool) else None


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
