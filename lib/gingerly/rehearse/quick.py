"""The same runs, quicker: what is the same in thousands of rehearsals is worked out once.

The table is walked straight, row by row, instead of through its state machine; a course is planned once for each
place where it begins. Neither changes what a run does, and a test holds both ways side by side.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import fields
from functools import cache
from typing import Any

from gingerly.batch import Batch
from gingerly.cycle import Course, Cycle, Unhandled
from gingerly.cycle.conditions import Condition, parts
from gingerly.cycle.notes import observe, ordered
from gingerly.cycle.session import Session
from gingerly.cycle.table import Row
from gingerly.cycle.triage import triage
from gingerly.driver.machine import Machine
from gingerly.driver.result import Result
from gingerly.driver.run import Run
from gingerly.geometry import Position
from gingerly.messages.commands import Command, Finish
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import PlanFault
from gingerly.messages.replies import Reply
from gingerly.planner import Wishes
from gingerly.routines import PlannedCourse, Routine

OF_FACTS = {entry.name for entry in fields(MachineFacts)}

MOST_PLANS = 2000
"""So many courses are remembered at most. Our own choice."""


class StraightCycle(Cycle):
    """The rows of a cycle, each found by its state and reply."""

    def __init__(self, rows: tuple[Row, ...]) -> None:
        self.rows = rows
        self._by_reply: dict[tuple[str, str], list[tuple[tuple[Condition, ...], Row]]] = defaultdict(list)
        for row in rows:
            self._by_reply[row.state.value, row.reply.__name__].append((parts(row.when), row))

    def advance(self, session: Session, reply: Reply, elapsed_s: float | None = None) -> Command | Unhandled:
        """Return the next command, as `Cycle.advance` does."""
        found = triage(session, reply, elapsed_s)
        # Of an enum's member, `_value_` is found without a call; this is asked sixty times for each corner.
        known: dict[Condition, bool] = {}  # conditions are pure, and rows of one state share most of them
        for conditions, row in self._by_reply.get((session.state._value_, type(found).__name__), ()):
            for condition in conditions:
                holds = known.get(condition)
                if holds is None:
                    holds = known[condition] = condition(session, found)
                if not holds:
                    break
            else:
                observe(session, found)
                row.note(session, found)
                session.command = row.order(session)
                ordered(session)
                session.state = row.next
                return session.command
        return Unhandled(session.state, found)


@cache
def straight(table: Cycle) -> StraightCycle:
    """Return the same table, to be walked straight."""
    return StraightCycle(table.rows)


class Plans:
    """Courses that were planned before, for one machine and one job."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, Position, bool, Wishes], tuple[Routine, PlannedCourse]] = {}
        self.refuses_nothing = False
        """Whether the whole job was planned before without objection."""
        self.facts: MachineFacts | None = None
        """The facts of the virtual machine, the same in every run."""

    def with_facts(self, options: Mapping[str, Any]) -> Mapping[str, Any]:
        """Return a virtual machine's options with its facts as they were read before, where they were."""
        if self.facts is None:
            return options
        return {**{name: value for name, value in options.items() if name not in OF_FACTS}, "facts": self.facts}

    def planned(self, machine: QuickMachine, routine: Routine, here: Position, wishes: Wishes) -> PlannedCourse:
        """Return the course of a routine begun at `here` (mm); raises a `PlanFault` where it must not begin."""
        site = machine.site(here, routine, wishes=wishes)
        key = (id(routine), here, site.length_known, wishes)
        known = self._known.get(key)
        if known is not None and known[0] is routine:
            return known[1]
        course = routine.plan(site)
        if len(self._known) >= MOST_PLANS:
            self._known.clear()
        self._known[key] = (routine, course)
        return course


class QuickRun(Run):
    """A run that tells nobody, since nobody listens, nothing is recorded and no floor is shared in a rehearsal."""

    async def _until_ended(self) -> None:
        assert not self._events, "nobody listens to a rehearsal"
        carry, now, session = self._carrier.carry, self._clock.now, self.session
        while not isinstance(self._command, Finish):
            began = now()
            self._carrier.cause = None
            reply = await carry(self._command)
            blamed = session.blame
            self._advance(reply, now() - began)
            if blamed is None and session.blame is not None:
                self._cause = self._carrier.cause
        await self._end()


class QuickMachine(Machine):
    """A machine that is rehearsed with: `plans` are shared by all machines of one script."""

    plans: Plans
    _make_run = QuickRun

    def plan(self, routine: Routine, here: Position, *, wishes: Wishes | None = None) -> PlannedCourse:
        """Return the course of a routine begun at `here` (mm); raises a `PlanFault` where it must not begin."""
        return self.plans.planned(self, routine, here, self.wishes if wishes is None else wishes)

    async def _run(
        self, table: Cycle, course: Course, here: Position, *, hand_over: bool = False, metal: float = 0.0
    ) -> Result:
        return await super()._run(straight(table), course, here, hand_over=hand_over, metal=metal)


class QuickBatch(Batch):
    """A batch that plans its job beforehand only once for each script: all its runs begin alike."""

    def preflight(self, here: Position) -> Iterator[tuple[int, PlanFault]]:
        """Yield the index of each part that cannot be planned, and why; nothing, once nothing was found."""
        assert isinstance(self.machine, QuickMachine)
        plans = self.machine.plans
        if not plans.refuses_nothing:
            objections = list(super().preflight(here))
            plans.refuses_nothing = not objections
            yield from objections
