"""A small table of its own: go a way and touch nothing, with test lead and plate taken off.

It speaks the cycle's messages, so the same driver and the same explorer serve it.
"""

from __future__ import annotations

from functools import cache

from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import (
    always,
    both,
    is_closed,
    is_open,
    legs_left,
    looks_left,
    may_retreat,
    moving,
    no,
)
from gingerly.cycle.machine import Cycle
from gingerly.cycle.notes import blame
from gingerly.cycle.states import State as S
from gingerly.cycle.table import TROUBLE, Row
from gingerly.messages import faults as f
from gingerly.messages import replies as r

# fmt: off
VIEW: tuple[Row, ...] = (
    #   state         reply      when                              note                           next           order
    Row(S.READY,      r.Started, always,                           n.begin_way,                   S.CHECKING,    o.look),
    Row(S.CHECKING,   r.Seen,    is_closed,                        blame(f.CircuitAlreadyClosed), S.FAULTED,     o.finish),
    Row(S.CHECKING,   r.Seen,    is_open,                          n.nothing,                     S.TRAVERSING,  o.leg),
    Row(S.TRAVERSING, r.Arrived, is_closed,                        blame(f.UnexpectedContact),    S.STOPPING,    o.look),
    Row(S.TRAVERSING, r.Arrived, both(is_open, legs_left),         n.stood,                       S.TRAVERSING,  o.leg),
    Row(S.TRAVERSING, r.Arrived, both(is_open, no(legs_left)),     n.stood,                       S.DONE,        o.finish),
    Row(S.STOPPING,   r.Seen,    both(moving, looks_left),         n.look_count,                  S.STOPPING,    o.look_again),
    Row(S.STOPPING,   r.Seen,    both(moving, no(looks_left)),     n.nothing,                     S.FAULTED,     o.finish),
    Row(S.STOPPING,   r.Seen,    both(no(moving), may_retreat),    n.nothing,                     S.RETREATING,  o.retrace),
    Row(S.STOPPING,   r.Seen,    both(no(moving), no(may_retreat)), n.nothing,                    S.FAULTED,     o.finish),
    Row(S.RETREATING, r.Arrived, always,                           n.end_retreat,                 S.FAULTED,     o.finish),
)


def expanded() -> tuple[Row, ...]:
    """Return the whole table: `VIEW`, then what each trouble does in each state, a line a group."""
    rows = list(VIEW)
    for reply, fault in TROUBLE:
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.stop)   for s in (S.TRAVERSING,)]
        rows += [Row(s, reply, always, blame(fault), S.STOPPING, o.look)   for s in (S.READY, S.CHECKING)]
        rows += [Row(s, reply, always, n.afterwards, S.FAULTED,  o.finish) for s in (S.STOPPING, S.RETREATING)]
    return tuple(rows)
# fmt: on


@cache
def view_cycle() -> Cycle:
    """Return the compiled table, one for the process."""
    return Cycle(expanded())
