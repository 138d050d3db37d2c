"""The notes of the table: what the session remembers when a row fires. They order nothing.

`observe` runs before every note; the rows name the rest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from gingerly.cycle.explain import explain, told
from gingerly.cycle.judgement import concluded, is_same_origin, measured
from gingerly.cycle.session import Blame, Session, Work
from gingerly.cycle.triage import snapshot_of
from gingerly.messages.commands import MOTIONS, Question, Sense, Stop, WriteOffset
from gingerly.messages.faults import Fault, Stands
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import (
    Displaced,
    Early,
    OffsetRead,
    Refused,
    Reply,
    Restarted,
    Touched,
    Unhomed,
)
from gingerly.messages.touches import Finding, Leg, Place, Setting, Touch, Unusable, Way

Note = Callable[[Session, Reply], None]

UNTRUSTED = (Displaced, Early, Restarted, Unhomed)
"""Replies whose own snapshot shows that its position is not to be believed."""


def observe(session: Session, reply: Reply) -> None:
    """Remember what the reply shows of the machine."""
    snapshot = snapshot_of(reply)
    if snapshot is not None:
        session.snapshot = snapshot
        # What came sooner than the motion can have ended does not show that it has.
        session.still = snapshot.idle and not isinstance(reply, Early)
        session.heeded = session.heeded or (session.stopped and isinstance(session.command, Stop))
        if not isinstance(reply, UNTRUSTED):
            session.trusted = snapshot.position


def ordered(session: Session) -> None:
    """Remember the order that has just been given."""
    command = session.command
    if isinstance(command, MOTIONS):
        session.motion = command
        session.still = False
    elif isinstance(command, WriteOffset):
        session.still = False
    elif isinstance(command, Stop):
        session.stopped = True


def nothing(session: Session, reply: Reply) -> None:
    """Nothing to remember."""


# ---- the circuit check --------------------------------------------------------------------------------------


def begin(session: Session, reply: Reply) -> None:
    """The course says what comes first and where the circuit must be seen to close."""
    session.step = session.setup.course.next(())
    assert isinstance(session.step, Touch | Finding), "a course without touches can set nothing"
    assert session.setup.course.places, "a course says where the circuit must be seen to close"
    session.proof = session.setup.proof


def begin_way(session: Session, reply: Reply) -> None:
    """The course is a way to go, with nothing to touch."""
    session.step = session.setup.course.next(())
    assert isinstance(session.step, Way)
    session.legs = session.step.legs


def void_proof(session: Session, reply: Reply) -> None:
    """No earlier proof holds; every place is to be seen closed."""
    session.proof = None
    session.places_left = session.setup.course.places
    session.looks = 0


def prepare_hands(session: Session, reply: Reply) -> None:
    """Hands are needed at the tool before the next touch."""
    _ask_before(session, session.touch.question)


def seen_closed(session: Session, reply: Reply) -> None:
    """The circuit was seen closed at this place; it must be seen open again before the next, or before motion."""
    session.places_left = session.places_left[1:]
    if session.places_left:
        session.questions = (Question.OPEN,)
        session.looks = session.opens = 0
    else:
        _ask_before(session, session.step.question if isinstance(session.step, Touch) else None)


def waive(session: Session, reply: Reply) -> None:
    """A person goes without the proof; hands are to be clear all the same."""
    session.waived = True
    session.places_left = ()
    _ask_before(session, session.step.question if isinstance(session.step, Touch) else None)


def _ask_before(session: Session, question: Question | None) -> None:
    """Say what is asked before anything moves: what the touch needs, what only a person can see, and clear hands."""
    asked = [] if question is None else [question]
    if not session.in_force_told and session.proof is None:
        asked.append(Question.PLAIN_STATE)
    session.questions = (*asked, _last_question(session))
    session.looks = session.opens = 0


def _last_question(session: Session) -> Question:
    """What ends a circuit check: hands off the plate, with the warning where the machine moves next."""
    if session.setup.course.places == (Place.BENCH,):
        return Question.OPEN  # nothing is seated there, and whatever moves afterwards asks for itself
    # A check alone moves nothing, and a warning that comes in vain is not heeded when it counts.
    return Question.CLEAR if isinstance(session.step, Touch) else Question.HANDS_AWAY


def next_question(session: Session, reply: Reply) -> None:
    """The next question is due."""
    session.questions = session.questions[1:]


def look_count(session: Session, reply: Reply) -> None:
    """One more look was spent; an open circuit must be seen open again from the start."""
    session.looks += 1
    session.opens = 0


def open_count(session: Session, reply: Reply) -> None:
    """The circuit was open once more."""
    session.looks += 1
    session.opens += 1


def next_place(session: Session, reply: Reply) -> None:
    """The circuit is open again, and the next place is to be seen closed."""
    session.looks = session.opens = 0


def prove(session: Session, reply: Reply) -> None:
    """The circuit is proved; the way begins."""
    snapshot = snapshot_of(reply)
    assert snapshot is not None
    waived = session.waived or session.blind or (session.proof is not None and session.proof.waived)
    places = frozenset(session.setup.course.places)
    if session.proof is not None:
        places |= session.proof.places
    session.proof = Proof(places, snapshot.restarts, waived)
    _set_out(session)


# ---- the way ------------------------------------------------------------------------------------------------


def _set_out(session: Session) -> None:
    if isinstance(session.step, Touch):
        session.legs = session.step.legs
        session.contacts = ()
        session.extras = 0


def set_out(session: Session, reply: Reply) -> None:
    """The way to the next touch begins."""
    _set_out(session)


def stood(session: Session, reply: Reply) -> None:
    """The tool stands free at the end of a leg: one more point of the trail, or back at an earlier one."""
    leg, session.legs = session.legs[0], session.legs[1:]
    points = [point.to for point in session.trail]
    if leg.clear:
        session.trail = (leg,)
    elif leg.to in points:
        session.trail = session.trail[: points.index(leg.to) + 1]
    else:
        session.trail = (*session.trail, leg)


def gone_out(session: Session, reply: Reply) -> None:
    """The tool has arrived where the touch's way out ends; an exit on the line of approach joins the trail."""
    touch = session.touch
    if isinstance(session.coming, Touch) and session.trail[-1].to != touch.exit:
        straight_up = touch.direction.z == -1.0
        session.trail = (*session.trail, Leg(touch.exit, None if straight_up else touch.plan.leave_feed))
    assert session.coming is not None
    session.step, session.coming, session.behind = session.coming, None, None
    _set_out(session)


def hands_needed(session: Session, reply: Reply) -> None:
    """The way out is gone, and hands are needed at the tool before the next touch."""
    gone_out(session, reply)
    prepare_hands(session, reply)


def unwind(session: Session, reply: Reply) -> None:
    """The tool stands at the end of the trail: that point is behind it now."""
    session.behind, session.trail = session.trail[-1], session.trail[:-1]


# ---- the touch ----------------------------------------------------------------------------------------------


def meet(session: Session, reply: Reply) -> None:
    """A contact was latched; whether it is one, the next look will tell."""
    assert isinstance(reply, Touched)
    assert isinstance(session.command, Sense)
    session.met = measured(session.touch, reply.contact, feed=session.command.feed)
    session.longer = False


def take(session: Session, reply: Reply) -> None:
    """The contact counts."""
    assert session.met is not None
    session.contacts = (*session.contacts, session.met)


def spend_extra(session: Session, reply: Reply) -> None:
    """The contact does not count, or does not agree: one extra is spent."""
    session.extras += 1


def back_further(session: Session, reply: Reply) -> None:
    """The circuit stayed closed: the longer back-off is being tried."""
    session.longer = True


def conclude(session: Session, reply: Reply) -> None:
    """The contacts agree: one more face, and the course says what follows."""
    session.faces = (*session.faces, concluded(session))
    session.touches += 1
    session.coming = session.setup.course.next(session.faces)


# ---- the offsets --------------------------------------------------------------------------------------------


def gather(session: Session, reply: Reply) -> None:
    """All touches are taken; these work offsets are to be written."""
    gone_out(session, reply)
    assert isinstance(session.step, Setting)
    changes = session.step.changes
    session.works = tuple(Work(change.number, change.axes, change.relative) for change in changes)
    session.index = 0


def _update(session: Session, work: Work) -> None:
    session.works = (*session.works[: session.index], work, *session.works[session.index + 1 :])


def keep_old(session: Session, reply: Reply) -> None:
    """The origin that stands now is known, and with it the one that shall stand."""
    assert isinstance(reply, OffsetRead)
    work, old = session.work, reply.origin
    axes = tuple((axis, old[axis] + value) for axis, value in work.axes) if work.relative else work.axes
    _update(session, replace(work, axes=axes, relative=False, old=old, new=old.with_axes(dict(axes))))
    session.index = (session.index + 1) % len(session.works)


def written(session: Session, reply: Reply) -> None:
    """The controller took new values that cannot be read back."""
    _update(session, replace(session.work, stands=Stands.UNCONFIRMED))
    session.index = min(session.index + 1, len(session.works) - 1)


def await_read(session: Session, reply: Reply) -> None:
    """The controller took new values; which stand, the next reading tells."""
    _update(session, replace(session.work, stands=Stands.UNKNOWN))


def confirm(session: Session, reply: Reply) -> None:
    """The work offset reads as meant; the next one follows, if any."""
    assert isinstance(reply, OffsetRead)
    _update(session, replace(session.work, stands=Stands.NEW, read=reply.origin))
    session.index = min(session.index + 1, len(session.works) - 1)


def restored(session: Session, reply: Reply) -> None:
    """The controller took the old values back, and a reading will tell; the one written before follows, if any."""
    _update(session, replace(session.work, stands=Stands.UNKNOWN))
    session.restored += 1
    session.index = max(session.index - 1, 0)


def note_standing(session: Session, reply: Reply) -> None:
    """What stands is known for this work offset; the next one follows, if any."""
    assert isinstance(reply, OffsetRead)
    work, origin = session.work, reply.origin
    if is_same_origin(session, origin, work.old):
        stands = Stands.OLD
    elif is_same_origin(session, origin, work.new):
        stands = Stands.NEW
    else:
        stands = Stands.NEITHER
    _update(session, replace(work, stands=stands, read=origin))
    session.index = min(session.index + 1, len(session.works) - 1)


def release(session: Session, reply: Reply) -> None:
    """Lead and plate are off."""
    session.released = True
    session.proof = None


# ---- the way back -------------------------------------------------------------------------------------------


def retreated(session: Session, reply: Reply) -> None:
    """One more point of the trail has been reached on the way back."""
    session.retreated += 1
    unwind(session, reply)


def end_retreat(session: Session, reply: Reply) -> None:
    """The retreat ends here."""
    session.retreated += 1


def afterwards(session: Session, reply: Reply) -> None:
    """More trouble while the run is being ended: it is told, and changes nothing."""
    session.afterwards = (*session.afterwards, told(reply) or type(reply).__name__)


def blame(fault: type[Fault]) -> Note:
    """Return the note that sets `fault`, with what session and reply tell of it; the first fault of a run stays."""

    def accuse(session: Session, reply: Reply) -> None:
        _doubt(session, reply)
        session.proof = None
        if session.blame is None:
            code = reply.code if isinstance(reply, Refused) else ""
            session.blame = Blame(
                fault, session.state, told(reply) or explain(fault, session), code, session.trusted
            )
        else:
            afterwards(session, reply)
        session.looks = 0  # only now: how many were spent is told

    accuse.__name__ = f"!{fault.__name__}"
    return accuse


def suspect(fault: type[Fault]) -> Note:
    """Return the note that sets `fault` while offsets may be half changed: all of them are to be read again."""
    accuse = blame(fault)

    def accuse_and_recheck(session: Session, reply: Reply) -> None:
        accuse(session, reply)
        session.index = 0

    accuse_and_recheck.__name__ = accuse.__name__
    return accuse_and_recheck


def blame_course(session: Session, reply: Reply) -> None:
    """Set the fault that the course itself names."""
    gone_out(session, reply)
    assert isinstance(session.step, Unusable)
    session.blame = Blame(session.step.fault, session.state, session.step.detail, position=session.trusted)
    session.proof = None


def _doubt(session: Session, reply: Reply) -> None:
    """Whatever was ordered and not answered may have happened."""
    if isinstance(reply, OffsetRead):
        _update(session, replace(session.work, read=reply.origin))
    elif isinstance(session.command, WriteOffset):
        _update(session, replace(session.work, stands=Stands.UNKNOWN))
