"""Two calls at once, and the event loop that all of them share. The library never makes two calls; people do."""

from __future__ import annotations

import asyncio
from typing import Any

from gingerly.conformance.case import LONG_S, OPENING_S, WHILE_S, Case, describe, give_turns
from gingerly.conformance.catalogue import check
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import ControllerRefused, Fault
from gingerly.messages.snapshot import Snapshot

BEAT_S = 0.02
FEWEST_BEATS = 5
"""Seconds between two beats, and of so many that are due at least one must come, so that a busy computer passes.
Our own choice."""


async def _outstanding(case: Case, seconds: float) -> tuple[asyncio.Task[Any], Position]:
    """Begin a slow traverse in a task and let it run a while; return the task and the target."""
    to = case.far
    task = asyncio.ensure_future(case.adapter.traverse(to, case.feed_for(case.subject.safe.distance(to), seconds)))
    await give_turns()
    if not task.done():
        await case.wait(2.0 * WHILE_S)
    if task.done():
        task.exception()
        case.only_if(False, "its calls never give the event loop a turn, so no second call can be made during one")
    return task, to


async def _end_of(case: Case, task: asyncio.Task[Any], what: str) -> object:
    """Return how an outstanding call ended: its answer or its exception; a hang is a failure."""

    async def settled() -> None:
        await asyncio.wait({task})

    try:
        await case.clock.bounded(settled(), 2.0 * LONG_S + case.facts.answer_s)
    except TimeoutError:
        task.cancel()
        case.fail(f"{what} was never answered")
    if task.cancelled():
        return asyncio.CancelledError()
    return task.exception() or task.result()


@check("sharing")
async def a_second_call_does_not_spoil_the_first(case: Case) -> None:
    """A call made while another is under way is refused by `RuntimeError`, waits, or is served; it spoils nothing.

    Does: looks while a slow traverse is under way, and then waits for the traverse.
    Why: answers that change places put the machine where it is not.
    """
    task, to = await _outstanding(case, 0.5 * LONG_S)
    second = await case.misuse("a look() during a traverse", _kept(case.adapter.look()))
    case.hold(
        second is None or type(second) is RuntimeError,
        f"a look() during a traverse raised {describe(second) if second else second}",
    )
    first = await _end_of(case, task, "a traverse during which look() was called")
    if not isinstance(first, Snapshot):
        case.fail(f"a traverse during which look() was called came back with {first!r}")
    case.hold(case.same_place(first.position, to), f"it came back with {first.position} instead of {to}")
    await case.hold_still(first, "traverse()")


async def _kept(work: Any) -> Any:
    return await work


@check("sharing")
async def a_stop_overtakes_a_call_under_way(case: Case) -> None:
    """`stop` is served while another call is still under way, and that call ends too.

    Does: stops while a slow traverse is under way that nobody has cancelled.
    Why: a call that does not heed its cancellation is given up after a grace time, and the stop must get through.
    """
    task, to = await _outstanding(case, LONG_S)
    try:
        rest = await case.stop()
    finally:
        task.cancel()
    first = await _end_of(case, task, "a traverse overtaken by a stop")
    case.hold(not case.same_place(rest.position, to), "stop() waited until the traverse had arrived")
    ended = isinstance(first, Snapshot | Fault | RuntimeError | asyncio.CancelledError)
    case.hold(ended, f"the overtaken traverse ended with {first!r}")
    await case.hold_still(rest, "stop() during a traverse")


@check("sharing")
async def two_motions_at_once_do_not_mix(case: Case) -> None:
    """A motion ordered while another is under way is refused, or waits; the first ends at its own target.

    Does: orders a traverse to one place while a slow one to another is under way.
    Why: a first motion that is called arrived half-way, or a second one that takes its way, is a crash.
    """
    task, to = await _outstanding(case, 0.5 * LONG_S)
    other = case.near(Axis.Y, most=2.0)
    second = asyncio.ensure_future(_kept(case.adapter.traverse(other, case.facts.top_feed)))
    try:
        first = await _end_of(case, task, "a traverse during which another was ordered")
        found = await _end_of(case, second, "a traverse ordered while another was under way")
    finally:
        second.cancel()
    if not isinstance(first, Snapshot):
        case.fail(f"a traverse during which another was ordered came back with {first!r}")
    case.hold(
        case.same_place(first.position, to),
        f"a traverse during which another was ordered came back with {first.position} instead of {to}",
    )
    if isinstance(found, Snapshot):
        case.hold(
            case.same_place(found.position, other), f"the second traverse ended at {found.position}, not {other}"
        )
    else:
        case.hold(
            type(found) is RuntimeError or isinstance(found, ControllerRefused),
            f"a traverse ordered while another was under way ended with {found!r}",
        )


@check("sharing")
async def two_stops_at_once_end_the_motion(case: Case) -> None:
    """Of two stops at once at least one is served, and the other too or refused by `RuntimeError`; the machine stands.

    Does: gives a slow traverse up half-way, and stops in two tasks.
    Why: people press Ctrl-C twice, and a program has more than one place that stops; neither may wait for ever.
    """
    to = await case.leave_moving()
    within_s = case.patience(case.subject.safe, case.subject.safe, None) + LONG_S
    stops = asyncio.gather(_kept(case.adapter.stop()), _kept(case.adapter.stop()), return_exceptions=True)
    try:
        got = await case.clock.bounded(_kept(stops), within_s)
    except TimeoutError:
        case.fail(f"two stops at once had not both come back after {within_s:.3g} s")
    served = [case.checked("one of two stops at once", one) for one in got if not isinstance(one, BaseException)]
    for one in got:
        if isinstance(one, BaseException):
            case.hold(type(one) is RuntimeError, f"one of two stops at once raised {describe(one)}")
    case.hold(bool(served), "neither of two stops at once was served")
    for rest in served:
        case.hold(not case.same_place(rest.position, to), "two stops at once let the motion go on to its target")
        await case.hold_still(rest, "one of two stops at once")


@check("sharing")
async def closing_during_a_call_stops_the_motion(case: Case) -> None:
    """`close` is served while another call is still under way: it comes back, and nothing moves any more.

    Does: closes while a slow traverse is under way that nobody has cancelled, gives the traverse up, and looks.
    Why: a program that ends in trouble closes whatever is open; it must not wait for a motion, nor leave one going.
    """
    task, to = await _outstanding(case, LONG_S)
    try:
        await case.close()
        first = await _end_of(case, task, "a traverse under way when the adapter was closed")
    finally:
        task.cancel()
    case.hold(isinstance(first, Snapshot | Fault | RuntimeError), f"the traverse ended with {first!r}")
    if isinstance(first, Snapshot):
        case.hold(not case.same_place(first.position, to), "close() waited until the traverse had arrived")
    if case.subject.truth is not None:
        truth = await case.truth()
        case.hold(not truth.moving, f"after close() the machine truly still moves, near {truth.position}")
    await case.answered("open()", case.adapter.open(), OPENING_S)
    seen = await case.look()
    case.hold(not case.same_place(seen.position, to), f"after close() the motion went on to its target {to}")
    await case.hold_still(seen, "look() after close() and open()")


@check("sharing")
async def two_looks_at_once_are_both_true(case: Case) -> None:
    """Two looks at once are both answered truly, or one is refused by `RuntimeError`.

    Does: makes two looks in two tasks.
    Why: two programs in one process are a mistake; two wrong answers from it are a crash.
    """
    got = await asyncio.gather(_kept(case.adapter.look()), _kept(case.adapter.look()), return_exceptions=True)
    for one in got:
        if isinstance(one, BaseException):
            case.hold(type(one) is RuntimeError, f"one of two looks at once raised {describe(one)}")
        else:
            seen = case.checked("one of two looks at once", one)
            case.hold(case.same_place(seen.position, case.subject.safe), f"it answered {seen.position}")
    case.hold(any(isinstance(one, Snapshot) for one in got), "neither of two looks at once was answered")


@check("sharing")
async def other_tasks_get_their_turns_during_a_motion(case: Case) -> None:
    """While the machine moves, other tasks of the program get their turns.

    Does: lets a task beat every 20 ms during a motion, and counts.
    Why: Ctrl-C, deadlines and the operator's answer are all served by the same event loop.
    """
    beats, took_s = await _beats_during_a_motion(case, 0.5)
    if took_s < FEWEST_BEATS * BEAT_S and not case.lives_in_world_time:
        # Its clock runs faster than the event loop's: a longer motion may last long enough there.
        beats, took_s = await _beats_during_a_motion(case, 8.0)
        waited = took_s >= FEWEST_BEATS * BEAT_S
        case.only_if(waited, "the adapter lives by a clock of its own, in which nobody waits")
    due = took_s / BEAT_S
    case.hold(
        beats >= max(1.0, due / FEWEST_BEATS),
        f"during a motion that took {took_s:.2f} s another task got {beats} turns, and {due:.0f} were due",
    )


async def _beats_during_a_motion(case: Case, seconds: float) -> tuple[int, float]:
    """Move for some seconds of the adapter's clock; return another task's beats, and the event loop's seconds."""
    loop, beats = asyncio.get_running_loop(), 0

    async def heart() -> None:
        nonlocal beats
        while True:
            await asyncio.sleep(BEAT_S)
            beats += 1

    heartbeat, began_s = asyncio.ensure_future(heart()), loop.time()
    start, to = case.subject.safe, case.far
    try:
        await case.traverse(start)
        await case.traverse(to, case.feed_for(start.distance(to), seconds), start)
    finally:
        heartbeat.cancel()
    return beats, loop.time() - began_s
