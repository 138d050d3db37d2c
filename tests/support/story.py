"""Tell a run of the cycle on paper: what was ordered, what came back, how it ended."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from gingerly.cycle import Cycle, Session, Setup, State, Unhandled, cycle, outcome
from gingerly.explore.alphabet import deviations
from gingerly.explore.invariants import Monitor
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import FACTS, HERE, SITE, SPOT, paper_at
from gingerly.messages.commands import Command, Finish
from gingerly.messages.faults import Fault
from gingerly.messages.outcome import Outcome, Proof
from gingerly.messages.replies import Reply
from gingerly.messages.touches import Place
from gingerly.routines import OutsideCorner, Surface, ToolChange
from gingerly.routines.course import PlannedCourse

HELD = Proof(frozenset(Place), restarts=0)
"""A proof that covers every place, so that a story begins with the first leg."""

Bend = Callable[[State, Command, Paper], Reply | None]


@dataclass
class Story:
    """One run on paper, watched by the monitor."""

    session: Session
    states: list[State] = field(default_factory=list)
    commands: list[Command] = field(default_factory=list)
    replies: list[Reply] = field(default_factory=list)
    unhandled: Unhandled | None = None
    violation: str | None = None

    @property
    def outcome(self) -> Outcome:
        return outcome(self.session)

    @property
    def fault(self) -> Fault:
        found = self.outcome.fault
        assert found is not None, "the run ended well"
        return found

    def ordered(self, kind: type[Command]) -> list[Command]:
        return [command for command in self.commands if isinstance(command, kind)]

    def after(self, state: State) -> list[Command]:
        """The commands from the last time that the run was in `state`, the one ordered then left out."""
        last = max(index for index, seen in enumerate(self.states) if seen is state)
        return self.commands[last + 1 :]


def tell(
    setup: Setup, bend: Bend | None = None, *, paper: Paper | None = None, table: Cycle | None = None
) -> Story:
    """Run the cycle on paper to its end; `bend` may answer in the paper machine's stead."""
    table, paper = table or cycle(), paper or paper_at()
    session, command = table.start(setup)
    monitor, story = Monitor(setup), Story(session)
    monitor.order(command, session)
    while not isinstance(command, Finish):
        story.states.append(session.state)
        story.commands.append(command)
        reply = (bend(session.state, command, paper) if bend is not None else None) or paper.answer(command)
        story.replies.append(reply)
        monitor.reply(command, reply)
        following = table.advance(session, reply)
        if isinstance(following, Unhandled):
            story.unhandled = following
            return story
        command = following
        monitor.order(command, session)
        assert monitor.commands < 500, "the run does not end"
    story.states.append(session.state)
    story.commands.append(command)
    monitor.end(session)
    story.violation = str(monitor.violation) if monitor.violation else None
    return story


def deviating(state: State, name: str, *, turn: int = 1) -> Bend:
    """Answer with the deviation of this name the `turn`-th time that the run waits in `state`."""
    seen = 0

    def bend(at: State, command: Command, paper: Paper) -> Reply | None:
        nonlocal seen
        if at is not state:
            return None
        seen += 1
        if seen != turn:
            return None
        (chosen,) = [deviation for deviation in deviations(command) if deviation.name == name]
        return chosen.answer(paper, command)

    return bend


def several(*bends: Bend) -> Bend:
    """Let the first of `bends` that has something to say answer."""

    def bend(state: State, command: Command, paper: Paper) -> Reply | None:
        answers = [one(state, command, paper) for one in bends]
        return next((answer for answer in answers if answer is not None), None)

    return bend


def surface(*, proof: Proof | None = HELD, offset: int | None = 2, **setup: object) -> Setup:
    """A surface run on paper, whose circuit is proved unless said otherwise."""
    course: PlannedCourse = Surface(spot=SPOT, offset=offset).plan(SITE)
    return Setup(**{"facts": FACTS, "course": course, "here": HERE, "proof": proof, **setup})  # type: ignore[arg-type]


def corner(*, proof: Proof | None = HELD, **setup: object) -> Setup:
    """An outside corner on paper, whose circuit is proved unless said otherwise."""
    course = OutsideCorner(spot=SPOT, offset=2).plan(SITE)
    return Setup(**{"facts": FACTS, "course": course, "here": HERE, "proof": proof, **setup})  # type: ignore[arg-type]


def tool_change(*, offsets: tuple[int, ...] = (1, 2, 5), before: float = -50.0) -> Setup:
    """A tool change on paper that shifts a set of offsets."""
    course = ToolChange(spot=SPOT, before=before, offsets=offsets).plan(SITE)
    return Setup(facts=FACTS, course=course, here=HERE, proof=HELD)
