"""Virtual time: deadlines strike exactly, cost nothing, and cannot be overheard."""

import asyncio
import math

import pytest

from gingerly_mock import VirtualClock


async def wait(clock, *pauses):
    for pause in pauses:
        clock.elapse(pause)
    return "answer"


def test_sleep_lets_exactly_that_time_pass(drive):
    clock = VirtualClock()
    drive(clock.sleep(3600.0))
    assert clock.now() == 3600.0


def test_an_answer_within_the_deadline_comes_through(drive):
    clock = VirtualClock()
    assert drive(clock.bounded(wait(clock, 1.0, 0.5), 2.0)) == "answer"
    assert clock.now() == 1.5


def test_an_answer_at_the_very_deadline_is_in_time(drive):
    clock = VirtualClock()
    assert drive(clock.bounded(wait(clock, 2.0), 2.0)) == "answer"


@pytest.mark.parametrize("pause", [2.5, math.inf])
def test_a_late_answer_becomes_a_timeout_exactly_at_the_deadline(drive, pause):
    clock = VirtualClock(10.0)
    with pytest.raises(TimeoutError):
        drive(clock.bounded(wait(clock, pause), 2.0))
    assert clock.now() == 12.0


def test_a_deadline_strikes_inside_the_work_as_a_cancellation(drive):
    clock, seen = VirtualClock(), []

    async def work():
        try:
            clock.elapse(math.inf)
        except asyncio.CancelledError:
            seen.append(clock.now())
            raise

    with pytest.raises(TimeoutError):
        drive(clock.bounded(work(), 2.0))
    assert seen == [2.0]


def test_a_swallowed_cancellation_still_ends_in_a_timeout(drive):
    clock = VirtualClock()

    async def stubborn():
        try:
            clock.elapse(5.0)
        except asyncio.CancelledError:
            return "as if nothing had happened"

    with pytest.raises(TimeoutError):
        drive(clock.bounded(stubborn(), 2.0))


def test_no_time_passes_for_whoever_swallows_the_cancellation_and_goes_on(drive):
    clock, strikes = VirtualClock(), []

    async def stubborn():
        for _ in range(3):
            try:
                clock.elapse(5.0)
            except asyncio.CancelledError:
                strikes.append(clock.now())

    with pytest.raises(TimeoutError):
        drive(clock.bounded(stubborn(), 2.0))
    assert strikes == [2.0, 2.0, 2.0]


def test_the_outer_deadline_strikes_first_and_only_the_outer_wait_times_out(drive):
    clock, inner = VirtualClock(), []

    async def nested():
        try:
            await clock.bounded(wait(clock, math.inf), 9.0)
        except BaseException as error:
            inner.append(type(error))
            raise

    with pytest.raises(TimeoutError):
        drive(clock.bounded(nested(), 1.0))
    assert inner == [asyncio.CancelledError]
    assert clock.now() == 1.0


def test_an_inner_timeout_that_was_handled_does_not_time_out_the_outer_wait(drive):
    clock = VirtualClock()

    async def nested():
        with pytest.raises(TimeoutError):
            await clock.bounded(wait(clock, math.inf), 1.0)
        return clock.now()

    assert drive(clock.bounded(nested(), 5.0)) == 1.0


def test_after_a_timeout_the_next_wait_has_its_own_deadline(drive):
    clock = VirtualClock()
    with pytest.raises(TimeoutError):
        drive(clock.bounded(wait(clock, 2.0), 1.0))
    assert drive(clock.bounded(wait(clock, 2.0), 3.0)) == "answer"
    assert clock.limit == math.inf


def test_a_wait_of_no_time_right_after_a_timeout_is_no_timeout(drive):
    clock = VirtualClock()
    with pytest.raises(TimeoutError):
        drive(clock.bounded(wait(clock, 2.0), 1.0))
    assert drive(clock.bounded(wait(clock), 0.0)) == "answer"


def test_another_error_of_the_work_goes_through_unchanged(drive):
    clock = VirtualClock()

    async def broken():
        raise LookupError("no such thing")

    with pytest.raises(LookupError):
        drive(clock.bounded(broken(), 1.0))


def test_a_cancellation_from_outside_is_no_timeout(drive):
    clock = VirtualClock()

    async def cancelled():
        raise asyncio.CancelledError

    with pytest.raises(asyncio.CancelledError):
        drive(clock.bounded(cancelled(), 1.0))


def test_an_endless_wait_without_a_deadline_is_an_error_and_not_a_hang():
    with pytest.raises(RuntimeError, match="no deadline is in force"):
        VirtualClock().elapse(math.inf)


@pytest.mark.parametrize("seconds", [-0.001, math.nan])
def test_time_passes_forward_only(seconds):
    with pytest.raises(ValueError, match="virtual time"):
        VirtualClock(1.0).elapse(seconds)


@pytest.mark.parametrize("seconds", [-1.0, math.nan])
def test_a_deadline_in_the_past_is_refused(drive, seconds):
    clock = VirtualClock()
    with pytest.raises(ValueError, match="deadline"):
        drive(clock.bounded(wait(clock), seconds))
