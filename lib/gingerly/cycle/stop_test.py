"""A small table of its own: see in free air, on the first day, that a touch really stops the motion.

The tool rises slowly, and a person touches it with the plate. Nothing is ever moved down: not after the contact,
since the plate and a hand are below, and not after trouble. This is the one run whose contact is followed by no
back-off.
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
from gingerly.messages.touches import Finding


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
    session.coming = Finding((), (("ran on", distance),))


# fmt: off
STOP_TEST: tuple[Row, ...] = (
    #   state          reply      when                                       note                           next           order
    Row(S.READY,       r.Started, always,                                    n.begin,                       S.CHECKING,    o.look),
    Row(S.CHECKING,    r.Seen,    both(is_open, proof_held, no(steady)),     n.open_count,                  S.CHECKING,    o.look_again),
    Row(S.CHECKING,    r.Seen,    both(is_open, proof_held, steady),         rise,                          S.APPROACHING, o.sense_fast),
    Row(S.CHECKING,    r.Seen,    both(is_open, no(proof_held)),             blame(f.CircuitNotChecked),    S.FAULTED,     o.finish),
    Row(S.CHECKING,    r.Seen,    is_untold,                                 blame(f.CircuitUnknown),       S.FAULTED,     o.finish),
    Row(S.CHECKING,    r.Seen,    both(no(is_untold), is_closed),            blame(f.CircuitAlreadyClosed), S.FAULTED,     o.finish),
    Row(S.APPROACHING, r.Touched, always,                                    n.meet,                        S.CONTACT,     o.look_settled),
    Row(S.APPROACHING, r.Missed,  always,                                    blame(f.NoContact),            S.STOPPING,    o.look),
    Row(S.CONTACT,     r.Seen,    both(is_touching, fit),                    ran_on,                        S.DONE,        o.finish),
    Row(S.CONTACT,     r.Seen,    both(is_touching, no(fit)),                blame(f.ImplausibleContact),   S.STOPPING,    o.look),
    Row(S.CONTACT,     r.Seen,    no(is_touching),                           blame(f.UnsteadyContact),      S.STOPPING,    o.look),
    Row(S.STOPPING,    r.Seen,    both(moving, looks_left),                  n.look_count,                  S.STOPPING,    o.look_again),
    Row(S.STOPPING,    r.Seen,    both(moving, no(looks_left)),              n.nothing,                     S.FAULTED,     o.finish),
    Row(S.STOPPING,    r.Seen,    no(moving),                                n.nothing,                     S.FAULTED,     o.finish),
)


def expanded() -> tuple[Row, ...]:
    """Return the whole table: `STOP_TEST`, then what each trouble does in each state, a line a group."""
    rows = list(STOP_TEST)
    for reply, fault in TROUBLE:
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.stop)   for s in (S.APPROACHING,)]
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.look)   for s in (S.READY, S.CHECKING, S.CONTACT)]
        rows += [Row(s, reply, always, n.afterwards, S.FAULTED,  o.finish) for s in (S.STOPPING,)]
    return tuple(rows)
# fmt: on


@cache
def stop_test_cycle() -> Cycle:
    """Return the compiled table, one for the process."""
    return Cycle(expanded())
