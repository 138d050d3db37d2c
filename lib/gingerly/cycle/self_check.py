"""A small table of its own: the circuit check that a machine makes alone, with nobody there to hold the plate.

The circuit is seen steadily open, closes in a slow touch of a fixed reference whose place is known, and is seen open
again. What is touched, and what becomes of trouble, is the cycle's own.
"""

from __future__ import annotations

from functools import cache

from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import always, at_exit, both, is_closed, is_open, is_untold, no, steady
from gingerly.cycle.machine import Cycle
from gingerly.cycle.notes import blame
from gingerly.cycle.session import Session
from gingerly.cycle.states import ENDING, MOVING
from gingerly.cycle.states import State as S
from gingerly.cycle.table import CYCLE, TROUBLE, Row
from gingerly.cycle.triage import snapshot_of
from gingerly.messages import faults as f
from gingerly.messages import replies as r
from gingerly.messages.outcome import Proof

TOUCHING = (S.TRAVERSING, S.APPROACHING, S.CONTACT, S.BACKING_OFF, S.RETOUCHING, S.STOPPING, S.RETREATING)
"""The states whose rows are the cycle's own."""


def begin(session: Session, reply: r.Reply) -> None:
    """One touch is to prove the circuit; no earlier proof counts."""
    n.begin(session, reply)
    session.proof = None


def prove(session: Session, reply: r.Reply) -> None:
    """The touch was made and the tool is out again: the circuit is proved."""
    n.gone_out(session, reply)
    snapshot = snapshot_of(reply)
    assert snapshot is not None
    session.proof = Proof(frozenset(session.setup.course.places), snapshot.restarts)


# fmt: off
SELF_CHECK: tuple[Row, ...] = (
    #   state         reply      when                              note                           next          order
    Row(S.READY,      r.Started, always,                           begin,                         S.CHECKING,   o.look),
    Row(S.CHECKING,   r.Seen,    both(is_open, no(steady)),        n.open_count,                  S.CHECKING,   o.look_again),
    Row(S.CHECKING,   r.Seen,    both(is_open, steady),            n.set_out,                     S.TRAVERSING, o.leg),
    Row(S.CHECKING,   r.Seen,    is_untold,                        blame(f.CircuitUnknown),       S.FAULTED,    o.finish),
    Row(S.CHECKING,   r.Seen,    both(no(is_untold), is_closed),   blame(f.CircuitAlreadyClosed), S.FAULTED,    o.finish),
    Row(S.RETRACTING, r.Arrived, both(is_open, no(at_exit)),       n.unwind,                      S.RETRACTING, o.out),
    Row(S.RETRACTING, r.Arrived, both(is_open, at_exit),           prove,                         S.DONE,       o.finish),
    Row(S.RETRACTING, r.Arrived, is_closed,                        blame(f.UnexpectedContact),    S.STOPPING,   o.look),
)


def expanded() -> tuple[Row, ...]:
    """Return the whole table: `SELF_CHECK`, the cycle's touch, and what each trouble does in each state."""
    rows = [*SELF_CHECK, *(row for row in CYCLE if row.state in TOUCHING)]
    resting = (S.READY, S.CHECKING, S.CONTACT)
    for reply, fault in TROUBLE:
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.stop)   for s in MOVING]
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.look)   for s in resting]
        rows += [Row(s, reply, always, n.afterwards, S.FAULTED,  o.finish) for s in ENDING if s is not S.RECHECKING]
    return tuple(rows)
# fmt: on


@cache
def self_check_cycle() -> Cycle:
    """Return the compiled table, one for the process."""
    return Cycle(expanded())
