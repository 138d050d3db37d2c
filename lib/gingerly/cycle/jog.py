"""A small table of its own: one step of a jog, with the test circuit looked at before it and after it.

It speaks the cycle's messages, so the same driver and the same explorer serve it. While the circuit is closed the
only step that it orders leads back along the line just travelled, not beyond where that line began.
"""

from __future__ import annotations

from functools import cache

from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import always, both, looks_left, moving, no
from gingerly.cycle.machine import Cycle
from gingerly.cycle.notes import blame
from gingerly.cycle.session import Session
from gingerly.cycle.states import State as S
from gingerly.cycle.table import TROUBLE, Row
from gingerly.geometry import SLACK, Position, distance_to_line
from gingerly.messages import faults as f
from gingerly.messages import replies as r
from gingerly.messages.snapshot import Circuit


def closed(session: Session, reply: r.Reply) -> bool:
    """The circuit is seen closed; a machine that cannot tell it is taken to be open, and its step is short."""
    assert isinstance(reply, r.Seen)
    return reply.snapshot.circuit is Circuit.CLOSED


def leads_back(session: Session, reply: r.Reply) -> bool:
    """The step leads along the line that closed the circuit, towards where that line began, and not beyond."""
    assert isinstance(reply, r.Seen)
    here, to, slack = reply.snapshot.position, session.legs[0].to, session.facts.position_slack
    begin: Position | None = getattr(session.setup.course, "back_to", None)
    if begin is None or begin.distance(here) <= SLACK:
        return False
    way = begin.minus(here).unit()
    along = to.minus(here).dot(way)
    return distance_to_line(to, here, way) <= slack and 0.0 < along <= begin.distance(here) + SLACK


def begin(session: Session, reply: r.Reply) -> None:
    """The course is one step; an earlier proof of the circuit goes on holding."""
    n.begin_way(session, reply)
    session.proof = session.setup.proof


# fmt: off
JOG: tuple[Row, ...] = (
    #   state         reply      when                           note                           next          order
    Row(S.READY,      r.Started, always,                        begin,                         S.CHECKING,   o.look),
    Row(S.CHECKING,   r.Seen,    no(closed),                    n.nothing,                     S.TRAVERSING, o.leg),
    Row(S.CHECKING,   r.Seen,    both(closed, leads_back),      n.nothing,                     S.TRAVERSING, o.leg),
    Row(S.CHECKING,   r.Seen,    both(closed, no(leads_back)),  blame(f.CircuitAlreadyClosed), S.FAULTED,    o.finish),
    Row(S.TRAVERSING, r.Arrived, always,                        n.nothing,                     S.DONE,       o.finish),
    Row(S.STOPPING,   r.Seen,    both(moving, looks_left),      n.look_count,                  S.STOPPING,   o.look_again),
    Row(S.STOPPING,   r.Seen,    both(moving, no(looks_left)),  n.nothing,                     S.FAULTED,    o.finish),
    Row(S.STOPPING,   r.Seen,    no(moving),                    n.nothing,                     S.FAULTED,    o.finish),
)


def expanded() -> tuple[Row, ...]:
    """Return the whole table: `JOG`, then what each trouble does in each state, a line a group."""
    rows = list(JOG)
    for reply, fault in TROUBLE:
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.stop)   for s in (S.TRAVERSING,)]
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.look)   for s in (S.READY, S.CHECKING)]
        rows += [Row(s, reply, always, n.afterwards, S.FAULTED,  o.finish) for s in (S.STOPPING,)]
    return tuple(rows)
# fmt: on


@cache
def jog_cycle() -> Cycle:
    """Return the compiled table, one for the process."""
    return Cycle(expanded())
