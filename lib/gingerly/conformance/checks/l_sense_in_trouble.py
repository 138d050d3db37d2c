"""Trouble while a sense is under way, and while offsets are read or written: the right fault, and never a finding."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

from gingerly.conformance.case import BRISK_S, LONG_S, OPENING_S, WHILE_S, Case, awaited, describe
from gingerly.conformance.catalogue import NotExercised, check
from gingerly.conformance.checks.d_offsets import _same, _write_all
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import AlarmActive, ControllerRefused, ControllerRestarted, Fault, LinkLost, NoAnswer
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Circuit

Provoke = Callable[[float], Coroutine[Any, Any, None]]


async def _during_a_sense(case: Case, provoke: Provoke) -> Touched | Missed | Fault:
    """Return what a slow sense in free air answers, or the fault it raises, when something happens on its way."""
    to = case.far
    await provoke(2.0 * WHILE_S)
    return await case.attempt_sense(to, case.feed_for(case.subject.safe.distance(to), LONG_S))


@check("trouble")
async def an_alarm_during_a_sense_is_raised(case: Case) -> None:
    """An alarm during a sense makes the call raise `AlarmActive`, or answer a miss whose rest tells the alarm.

    Does: raises an alarm while a slow sense in free air is under way.
    Why: an alarm told as a mere miss hides a pressed stop; told as a touch, it puts a face where none is.
    """
    got = await _during_a_sense(case, case.needs("alarm"))
    told = isinstance(got, Missed) and got.rest.alarm is True
    case.hold(told or isinstance(got, AlarmActive), f"an alarm struck during a sense, which came back with {got!r}")
    await case.hold_still(await case.look(), "look() after an alarm during a sense")


@check("trouble")
async def a_restart_during_a_sense_is_told(case: Case) -> None:
    """A restart during a sense ends the call, by `ControllerRestarted` or a rest that counts it.

    Does: restarts the controller while a slow sense in free air is under way.
    Why: the sense has ended somewhere, the position may be another's, and whatever was found means nothing.
    """
    before = (await case.look()).restarts
    got = await _during_a_sense(case, case.needs("restart"))
    if isinstance(got, Fault):
        case.hold(isinstance(got, ControllerRestarted), f"a sense during a restart raised {describe(got)}")
    else:
        case.hold(got.rest.restarts > before, f"a restart struck during a sense, which answered {got!r}")


@check("trouble")
async def a_link_lost_during_a_sense_is_raised(case: Case) -> None:
    """A link that breaks during a sense makes the call raise `LinkLost`, and nothing else.

    Does: cuts the link while a slow sense in free air is under way.
    Why: the tool may creep on until it touches, and a person must be told to go and look at once.
    """
    got = await _during_a_sense(case, case.needs("link_loss"))
    case.hold(isinstance(got, LinkLost), f"the link broke during a sense, which came back with {got!r}")


@check("trouble")
async def a_refused_sense_is_raised(case: Case) -> None:
    """A sense that the controller refuses raises `ControllerRefused`; it is no miss, and nothing moves.

    Does: has the next command refused, and senses in free air.
    Why: a sense that never began found nothing out: "no contact" would send people looking for the wrong thing.
    """
    refuse = case.needs("refusal")
    await refuse(0.0)
    to = case.near(Axis.X)
    got = await case.attempt_sense(to, case.feed_for(case.subject.safe.distance(to), BRISK_S), case.subject.safe)
    case.hold(isinstance(got, ControllerRefused), f"a refused sense came back with {got!r}")
    seen = await case.look()
    case.hold(case.same_place(seen.position, case.subject.safe), f"a refused sense moved to {seen.position}")


@check("trouble")
async def a_refused_read_is_raised(case: Case) -> None:
    """A work offset that the controller refuses to tell raises `ControllerRefused`.

    Does: writes an offset, has the next command refused, and reads.
    Why: an origin made up instead is restored after trouble, over the one that stood there.
    """
    refuse = case.needs("refusal")
    number = (await case.keep_offsets())[0]
    meant = await _write_all(case, number)
    await refuse(0.0)
    got: object = await case.attempt("read_offset()", case.adapter.read_offset(number))
    if isinstance(got, Position) and _same(case, got, meant):
        raise NotExercised("the subject's `refusal` does not reach a question: the read was answered, and rightly")
    case.hold(isinstance(got, ControllerRefused), f"a refused read came back with {got!r}")


@check("cancel")
async def a_sense_that_is_never_answered_is_no_miss(case: Case) -> None:
    """A sense whose answer never comes ends when it is cancelled, or with a fault of its own; never with a finding.

    Does: keeps the controller from answering one sense, gives it up at its deadline, stops, and moves on.
    Why: silence is not "nothing there": the tool may stand in the work, or still creep.
    """
    hush = case.needs("silence")
    await hush(0.0)
    safe, to = case.subject.safe, case.near(Axis.X)
    feed = case.feed_for(safe.distance(to), BRISK_S)
    try:
        got = await case.clock.bounded(case.adapter.sense(to, feed), case.patience(safe, to, feed))
    except (TimeoutError, Fault):
        got = None
    case.hold(got is None, f"a sense that was never answered returned {got!r}")
    await case.hold_still(await case.stop(), "stop() after an unanswered sense")
    rest = await case.traverse(safe)
    case.hold(case.same_place(rest.position, safe), f"the next traverse ended at {rest.position}")


@check("cancel", moves=False)
async def a_write_that_is_never_answered_does_not_count_as_done(case: Case) -> None:
    """A write whose answer never comes ends when it is cancelled, or with a fault of its own.

    Does: keeps the controller from answering one write, gives it up at its deadline, and reads what stands.
    Why: nobody knows then whether the old or the new value stands, and saying "written" ends the search.
    """
    hush = case.needs("silence")
    number = (await case.keep_offsets())[0]
    old = case.kept[number]
    new = old.plus(Position(1.0, 2.0, 3.0))
    await hush(0.0)
    try:
        work = case.adapter.write_offset(number, dict(zip(Axis, new, strict=True)))
        await case.clock.bounded(work, case.facts.answer_s)
    except (TimeoutError, Fault):
        pass
    else:
        case.fail("a write that was never answered came back as if it had been")
    await case.stop()
    found = await case.read(number)
    case.hold(
        _same(case, found, old) or _same(case, found, new),
        f"{old} was to become {new}; after a write that was never answered it reads {found}",
    )


@check("trouble")
async def a_stop_is_served_while_an_alarm_stands(case: Case) -> None:
    """While an alarm stands, `stop` answers with a snapshot that tells it; it does not raise.

    Does: raises an alarm, stops, and looks at the answer.
    Why: whether the machine stands must be known in an alarm above all, and only a snapshot confirms it.
    """
    await case.needs("alarm")(0.0)
    got = await case.attempt("stop()", case.adapter.stop())
    if isinstance(got, Fault):
        case.fail(f"stop() raised {describe(got)} while an alarm stood")
    rest = case.checked("stop()", got)
    case.hold(rest.idle, "under an alarm, stop() answered a snapshot that is not idle")
    if case.facts.alarm_known:
        case.hold(rest.alarm is True, f"an alarm stands, and the snapshot of stop() says {rest.alarm}")


@check("trouble")
async def a_restart_before_a_motion_is_told(case: Case) -> None:
    """A motion ordered after a restart that nobody has seen yet is not answered as if nothing had happened.

    Does: restarts the controller at rest, and orders a traverse at once, with no look between.
    Why: the snapshot at the end of a traverse is all the look there is before the next sense; positions mean nothing.
    """
    restart = case.needs("restart")
    before = (await case.look()).restarts
    await restart(0.0)
    got = await case.attempt_traverse(case.near(Axis.X), case.feed_for(5.0, BRISK_S))
    if isinstance(got, Fault):
        told = isinstance(got, ControllerRestarted | ControllerRefused | AlarmActive)
        case.hold(told, f"a traverse after a restart raised {describe(got)}")
    else:
        case.hold(
            got.restarts > before,
            f"the controller restarted, and the traverse after it answered a snapshot that counts {got.restarts}"
            f" restarts, as before",
        )


@check("trouble")
async def a_machine_that_still_moves_is_stopped_after_reconnecting(case: Case) -> None:
    """After a link that broke during a motion, a new connection can stop what still moves.

    Does: cuts the link during a slow traverse, closes, opens, stops, and watches whether anything moves.
    Why: an adapter that stops only what it has ordered itself confirms a standstill that is none.
    """
    cut = case.needs("link_loss")
    to = case.far
    await cut(2.0 * WHILE_S)
    got = await case.attempt_traverse(to, case.feed_for(case.subject.safe.distance(to), LONG_S))
    case.hold(isinstance(got, LinkLost), f"the link broke during a traverse, which came back with {got!r}")
    await case.close()
    again = await case.attempt("open()", case.adapter.open(), OPENING_S)
    if isinstance(again, Fault):
        raise NotExercised("the link stays lost when the adapter is opened again")
    await case.hold_still(await case.stop(), "stop(), after a link that broke during a motion was opened again,")


@check("trouble")
async def every_snapshot_tells_the_circuit(case: Case) -> None:
    """The snapshots of `traverse` and `stop` tell the circuit as it is, like those of `look`.

    Does: has the circuit closed where the tool stands, traverses, and stops.
    Why: whether the circuit opened is judged by the snapshot at the end of the back-off; a guessed "open" hides it.
    """
    case.only_if(case.facts.circuit_known, "the facts say that the circuit cannot be known")
    bridge = case.needs("closed_circuit")
    await bridge(0.0)
    for what, got in (
        ("traverse()", await case.attempt_traverse(case.near(Axis.X), case.feed_for(5.0, BRISK_S))),
        ("stop()", await case.stop()),
    ):
        if not isinstance(got, Fault):
            case.circuit_is(got, Circuit.CLOSED, f"With the circuit closed, after {what}")


@check("trouble")
async def lost_homing_is_told(case: Case) -> None:
    """Where a restart has made the machine lose its coordinates, no snapshot calls it homed.

    Does: restarts the controller, asks the truth by a second way whether it is homed, and looks.
    Why: positions count from nowhere then; "homed" lets a work offset be written that is off by centimetres.
    """
    await case.needs("restart")(0.0)
    homed = (await case.truth()).homed
    if homed is None:
        raise NotExercised("the subject's `truth` does not tell homing")
    case.only_if(not homed, "this machine keeps its coordinates over a restart")
    await case.attempt("look()", case.adapter.look())
    case.hold((await case.look()).homed is not True, "the machine is no longer homed, and the snapshot says it is")


@check("trouble")
async def what_is_in_force_is_told(case: Case) -> None:
    """A shift, tool length, override, rotation or unit that comes into force is told by every snapshot.

    Does: has something come into force, and compares what `look` and `stop` tell.
    Why: a feed that was turned up outruns every stopping distance, and a shift moves every face.
    """
    case.only_if(case.facts.in_force_known, "the facts say that what is in force cannot be known")
    await case.needs("foreign_state")(0.0)
    for what, seen in (("look()", await case.look()), ("stop()", await case.stop())):
        odd = seen.in_force is not None and (seen.in_force.oddities() or not seen.in_force.is_whole)
        case.hold(bool(odd), f"something else is in force, and the snapshot of {what} says {seen.in_force}")


@check("trouble", opens=False)
async def opening_without_a_controller_is_a_lost_link(case: Case) -> None:
    """Where no controller is there, `open` raises `LinkLost` or `NoAnswer`; after that, `close` is no error.

    Does: opens an adapter that leads nowhere, and closes it.
    Why: a cable that is not plugged in is the first thing that happens, and a traceback does not say so.
    """
    if case.subject.unreachable is None:
        raise NotExercised("the subject brings no adapter that leads nowhere (`unreachable`)")
    adapter = await awaited(case.subject.unreachable())
    error = await case.misuse("open() without a controller", adapter.open())
    closing = await case.misuse("close() after an open() without a controller", adapter.close())
    if error is None:
        case.fail("open() succeeded although no controller is there")
    case.hold(isinstance(error, LinkLost | NoAnswer), f"open() without a controller raised {describe(error)}")
    case.hold(closing is None, f"after open() found no controller, close() raised {closing!r}")
