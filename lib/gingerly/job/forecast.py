"""What a job will do, before it does anything: every move, its time, what limits it, and what forbids it.

Times are what the machine needs when every contact lies where it is expected: distance, feed and acceleration, and
the time that a contact may bounce. What people take is not in them. Nothing here moves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from gingerly.budgets.scatter import UNKNOWN
from gingerly.geometry import SLACK, Position, distance_to_line
from gingerly.job.model import Job, Part
from gingerly.kinematics import move_time
from gingerly.messages.commands import Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import PlanFault
from gingerly.messages.touches import Place, Touch
from gingerly.routines import PlannedCourse, Site
from gingerly.routines.course import foreseen_face
from gingerly.routines.preflight import Move, moves
from gingerly.routines.worth import budgets_of
from gingerly.uncertainty import Statement


@dataclass(frozen=True, slots=True)
class TouchForecast:
    """One touch to come: the moves that lead to its contact, and how long all of it takes (s).

    `window` is where along the sense a contact would be plausible (mm), `push` how far the tool would be pushed,
    at worst, where the lead is off (mm). `question` is asked before it.
    """

    name: str
    moves: tuple[Move, ...]
    window: tuple[float, float]
    push: float
    contacts: int
    duration_s: float
    limited_by: tuple[str, ...]
    question: Question | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartForecast:
    """One part to come. `objection` says why it would be refused; then there are no touches.

    `begins` is where the tool stands before it (mm), `places` where the circuit is to be proved first, and `steps`
    what the operator is asked for before it.
    """

    part: Part
    begins: Position
    touches: tuple[TouchForecast, ...] = ()
    places: tuple[Place, ...] = ()
    steps: tuple[Question, ...] = ()
    duration_s: float = 0.0
    objection: PlanFault | None = None
    course: PlannedCourse | None = None

    def statements(self) -> dict[str, Statement]:
        """Return how far off everything to be found may be, at 95 %, by name; empty where nobody can tell."""
        if self.course is None:
            return {}
        touches = (step for step in self.course.foreseen() if isinstance(step, Touch))
        faces = tuple(foreseen_face(touch) for touch in touches)
        return {name: budget.stated() for name, budget in budgets_of(self.course, faces, UNKNOWN).items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A whole job to come, part by part, on a machine with these facts."""

    job: Job
    facts: MachineFacts
    parts: tuple[PartForecast, ...]

    @property
    def duration_s(self) -> float:
        """How long the machine will take, in seconds."""
        return sum(part.duration_s for part in self.parts)

    @property
    def objections(self) -> tuple[tuple[Part, PlanFault], ...]:
        """Every part that would be refused, and why."""
        return tuple((entry.part, entry.objection) for entry in self.parts if entry.objection is not None)


def foresee(job: Job, facts: MachineFacts, here: Position) -> Forecast:
    """Return what the job will do on a machine with these facts, whose tool stands at `here` (mm)."""
    return Forecast(job=job, facts=facts, parts=tuple(_parts(job, facts, here)))


def _parts(job: Job, facts: MachineFacts, here: Position) -> Iterator[PartForecast]:
    before: Part | None = None
    for part in job.parts:
        known = before is not None and before.tool == part.tool
        site = Site(
            facts=facts,
            here=here,
            keep_outs=job.keep_outs,
            length_known=known,
            wishes=part.wishes,
            doubts=job.doubts,
        )
        steps = _steps(before, part)
        routine = part.compared(0.0) if part.compare_with is not None else part.routine
        before = part
        try:
            course = routine.plan(site)
        except PlanFault as fault:
            yield PartForecast(part=part, begins=here, steps=steps, objection=fault)
            continue
        touches = tuple(_touches(course, site))
        yield PartForecast(
            part=part,
            begins=here,
            touches=touches,
            places=course.places,
            steps=steps,
            duration_s=sum(touch.duration_s for touch in touches) + _way_out_s(course, facts),
            course=course,
        )
        here = _exit(course) or here


def _steps(before: Part | None, part: Part) -> tuple[Question, ...]:
    if before is None:
        return ()
    moved = () if part.same_setting(before) else (Question.NEXT_PART,)
    changed = () if part.tool == before.tool else (Question.CHANGE_TOOL,)
    return (*moved, *changed)


def _touches(course: PlannedCourse, site: Site) -> Iterator[TouchForecast]:
    planned = iter(moves(course, site.here))
    for touch in (step for step in course.foreseen() if isinstance(step, Touch)):
        way = tuple(islice(planned, len(touch.legs) + 1))
        yield TouchForecast(
            name=touch.name,
            moves=way,
            window=(touch.near, touch.far),
            push=touch.length - touch.near if touch.direction.z <= 0.0 else 0.0,  # nothing is pushed in free air
            contacts=1 + touch.plan.retouches,
            duration_s=_touch_s(touch, way, site.facts),
            limited_by=touch.plan.limited_by,
            question=touch.question,
        )


def move_s(move: Move, facts: MachineFacts) -> float:
    """Return how long one move takes, in seconds; of a sense, as far as its target."""
    return _move_s(move.start.distance(move.end), move.feed, facts)


def _move_s(distance: float, feed: float | None, facts: MachineFacts) -> float:
    return move_time(distance, feed=facts.rapid_feed if feed is None else feed, acceleration=facts.acceleration)


def _touch_s(touch: Touch, way: tuple[Move, ...], facts: MachineFacts) -> float:
    plan, expected = touch.plan, (touch.near + touch.far) / 2.0
    there = sum(move_s(move, facts) for move in way[:-1])
    fast = _move_s(expected, plan.fast_feed, facts) + facts.settle_s
    back = _move_s(plan.back_off, plan.leave_feed, facts)
    slow = _move_s(plan.back_off, plan.slow_feed, facts) + facts.settle_s
    contact = touch.start.plus(touch.direction.times(expected))
    out = sum(_move_s(distance, plan.leave_feed, facts) for distance in _way_back(touch, contact))
    return there + fast + plan.retouches * (back + slow) + back + out


def _way_back(touch: Touch, contact: Position) -> tuple[float, ...]:
    """How far it is from the contact to the exit: straight where that lies on the line, else by the start."""
    if distance_to_line(touch.exit, touch.start, touch.direction) <= SLACK:
        return (contact.distance(touch.exit),)
    return (contact.distance(touch.start), touch.start.distance(touch.exit))


def _way_out_s(course: PlannedCourse, facts: MachineFacts) -> float:
    """How long the way from the last touch to clearance takes: back up, at the feed at which it was left."""
    touches = [step for step in course.foreseen() if isinstance(step, Touch)]
    if not touches:
        return 0.0
    tops = [leg.to.z for touch in touches for leg in touch.legs if leg.clear]
    first, last = touches[0], touches[-1]
    aside = _move_s(last.exit.distance(first.exit), last.plan.leave_feed, facts) if last is not first else 0.0
    up = max(0.0, max(tops, default=first.exit.z) - first.exit.z)
    return aside + _move_s(up, last.plan.leave_feed, facts)


def _exit(course: PlannedCourse) -> Position | None:
    """Where the tool will stand when the course is over: at clearance above its last touch."""
    touches = [step for step in course.foreseen() if isinstance(step, Touch)]
    if not touches:
        return None
    tops = [leg.to.z for touch in touches for leg in touch.legs if leg.clear]
    end = touches[-1].exit
    return end._replace(z=max(end.z, *tops)) if tops else end
