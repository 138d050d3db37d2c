"""Cancellation: wherever a call waits, cancelling it must come out, and no abandoned answer may be believed later.

The library enforces every deadline by cancelling the call, and so does a person who presses Ctrl-C.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any

from gingerly.conformance.case import BRISK_S, LONG_S, OPENING_S, WHILE_S, Case, describe
from gingerly.conformance.catalogue import Failure, check
from gingerly.conformance.checks.d_offsets import _same, _two, _write_all
from gingerly.conformance.interrupt import Cut, cuts
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import Fault
from gingerly.messages.replies import Missed

Call = Callable[[], Coroutine[Any, Any, Any]]

LATE_HINT = " (`asyncio.wait_for` of Python 3.11 does so by itself: `async with asyncio.timeout(…)` does not)"
"""What an author needs to know whose own code swallows nothing."""


async def _places(case: Case, what: str, call: Call, within_s: float) -> list[Cut]:
    """Return where to cancel a call, after making it once undisturbed to see how often it waits."""
    ended = await case.watch(what, call(), None, within_s)
    if ended.error is not None:
        case.fail(f"{what} raised {describe(ended.error)} where nothing was wrong")
    case.only_if(
        ended.suspensions > 0,
        "its calls never give the event loop a turn, so only a deadline on its own clock can cancel them",
    )
    return cuts(ended.suspensions)


async def _cancel(case: Case, what: str, work: Coroutine[Any, Any, Any], cut: Cut, within_s: float) -> bool:
    """Cancel a call and return whether it was reached in time; it fails if the cancellation does not come out."""
    ended = await case.watch(what, work, cut, within_s)
    if not ended.cut:
        return False
    if ended.error is None:
        hint = LATE_HINT if cut.late else ""
        case.fail(f"{what}, cancelled {cut}, swallowed the cancellation and answered {ended.value!r}{hint}")
    if not isinstance(ended.error, asyncio.CancelledError):
        case.fail(f"{what}, cancelled {cut}, turned the cancellation into {describe(ended.error)}")
    return True


def _moves(case: Case) -> dict[str, tuple[Call, Call]]:
    """Return, for both kinds of motion, a brisk one and a slow one.

    The brisk one serves to count its waits and to be cancelled as its answers arrive, the slow one to be cancelled
    as it begins to wait.
    """
    adapter, safe, near, far = case.adapter, case.subject.safe, case.near(Axis.X), case.far
    brisk = case.feed_for(safe.distance(near), BRISK_S)
    slow = case.feed_for(safe.distance(far), LONG_S)
    return {
        "traverse()": (lambda: adapter.traverse(near, brisk), lambda: adapter.traverse(far, slow)),
        "sense()": (lambda: adapter.sense(near, brisk), lambda: adapter.sense(far, slow)),
    }


async def _move_lets_cancellation_out(case: Case, what: str) -> None:
    brisk, slow = _moves(case)[what]
    within_s = 2.0 * LONG_S + case.facts.answer_s
    for cut in await _places(case, what, brisk, within_s):
        await _cancel(case, what, (brisk if cut.late else slow)(), cut, within_s)
        await _stop_and_go_back(case, what, cut)


async def _stop_and_go_back(case: Case, what: str, cut: Cut) -> None:
    """Stop, and go back to the safe point; each answer must be its own."""
    await case.stop()
    safe = case.subject.safe
    back = await case.traverse(safe)
    case.hold(
        case.same_place(back.position, safe),
        f"after a {what} cancelled {cut} and a stop, a traverse back to {safe} came back with {back.position}",
    )


@check("cancel")
async def a_cancelled_traverse_lets_the_cancellation_out(case: Case) -> None:
    """A traverse that is cancelled ends with `asyncio.CancelledError`, wherever it waits.

    Does: cancels traverses at each place where they wait, as they begin to wait and as the answer comes.
    Why: a swallowed cancellation makes Ctrl-C and every deadline useless, and the motion goes on.
    """
    await _move_lets_cancellation_out(case, "traverse()")


@check("cancel")
async def a_cancelled_sense_lets_the_cancellation_out(case: Case) -> None:
    """A sense that is cancelled ends with `asyncio.CancelledError`, wherever it waits.

    Does: cancels senses in free air at each place where they wait for something.
    Why: a swallowed cancellation makes Ctrl-C and every deadline useless, and the tool creeps on.
    """
    case.only_if(
        not case.facts.alarm_on_miss, "an alarm follows each miss, so senses in free air cannot be repeated"
    )
    await _move_lets_cancellation_out(case, "sense()")


@check("cancel")
async def a_cancelled_look_lets_the_cancellation_out(case: Case) -> None:
    """A look that is cancelled ends with `asyncio.CancelledError`, wherever it waits.

    Does: cancels looks at each place where they wait for something.
    Why: a silent controller would hold the program for ever.
    """
    within_s = case.facts.answer_s
    for cut in await _places(case, "look()", case.adapter.look, within_s):
        await _cancel(case, "look()", case.adapter.look(), cut, within_s)
        await case.stop()


@check("cancel")
async def a_cancelled_stop_lets_the_cancellation_out(case: Case) -> None:
    """A stop that is cancelled ends with `asyncio.CancelledError`, and the next stop works.

    Does: cancels stops at each place where they wait, and stops again after each.
    Why: people press Ctrl-C twice; standstill must still be confirmed by the stop that follows.
    """
    within_s = case.facts.answer_s
    for cut in await _places(case, "stop()", case.adapter.stop, within_s):
        await _cancel(case, "stop()", case.adapter.stop(), cut, within_s)
        seen = await case.stop()
        case.hold(
            seen.idle, f"after a stop() cancelled {cut}, the next stop() answered a snapshot that is not idle"
        )


@check("cancel", moves=False)
async def a_cancelled_read_lets_the_cancellation_out(case: Case) -> None:
    """Reading or writing a work offset ends with `asyncio.CancelledError` when it is cancelled.

    Does: cancels both at each place where they wait for something.
    Why: whether the old or the new value stands is asked next, and the link must be free for it.
    """
    number, _ = await _two(case)
    axes = dict(zip(Axis, case.kept[number], strict=True))
    calls: dict[str, Call] = {
        "read_offset()": lambda: case.adapter.read_offset(number),
        "write_offset()": lambda: case.adapter.write_offset(number, axes),
    }
    for what, call in calls.items():
        for cut in await _places(case, what, call, case.facts.answer_s):
            await _cancel(case, what, call(), cut, case.facts.answer_s)
            await case.stop()


@check("cancel", moves=False)
async def a_cancelled_open_can_be_tried_again(case: Case) -> None:
    """An `open` that is cancelled ends with `asyncio.CancelledError`; after `close` the adapter opens as if new.

    Does: cancels `open` at each place where it waits, closes, opens, and looks.
    Why: a port left half-open keeps the machine out of reach until the program ends.
    """
    await case.close()
    for cut in await _places(case, "open()", case.adapter.open, OPENING_S):
        await case.close()
        await _cancel(case, "open()", case.adapter.open(), cut, OPENING_S)
        await case.close()
        await case.answered(f"open() after one that was cancelled {cut}", case.adapter.open(), OPENING_S)
        await case.look()
    await case.close()
    await case.answered("open()", case.adapter.open(), OPENING_S)


@check("cancel")
async def a_deadline_on_its_own_clock_comes_out(case: Case) -> None:
    """A motion cut by a deadline on the adapter's own clock ends with the cancellation.

    Does: gives slow traverses and senses up after a tenth, a half and nine tenths of half a second.
    Why: this is how the driver bounds every wait; an answer that comes nevertheless belongs to nobody.
    """
    safe, far = case.subject.safe, case.far
    feed = case.feed_for(safe.distance(far), LONG_S)
    for share in (0.1, 0.5, 0.9):
        for what in ("traverse", "sense"):
            came_out: list[bool] = []
            work = _noting(getattr(case.adapter, what)(far, feed), came_out)
            got = await case.cut_short(work, share * 0.5)
            case.hold(got is None, f"a slow {what}() given up after {share * 0.5:g} s answered {got!r}")
            case.hold(
                bool(came_out), f"{what}() swallowed the cancellation of its deadline after {share * 0.5:g} s"
            )
            await case.stop()
            await case.traverse(safe)


async def _noting(work: Coroutine[Any, Any, Any], came_out: list[bool]) -> Any:
    try:
        return await work
    except asyncio.CancelledError:
        came_out.append(True)
        raise


@check("cancel")
async def a_look_after_a_cancelled_look_is_fresh(case: Case) -> None:
    """After a look that was cancelled, every answer is that of its own call.

    Does: cancels a look where it waits, moves, and looks again, with no stop between.
    Why: the cancelled look's answer, taken for the next one, shows the machine where it no longer is.
    """
    safe, to = case.subject.safe, case.near(Axis.X)
    for cut in await _places(case, "look()", case.adapter.look, case.facts.answer_s):
        await _cancel_quietly(case, case.adapter.look(), cut)
        rest = await case.traverse(to)
        case.hold(
            case.same_place(rest.position, to),
            f"after a look cancelled {cut}, a traverse to {to} came back with {rest.position}",
        )
        await _cancel_quietly(case, case.adapter.look(), cut)
        await case.traverse(safe)
        seen = await case.look()
        case.hold(
            case.same_place(seen.position, safe),
            f"after a look cancelled {cut} and a move to {safe}, a look gave {seen.position}",
        )


async def _cancel_quietly(
    case: Case, work: Coroutine[Any, Any, Any], cut: Cut, within_s: float | None = None
) -> None:
    """Cancel a call where another check judges how it ends."""
    seconds = case.facts.answer_s if within_s is None else within_s
    await case.watch("a cancelled call", work, cut, seconds)


@check("cancel", moves=False)
async def a_read_after_a_cancelled_read_is_its_own(case: Case) -> None:
    """After a read that was cancelled, the next read answers with its own work offset.

    Does: writes different values to two offsets, cancels a read of one, and reads the other.
    Why: one part's origin taken for another's is written back as "the old one" when anything goes wrong.
    """
    first, second = await _two(case)
    origins = {number: await _write_all(case, number) for number in (first, second)}

    def call() -> Coroutine[Any, Any, Any]:
        work: Coroutine[Any, Any, Any] = case.adapter.read_offset(first)
        return work

    for cut in await _places(case, "read_offset()", call, case.facts.answer_s):
        await _cancel_quietly(case, call(), cut)
        found = await case.read(second)
        case.hold(
            _same(case, found, origins[second]),
            f"after a read of work offset {first} cancelled {cut}, a read of number {second} gave {found}",
        )
        await _cancel_quietly(case, call(), cut)
        await case.stop()
        found = await case.read(second)
        case.hold(
            _same(case, found, origins[second]),
            f"after a read of work offset {first} cancelled {cut} and a stop, number {second} reads {found}",
        )


@check("cancel")
async def a_motion_after_a_cancelled_motion_is_its_own(case: Case) -> None:
    """After a motion that was cancelled and stopped, the next motion answers for itself.

    Does: cancels a slow traverse where it waits, stops, and traverses to another place.
    Why: the abandoned motion's answer, taken for the new one's, says "arrived" while the tool still moves.
    """
    safe, other = case.subject.safe, case.near(Axis.Y)
    feed = case.feed_for(safe.distance(other), 2.0 * WHILE_S)
    brisk, slow = _moves(case)["traverse()"]
    within_s = 2.0 * LONG_S + case.facts.answer_s
    for cut in await _places(case, "traverse()", brisk, within_s):
        await _cancel_quietly(case, (brisk if cut.late else slow)(), cut, within_s)
        await _stop_and_go_back(case, "traverse()", cut)
        rest = await case.traverse(other, feed)
        what = f"a traverse to {other}, after one cancelled {cut} and a stop,"
        case.hold(case.same_place(rest.position, other), f"{what} came back with {rest.position}")
        await case.hold_still(rest, what)
        await case.traverse(safe)


@check("cancel")
async def a_sense_after_a_cancelled_sense_is_its_own(case: Case) -> None:
    """After a sense that was cancelled and stopped, the next sense answers for itself.

    Does: cancels a slow sense in free air where it waits, stops, and senses to another place.
    Why: the abandoned sense's answer, taken for the new one's, is a contact or a miss that never was.
    """
    case.only_if(
        not case.facts.alarm_on_miss, "an alarm follows each miss, so senses in free air cannot be repeated"
    )
    safe, other = case.subject.safe, case.near(Axis.Y)
    feed = case.feed_for(safe.distance(other), 2.0 * WHILE_S)
    brisk, slow = _moves(case)["sense()"]
    within_s = 2.0 * LONG_S + case.facts.answer_s
    for cut in await _places(case, "sense()", brisk, within_s):
        await _cancel_quietly(case, (brisk if cut.late else slow)(), cut, within_s)
        await _stop_and_go_back(case, "sense()", cut)
        got = await case.sense(other, feed, safe)
        what = f"a sense to {other}, after one cancelled {cut} and a stop,"
        case.hold(isinstance(got, Missed), f"{what} answered {got!r}")
        case.hold(case.same_place(got.rest.position, other), f"{what} ended at {got.rest.position}")
        await case.traverse(safe)


@check("cancel")
async def a_stop_after_a_cancelled_motion_tells_where_it_stands(case: Case) -> None:
    """The stop after a cancelled motion answers with its own snapshot, taken after standstill.

    Does: cancels a slow traverse where it waits, stops, and watches whether the machine stands.
    Why: an answer of the abandoned motion, or a snapshot from before, confirms a standstill that is none.
    """
    safe, far = case.subject.safe, case.far
    brisk, slow = _moves(case)["traverse()"]
    within_s = 2.0 * LONG_S + case.facts.answer_s
    for cut in await _places(case, "traverse()", brisk, within_s):
        await _cancel_quietly(case, (brisk if cut.late else slow)(), cut, within_s)
        rest = await case.stop()
        to = case.near(Axis.X) if cut.late else far
        case.hold(case.on_way(rest.position, safe, to), f"after a cancel {cut}, stop() answered {rest.position}")
        await case.hold_still(rest, f"stop(), after a traverse cancelled {cut},")
        await case.traverse(safe)


@check("cancel", moves=False)
async def a_cancelled_write_is_whole_or_not_at_all(case: Case) -> None:
    """A write that is cancelled leaves either all old or all new values, never some of each.

    Does: cancels writes at each place where they wait, stops, and reads what stands.
    Why: an origin with the new X and the old Y is no place at all, and nobody would notice.
    """
    number, _ = await _two(case)
    old = await _write_all(case, number)
    new = old.plus(Position(1.0, 2.0, 3.0))

    def write(origin: Position) -> Coroutine[Any, Any, Any]:
        work: Coroutine[Any, Any, Any] = case.adapter.write_offset(number, dict(zip(Axis, origin, strict=True)))
        return work

    for cut in await _places(case, "write_offset()", lambda: write(old), case.facts.answer_s):
        await case.write(number, dict(zip(Axis, old, strict=True)))
        await _cancel_quietly(case, write(new), cut)
        await case.stop()
        found = await case.read(number)
        case.hold(
            _same(case, found, old) or _same(case, found, new),
            f"{old} was to become {new}; cancelled {cut}, it reads {found}",
        )


@check("cancel")
async def a_call_that_is_never_answered_can_be_given_up(case: Case) -> None:
    """A call whose answer never comes ends when it is cancelled, or with a fault of its own; the next ones work.

    Does: keeps the controller from answering one look, gives it up at its deadline, then stops and looks.
    Why: answers do get lost; what follows must not wait for them, nor count them in later.
    """
    hush = case.needs("silence")
    await hush(0.0)
    try:
        got = await case.clock.bounded(case.adapter.look(), case.facts.answer_s)
    except TimeoutError:
        got = None
    except Fault:
        got = None
    except Exception as error:
        raise Failure(f"a look that was never answered raised {describe(error)}") from error
    case.hold(got is None, f"a look that was never answered returned {got!r}")
    await case.stop()
    await case.traverse(case.near(Axis.X))
    seen = await case.look()
    case.hold(
        case.same_place(seen.position, case.near(Axis.X)),
        f"after an unanswered look and a move to {case.near(Axis.X)}, a look gave {seen.position}",
    )


@check("cancel")
async def a_motion_that_is_never_answered_can_be_stopped(case: Case) -> None:
    """A motion whose answer never comes can be given up and stopped.

    Does: keeps the controller from answering one traverse, gives it up, stops, and moves on.
    Why: the machine may move although nothing is heard; the stop is what is left.
    """
    hush = case.needs("silence")
    await hush(0.0)
    to = case.near(Axis.X)
    try:
        got = await case.clock.bounded(case.adapter.traverse(to, case.feed_for(5.0, BRISK_S)), 4.0 * BRISK_S)
    except (TimeoutError, Fault):
        got = None
    case.hold(got is None, f"a traverse that was never answered returned {got!r}")
    await case.hold_still(await case.stop(), "stop() after an unanswered traverse")
    rest = await case.traverse(case.subject.safe)
    case.hold(case.same_place(rest.position, case.subject.safe), f"the next traverse ended at {rest.position}")
