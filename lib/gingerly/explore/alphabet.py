"""What may come back for each command besides the ideal reply: the alphabet of the explorer.

Every deviation has a name and makes a paper machine answer so; some leave the machine changed for good (a lead that
fell off, a restart), as they would in the workshop. The sizes of all deviations are our own choice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from gingerly.explore.paper import Paper
from gingerly.geometry import Position
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
from gingerly.messages.replies import (
    Aborted,
    Alarmed,
    Answered,
    Arrived,
    Disconnected,
    Early,
    Missed,
    OffsetRead,
    OffsetWritten,
    Refused,
    Reply,
    Restarted,
    Seen,
    TimedOut,
    Touched,
    Unrecorded,
)
from gingerly.messages.snapshot import Circuit, InForce, Snapshot, Spindle

Answerer = Callable[[Paper, Command], Reply]


@dataclass(frozen=True, slots=True)
class Deviation:
    """One way in which a reply may differ from the ideal one."""

    name: str
    answer: Answerer


# ---- trouble that may answer anything -----------------------------------------------------------------------


def _plain(reply: Reply) -> Answerer:
    return lambda paper, command: reply


def _after_doing(reply: Reply) -> Answerer:
    """The machine does what it was told, and the answer is lost."""

    def answer(paper: Paper, command: Command) -> Reply:
        paper.answer(command)
        return reply

    return answer


TROUBLES = (
    Deviation("refused", _plain(Refused("17"))),
    Deviation("alarm raised", _plain(Alarmed())),
    Deviation("restart reported", _plain(Restarted())),
    Deviation("timed out", _plain(TimedOut())),
    Deviation("link lost", _plain(Disconnected())),
    Deviation("not recorded", _plain(Unrecorded())),
    Deviation("interrupted", _plain(Aborted())),
)

LATE_TROUBLES = (
    Deviation("done, then timed out", _after_doing(TimedOut())),
    Deviation("done, then link lost", _after_doing(Disconnected())),
    Deviation("done, then interrupted", _after_doing(Aborted())),
)


# ---- snapshots ----------------------------------------------------------------------------------------------


def _with_snapshot(reply: Reply, snapshot: Snapshot) -> Reply:
    if isinstance(reply, Seen):
        return Seen(snapshot)
    if isinstance(reply, Arrived):
        return Arrived(snapshot)
    if isinstance(reply, Missed):
        return Missed(snapshot)
    if isinstance(reply, Touched):
        return Touched(reply.contact, snapshot)
    raise ValueError(f"{reply!r} brings no snapshot")


def _snapshot_of(reply: Reply) -> Snapshot:
    if isinstance(reply, Seen):
        return reply.snapshot
    assert isinstance(reply, Arrived | Missed | Touched)
    return reply.rest


def _once(**fields: object) -> Answerer:
    """This one snapshot differs."""

    def answer(paper: Paper, command: Command) -> Reply:
        reply = paper.answer(command)
        return _with_snapshot(reply, replace(_snapshot_of(reply), **fields))  # type: ignore[arg-type]

    return answer


def _for_good(**fields: object) -> Answerer:
    """This snapshot and all later ones differ."""

    def answer(paper: Paper, command: Command) -> Reply:
        paper.answer(command)
        paper.changed.update(fields)
        return _rest(paper, command)

    return answer


def _rest(paper: Paper, command: Command) -> Reply:
    """The same answer again, from the machine as it is now."""
    snapshot = paper.snapshot()
    if isinstance(command, Look | Stop):
        return Seen(snapshot)
    if isinstance(command, Traverse):
        return Arrived(snapshot)
    if paper.closed:
        return Touched(paper.position, snapshot)
    return Missed(snapshot)


def _stuck(circuit: Circuit) -> Answerer:
    def answer(paper: Paper, command: Command) -> Reply:
        paper.stuck = circuit
        return paper.answer(command)

    return answer


def _displaced(paper: Paper, command: Command) -> Reply:
    paper.answer(command)
    paper.position = paper.position.plus(Position(0.7, 0.0, 0.0))
    return _rest(paper, command)


SNAPSHOTS = (
    Deviation("circuit closed in one look", _once(circuit=Circuit.CLOSED)),
    Deviation("circuit open in one look", _once(circuit=Circuit.OPEN)),
    Deviation("circuit not told", _once(circuit=None)),
    Deviation("circuit stuck closed", _stuck(Circuit.CLOSED)),
    Deviation("lead off", _stuck(Circuit.OPEN)),
    Deviation("still moving", _once(idle=False)),
    Deviation("moving for good", _for_good(idle=False)),
    Deviation("at rest in one look", _once(idle=True)),
    Deviation("alarm standing", _for_good(alarm=True)),
    Deviation("alarm not told", _once(alarm=None)),
    Deviation("restarted", _for_good(restarts=1)),
    Deviation("spindle turning", _for_good(spindle=Spindle.TURNING)),
    Deviation("spindle not told", _once(spindle=None)),
    Deviation("homing lost", _for_good(homed=False)),
    Deviation("tool length offset in force", _for_good(in_force=InForce(tool_length=3.0))),
    Deviation("elsewhere", _displaced),
)


# ---- motions ------------------------------------------------------------------------------------------------


def _short(*, closed: bool) -> Answerer:
    """The motion ends half-way, because the circuit closed there or for no known reason."""

    def answer(paper: Paper, command: Command) -> Reply:
        assert isinstance(command, Traverse | Sense)
        begin = paper.position
        paper.position = begin.plus(command.to.minus(begin).times(0.5))
        paper.closed = closed
        return Arrived(paper.snapshot()) if isinstance(command, Traverse) else Missed(paper.snapshot())

    return answer


def _early(paper: Paper, command: Command) -> Reply:
    paper.answer(command)
    return Early(paper.snapshot(), "")


def _contact(
    *, along: float = 0.0, aside: float = 0.0, share: float | None = None, overrun: float = 0.02
) -> Answerer:
    """A contact that lies elsewhere: moved along or across the line, at a share of it, or with a longer run-on."""

    def answer(paper: Paper, command: Command) -> Reply:
        assert isinstance(command, Sense)
        begin = paper.position
        ideal = paper.answer(command)
        direction = command.to.minus(begin).unit()
        base = ideal.contact if isinstance(ideal, Touched) else command.to
        if share is not None:
            base = begin.plus(command.to.minus(begin).times(share))
        across = Position(0.0, 0.0, 1.0) if direction.z == 0.0 else Position(1.0, 0.0, 0.0)
        paper.overrun = overrun
        touched = paper.touch_at(base.plus(direction.times(along)).plus(across.times(aside)), direction)
        paper.overrun = 0.02
        return touched

    return answer


def _gives_way(paper: Paper, command: Command) -> Reply:
    """Every touch from now on pushes the face a little further on."""
    paper.gives = 0.03
    return paper.answer(command)


def _missed(paper: Paper, command: Command) -> Reply:
    assert isinstance(command, Sense)
    paper.position, paper.closed = command.to, False
    return Missed(paper.snapshot())


MOTIONS = (
    Deviation("short and closed", _short(closed=True)),
    Deviation("short and open", _short(closed=False)),
    Deviation("sooner than can be", _early),
)

SENSES = (
    Deviation("no contact", _missed),
    Deviation("contact far too early", _contact(share=0.05)),
    Deviation("contact too far on", _contact(share=0.999)),
    Deviation("contact beside the line", _contact(aside=0.4)),
    Deviation("contact that does not agree", _contact(along=0.06)),
    Deviation("ran on too far", _contact(overrun=0.9)),
    Deviation("plate gives way", _gives_way),
)


# ---- people and offsets -------------------------------------------------------------------------------------


def _yes_without_doing(paper: Paper, command: Command) -> Reply:
    return Answered(Answer.YES)


PEOPLE = (
    Deviation("said no", _plain(Answered(Answer.NO))),
    Deviation("waived", _plain(Answered(Answer.WAIVE))),
    Deviation("said yes and did nothing", _yes_without_doing),
    Deviation("nobody answered", _plain(TimedOut())),
    Deviation("interrupted", _plain(Aborted())),
    Deviation("not recorded", _plain(Unrecorded())),
)


def _reads_wrong(paper: Paper, command: Command) -> Reply:
    assert isinstance(command, ReadOffset)
    return OffsetRead(command.number, paper.offset(command.number).plus(Position(0.5, 0.0, 0.0)))


def _ignored(paper: Paper, command: Command) -> Reply:
    assert isinstance(command, WriteOffset)
    return OffsetWritten(command.number)


def _written_wrong(paper: Paper, command: Command) -> Reply:
    assert isinstance(command, WriteOffset)
    paper.answer(command)
    paper.offsets[command.number] = paper.offset(command.number).plus(Position(0.0, 1.0, 0.0))
    return OffsetWritten(command.number)


READS = (Deviation("reads wrong once", _reads_wrong),)
WRITES = (Deviation("write ignored", _ignored), Deviation("written wrong", _written_wrong))


def deviations(command: Command) -> tuple[Deviation, ...]:
    """Return every deviation that `command` may be answered with."""
    match command:
        case Look() | Stop():
            return SNAPSHOTS + TROUBLES
        case Traverse():
            return SNAPSHOTS + MOTIONS + TROUBLES + LATE_TROUBLES
        case Sense():
            return SNAPSHOTS + MOTIONS + SENSES + TROUBLES + LATE_TROUBLES
        case Ask():
            return PEOPLE
        case ReadOffset():
            return READS + TROUBLES
        case WriteOffset():
            return WRITES + TROUBLES + LATE_TROUBLES
        case _:
            return ()


def alphabet() -> dict[str, tuple[str, ...]]:
    """Return, for each command by name, the names of everything that may come back besides the ideal reply."""
    somewhere = Position(0.0, 0.0, 0.0)
    commands = (
        Look(0.0, 1.0),
        Traverse(somewhere, None, 1.0),
        Sense(somewhere, 1.0, 1.0),
        Stop(1.0),
        Ask(Question.CLEAR, 1.0),
        ReadOffset(1, 1.0),
        WriteOffset(1, (), None, None, 1.0),
    )
    return {
        type(command).__name__: tuple(deviation.name for deviation in deviations(command)) for command in commands
    }
