"""Opening, closing, and calls while closed. Nothing moves here but where a check closes a moving machine."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

from gingerly.conformance.case import OPENING_S, Case, describe
from gingerly.conformance.catalogue import check
from gingerly.geometry import Axis
from gingerly.messages.faults import LinkLost

METHODS = ("look", "traverse", "sense", "stop", "read_offset", "write_offset")


def calls(case: Case) -> dict[str, Callable[[], Coroutine[Any, Any, Any]]]:
    """Return one harmless call of each method but `open` and `close`."""
    adapter, safe, to = case.adapter, case.subject.safe, case.near(Axis.X)
    return {
        "look": adapter.look,
        "traverse": lambda: adapter.traverse(safe, 60.0),
        "sense": lambda: adapter.sense(to, 60.0),
        "stop": adapter.stop,
        "read_offset": lambda: adapter.read_offset(1),
        "write_offset": lambda: adapter.write_offset(1, {Axis.X: 0.0}),
    }


async def _each_is_refused(case: Case, when: str) -> None:
    for name, call in calls(case).items():
        error = await case.misuse(f"{name}() {when}", call())
        if error is None:
            case.fail(f"{name}() {when} was served as if the adapter were open")
        case.hold(
            isinstance(error, RuntimeError | LinkLost) and not isinstance(error, NotImplementedError),
            f"{name}() {when} raised {describe(error)}; it must be RuntimeError, or LinkLost",
        )


@check("door", opens=False)
async def every_method_is_there(case: Case) -> None:
    """An adapter has every method of the contract.

    Does: makes an adapter, without opening it, and looks for its methods.
    Why: a method that is missing shows up first when it is needed, and `stop` is needed in trouble.
    """
    for name in ("open", "close", *METHODS):
        case.hold(callable(getattr(case.adapter, name, None)), f"the adapter has no method {name}")


@check("door", opens=False)
async def calls_before_open_are_refused(case: Case) -> None:
    """Every call on an adapter that was never opened raises `RuntimeError`.

    Does: calls each method of a new adapter.
    Why: an answer made up without a machine is believed, and the next order rests on it.
    """
    await _each_is_refused(case, "before open()")


@check("door", moves=False)
async def calls_after_close_are_refused(case: Case) -> None:
    """Every call on a closed adapter raises `RuntimeError`, or `LinkLost`.

    Does: closes the adapter and calls each method.
    Why: a machine that was let go may be in other hands; orders must not get there by a link left open.
    """
    await case.close()
    await _each_is_refused(case, "after close()")


@check("door", moves=False)
async def opening_twice_is_refused(case: Case) -> None:
    """Opening an open adapter raises `RuntimeError`.

    Does: opens it a second time.
    Why: a second connection may restart the controller under a running job, or answer with the first one's replies.
    """
    error = await case.misuse("a second open()", case.adapter.open())
    if error is None:
        case.fail("open() on an open adapter was accepted")
    case.hold(type(error) is RuntimeError, f"a second open() raised {describe(error)} instead of RuntimeError")


@check("door", opens=False)
async def closing_what_was_never_opened_is_no_error(case: Case) -> None:
    """`close` may be called on an adapter that was never opened.

    Does: closes a new adapter.
    Why: clean-up runs after any failure, and must not hide the first error behind one of its own.
    """
    error = await case.misuse("close() before open()", case.adapter.close())
    case.hold(error is None, f"close() before open() raised {error!r}")


@check("door", moves=False)
async def closing_twice_is_no_error(case: Case) -> None:
    """`close` may be called again on a closed adapter.

    Does: closes it twice.
    Why: clean-up runs more than once where a program ends in trouble, and must get to its end.
    """
    await case.close()
    error = await case.misuse("a second close()", case.adapter.close())
    case.hold(error is None, f"a second close() raised {error!r}")


@check("door", moves=False)
async def a_closed_adapter_opens_again(case: Case) -> None:
    """A closed adapter can be opened again.

    Does: closes and opens it.
    Why: after a broken link the only way back is to connect anew, and it must not need a new process.
    """
    await case.close()
    error = await case.misuse("open() after close()", case.adapter.open())
    case.hold(error is None, f"open() after close() raised {error!r}")


@check("offsets", opens=False)
async def opening_moves_nothing(case: Case) -> None:
    """`open` moves nothing, and changes no work offset.

    Does: notes position and offsets, closes, opens, and compares.
    Why: hands may be in the machine when a program connects.
    """
    await case.open()
    before = (await case.look()).position
    numbers = case.subject.offsets[:2] if case.facts.offsets_readable else ()
    offsets = [await case.read(number) for number in numbers]
    await case.close()
    await case.open()
    after = (await case.look()).position
    case.hold(case.same_place(before, after), f"the position was {before} before open() and {after} after it")
    case.hold(offsets == [await case.read(number) for number in numbers], "open() has changed a work offset")


@check("look", moves=False)
async def an_opened_adapter_is_usable_after_a_refused_second_open(case: Case) -> None:
    """A refused second `open` leaves the first connection as it was.

    Does: opens twice, and looks.
    Why: a mistake in a script must not cost the link to a machine that stands in the work.
    """
    await case.misuse("a second open()", case.adapter.open())
    await case.look()


@check("stop")
async def closing_stops_a_motion(case: Case) -> None:
    """`close` stops a motion that goes on.

    Does: gives a slow traverse up half-way, closes, and opens again to see where the machine stands.
    Why: a program that ends must not leave a machine moving that nobody watches any more.
    """
    to = await case.leave_moving()
    await case.close()
    if case.subject.truth is not None:
        truth = await case.truth()
        case.hold(not truth.moving, f"after close() the machine truly still moves, near {truth.position}")
    await case.answered("open()", case.adapter.open(), OPENING_S)
    seen = await case.look()
    case.hold(
        not case.same_place(seen.position, to), f"after close() the motion went on to its target {seen.position}"
    )
    await case.hold_still(seen, "look() after close() and open()")
