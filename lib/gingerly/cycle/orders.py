"""The orders of the table: pure builders of the next command, each with its deadline. They remember nothing."""

from __future__ import annotations

from collections.abc import Callable

from gingerly.cycle.session import Session
from gingerly.geometry import Position
from gingerly.kinematics import move_time
from gingerly.messages.commands import (
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
from gingerly.messages.touches import Touch

Order = Callable[[Session], Command]

PATIENCE = 1.5
"""A motion may take this many times its ideal time before it counts as unanswered. Our own choice."""


# ---- standing -----------------------------------------------------------------------------------------------


def look(session: Session) -> Command:
    """Look now."""
    return Look(0.0, session.facts.answer_s)


def look_again(session: Session) -> Command:
    """Look a little later."""
    return _look_after(session, session.setup.look_again_s)


def look_settled(session: Session) -> Command:
    """Look once a contact has had time to stop bouncing."""
    return _look_after(session, session.facts.settle_s)


def _look_after(session: Session, seconds: float) -> Command:
    return Look(seconds, seconds + session.facts.answer_s)


def stop(session: Session) -> Command:
    """Stop."""
    facts = session.facts
    return Stop(facts.answer_s + facts.rapid_feed / 60.0 / facts.acceleration)


def ask(session: Session) -> Command:
    """Ask the question that is due."""
    return Ask(session.questions[0], session.setup.patience_s)


def ask_close(session: Session) -> Command:
    """Ask for the circuit to be closed at the next place."""
    return Ask(session.places_left[0].question, session.setup.patience_s)


def ask_release(session: Session) -> Command:
    """Ask for lead and plate to be taken off."""
    return Ask(Question.RELEASE, session.setup.patience_s)


def finish(session: Session) -> Command:
    """Nothing more."""
    return Finish()


# ---- moving -------------------------------------------------------------------------------------------------


def _position(session: Session) -> Position:
    assert session.snapshot is not None
    return session.snapshot.position


def _traverse(session: Session, to: Position, feed: float | None) -> Command:
    seconds = _move_seconds(session, to, feed if feed is not None else session.facts.rapid_feed)
    return Traverse(to, feed, seconds)


def _sense(session: Session, to: Position, feed: float) -> Command:
    return Sense(to, feed, _move_seconds(session, to, feed))


def _move_seconds(session: Session, to: Position, feed: float) -> float:
    facts = session.facts
    ideal = move_time(_position(session).distance(to), feed=feed, acceleration=facts.acceleration)
    return PATIENCE * ideal + facts.answer_s


def leg(session: Session) -> Command:
    """Traverse the next leg of the way to the approach."""
    following = session.legs[0]
    return _traverse(session, following.to, following.feed)


def sense_fast(session: Session) -> Command:
    """Sense along the line of approach to its end."""
    return _sense(session, session.touch.end, session.touch.plan.fast_feed)


def sense_slow(session: Session) -> Command:
    """Sense slowly, giving up a little beyond the contacts taken."""
    touch = session.touch
    furthest = max(contact.distance for contact in session.contacts) + touch.plan.reach
    return _sense(session, touch.start.towards(touch.end, furthest), touch.plan.slow_feed)


def back(session: Session) -> Command:
    """Back off along the line of approach, never beyond where it began."""
    touch = session.touch
    to = _position(session).towards(touch.start, touch.plan.back_off)
    return _traverse(session, to, touch.plan.leave_feed)


def back_to_start(session: Session) -> Command:
    """Back off to where the approach began."""
    return _traverse(session, session.touch.start, session.touch.plan.leave_feed)


def out(session: Session) -> Command:
    """Go out one more point: to the exit where it lies on the line of approach, else back along the trail."""
    exit_ahead = isinstance(session.upcoming, Touch) and session.touch.exit not in (leg.to for leg in session.trail)
    return _traverse(session, session.touch.exit if exit_ahead else session.trail[-1].to, _feed_back(session))


def retrace(session: Session) -> Command:
    """Go back to the end of the trail, after trouble."""
    return _traverse(session, session.trail[-1].to, _feed_back(session))


def _feed_back(session: Session) -> float | None:
    """The feed of the leg that is taken back; off the metal, the feed of leaving it."""
    return session.touch.plan.leave_feed if session.behind is None else session.behind.feed


# ---- the offsets --------------------------------------------------------------------------------------------


def read(session: Session) -> Command:
    """Read the work offset whose turn it is."""
    return ReadOffset(session.work.number, session.facts.answer_s)


def write(session: Session) -> Command:
    """Write all touched axes of the work offset in one command."""
    work = session.work
    return WriteOffset(work.number, work.axes, work.old, work.new, session.facts.answer_s)


def write_old(session: Session) -> Command:
    """Write the old values of the touched axes back."""
    work = session.work
    assert work.old is not None
    old = tuple((axis, work.old[axis]) for axis, _ in work.axes)
    return WriteOffset(work.number, old, work.new, work.old, session.facts.answer_s)
