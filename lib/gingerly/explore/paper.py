"""A machine on paper: it answers the cycle's commands, without asyncio, without time, and forks in microseconds.

Its metal is three planes: a top face, and a wall each across X and Y, so contacts lie in the planes themselves. It
remembers what a machine would: where it stands, whether the circuit is closed, its offsets, its restarts.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from gingerly.geometry import Axis, Position
from gingerly.messages.commands import (
    Answer,
    Ask,
    Command,
    Look,
    Question,
    ReadOffset,
    Sense,
    Stop,
    Traverse,
    WriteOffset,
)
from gingerly.messages.replies import Answered, Arrived, Missed, OffsetRead, OffsetWritten, Reply, Seen, Touched
from gingerly.messages.snapshot import Circuit, Snapshot

CLOSING = (
    Question.CLOSE_AT_TIP,
    Question.CLOSE_AT_FLANK,
    Question.CLOSE_AT_STOCK,
    Question.CLOSE_AT_BENCH,
)


@dataclass(slots=True)
class Paper:
    """Answers commands as an ideal machine would.

    `faces` says where the controlled point stands at contact with the face across each axis (mm), and `overrun`
    how far the machine runs on after a contact; every touch pushes the faces on by `gives` mm. `stuck` holds the
    circuit open or closed whatever touches, and `changed` overrides fields of every snapshot.
    """

    position: Position
    faces: dict[Axis, float]
    overrun: float = 0.02
    gives: float = 0.0
    closed: bool = False
    stuck: Circuit | None = None
    offsets: dict[int, Position] = field(default_factory=dict)
    changed: dict[str, object] = field(default_factory=dict)

    def fork(self) -> Paper:
        """Return an independent copy."""
        return Paper(
            self.position,
            self.faces,
            self.overrun,
            self.gives,
            self.closed,
            self.stuck,
            dict(self.offsets),
            dict(self.changed),
        )

    def snapshot(self) -> Snapshot:
        """Return what the machine says about itself."""
        circuit = self.stuck or (Circuit.CLOSED if self.closed else Circuit.OPEN)
        plain = Snapshot(self.position, True, circuit=circuit)
        return replace(plain, **self.changed) if self.changed else plain  # type: ignore[arg-type]

    def offset(self, number: int) -> Position:
        """Return the origin of a work offset."""
        return self.offsets.get(number, Position(1.0 * number, 2.0, 3.0))

    def answer(self, command: Command) -> Reply:
        """Return the ideal reply to `command`, and change accordingly."""
        match command:
            case Look() | Stop():
                return Seen(self.snapshot())
            case Traverse():
                self.position, self.closed = command.to, False
                return Arrived(self.snapshot())
            case Sense():
                return self._sense(command)
            case ReadOffset():
                return OffsetRead(command.number, self.offset(command.number))
            case WriteOffset():
                self.offsets[command.number] = self.offset(command.number).with_axes(dict(command.axes))
                return OffsetWritten(command.number)
            case Ask():
                self.closed = command.question in CLOSING
                return Answered(Answer.YES)
            case _:
                raise ValueError(f"{command!r} asks for nothing")

    def _sense(self, command: Sense) -> Reply:
        direction = command.to.minus(self.position).unit()
        axis = max(Axis, key=lambda candidate: abs(direction[candidate]))
        distance = (self.faces[axis] - self.position[axis]) / direction[axis]
        if self.stuck is Circuit.OPEN or not 0.0 <= distance <= self.position.distance(command.to):
            self.position = command.to
            return Missed(self.snapshot())
        return self.touch_at(self.position.plus(direction.times(distance)), direction)

    def touch_at(self, contact: Position, direction: Position) -> Touched:
        """Return the reply to a sense that meets metal at `contact`, and come to rest a little further on."""
        self.position = contact.plus(direction.times(self.overrun))
        self.closed = True
        if self.gives:
            self.faces = {axis: face + self.gives * direction[axis] for axis, face in self.faces.items()}
        return Touched(contact, self.snapshot())
