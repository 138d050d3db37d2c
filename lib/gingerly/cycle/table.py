"""The whole cycle as a table that can be read aloud.

"While *state*, on *reply*, when *condition*: remember *note*, go to *next*, and order *order*." A note that
begins with ``!`` sets the fault. At most one condition per state and reply is true. There are no steps outside
this table: what it does not name is refused, and the driver then stops the machine.

`CYCLE` is only about touching. `TROUBLE` says which reply means which fault; `expanded` writes out, for each
group of states, where such trouble leads.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import (
    Condition,
    agreeing,
    always,
    as_meant,
    asked,
    asks_left,
    at_exit,
    both,
    early,
    enough,
    extra_left,
    first_time,
    fit,
    free,
    handing_over,
    hands_next,
    is_closed,
    is_open,
    is_touching,
    is_untold,
    legs_left,
    looks_left,
    marching,
    may_retreat,
    more_offsets,
    more_wanted,
    more_written,
    moving,
    no,
    none_taken,
    places_left,
    proof_held,
    readable,
    said_yes,
    scattered,
    steady,
    to_report,
    to_set,
    to_set_unread,
    touch_next,
    unfit,
    unusable,
    waived,
)
from gingerly.cycle.notes import Note, blame
from gingerly.cycle.orders import Order
from gingerly.cycle.states import ASKING, ENDING, GIVING_OVER, MOVING, READING_BACK, RESTING, WRITING
from gingerly.cycle.states import State as S
from gingerly.messages import faults as f
from gingerly.messages import replies as r


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table."""

    state: S
    reply: type[r.Reply]
    when: Condition
    note: Note
    next: S
    order: Order


# fmt: off
CYCLE: tuple[Row, ...] = (
    #   state              reply            when                                   note                           next               order
    Row(S.READY,           r.Started,       always,                                n.begin,                       S.CHECKING,        o.look),
    Row(S.CHECKING,        r.Seen,          both(is_open, proof_held, touch_next), n.set_out,                     S.TRAVERSING,      o.leg),
    Row(S.CHECKING,        r.Seen,          both(is_open, no(proof_held)),         n.void_proof,                  S.AWAITING_CLOSED, o.ask_close),
    Row(S.CHECKING,        r.Seen,          both(is_open, proof_held, hands_next), n.prepare_hands,               S.AWAITING_OPENED, o.ask),
    Row(S.CHECKING,        r.Seen,          both(is_open, proof_held, to_report),  n.nothing,                     S.DONE,            o.finish),
    Row(S.CHECKING,        r.Seen,          is_untold,                             blame(f.CircuitUnknown),       S.FAULTED,         o.finish),
    Row(S.CHECKING,        r.Seen,          both(no(is_untold), is_closed),        blame(f.CircuitAlreadyClosed), S.FAULTED,         o.finish),
    Row(S.AWAITING_CLOSED, r.Answered,      said_yes,                              n.nothing,                     S.AWAITING_CLOSED, o.look),
    Row(S.AWAITING_CLOSED, r.Answered,      waived,                                n.waive,                       S.AWAITING_OPENED, o.ask),
    Row(S.AWAITING_CLOSED, r.Answered,      both(no(said_yes), no(waived)),        blame(f.Declined),             S.STOPPING,        o.look),
    Row(S.AWAITING_CLOSED, r.Seen,          is_touching,                           n.seen_closed,                 S.AWAITING_OPENED, o.ask),
    Row(S.AWAITING_CLOSED, r.Seen,          both(no(is_touching), looks_left),     n.look_count,                  S.AWAITING_CLOSED, o.look_again),
    Row(S.AWAITING_CLOSED, r.Seen,          both(no(is_touching), no(looks_left)), blame(f.CircuitNotChecked),    S.FAULTED,         o.finish),
    Row(S.AWAITING_OPENED, r.Answered,      both(said_yes, asks_left),             n.next_question,               S.AWAITING_OPENED, o.ask),
    Row(S.AWAITING_OPENED, r.Answered,      both(said_yes, no(asks_left)),         n.nothing,                     S.AWAITING_OPENED, o.look),
    Row(S.AWAITING_OPENED, r.Answered,      no(said_yes),                          blame(f.Declined),             S.STOPPING,        o.look),
    Row(S.AWAITING_OPENED, r.Seen,          both(is_closed, looks_left),           n.look_count,                  S.AWAITING_OPENED, o.look_again),
    Row(S.AWAITING_OPENED, r.Seen,          both(is_closed, no(looks_left)),       blame(f.CircuitAlreadyClosed), S.FAULTED,         o.finish),
    Row(S.AWAITING_OPENED, r.Seen,          both(is_open, no(steady)),             n.open_count,                  S.AWAITING_OPENED, o.look_again),
    Row(S.AWAITING_OPENED, r.Seen,          both(is_open, steady, places_left),    n.next_place,                  S.AWAITING_CLOSED, o.ask_close),
    Row(S.AWAITING_OPENED, r.Seen,          both(is_open, steady, no(places_left), no(to_report)), n.prove,       S.TRAVERSING,      o.leg),
    Row(S.AWAITING_OPENED, r.Seen,          both(is_open, steady, no(places_left), to_report),     n.prove,       S.DONE,            o.finish),
    Row(S.TRAVERSING,      r.Arrived,       both(is_open, no(legs_left)),          n.stood,                       S.APPROACHING,     o.sense_fast),
    Row(S.TRAVERSING,      r.Arrived,       both(is_open, legs_left),              n.stood,                       S.TRAVERSING,      o.leg),
    Row(S.TRAVERSING,      r.Arrived,       is_closed,                             blame(f.UnexpectedContact),    S.STOPPING,        o.look),
    Row(S.APPROACHING,     r.Touched,       always,                                n.meet,                        S.CONTACT,         o.look_settled),
    Row(S.APPROACHING,     r.Missed,        always,                                blame(f.NoContact),            S.STOPPING,        o.look),
    Row(S.CONTACT,         r.Seen,          both(is_touching, fit),                n.take,                        S.BACKING_OFF,     o.back),
    Row(S.CONTACT,         r.Seen,          both(is_touching, early),              blame(f.UnexpectedContact),    S.STOPPING,        o.look),
    Row(S.CONTACT,         r.Seen,          both(is_touching, unfit),              blame(f.ImplausibleContact),   S.STOPPING,        o.look),
    Row(S.CONTACT,         r.Seen,          both(no(is_touching), extra_left),     n.spend_extra,                 S.BACKING_OFF,     o.back),
    Row(S.CONTACT,         r.Seen,          both(no(is_touching), no(extra_left)), blame(f.UnsteadyContact),      S.STOPPING,        o.look),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_open, more_wanted),            n.nothing,                     S.RETOUCHING,      o.sense_slow),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_open, enough, agreeing),       n.conclude,                    S.RETRACTING,      o.out),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_closed, first_time),           n.back_further,                S.BACKING_OFF,     o.back_to_start),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_closed, no(first_time)),       blame(f.StillClosed),          S.STOPPING,        o.look),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_open, none_taken),             n.nothing,                     S.APPROACHING,     o.sense_fast),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_open, enough, marching),       blame(f.PlateMoved),           S.STOPPING,        o.look),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_open, enough, scattered, extra_left),     n.spend_extra,      S.RETOUCHING,      o.sense_slow),
    Row(S.BACKING_OFF,     r.Arrived,       both(is_open, enough, scattered, no(extra_left)), blame(f.ContactsDisagree), S.STOPPING, o.look),
    Row(S.RETOUCHING,      r.Touched,       always,                                n.meet,                        S.CONTACT,         o.look_settled),
    Row(S.RETOUCHING,      r.Missed,        always,                                blame(f.NoContact),            S.STOPPING,        o.look),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, at_exit, touch_next),    n.gone_out,                    S.TRAVERSING,      o.leg),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, no(at_exit)),            n.unwind,                      S.RETRACTING,      o.out),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, at_exit, to_set),        n.gather,                      S.RECALLING,       o.read),
    Row(S.RETRACTING,      r.Arrived,       is_closed,                             blame(f.UnexpectedContact),    S.STOPPING,        o.look),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, at_exit, hands_next),    n.hands_needed,                S.AWAITING_OPENED, o.ask),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, at_exit, to_set_unread), n.gather,                      S.COMMITTING,      o.write),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, at_exit, to_report),     n.gone_out,                    S.DONE,            o.finish),
    Row(S.RETRACTING,      r.Arrived,       both(is_open, at_exit, unusable),      n.blame_course,                S.STOPPING,        o.look),
    Row(S.RECALLING,       r.OffsetRead,    more_offsets,                          n.keep_old,                    S.RECALLING,       o.read),
    Row(S.RECALLING,       r.OffsetRead,    no(more_offsets),                      n.keep_old,                    S.COMMITTING,      o.write),
    Row(S.COMMITTING,      r.OffsetWritten, readable,                              n.await_read,                  S.CONFIRMING,      o.read),
    Row(S.COMMITTING,      r.OffsetWritten, both(no(readable), more_offsets),      n.written,                     S.COMMITTING,      o.write),
    Row(S.COMMITTING,      r.OffsetWritten, both(no(readable), no(more_offsets), handing_over),     n.written,    S.HANDING_OVER,    o.ask_release),
    Row(S.COMMITTING,      r.OffsetWritten, both(no(readable), no(more_offsets), no(handing_over)), n.written,    S.DONE,            o.finish),
    Row(S.CONFIRMING,      r.OffsetRead,    both(as_meant, more_offsets),          n.confirm,                     S.COMMITTING,      o.write),
    Row(S.CONFIRMING,      r.OffsetRead,    both(as_meant, no(more_offsets), handing_over),     n.confirm,        S.HANDING_OVER,    o.ask_release),
    Row(S.CONFIRMING,      r.OffsetRead,    both(as_meant, no(more_offsets), no(handing_over)), n.confirm,        S.DONE,            o.finish),
    Row(S.CONFIRMING,      r.OffsetRead,    no(as_meant),                          blame(f.OffsetNotKept),        S.RESTORING,       o.write_old),
    Row(S.RESTORING,       r.OffsetWritten, more_written,                          n.restored,                    S.RESTORING,       o.write_old),
    Row(S.RESTORING,       r.OffsetWritten, no(more_written),                      n.restored,                    S.RECHECKING,      o.read),
    Row(S.RECHECKING,      r.OffsetRead,    more_offsets,                          n.note_standing,               S.RECHECKING,      o.read),
    Row(S.RECHECKING,      r.OffsetRead,    no(more_offsets),                      n.note_standing,               S.STOPPING,        o.look),
    Row(S.HANDING_OVER,    r.Answered,      said_yes,                              n.release,                     S.DONE,            o.finish),
    Row(S.HANDING_OVER,    r.Answered,      no(said_yes),                          n.nothing,                     S.DONE,            o.finish),
    Row(S.STOPPING,        r.Seen,          both(moving, looks_left),              n.look_count,                  S.STOPPING,        o.look_again),
    Row(S.STOPPING,        r.Seen,          both(no(moving), may_retreat),         n.nothing,                     S.RETREATING,      o.retrace),
    Row(S.STOPPING,        r.Seen,          both(moving, no(looks_left)),          n.nothing,                     S.FAULTED,         o.finish),
    Row(S.STOPPING,        r.Seen,          both(no(moving), no(may_retreat)),     n.nothing,                     S.FAULTED,         o.finish),
    Row(S.RETREATING,      r.Arrived,       free,                                  n.retreated,                   S.RETREATING,      o.retrace),
    Row(S.RETREATING,      r.Arrived,       no(free),                              n.end_retreat,                 S.FAULTED,         o.finish),
)

TROUBLE: tuple[tuple[type[r.Reply], type[f.Fault]], ...] = (
    (r.Turning,      f.SpindleTurning),
    (r.Unhomed,      f.PositionUnknown),
    (r.Foreign,      f.ForeignState),
    (r.Displaced,    f.PositionJumped),
    (r.Early,        f.TooEarly),
    (r.Blind,        f.CircuitUnknown),
    (r.Refused,      f.ControllerRefused),
    (r.Alarmed,      f.AlarmActive),
    (r.Restarted,    f.ControllerRestarted),
    (r.TimedOut,     f.NoAnswer),
    (r.Disconnected, f.LinkLost),
    (r.Unrecorded,   f.NotRecorded),
    (r.Aborted,      f.Interrupted),
)


def expanded() -> tuple[Row, ...]:
    """Return the whole table: `CYCLE`, then what each trouble does in each state, a line a group."""
    rows = list(CYCLE)
    for reply, fault in TROUBLE:
        lost, silent = reply is r.Disconnected, reply is r.TimedOut
        rows += [Row(s, reply, always,       blame(fault),          S.STOPPING,   o.stop)   for s in MOVING]
        rows += [Row(s, reply, always,       blame(fault),          S.STOPPING,   o.look)   for s in RESTING]
        rows += [Row(s, reply, asked,        blame(f.Declined),     S.STOPPING,   o.look)   for s in ASKING if silent]
        rows += [Row(s, reply, no(asked),    blame(fault),          S.STOPPING,   o.look)   for s in ASKING if silent]
        rows += [Row(s, reply, always,       blame(fault),          S.STOPPING,   o.look)   for s in ASKING if not silent]
        rows += [Row(s, reply, readable,     n.suspect(fault),      S.RECHECKING, o.read)   for s in WRITING if not lost]
        rows += [Row(s, reply, no(readable), blame(fault),          S.STOPPING,   o.look)   for s in WRITING if not lost]
        rows += [Row(s, reply, always,       n.suspect(fault),      S.RECHECKING, o.read)   for s in READING_BACK if not lost]
        rows += [Row(s, reply, always,       blame(fault),          S.FAULTED,    o.finish) for s in (*WRITING, *READING_BACK) if lost]
        rows += [Row(s, reply, always,       n.nothing,             S.DONE,       o.finish) for s in GIVING_OVER if silent]
        rows += [Row(s, reply, always,       blame(fault),          S.STOPPING,   o.look)   for s in GIVING_OVER if not silent]
        rows += [Row(s, reply, always,       n.afterwards,          S.FAULTED,    o.finish) for s in ENDING]
    return tuple(rows)
# fmt: on
