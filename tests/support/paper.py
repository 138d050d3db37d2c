"""A machine on paper: it answers the cycle's commands ideally, without asyncio and without time.

Its metal is three planes: a top face, and a wall each across X and Y. The tool is a point, so contacts lie in the
planes themselves. Tests bend its answers to see what the cycle does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from gingerly.cycle import Cycle, Session, Setup, Unhandled, cycle
from gingerly.geometry import Axis, Box, Corner, Limits, Position
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
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.replies import (
    Answered,
    Arrived,
    Missed,
    OffsetRead,
    OffsetWritten,
    Reply,
    Seen,
    Touched,
)
from gingerly.messages.snapshot import Circuit, Snapshot
from gingerly.plate import Plate
from gingerly.routines import OutsideCorner, Site, Surface, TopSpot
from gingerly.routines.course import PlannedCourse
from gingerly.stock import Stock
from gingerly.tool import Tool

FACTS = MachineFacts(
    name="paper",
    envelope=Box(Position(0.0, 0.0, -120.0), Position(400.0, 300.0, 0.0)),
    resolution=0.0025,
    acceleration=250.0,
    top_feed=1500.0,
    rapid_feed=2400.0,
    latch_s=Limits(0.0, 0.0),
    guard=Guard.POLLED,
)
PLATE = Plate(
    name="paper plate", size_a=52.0, size_b=55.0, height=12.0, recess_a=40.0, recess_b=41.0, recess_depth=6.0
)
STOCK = Stock(size_x=120.0, size_y=90.0, thickness=25.0, jaw_height=8.0)
PIN = Tool.pin("6 mm", free_length="30 mm")
CORNER = Position(150.0, 100.0, -60.0)
HERE = Position(20.0, 20.0, -5.0)
SITE = Site(facts=FACTS, here=HERE)
SPOT = TopSpot(tool=PIN, stock=STOCK, place=CORNER, plate=PLATE)


def corner_course(site: Site = SITE, spot: TopSpot = SPOT, **options: object) -> PlannedCourse:
    """The course of an outside corner on the paper stock, written to work offset 2."""
    return OutsideCorner(spot=spot, offset=2, **options).plan(site)  # type: ignore[arg-type]


def surface_course(site: Site = SITE, offset: int | None = 2) -> PlannedCourse:
    """The course of a surface on the paper stock."""
    return Surface(spot=SPOT, offset=offset).plan(site)


@dataclass
class Paper:
    """Answers commands as an ideal machine would; `overrun` is how far it runs on after a contact (mm)."""

    position: Position = HERE
    circuit: Circuit = Circuit.OPEN
    overrun: float = 0.02
    corner: Corner = Corner.FRONT_LEFT
    faces: dict[Axis, float] = field(default_factory=dict)
    offsets: dict[int, Position] = field(default_factory=lambda: {n: Position(1.0 * n, 2.0, 3.0) for n in range(1, 10)})
    extra: dict[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.faces = self.faces or true_contacts(CORNER, self.corner)

    def snapshot(self) -> Snapshot:
        return replace(Snapshot(self.position, True, circuit=self.circuit), **self.extra)  # type: ignore[arg-type]

    def answer(self, command: Command) -> Reply:
        match command:
            case Look():
                return Seen(self.snapshot())
            case Stop():
                return Seen(self.snapshot())
            case Traverse():
                self.position, self.circuit = command.to, Circuit.OPEN
                return Arrived(self.snapshot())
            case Sense():
                return self._sense(command)
            case ReadOffset():
                return OffsetRead(command.number, self.offsets[command.number])
            case WriteOffset():
                self.offsets[command.number] = self.offsets[command.number].with_axes(dict(command.axes))
                return OffsetWritten(command.number)
            case Ask():
                closing = command.question in (
                    Question.CLOSE_AT_TIP,
                    Question.CLOSE_AT_FLANK,
                    Question.CLOSE_AT_STOCK,
                )
                self.circuit = Circuit.CLOSED if closing else Circuit.OPEN
                return Answered(Answer.YES)
            case _:
                raise AssertionError(command)

    def _sense(self, command: Sense) -> Reply:
        direction = command.to.minus(self.position).unit()
        axis = max(Axis, key=lambda candidate: abs(direction[candidate]))
        distance = (self.faces[axis] - self.position[axis]) / direction[axis]
        if not 0.0 <= distance <= self.position.distance(command.to):
            self.position = command.to
            return Missed(self.snapshot())
        contact = self.position.plus(direction.times(distance))
        self.position = contact.plus(direction.times(self.overrun))
        self.circuit = Circuit.CLOSED
        return Touched(contact, self.snapshot())


def true_contacts(corner: Position, where: Corner, tool: Tool = PIN, plate: Plate | None = PLATE) -> dict[Axis, float]:
    """Where the tool's controlled point stands at contact with each face, from plate and tool dimensions."""
    found = {Axis.Z: corner.z + (plate.top if plate else 0.0)}
    for axis in (Axis.X, Axis.Y):
        lip = plate.axis_lip(where, axis) if plate else 0.0
        found[axis] = corner[axis] - where.inward[axis] * (lip + tool.radius)
    return found


Bend = Callable[[Session, Command, Reply], Reply]


@dataclass
class Told:
    """The story of one run: what was ordered in which state, and what came back."""

    session: Session
    commands: list[Command]
    replies: list[Reply]
    unhandled: Unhandled | None = None


def tell(setup: Setup, paper: Paper, bend: Bend | None = None, table: Cycle | None = None, most: int = 400) -> Told:
    """Run the cycle on paper; `bend` may replace any reply."""
    table = table or cycle()
    session, command = table.start(setup)
    told = Told(session, [command], [])
    while not isinstance(command, Finish):
        assert len(told.commands) < most, "the run does not end"
        reply = paper.answer(command)
        if bend is not None:
            reply = bend(session, command, reply)
        told.replies.append(reply)
        following = table.advance(session, reply)
        if isinstance(following, Unhandled):
            told.unhandled = following
            return told
        command = following
        told.commands.append(command)
    return told
