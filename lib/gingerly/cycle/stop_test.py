"""Two small tables of their own, for the first day: does a touch stop the motion in free air, and is a stop noticed?

The tool rises slowly. In the first a person touches test lead and plate together, in the second the machine's own
stop is pressed. Nothing is ever moved down: not after the contact, and not after trouble. These are the only runs
whose contact is followed by no back-off; and the second is the only one that ends well because trouble was noticed.
"""

from __future__ import annotations

from functools import cache

from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import (
    always,
    both,
    fit,
    is_closed,
    is_open,
    is_touching,
    is_untold,
    looks_left,
    moving,
    no,
    proof_held,
    steady,
)
from gingerly.cycle.machine import Cycle
from gingerly.cycle.notes import blame
from gingerly.cycle.session import Session
from gingerly.cycle.states import State as S
from gingerly.cycle.table import TROUBLE, Row
from gingerly.messages import faults as f
from gingerly.messages import replies as r
from gingerly.messages.touches import RAN_ON, STOP_SIGNS, Finding

NOTICED: dict[type[f.Fault], str] = {
    f.AlarmActive: "alarm",
    f.ControllerRestarted: "restart",
    f.PositionUnknown: "homing lost",
    f.PositionJumped: "standstill",
    f.NoAnswer: "silence",
}
"""Trouble by which a stop shows itself, and what it is called. A refusal is none: it may come before any motion; a
lost link is none either: nobody knows then whether the machine stands."""


def rise(session: Session, reply: r.Reply) -> None:
    """The circuit is steadily open: the tool rises from where it stands."""
    n.set_out(session, reply)
    session.trail = session.legs


def ran_on(session: Session, reply: r.Reply) -> None:
    """The motion was stopped by the touch: how far it ran on after that is what was to be found."""
    assert session.met is not None
    assert session.snapshot is not None
    rest = session.snapshot.position
    distance = rest.minus(session.met.position).dot(session.touch.direction)
    session.touches += 1
    session.coming = Finding((), ((RAN_ON, distance),))


def noticed(session: Session, reply: r.Reply) -> bool:
    """The first trouble came while the tool rose, and is such as a stop shows itself by."""
    return session.blame is not None and session.blame.state is S.APPROACHING and session.blame.fault in NOTICED


def tell_sign(session: Session, reply: r.Reply) -> None:
    """The machine stands: how the stop was noticed, and after how much of the rise, is what was to be found."""
    assert session.blame is not None
    assert session.snapshot is not None
    sign = NOTICED[session.blame.fault]
    risen = session.snapshot.position.minus(session.touch.start).dot(session.touch.direction)
    told = (sign + STOP_SIGNS[sign], risen if STOP_SIGNS[sign] else 0.0)
    session.coming = Finding((), (told,))


# fmt: off
CHECKS: tuple[Row, ...] = (
    #   state          reply      when                                       note                           next           order
    Row(S.READY,       r.Started, always,                                    n.begin,                       S.CHECKING,    o.look),
    Row(S.CHECKING,    r.Seen,    both(is_open, proof_held, no(steady)),     n.open_count,                  S.CHECKING,    o.look_again),
    Row(S.CHECKING,    r.Seen,    both(is_open, proof_held, steady),         rise,                          S.APPROACHING, o.sense_fast),
    Row(S.CHECKING,    r.Seen,    both(is_open, no(proof_held)),             blame(f.CircuitNotChecked),    S.FAULTED,     o.finish),
    Row(S.CHECKING,    r.Seen,    is_untold,                                 blame(f.CircuitUnknown),       S.FAULTED,     o.finish),
    Row(S.CHECKING,    r.Seen,    both(no(is_untold), is_closed),            blame(f.CircuitAlreadyClosed), S.FAULTED,     o.finish),
)

STOP_TEST: tuple[Row, ...] = (
    *CHECKS,
    Row(S.APPROACHING, r.Touched, always,                                    n.meet,                        S.CONTACT,     o.look_settled),
    Row(S.APPROACHING, r.Missed,  always,                                    blame(f.NotStopped),           S.STOPPING,    o.look),
    Row(S.CONTACT,     r.Seen,    both(is_touching, fit),                    ran_on,                        S.DONE,        o.finish),
    Row(S.CONTACT,     r.Seen,    both(is_touching, no(fit)),                blame(f.ImplausibleContact),   S.STOPPING,    o.look),
    Row(S.CONTACT,     r.Seen,    no(is_touching),                           blame(f.UnsteadyContact),      S.STOPPING,    o.look),
    Row(S.STOPPING,    r.Seen,    both(moving, looks_left),                  n.look_count,                  S.STOPPING,    o.look_again),
    Row(S.STOPPING,    r.Seen,    both(moving, no(looks_left)),              n.nothing,                     S.FAULTED,     o.finish),
    Row(S.STOPPING,    r.Seen,    no(moving),                                n.nothing,                     S.FAULTED,     o.finish),
)

OWN_STOP: tuple[Row, ...] = (
    *CHECKS,
    Row(S.APPROACHING, r.Touched, always,                                    blame(f.UnexpectedContact),    S.STOPPING,    o.look),
    Row(S.APPROACHING, r.Missed,  always,                                    blame(f.NotStopped),           S.STOPPING,    o.look),
    Row(S.STOPPING,    r.Seen,    both(moving, looks_left),                  n.look_count,                  S.STOPPING,    o.look_again),
    Row(S.STOPPING,    r.Seen,    both(moving, no(looks_left)),              n.nothing,                     S.FAULTED,     o.finish),
    Row(S.STOPPING,    r.Seen,    both(no(moving), noticed),                 tell_sign,                     S.DONE,        o.finish),
    Row(S.STOPPING,    r.Seen,    both(no(moving), no(noticed)),             n.nothing,                     S.FAULTED,     o.finish),
)


def expanded(table: tuple[Row, ...] = STOP_TEST) -> tuple[Row, ...]:
    """Return a whole table: its own rows, then what each trouble does in each state, a line a group."""
    rows, states = list(table), {row.state for row in table}
    resting = [state for state in (S.READY, S.CHECKING, S.CONTACT) if state in states]
    for reply, fault in TROUBLE:
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.stop)   for s in (S.APPROACHING,)]
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.look)   for s in resting]
        rows += [Row(s, reply, always, n.afterwards, S.FAULTED,  o.finish) for s in (S.STOPPING,)]
    return tuple(rows)
# fmt: on


@cache
def stop_test_cycle() -> Cycle:
    """Return the compiled table of the touch, one for the process."""
    return Cycle(expanded())


@cache
def own_stop_cycle() -> Cycle:
    """Return the compiled table of the machine's own stop, one for the process."""
    return Cycle(expanded(OWN_STOP))
