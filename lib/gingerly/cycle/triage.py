"""One look at every snapshot before the table sees it.

An alarm, a restart, an unexplained position, a turning spindle, lost homing, a foreign state, an untold circuit
or a motion over too early turns the reply into one of that name. What is left for the table is a machine that is
as it was left. Nothing here orders or remembers anything.
"""

from __future__ import annotations

from gingerly.cycle.session import Session
from gingerly.cycle.states import ENDING, State
from gingerly.geometry import Position, distance_to_line
from gingerly.kinematics import speed_mm_s
from gingerly.messages.commands import MOTIONS, Sense, Traverse
from gingerly.messages.facts import Home, SpindleKnowledge
from gingerly.messages.replies import (
    Alarmed,
    Arrived,
    Blind,
    Displaced,
    Early,
    Foreign,
    Missed,
    Reply,
    Restarted,
    Seen,
    Touched,
    Turning,
    Unhomed,
)
from gingerly.messages.snapshot import AS_PROGRAMMED, Circuit, Snapshot, Spindle

RESTING = (Arrived, Touched, Missed)
"""What comes with a snapshot taken after standstill."""

TELLING = (Seen, Turning, Unhomed, Foreign, Displaced, Early, Blind, Alarmed, Restarted)
"""What tells of a snapshot. Both are tuples, made once: they are asked for at every reply."""

LOOKED_AT = (Seen, *RESTING)

EARLIEST = 0.8
"""A motion over in less than this share of distance / feed was not made as ordered. Our own choice: a motion can
never be quicker than distance / feed, and the rest is left to a clock that runs fast and to rounding."""


def snapshot_of(reply: Reply) -> Snapshot | None:
    """Return the snapshot that a reply brings, if it brings one."""
    if isinstance(reply, RESTING):
        return reply.rest
    if isinstance(reply, TELLING):
        return reply.snapshot
    return None


def triage(session: Session, reply: Reply, elapsed_s: float | None) -> Reply:
    """Return `reply`, or the reply that names what its snapshot gives away.

    `elapsed_s` is how long the command took, in seconds of the machine's clock; None where nobody measured.
    """
    if session.state in ENDING or not isinstance(reply, LOOKED_AT):
        return reply
    snapshot = reply.snapshot if isinstance(reply, Seen) else reply.rest
    return (
        _machine_trouble(session, snapshot, reply)
        or _position_trouble(session, snapshot, reply)
        or _time_trouble(session, snapshot, reply, elapsed_s)
        or reply
    )


def _machine_trouble(session: Session, snapshot: Snapshot, reply: Reply) -> Reply | None:
    facts = session.facts
    missed_into_alarm = isinstance(reply, Missed) and facts.alarm_on_miss
    if (snapshot.alarm and not missed_into_alarm) or (snapshot.alarm is None and facts.alarm_known):
        return Alarmed(snapshot, snapshot.alarm_detail)
    if session.snapshot is not None and snapshot.restarts != session.snapshot.restarts:
        return Restarted(snapshot)
    if facts.home is Home.SWITCHES and not snapshot.homed:
        return Unhomed(snapshot)
    if snapshot.spindle is Spindle.TURNING:
        return Turning(snapshot)
    if snapshot.spindle is None and facts.spindle is not SpindleKnowledge.BY_HAND:
        return Turning(snapshot)
    if snapshot.circuit is None and facts.circuit_known:
        return Blind(snapshot)
    if snapshot.in_force is None:
        return Foreign(snapshot, "the machine no longer tells what is in force") if facts.in_force_known else None
    if snapshot.in_force is not AS_PROGRAMMED and (oddities := snapshot.in_force.oddities()):
        return Foreign(snapshot, ", ".join(oddities))
    return None


def _position_trouble(session: Session, snapshot: Snapshot, reply: Reply) -> Reply | None:
    slack = session.facts.position_slack
    if not snapshot.idle:
        return Displaced(snapshot, "it moves although no motion is under way")
    if not snapshot.position.is_finite():
        return Displaced(snapshot, "it reports a position that is no number")
    if isinstance(reply, Touched):
        return _line_trouble(session, snapshot)
    expected = _expected_position(session, snapshot, reply)
    if expected is None:
        return None
    away = snapshot.position.distance(expected)
    if away <= slack:
        return None
    return Displaced(
        snapshot, f"expected {expected}, found {snapshot.position}: {away:.3f} mm away, {slack:.3f} mm allowed"
    )


def _line_trouble(session: Session, snapshot: Snapshot) -> Reply | None:
    """A sense that met something must have come to rest on its line; where on it, the table judges."""
    command, slack = session.command, session.facts.position_slack
    assert isinstance(command, Sense)
    assert session.snapshot is not None
    start = session.snapshot.position
    beside = distance_to_line(snapshot.position, start, command.to.minus(start).unit())
    if beside <= slack:
        return None
    return Displaced(snapshot, f"it rests {beside:.3f} mm beside its line at {snapshot.position}")


def _expected_position(session: Session, snapshot: Snapshot, reply: Reply) -> Position | None:
    """Return where the machine must be now, or None where the table judges that itself."""
    command = session.command
    if isinstance(reply, Seen):
        return session.snapshot.position if session.snapshot is not None else session.setup.here
    if isinstance(reply, Arrived) and isinstance(command, Traverse):
        if snapshot.circuit is not Circuit.CLOSED:
            return command.to
        # A guard may have cut the traverse short because the circuit closed: that is the table's business. But the
        # longer back-off leads on from there, so a back-off must have stayed on its line.
        return _nearest(session, snapshot, command.to) if session.state is State.BACKING_OFF else None
    if isinstance(reply, Missed) and isinstance(command, Sense):
        return command.to
    return None


def _nearest(session: Session, snapshot: Snapshot, to: Position) -> Position:
    """Return the point of the way to `to` that is nearest to where the machine stands."""
    assert session.snapshot is not None
    start = session.snapshot.position
    if start == to:
        return to
    return start.towards(to, max(0.0, snapshot.position.minus(start).dot(to.minus(start).unit())))


def _time_trouble(session: Session, snapshot: Snapshot, reply: Reply, elapsed_s: float | None) -> Reply | None:
    command = session.command
    if elapsed_s is None or session.snapshot is None or not isinstance(command, MOTIONS):
        return None
    reached = reply.contact if isinstance(reply, Touched) else snapshot.position
    distance = session.snapshot.position.distance(reached)
    feed = command.feed if command.feed is not None else session.facts.rapid_feed
    soonest = EARLIEST * distance / speed_mm_s(feed)
    if elapsed_s >= soonest:
        return None
    return Early(
        snapshot, f"{distance:.3f} mm took {elapsed_s:.3f} s, and at {feed:.0f} mm/min take {soonest:.3f} s"
    )
