"""What a fault tells people beyond its name: what was found, what was expected, in words and numbers."""

from __future__ import annotations

from collections.abc import Callable

from gingerly.cycle.session import Session
from gingerly.cycle.states import State
from gingerly.messages.commands import Question, Sense
from gingerly.messages.faults import (
    CircuitAlreadyClosed,
    CircuitNotChecked,
    CircuitUnknown,
    ContactsDisagree,
    Declined,
    Fault,
    ImplausibleContact,
    NoContact,
    NotStopped,
    OffsetNotKept,
    PlateMoved,
    StillClosed,
    UnexpectedContact,
    UnsteadyContact,
)
from gingerly.messages.replies import (
    Aborted,
    Alarmed,
    Disconnected,
    Displaced,
    Early,
    Foreign,
    Refused,
    Reply,
    Restarted,
    TimedOut,
    Unrecorded,
)


def told(reply: Reply) -> str:
    """Return what the reply itself says about the trouble, or nothing."""
    if isinstance(reply, Refused):
        return f"code {reply.code}" + (f": {reply.detail}" if reply.detail else "")
    if isinstance(
        reply, Foreign | Displaced | Early | Alarmed | Restarted | TimedOut | Disconnected | Unrecorded | Aborted
    ):
        return reply.detail
    return ""


def explain(fault: type[Fault], session: Session) -> str:
    """Return what the session can say about `fault` at the moment it is set."""
    explanation = _EXPLANATIONS.get(fault)
    return explanation(session) if explanation is not None else ""


def _no_contact(session: Session) -> str:
    touch, command = session.touch, session.command
    assert isinstance(command, Sense)
    pushed = max(0.0, command.to.minus(touch.start).dot(touch.direction) - touch.near)
    return (
        f"touch {touch.name!r}: the tool went from {touch.start} to {command.to} and the circuit never closed;"
        f" if it stands on metal now, it has been pushed up to {pushed:.3f} mm past where contact was possible"
    )


def _unexpected(session: Session) -> str:
    if session.state is State.CONTACT:
        return _window(session)
    where = session.snapshot.position if session.snapshot is not None else None
    return f"on the way to {session.motion.to}, at {where}" if session.motion is not None else ""


def _window(session: Session) -> str:
    touch, met = session.touch, session.met
    assert met is not None
    return (
        f"touch {touch.name!r}: contact at {met.distance:.3f} mm along the approach ({met.position}),"
        f" expected from {touch.near:.3f} to {touch.far:.3f} mm"
    )


def _implausible(session: Session) -> str:
    assert session.snapshot is not None
    assert session.met is not None
    ran_on = session.snapshot.position.minus(session.met.position).dot(session.touch.direction)
    return (
        f"{_window(session)}; the tool came to rest {ran_on:.3f} mm past it, {session.touch.plan.overtravel:.3f} mm"
        " allowed"
    )


def _scatter(session: Session) -> str:
    touch = session.touch
    found = ", ".join(f"{contact.distance:.4f}" for contact in session.contacts)
    return (
        f"touch {touch.name!r}: contacts at {found} mm along the approach, {touch.plan.spread:.4f} mm of spread"
        f" allowed, {session.extras} extra touches spent"
    )


def _still_closed(session: Session) -> str:
    where = session.snapshot.position if session.snapshot is not None else None
    return f"touch {session.touch.name!r}: still closed at the start of the approach, {where}"


def _unsteady(session: Session) -> str:
    return f"touch {session.touch.name!r}: contact lost again {session.extras + 1} times"


def _not_stopped(session: Session) -> str:
    risen = f"the tool rose to the end, by {session.touch.length:.3f} mm, and"
    if not getattr(session.setup.course, "awaits_trouble", False):
        return f"{risen} no touch of test lead and plate stopped it"
    return (
        f"{risen} nothing told the program of a stop; if it was pressed and the machine stopped all the same, the"
        " controller does not know: then home the machine after every use of its stop, and touch everything again"
    )


def _closed(session: Session) -> str:
    return "it must be open here, and stayed closed" if session.looks else "it must be open here"


def _not_checked(session: Session) -> str:
    place = session.places_left[0].value if session.places_left else "tool"
    return f"it stayed open at the {place} in {session.looks + 1} looks"


def _unknown(session: Session) -> str:
    if session.facts.circuit_known:
        return "its facts say that it can, and now it does not"
    return "its facts say that it cannot, and nobody at the run accepted to go on without"


def asked_in_vain(question: Question) -> str:
    """Return what is told of a question that nobody has answered with yes."""
    return f"the question {question.value!r} was not answered with yes"


def _declined(session: Session) -> str:
    if session.questions:
        return asked_in_vain(session.questions[0])
    return asked_in_vain(session.places_left[0].question) if session.places_left else ""


def _not_kept(session: Session) -> str:
    work = session.work
    return f"work offset {work.number}: {work.new} was meant, {work.read} was read"


_EXPLANATIONS: dict[type[Fault], Callable[[Session], str]] = {
    NoContact: _no_contact,
    UnexpectedContact: _unexpected,
    ImplausibleContact: _implausible,
    ContactsDisagree: _scatter,
    PlateMoved: _scatter,
    StillClosed: _still_closed,
    UnsteadyContact: _unsteady,
    CircuitAlreadyClosed: _closed,
    CircuitNotChecked: _not_checked,
    CircuitUnknown: _unknown,
    Declined: _declined,
    OffsetNotKept: _not_kept,
    NotStopped: _not_stopped,
}
