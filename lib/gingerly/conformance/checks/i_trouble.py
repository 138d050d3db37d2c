"""When the controller is in trouble: the right fault, nothing else, and nothing cleared behind people's backs."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

from gingerly.conformance.case import LONG_S, OPENING_S, WHILE_S, Case, describe
from gingerly.conformance.catalogue import check
from gingerly.conformance.checks.b_door import calls
from gingerly.geometry import Axis
from gingerly.messages.faults import AlarmActive, ControllerRefused, ControllerRestarted, Fault, LinkLost, NoAnswer

Provoke = Callable[[float], Coroutine[Any, Any, None]]


async def _during_a_move(case: Case, provoke: Provoke) -> object:
    """Return what a slow traverse answers, or the fault it raises, when something happens on its way."""
    to = case.far
    await provoke(2.0 * WHILE_S)
    return await case.attempt_traverse(to, case.feed_for(case.subject.safe.distance(to), LONG_S))


@check("trouble")
async def an_alarm_is_reported(case: Case) -> None:
    """A standing alarm is told by `look`, which does not raise for it.

    Does: raises an alarm, and looks.
    Why: what stands in the controller must be seen before anything is ordered.
    """
    alarm = case.needs("alarm")
    case.only_if(case.facts.alarm_known, "the facts say that alarms cannot be known")
    await alarm(0.0)
    seen = await case.look()
    case.hold(seen.alarm is True, f"an alarm stands, and the snapshot says {seen.alarm}")


@check("trouble")
async def nothing_moves_while_an_alarm_stands(case: Case) -> None:
    """While an alarm stands, a motion raises `AlarmActive` or `ControllerRefused`, and nothing moves.

    Does: raises an alarm, orders a traverse and a sense, and looks where the machine is.
    Why: an alarm is somebody's pressed stop, or an axis at its end.
    """
    await case.needs("alarm")(0.0)
    to = case.near(Axis.X)
    for what, got in (
        ("traverse", await case.attempt_traverse(to, 60.0)),
        ("sense", await case.attempt_sense(to, 60.0)),
    ):
        if not isinstance(got, Fault):
            case.fail(f"a {what} was answered with {type(got).__name__} although an alarm stands")
        case.hold(
            isinstance(got, AlarmActive | ControllerRefused), f"a {what} under an alarm raised {describe(got)}"
        )
    seen = await case.look()
    case.hold(case.same_place(seen.position, case.subject.safe), f"under an alarm it moved to {seen.position}")


@check("trouble")
async def an_alarm_is_never_cleared(case: Case) -> None:
    """An adapter never clears an alarm: not by a stop, not by a refused motion, not by opening again.

    Does: raises an alarm, does all of these, and looks after each.
    Why: whoever clears an alarm must have seen its cause.
    """
    alarm = case.needs("alarm")
    case.only_if(case.facts.alarm_known, "the facts say that alarms cannot be known")
    await alarm(0.0)
    await case.look()
    await case.attempt("stop()", case.adapter.stop())
    case.hold((await case.look()).alarm is True, "after a stop() the alarm is gone")
    await case.attempt_traverse(case.near(Axis.X), 60.0)
    case.hold((await case.look()).alarm is True, "after a refused traverse the alarm is gone")
    await case.close()
    got = await case.attempt("open()", case.adapter.open(), OPENING_S)
    if not isinstance(got, Fault):
        case.hold((await case.look()).alarm is True, "after close() and open() the alarm is gone")


@check("trouble")
async def an_alarm_during_a_motion_is_raised(case: Case) -> None:
    """An alarm during a motion makes the call raise `AlarmActive`; the machine stands, and a look says the alarm.

    Does: raises an alarm while a slow traverse is under way.
    Why: a motion that ends in an alarm has not arrived, wherever it ended.
    """
    got = await _during_a_move(case, case.needs("alarm"))
    case.hold(isinstance(got, AlarmActive), f"an alarm struck during a traverse, which came back with {got!r}")
    seen = await case.look()
    if case.facts.alarm_known:
        case.hold(seen.alarm is True, f"after an alarm during a traverse, the snapshot says {seen.alarm}")
    await case.hold_still(seen, "look() after an alarm")


@check("trouble")
async def a_refusal_is_raised_as_one(case: Case) -> None:
    """A command that the controller refuses raises `ControllerRefused` with the controller's own words.

    Does: has the next command refused, orders a traverse, and then an ordinary one.
    Why: a refused command that counts as done makes everything after it wrong.
    """
    refuse = case.needs("refusal")
    to = case.near(Axis.X)
    await refuse(0.0)
    got = await case.attempt_traverse(to)
    if not isinstance(got, ControllerRefused):
        case.fail(f"a refused traverse came back with {got!r}")
    case.hold(bool(got.code or got.detail), "a ControllerRefused carries neither a code nor a detail")
    seen = await case.look()
    case.hold(case.same_place(seen.position, case.subject.safe), f"a refused traverse moved to {seen.position}")
    rest = await case.traverse(to)
    case.hold(case.same_place(rest.position, to), f"after a refusal, a traverse to {to} ended at {rest.position}")


@check("trouble")
async def a_refused_write_is_raised(case: Case) -> None:
    """A work offset that the controller refuses to write raises `ControllerRefused`.

    Does: has the next command refused, and writes.
    Why: an offset believed to be written, and not read back, cuts the part in the wrong place.
    """
    refuse = case.needs("refusal")
    numbers = await case.keep_offsets()
    await refuse(0.0)
    got = await case.attempt("write_offset()", case.adapter.write_offset(numbers[0], {Axis.X: 1.25}))
    case.hold(isinstance(got, ControllerRefused), f"a refused write came back with {got!r}")


@check("trouble")
async def a_restart_is_counted(case: Case) -> None:
    """A restart of the controller makes the count of restarts grow, for good.

    Does: restarts the controller at rest, and looks; a call may raise `ControllerRestarted` first.
    Why: after a restart no position is to be trusted; an unnoticed one writes an offset from another world.
    """
    restart = case.needs("restart")
    before = (await case.look()).restarts
    await restart(0.0)
    first = await case.attempt("look()", case.adapter.look())
    case.hold(not isinstance(first, Fault) or isinstance(first, ControllerRestarted), f"a look raised {first!r}")
    after = (await case.look()).restarts
    case.hold(after > before, f"the count of restarts was {before} before a restart and is {after} after it")
    stopped = await case.attempt("stop()", case.adapter.stop())
    if not isinstance(stopped, Fault):
        told = case.checked("stop()", stopped).restarts
        case.hold(told >= after, f"the count of restarts is {after}, and the snapshot of stop() says {told}")
    later = (await case.look()).restarts
    case.hold(later >= after, f"after a stop() the count of restarts fell from {after} to {later}")


@check("trouble")
async def a_restart_during_a_motion_is_told(case: Case) -> None:
    """A restart during a motion ends the call, by `ControllerRestarted` or a snapshot that counts it.

    Does: restarts the controller while a slow traverse is under way.
    Why: the motion has ended somewhere, and the position may have begun anew at zero.
    """
    before = (await case.look()).restarts
    got = await _during_a_move(case, case.needs("restart"))
    if isinstance(got, Fault):
        case.hold(isinstance(got, ControllerRestarted), f"a traverse during a restart raised {describe(got)}")
    else:
        counted = getattr(got, "restarts", before) > before
        case.hold(counted, f"a restart struck during a traverse, which answered {got!r}")
    again = await case.attempt("look()", case.adapter.look())
    if not isinstance(again, Fault):
        case.hold(
            again.restarts > before, f"after a restart during a traverse, the count of restarts is {again.restarts}"
        )


async def _all_raise_link_lost(case: Case) -> None:
    for name, call in calls(case).items():
        try:
            answer = await case.clock.bounded(call(), 3.0 * case.facts.answer_s)
        except TimeoutError:
            case.fail(f"with the link cut, {name}() hangs")
        except LinkLost:
            continue
        except Exception as error:
            case.fail(f"with the link cut, {name}() raised {describe(error)} instead of LinkLost")
        case.fail(f"with the link cut, {name}() answered {answer!r}")


@check("trouble")
async def a_lost_link_is_raised_by_every_call(case: Case) -> None:
    """With the link gone, every call raises `LinkLost`, soon, and nothing else.

    Does: cuts the link, and calls each method.
    Why: "the link is gone, look at the machine first" is what a person must be told; a traceback says nothing.
    """
    await case.needs("link_loss")(0.0)
    await case.wait()
    await _all_raise_link_lost(case)


@check("trouble")
async def a_link_lost_during_a_motion_is_raised(case: Case) -> None:
    """A link that breaks during a motion makes the call raise `LinkLost`; the machine may still move.

    Does: cuts the link while a slow traverse is under way, then calls each method.
    Why: the last position known is not where the machine is, and nobody may say that it stands.
    """
    cut = case.needs("link_loss")
    to = case.far
    await cut(2.0 * WHILE_S)
    work = case.adapter.traverse(to, case.feed_for(case.subject.safe.distance(to), LONG_S))
    got = await case.attempt("traverse()", work, 2.0 * LONG_S + case.facts.answer_s)
    case.hold(isinstance(got, LinkLost), f"the link broke during a traverse, which came back with {got!r}")
    await _all_raise_link_lost(case)


@check("trouble")
async def closing_after_a_lost_link_is_no_error(case: Case) -> None:
    """`close` works when the link is gone, and so does opening again once it is back.

    Does: cuts the link, closes, and opens.
    Why: a pulled cable is put back, and the machine is looked at again from the same program.
    """
    await case.needs("link_loss")(0.0)
    await case.attempt("look()", case.adapter.look())
    await case.close()
    got = await case.attempt("open()", case.adapter.open(), OPENING_S)
    if isinstance(got, Fault):
        case.hold(isinstance(got, LinkLost | NoAnswer), f"open() after a lost link raised {describe(got)}")
    else:
        await case.look()
