"""The conditions of the table: pure predicates of session and reply, at most one true per state and reply."""

from __future__ import annotations

from collections.abc import Callable

from gingerly.cycle.judgement import agree, fits, is_early, is_marching, reads_as_meant
from gingerly.cycle.session import Session
from gingerly.cycle.states import ASKING, TOWARDS
from gingerly.messages.commands import Answer, Ask
from gingerly.messages.facts import Home
from gingerly.messages.faults import CircuitFault, ContactFault, ImplausibleContact, UnexpectedContact
from gingerly.messages.replies import Answered, Arrived, OffsetRead, Reply, Seen
from gingerly.messages.snapshot import Circuit, Snapshot, Spindle
from gingerly.messages.touches import Finding, Setting, Touch, Unusable

Condition = Callable[[Session, Reply], bool]


def always(session: Session, reply: Reply) -> bool:
    """Whatever the session and the reply."""
    return True


# ---- circuit ------------------------------------------------------------------------------------------------


def _snapshot(reply: Reply) -> Snapshot:
    if isinstance(reply, Seen):
        return reply.snapshot
    assert isinstance(reply, Arrived)
    return reply.rest


def is_open(session: Session, reply: Reply) -> bool:
    """The circuit is open, where open is what should be."""
    return not is_closed(session, reply)


def is_closed(session: Session, reply: Reply) -> bool:
    """The circuit is closed, where open is what should be."""
    return session.is_closed(_snapshot(reply), expected=Circuit.OPEN)


def is_touching(session: Session, reply: Reply) -> bool:
    """The circuit is closed, where closed is what should be."""
    return session.is_closed(_snapshot(reply), expected=Circuit.CLOSED)


def is_untold(session: Session, reply: Reply) -> bool:
    """The machine cannot tell the circuit, and nobody accepted to go on without."""
    return not session.facts.circuit_known and not session.setup.blind_waiver


def looks_left(session: Session, reply: Reply) -> bool:
    """Another look is allowed."""
    return session.looks < session.setup.looks


def steady(session: Session, reply: Reply) -> bool:
    """The circuit was open in enough looks in a row, this one included."""
    return session.opens + 1 >= session.setup.steady


def places_left(session: Session, reply: Reply) -> bool:
    """Another place must be seen to close."""
    return bool(session.places_left)


def proof_held(session: Session, reply: Reply) -> bool:
    """An earlier run of this attachment has shown all that this one relies on."""
    proof = session.setup.proof
    return (
        proof is not None
        and proof.places.issuperset(session.setup.course.places)
        and proof.restarts == _snapshot(reply).restarts
    )


# ---- people -------------------------------------------------------------------------------------------------


def said_yes(session: Session, reply: Reply) -> bool:
    """The operator said yes."""
    return isinstance(reply, Answered) and reply.answer is Answer.YES


def waived(session: Session, reply: Reply) -> bool:
    """The operator typed the word that waives this proof."""
    return isinstance(reply, Answered) and reply.answer is Answer.WAIVE


def asked(session: Session, reply: Reply) -> bool:
    """It is a person who has not answered, and not the machine."""
    return isinstance(session.command, Ask)


def asks_left(session: Session, reply: Reply) -> bool:
    """Another question comes before anything moves."""
    return len(session.questions) > 1


# ---- the way ------------------------------------------------------------------------------------------------


def touch_next(session: Session, reply: Reply) -> bool:
    """The course asks for a touch that needs no hands."""
    return isinstance(session.upcoming, Touch) and session.upcoming.question is None


def hands_next(session: Session, reply: Reply) -> bool:
    """The course asks for a touch that needs hands at the tool first."""
    return isinstance(session.upcoming, Touch) and session.upcoming.question is not None


def legs_left(session: Session, reply: Reply) -> bool:
    """More legs lead to the start of the approach, after the one just made."""
    return len(session.legs) > 1


def at_exit(session: Session, reply: Reply) -> bool:
    """The tool has arrived where this touch's way out ends."""
    assert isinstance(reply, Arrived)
    return reply.rest.position.distance(session.way_out) <= session.facts.position_slack


def to_set(session: Session, reply: Reply) -> bool:
    """Work offsets are to be written, and can be read first."""
    return isinstance(session.upcoming, Setting) and session.facts.offsets_readable


def to_set_unread(session: Session, reply: Reply) -> bool:
    """Work offsets are to be written, and cannot be read."""
    return isinstance(session.upcoming, Setting) and not session.facts.offsets_readable


def to_report(session: Session, reply: Reply) -> bool:
    """Nothing is to be written."""
    return isinstance(session.upcoming, Finding)


def unusable(session: Session, reply: Reply) -> bool:
    """The faces found do not allow to go on."""
    return isinstance(session.upcoming, Unusable)


# ---- the touch ----------------------------------------------------------------------------------------------


def early(session: Session, reply: Reply) -> bool:
    """The contact lies before its window."""
    return is_early(session)


def fit(session: Session, reply: Reply) -> bool:
    """The contact lies within its window, on the line, and the tool came to rest within the overtravel."""
    return not is_early(session) and fits(session)


def unfit(session: Session, reply: Reply) -> bool:
    """The contact lies where none can be."""
    return not is_early(session) and not fits(session)


def extra_left(session: Session, reply: Reply) -> bool:
    """Another extra touch is allowed."""
    return session.extras < session.touch.plan.extras


def none_taken(session: Session, reply: Reply) -> bool:
    """No contact has been taken yet."""
    return not session.contacts


def more_wanted(session: Session, reply: Reply) -> bool:
    """Contacts were taken, but fewer than planned."""
    return 0 < len(session.contacts) <= session.touch.plan.retouches


def enough(session: Session, reply: Reply) -> bool:
    """As many contacts were taken as planned."""
    return len(session.contacts) > session.touch.plan.retouches


def agreeing(session: Session, reply: Reply) -> bool:
    """The contacts agree."""
    return agree(session)


def marching(session: Session, reply: Reply) -> bool:
    """Each contact lies further on than the one before: something gives way."""
    return is_marching(session)


def scattered(session: Session, reply: Reply) -> bool:
    """The contacts disagree in no such order."""
    return not agree(session) and not is_marching(session)


def first_time(session: Session, reply: Reply) -> bool:
    """The longer back-off has not been tried at this contact."""
    return not session.longer


# ---- the offsets --------------------------------------------------------------------------------------------


def more_offsets(session: Session, reply: Reply) -> bool:
    """Another work offset follows."""
    return session.index + 1 < len(session.works)


def as_meant(session: Session, reply: Reply) -> bool:
    """The work offset reads as it was meant, the untouched axes included."""
    assert isinstance(reply, OffsetRead)
    return reads_as_meant(session, reply.origin)


def readable(session: Session, reply: Reply) -> bool:
    """The controller can tell its work offsets."""
    return session.facts.offsets_readable


def more_written(session: Session, reply: Reply) -> bool:
    """Another written work offset is to be restored."""
    return session.index > 0


def handing_over(session: Session, reply: Reply) -> bool:
    """The run ends with the release of lead and plate."""
    return session.setup.hand_over


# ---- the way back -------------------------------------------------------------------------------------------


def moving(session: Session, reply: Reply) -> bool:
    """The machine is not at rest yet."""
    return not _snapshot(reply).idle


def may_retreat(session: Session, reply: Reply) -> bool:
    """The machine is at rest and clear, this fault leaves its position trusted, and a trail leads back."""
    snapshot = _snapshot(reply)
    if not session.trail or session.blame is None or not _is_sound(session, snapshot):
        return False
    if not isinstance(session.step, Touch):
        return False  # all touches are taken and the way out is gone: it stands at clearance
    if not issubclass(session.blame.fault, CircuitFault | ContactFault) or session.blame.state in ASKING:
        return False  # not a fault to go back from, or hands may be near (I12)
    if not session.is_closed(snapshot, expected=Circuit.OPEN):
        return True
    # With the circuit closed only the line just travelled towards the metal may be taken back (I2).
    return session.blame.fault in (UnexpectedContact, ImplausibleContact) and session.blame.state in TOWARDS


def _is_sound(session: Session, snapshot: Snapshot) -> bool:
    facts = session.facts
    return (
        not snapshot.alarm
        and (snapshot.alarm is False or not facts.alarm_known)
        and session.snapshot is not None
        and snapshot.restarts == session.snapshot.restarts
        and (snapshot.homed is not False or facts.home is Home.NONE)
        and snapshot.spindle is not Spindle.TURNING
        and (snapshot.circuit is not None or not facts.circuit_known)
        and session.lies_on_line(snapshot.position)
    )


def free(session: Session, reply: Reply) -> bool:
    """The retreat has reached a free point, soundly, and the trail goes on."""
    snapshot = _snapshot(reply)
    return (
        snapshot.idle
        and len(session.trail) > 1
        and _is_sound(session, snapshot)
        and not session.is_closed(snapshot, expected=Circuit.OPEN)
        and snapshot.position.distance(session.trail[-1].to) <= session.facts.position_slack
    )


# ---- combinations -------------------------------------------------------------------------------------------


def both(*conditions: Condition) -> Condition:
    """Return the condition that all of `conditions` hold; they are asked in order, until one does not."""
    first, *others = conditions
    rest = both(*others) if others else always

    def every(session: Session, reply: Reply) -> bool:
        return first(session, reply) and rest(session, reply)

    every.__name__ = ", ".join(condition.__name__ for condition in conditions)
    every.parts = conditions  # type: ignore[attr-defined]
    return every


def parts(condition: Condition) -> tuple[Condition, ...]:
    """Return what a condition made by `both` consists of; any other condition is one part."""
    found: tuple[Condition, ...] = getattr(condition, "parts", (condition,))
    return found


def no(condition: Condition) -> Condition:
    """Return the condition that `condition` does not hold."""

    def opposite(session: Session, reply: Reply) -> bool:
        return not condition(session, reply)

    opposite.__name__ = f"not {condition.__name__}"
    return opposite
